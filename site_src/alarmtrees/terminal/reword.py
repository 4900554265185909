"""Puts other words in the place of a text wherever a library says it: in trees, in their stories, and in the looks.

An answer that many trees offer stands in each of them, in the stories that give it, and in `kb/marks.yml`. Who puts it
better there would have to find all the other places.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import yaml

from ..model.wording import folded
from ..reading.folders import lying
from ..reading.save import save

MARKS = "marks.yml"
_LOADER = getattr(yaml, "CSafeLoader", yaml.SafeLoader)


@dataclass(frozen=True, slots=True)
class Reworded:
    """A file in which a text was put otherwise, not yet written.

    Attributes:
        path: the file.
        text: what it is to hold.
        was: what it holds.
        lines: the numbers of the lines concerned, from 1.
    """

    path: Path
    text: str
    was: bytes
    lines: tuple[int, ...]

    def write(self) -> None:
        """Write it.

        Raises:
            ValueError: somebody else has changed the file meanwhile; it stays as it is.
            OSError: it cannot be written; it stays as it is.
        """
        save(self.path.resolve(), self.text, was=self.was)


def reword(old: str, new: str, root: Path) -> list[Reworded]:
    """Find a text wherever a tree, a story or a look says it as a whole; nothing is written yet.

    Comments, layout and line ends stay. Time linear in the size of the files that hold the text.

    Args:
        old: the text as it is now; upper case and white space do not matter.
        new: the text that is to stand there.
        root: the library's folder.

    Raises:
        ValueError: the new text is empty or the same, no file says the old one, or one that may cannot be read.
        OSError: a file cannot be read.
    """
    new = " ".join(new.split())
    if not new:
        raise ValueError("there are no new words; write what is to stand there")
    if new == " ".join(old.split()):
        raise ValueError("the new words are the old ones")
    files = lying(root)
    marks = [path for path in files.facts if path.name == MARKS]
    found = [_reworded(path, folded(old), new) for path in (*files.trees, *files.stories, *marks)]
    changed = [one for one in found if one]
    if not changed:
        raise ValueError(f"no tree, story or look says “{old}” as a whole text; write it as it stands in its file")
    return changed


def _reworded(path: Path, old: str, new: str) -> Reworded | None:
    was = path.read_bytes()
    parts, lines, end = [], [], 0
    try:
        text = was.decode()
        for event in yaml.parse(text, Loader=_LOADER):
            if isinstance(event, yaml.ScalarEvent) and folded(event.value) == old:
                assert event.start_mark and event.end_mark  # a text that was read has a place
                start, stop = event.start_mark.index, event.end_mark.index
                tail = "\n" if text[start:stop].endswith("\n") else ""  # a text in lines of its own takes its end along
                parts += [text[end:start], json.dumps(new, ensure_ascii=False), tail]
                lines.append(event.start_mark.line + 1)
                end = stop
    except (UnicodeDecodeError, yaml.YAMLError) as fault:
        raise ValueError(f"{path}: it cannot be read as it is; `alarmtrees check` says why") from fault
    return Reworded(path, "".join([*parts, text[end:]]), was, tuple(lines)) if lines else None
