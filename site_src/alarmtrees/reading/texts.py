"""All texts of a YAML file that readers see, with their places."""

from __future__ import annotations

from collections.abc import Iterator
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


def texts(source: Source) -> Iterator[Text]:
    """All texts of a file that readers see, in the order of the file."""
    assert source.data is not None
    yield from _texts(source, source.data, None, ())


def _texts(source: Source, owner: Map, node: str | None, path: tuple[str, ...]) -> Iterator[Text]:
    for key, value in owner.items():
        here = key if path == ("nodes",) else node
        if isinstance(value, Map):
            yield from _texts(source, value, here, (*path, key))
        elif isinstance(value, Seq):
            for item, spot in zip(value, value.item_at, strict=True):
                if isinstance(item, Map):
                    yield from _texts(source, item, here, (*path, key))
                elif key in PROSE:
                    yield Text(item, source.place(spot), here, key)
        elif key in PROSE:
            is_answer = key == "say" and bool(path) and path[-1] in ("answers", "anytime")
            role = "answer" if is_answer else key
            yield Text(value, source.place(owner.value_at[key]), here, role)
