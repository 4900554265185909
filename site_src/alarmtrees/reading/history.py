"""Which changes a file has been through, by the records of git.

Only what a department answers for is told: the day, the subject, and the role that signed a review. Names and addresses
of persons are never read. Where there is no git, no repository, or only the newest part of one, nothing is told:
half a history would look like a whole one, and a build would depend on how much was fetched.
"""

from __future__ import annotations

import re
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

_START = "\x01"
_SIGNED = re.compile(r"^\+review:.*?\bby: *(?:\"([^\"]*)\"|'([^']*)'|([^,}]*[^,}\s])).*\bcontent: *[\"']?[0-9a-f]{16}")
"""A review with a stamp: what nobody has stamped is not signed."""
_STEADY = ("core.quotePath=false", "log.showRoot=true", "log.showSignature=false", "diff.noprefix=false")
_ASKED = ("-p", "-U0", "--no-merges", "--no-renames", "--no-color", "--no-ext-diff", "--no-textconv")


@dataclass(frozen=True, slots=True)
class Change:
    """One change of a file: its day as `2026-09-14`, its subject, and the role that signed with it, if any did."""

    day: str
    subject: str
    signed: str | None


def history(root: Path, folder: str = "trees") -> dict[str, list[Change]]:
    """The changes of all files below a folder of a library, the newest first.

    Args:
        root: the library.
        folder: a folder in it.

    Returns:
        For each path relative to the library its changes; empty where nothing is known.
    """
    if _git(root, "rev-parse", "--is-shallow-repository") != "false\n":
        return {}
    asked = (*_ASKED, f"--format={_START}%cs %s", "--relative", "--", folder)
    told = _git(root, *(word for pair in _STEADY for word in ("-c", pair)), "log", *asked)
    files: dict[str, list[Change]] = {}
    for commit in (told or "").split(_START)[1:]:
        head, _, patch = commit.partition("\n")
        day, _, subject = head.partition(" ")
        for file, signed in _touched(patch):
            files.setdefault(file, []).append(Change(day, subject, signed))
    return files


def _touched(patch: str) -> Iterator[tuple[str, str | None]]:
    """The files that a patch changes or adds, each with the role that signs in it."""
    for part in re.split(r"^diff --git ", patch, flags=re.MULTILINE)[1:]:
        lines = part.splitlines()
        file = next((line[len("+++ b/") :] for line in lines if line.startswith("+++ b/")), None)
        if file is not None:
            signed = (match for line in lines if (match := _SIGNED.match(line)))
            match = next(signed, None)
            yield file.rstrip("\t"), next((word for word in match.groups() if word), None) if match else None


def _git(root: Path, *arguments: str) -> str | None:
    """What git answers; None where it is missing or fails."""
    try:
        done = subprocess.run(
            ["git", "-C", str(root), *arguments], capture_output=True, timeout=60, check=True, stdin=subprocess.DEVNULL
        )
    except (OSError, subprocess.SubprocessError):
        return None
    return done.stdout.decode("utf-8", "replace")
