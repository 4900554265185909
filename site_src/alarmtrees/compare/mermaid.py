"""A picture of what changes in a tree, as Mermaid text, which code hosts draw in a comment.

Only what moved is drawn, with the last steps before it and the first behind it: what was, dashed; what is now, heavy;
what stays, thin.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from ..model import Node
from ..model.finding import Step
from .change import Change
from .matching import Matching

MOST_STEPS = 14
STEPS_BEFORE, STEPS_BEHIND = 2, 1
MOST_LETTERS = 60

_Arrow = tuple[str, str, str]
"""From, answer, to."""


def picture(matching: Matching, changes: Iterable[Change]) -> str:
    """The ways of some changes as one flow chart; "" where no change has a way.

    Args:
        matching: the two versions of the tree.
        changes: what to draw, the most important first; those that would make it too large are left out.
    """
    before: dict[_Arrow, None] = {}
    now: dict[_Arrow, None] = {}
    for change in sorted(changes, key=lambda change: change.sort_key):
        if change.way_before is None or change.way_now is None:
            continue
        row_before = _arrows([_renamed(matching, step) for step in change.way_before])
        row_now = _arrows(list(change.way_now))
        if row_before == row_now:
            continue
        more_before, more_now = _around(row_before, row_now)
        if len(_steps([*before, *now, *more_before, *more_now])) > MOST_STEPS:
            continue
        before.update(dict.fromkeys(more_before))
        now.update(dict.fromkeys(more_now))
    if not before and not now:
        return ""
    return _drawn(matching, before, now)


def _renamed(matching: Matching, step: Step) -> Step:
    """A step of the old version under its name in the new; one that is gone under a name that none has."""
    return Step(matching.forth.get(step.node, f"{step.node} "), step.answer)


def _arrows(way: list[Step]) -> list[_Arrow]:
    return [(a.node, a.answer or "", b.node) for a, b in pairwise(way)]


def _around(before: list[_Arrow], now: list[_Arrow]) -> tuple[list[_Arrow], list[_Arrow]]:
    """Two rows of arrows without most of what they begin and end with alike."""
    begun = _alike(before, now)
    ended = min(_alike(before[::-1], now[::-1]), min(len(before), len(now)) - begun)
    begin, end = max(0, begun - STEPS_BEFORE), max(0, ended - STEPS_BEHIND)
    return before[begin : len(before) - end], now[begin : len(now) - end]


def _alike(some: list[_Arrow], others: list[_Arrow]) -> int:
    """With how many arrows two rows begin alike."""
    same = 0
    for a, b in zip(some, others, strict=False):
        if a != b:
            break
        same += 1
    return same


def _steps(arrows: Iterable[_Arrow]) -> list[str]:
    return list(dict.fromkeys(name for a, _, b in arrows for name in (a, b)))


def _drawn(matching: Matching, before: dict[_Arrow, None], now: dict[_Arrow, None]) -> str:
    names = {name: f"s{i}" for i, name in enumerate(_steps([*before, *now]))}
    lines = ["flowchart TD"]
    for name, short in names.items():
        gone = name not in matching.new.nodes
        node = matching.old.nodes[name.strip()] if gone else matching.new.nodes[name]
        left, right = {"ask": ("{{", "}}"), "end": ("([", "])")}.get(node.kind, ("[", "]"))
        lines.append(f'  {short}{left}"{_label(node)}"{right}{":::gone" if gone else ""}')
    for arrow in dict.fromkeys([*before, *now]):
        a, answer, b = arrow
        if arrow in before and arrow in now:
            link = f' -- "{_safe(answer)}" --> ' if answer else " --> "
        elif arrow in before:
            link = f' -. "before: {_safe(answer)}" .-> ' if answer else ' -. "before" .-> '
        else:
            link = f' == "now: {_safe(answer)}" ==> ' if answer else ' == "now" ==> '
        lines.append(f"  {names[a]}{link}{names[b]}")
    lines.append("  classDef gone stroke-dasharray: 5 5")
    return "\n".join(lines) + "\n"


def _label(node: Node) -> str:
    text = node.lines[0] + (" …" if len(node.lines) > 1 else "")
    return _safe({"call": "Call: ", "go": "On to: "}.get(node.end or "", "") + text)


def _safe(text: str) -> str:
    """A text that no sign of the notation can end, cut where it is long."""
    text = text if len(text) <= MOST_LETTERS else text[: MOST_LETTERS - 1].rstrip() + "…"
    for sign, name in (("#", "#35;"), ("&", "#amp;"), ('"', "#quot;"), ("<", "#lt;"), (">", "#gt;"), ("`", "#96;")):
        text = text.replace(sign, name)
    return text
