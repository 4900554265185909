"""What lies in a library's folders: the files to read, and what may not lie there.

All of `kb/` is published but what is read, so what may lie in it is a list. Nothing is followed that leads elsewhere,
and only files are opened: who builds or checks a proposal opens what its author chose.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from ..model import Problem, Source
from .pictures import PICTURES, picture_problem

RULE = "stray-file"

_DATA = (".yml", ".yaml")
_OWN = ("trees", "kb", ".cache", ".cache/pages", ".cache/traces")
"""Folders of the library's own, which may be no links: what lies in them is read, written or removed."""

# What a terminal obeys, what turns the direction of writing, and what no text can hold.
_ODD = re.compile("[\x00-\x1f\x7f-\x9f\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ud800-\udfff]")


@dataclass(frozen=True, slots=True)
class Lying:
    """The files of a library.

    Attributes:
        trees: YAML files below `trees/`.
        calculators: YAML files below `kb/calculators/`.
        stories: YAML files below `kb/stories/`.
        pictures: line drawings, the SVG files in `kb/pictures/` itself.
        pages: Markdown files in `kb/` itself.
        facts: other YAML files in `kb/` itself.
        strays: what may not lie there, each with its problem.
    """

    trees: list[Path]
    calculators: list[Path]
    stories: list[Path]
    pictures: list[Path]
    pages: list[Path]
    facts: list[Path]
    strays: list[Source]


def shown(name: str) -> str:
    """A name of a file as it can be told: what would change the line it stands in is written as Python writes it.

    >>> shown("kb/a\\nb.md"), shown("kb/größe.md")
    ('kb/a\\\\nb.md', 'kb/größe.md')
    """
    return _ODD.sub(lambda sign: repr(sign.group())[1:-1], name)


def lying(root: Path) -> Lying:
    """Go through a library's folders. Nothing in them is opened but pictures.

    Args:
        root: the library's folder.
    """
    found = Lying([], [], [], [], [], [], [])
    for name in _OWN:
        if (root / name).is_symlink():
            found.strays.append(
                _stray(name, f"this folder is a link, and could lead anywhere; make it a folder: {name}/")
            )
    for name in ("trees", "kb"):
        if not (root / name).is_symlink():
            for path, problem in _below(root / name):
                file = path.relative_to(root).as_posix()
                problem = problem or _place(found, path, file)
                if problem:
                    found.strays.append(_stray(file, problem))
    return found


def _stray(file: str, problem: str) -> Source:
    return Source(shown(file), "stray", shown(Path(file).stem), "", None, (Problem(RULE, (1, 1), problem),))


def _below(folder: Path) -> Iterator[tuple[Path, str]]:
    """All files below a folder in the order of their names, each with what is wrong with it as an entry."""
    try:
        entries = sorted(os.scandir(folder), key=lambda entry: entry.name)
    except FileNotFoundError:
        return
    except OSError as fault:
        yield folder, f"this folder cannot be read: {fault.strerror}"
        return
    for entry in entries:
        path = folder / entry.name
        if entry.name.startswith(".") and not entry.name.lower().endswith((*_DATA, ".md")):
            continue  # an editor's, or a version control's; no site holds it
        if _ODD.search(entry.name):
            yield path, "the name holds a sign that cannot be shown; name it in letters, digits and -"
        elif entry.is_symlink():
            yield path, "this is a link, and could lead out of the library; put the file itself here"
        elif entry.is_dir():
            if entry.name.lower().endswith((*_DATA, ".md")):
                yield path, "this is a folder named like a file, and nothing reads it; give it another name"
            else:
                yield from _below(path)
        elif entry.is_file():
            yield path, ""
        else:
            yield path, "this is neither a file nor a folder; delete it"


def _place(found: Lying, path: Path, file: str) -> str:
    """Put a file where it belongs; says what is wrong where it belongs nowhere."""
    part, _, inside = file.partition("/")
    ending = path.suffix.lower()
    if part == "trees":
        # One in the wrong place is a finding of its own. What else lies here is not published.
        if ending in _DATA:
            found.trees.append(path)
    elif ending in _DATA:
        if inside.startswith("calculators/"):
            found.calculators.append(path)
        elif inside.startswith("stories/"):
            found.stories.append(path)
        elif "/" not in inside:
            found.facts.append(path)
        else:
            return "nothing reads this file; fact files lie in kb/, others in kb/calculators/ and kb/stories/"
    elif ending in PICTURES:
        problem = picture_problem(path)
        if not problem and ending == ".svg" and inside == f"pictures/{path.name}":
            found.pictures.append(path)
        return problem
    elif path.suffix != ".md":
        kinds = ", ".join(PICTURES)
        return f"all of kb/ is published, and only .md, .yml, {kinds} may lie there; move this file out of kb/"
    elif "/" not in inside:
        found.pages.append(path)
    return ""
