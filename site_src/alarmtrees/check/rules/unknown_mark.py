"""A step, an answer or a safety rule names a mark that `kb/marks.yml` does not list.

Safety rules speak of marks. With a mistyped mark a rule would silently watch nothing. The marks
`pump-starts`, `pump-stops`, `call` and `end-resolved` follow from what a step is; nobody writes them in a tree.

Good:

```yaml
marks: [patient-check]
```

Bad:

```yaml
marks: [patient-chek]
```
"""

from __future__ import annotations

from collections.abc import Collection, Iterator

from ...model import DERIVED_MARKS, Map, SafetyRule
from ...model.finding import Place
from .base import Flaw, View, guess, item_spot, library_rule

_OF_ACTS = frozenset(["pump-starts", "pump-stops"])
"""Derived marks that an act may demand."""


@library_rule("references", needs="marks")
def check(view: View) -> Iterator[Flaw]:
    """Look up every mark that is named in trees, marks and safety rules."""
    written = view.library.marks
    for tree in view.library.trees.values():
        for answer in tree.anytime:
            yield from _listed(answer.raw, tree.file, None, written)
        for node in tree.nodes.values():
            yield from _listed(node.raw, tree.file, node.id, written)
            for answer in node.answers:
                yield from _listed(answer.raw, tree.file, node.id, written)
    for mark in written.values():
        for shown in mark.shows:
            if shown not in written:
                yield Flaw(mark.place, _message(shown, written))
    for act in view.library.acts.acts.values():
        for name in (*act.marks, *act.told):
            if name not in written and name not in _OF_ACTS:
                yield Flaw(act.place, _message(name, written))
    for rule in view.library.safety.values():
        yield from _slots(rule, {*written, *DERIVED_MARKS})


def _listed(raw: Map, file: str, node: str | None, known: Collection[str]) -> Iterator[Flaw]:
    for index, mark in enumerate(raw.get("marks", ())):
        if mark not in known:
            yield Flaw(Place(file, *raw["marks"].item_at[index]), _message(mark, known), node)


def _slots(rule: SafetyRule, known: Collection[str]) -> Iterator[Flaw]:
    inner: Map = rule.raw[rule.pattern]
    for slot, marks in rule.slots.items():
        for mark in sorted(marks or ()):
            if mark not in known:
                place = Place(rule.place.file, *item_spot(inner, slot, mark))
                yield Flaw(place, _message(mark, known))


def _message(mark: str, known: Collection[str]) -> str:
    if mark in DERIVED_MARKS and mark not in known:
        return f"`{mark}` is never written: it follows from `pump`, `call` or `end`; take it out"
    return f"there is no mark `{mark}` in kb/marks.yml{guess(mark, known)}"
