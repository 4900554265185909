"""Begins a hospital's own settings: a file in which only the values, numbers and names are left to write."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

from ..calc.entry import short
from ..model import Library, Role, Setting
from ..reading.open import LOCAL_SETTINGS, open_library
from ..reading.save import save

_HEAD = """\
# yaml-language-server: $schema=../schema/offered/settings.schema.json
# What is your hospital's own. Git ignores this file, and no site and no copy for others holds it.
# Write between the quotes. What stays empty stays as it was shipped, and pages say so.
# The page "Make it yours" goes through it.

# The name of your hospital.
hospital: {say: "", fictional: "no"}

# The roles that may sign a page. Take the # away, and write yours.
# reviewers: [head of perfusion]

# Who set the values below, and on which day, as 2026-10-01. Where it is another, write by: and on: into its line.
defaults: {by: "", on: ""}

values:
"""

_ROLES = """
# Whom to call: the words that readers see, and the number. Dial each one once.
roles:
"""

_TAIL = """
# What the screen of your own console says, under the alarm that it leads to. Take the # away from both lines.
# wordings:
#   gas-line-disconnected: ["the words on your own screen"]
"""


def begin_settings(root: Path) -> Path:
    """Write `kb/settings.local.yml` for the hospital to fill in.

    Args:
        root: the library's folder.

    Returns:
        The file.

    Raises:
        ValueError: there is such a file already, and it stays as it is; or the shipped settings cannot be read.
        OSError: it cannot be written.
    """
    path = root / "kb" / LOCAL_SETTINGS
    library = open_library(root, private=False)
    if not library.settings or "settings" in library.broken:
        raise ValueError("kb/settings.yml is not there or has faults, so nobody knows what there is to set")
    try:
        save(path, template(library), new=True)
    except FileExistsError:
        raise ValueError(f"{path} is there already and stays as it is; fill in what is empty in it") from None
    return path


def template(library: Library) -> str:
    """The text of the file, from a library without any hospital's own settings."""
    values = (line for setting in library.settings.values() for line in _value(setting))
    roles = map(_role, library.roles.values())
    parts = [_HEAD, *(f"  {line}\n" for line in values)]
    if library.roles:
        parts += [_ROLES, *(f"  {line}\n" for line in roles)]
    return "".join([*parts, _TAIL])


def _value(setting: Setting) -> Iterator[str]:
    yield f"# {setting.say}."
    shipped = setting.shown.replace("\u00a0", " ")
    bounds = ""
    if setting.range:
        low, high = map(short, setting.range)
        bounds = f" Refused outside {low} to {high}."
    yield f"# Shipped: {shipped}.{bounds}"
    unit = f", unit: {_quoted(setting.unit)}" if setting.unit else ""
    yield f'{setting.id}: {{value: ""{unit}}}'


def _role(role: Role) -> str:
    return f'{role.id}: {{say: {_quoted(role.say)}, phone: ""}}'


def _quoted(text: str) -> str:
    if re.fullmatch(r"[A-Za-z][A-Za-z0-9/ ]*", text):
        return text
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"') + '"'
