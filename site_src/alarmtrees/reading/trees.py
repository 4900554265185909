"""A source that fits its schema -> the tree or calculator that it holds."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ..model import Answer, Calculator, Cause, Harm, Map, Node, Picture, Review, Source, Tree, Withdrawal
from ..model.finding import Place
from ..model.wording import seconds
from .drawings import NONE


def build_tree(source: Source, tree_id: str | None = None, pictures: Mapping[str, Picture] = NONE) -> Tree:
    """The tree of a source that fits its schema, under another id than its own where one is given.

    Args:
        source: the file.
        tree_id: the id.
        pictures: all drawings that a step may show.
    """
    raw = source.data
    assert raw is not None
    file = source.file
    nodes = {key: _node(key, raw["nodes"], file) for key in raw["nodes"]}
    shown = {node.picture for node in nodes.values() if node.picture is not None}
    causes: Map = raw.get("causes") or Map((1, 1))
    return Tree(
        id=tree_id or raw["id"],
        title=raw["title"],
        summary=raw["summary"],
        status=raw.get("status"),
        about=raw["about"],
        aliases=tuple(raw["aliases"]),
        condition=raw["condition"],
        harm=Harm(raw["harm"]["severity"], raw["harm"]["onset"]),
        pump=raw["pump"],
        causes={key: _cause(key, causes, file) for key in causes},
        anytime=_answers(raw, "anytime", file),
        start=raw["start"],
        nodes=nodes,
        cautions=tuple(raw.get("cautions", ())),
        related=tuple(raw.get("related", ())),
        sources=tuple(raw.get("sources", ())),
        review=build_review(raw, file),
        file=file,
        raw=raw,
        withdrawn=Withdrawal(raw["withdrawn"]["on"], raw["withdrawn"]["why"]) if "withdrawn" in raw else None,
        pictures={name: pictures[name] for name in sorted(shown) if name in pictures},
    )


def build_calculator(source: Source) -> Calculator:
    """The calculator of a source that fits its schema."""
    raw = source.data
    assert raw is not None
    return Calculator(
        id=source.stem,
        title=raw["title"],
        summary=raw["summary"],
        trees=tuple(raw.get("trees", ())),
        related=tuple(raw.get("related", ())),
        cautions=tuple(raw.get("cautions", ())),
        sources=tuple(raw.get("sources", ())),
        review=build_review(raw, source.file),
        text=source.text,
        file=source.file,
        raw=raw,
    )


def _cause(key: str, causes: Map, file: str) -> Cause:
    share = causes[key].get("share")
    return Cause(key, causes[key]["say"], float(share) if share else None, Place(file, *causes.key_at[key]))


def _answers(owner: Map, key: str, file: str) -> tuple[Answer, ...]:
    items = owner.get(key)
    if not items:
        return ()
    return tuple(
        Answer(
            say=raw["say"],
            to=raw["to"],
            marks=frozenset(raw.get("marks", ())),
            when=as_tuple(raw["when"]) if "when" in raw else None,
            pump=raw.get("pump"),
            anytime=key == "anytime",
            raw=raw,
            place=Place(file, *raw.at),
        )
        for raw in items
    )


def as_tuple(value: Any) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value)


def _node(key: str, nodes: Map, file: str) -> Node:
    raw: Map = nodes[key]
    kind = next(kind for kind in ("ask", "do", "end") if kind in raw)
    marks = set(raw.get("marks", ()))
    pump, call, end = raw.get("pump"), raw.get("call"), raw.get("end")
    if pump:
        marks.add(f"pump-{pump}")
    if call:
        marks.add("call")
    if end == "resolved":
        marks |= {"end-resolved", "resolved"}
    takes = raw.get("takes")
    return Node(
        id=key,
        kind=kind,
        lines=tuple(raw["do"]) if kind == "do" else (raw["ask" if kind == "ask" else "say"],),
        answers=_answers(raw, "answers", file),
        then=raw.get("then"),
        end=end,
        call=call,
        go=raw.get("go"),
        why=raw.get("why"),
        meanwhile=raw.get("meanwhile"),
        fixes=tuple(raw.get("fixes", ())),
        pump=pump,
        takes=seconds(takes) if takes else None,
        marks=frozenset(marks),
        cautions=tuple(raw.get("cautions", ())),
        sources=tuple(raw.get("sources", ())),
        picture=raw.get("picture"),
        raw=raw,
        place=Place(file, *nodes.key_at[key]),
    )


def build_review(raw: Map, file: str) -> Review | None:
    """The review in a document, None where it has none."""
    review = raw.get("review")
    if review is None:
        return None
    content, values, house = (review.get(key, "") for key in ("content", "values", "house"))
    place = Place(file, *raw.key_at["review"])
    return Review(review["by"], review["on"], review["next"], content, values, house, review, place)
