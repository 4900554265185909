"""All texts of a YAML file that readers see, with their places."""

from __future__ import annotations

from dataclasses import dataclass

from ..model import Map, Seq, Source
from ..model.finding import Place
from .load import PROSE


@dataclass(frozen=True, slots=True)
class Text:
    """A text that readers see: its words, its place, the step it stands in, and its role.

    The role is the key that holds it ("say", "why", …), "do" for a line to do, "answer" for what
    an answer says.
    """

    text: str
    place: Place
    node: str | None
    role: str


def texts(source: Source) -> list[Text]:
    """All texts of a file that readers see, in the order of the file."""
    assert source.data is not None
    found: list[Text] = []
    _collect(found, source.file, source.data, None, ())
    return found


def _collect(found: list[Text], file: str, owner: Map, node: str | None, path: tuple[str, ...]) -> None:
    for key, value in owner.items():
        here = key if path == ("nodes",) else node
        if isinstance(value, Map):
            _collect(found, file, value, here, (*path, key))
        elif isinstance(value, Seq):
            for item, spot in zip(value, value.item_at, strict=True):
                if isinstance(item, Map):
                    _collect(found, file, item, here, (*path, key))
                elif key in PROSE:
                    found.append(Text(item, Place(file, *spot), here, key))
        elif key in PROSE:
            is_answer = key == "say" and path[-1:] in (("answers",), ("anytime",))
            found.append(Text(value, Place(file, *owner.value_at[key]), here, "answer" if is_answer else key))
