"""The safety rules: what holds on every way through every tree."""

from __future__ import annotations

from ...model import ABOUT, DERIVED_MARKS, Act, Library, SafetyRule
from ...model.addresses import HAZARDS, SAFETY
from ...model.wording import lasting
from ..markup import LOOKED_UP, NOT_SAFE, Page, View, block, esc, whole


def safety_page(library: Library) -> Page:
    """Every safety rule in words, with its reason and sources."""
    view = View(library, SAFETY)
    body = [
        '<h1 id="_top">Safety rules</h1>',
        "<p>These rules are checked on every way through every tree, and on into the tree that it hands over "
        "to. A tree that breaks one is not published.</p>",
        f'<p class="strip">{NOT_SAFE}</p>',
        *_hazards(view),
        block("ul", (_entry(view, rule) for rule in library.safety.values()), class_="entries"),
        *_acts(view),
    ]
    return Page(
        path=view.path,
        title="Safety rules",
        body=whole(body),
        description="What holds on every way through every tree, and why.",
        source="safety.yml",
        boost=LOOKED_UP,
    )


def _hazards(view: View) -> list[str]:
    if view.library.hazards is None:
        return []
    link = f'<a href="{view.to(HAZARDS)}">What can go wrong with each act</a>'
    return [f"<p>{link}, and which of these rules holds it.</p>"]


_GROUPS = {
    "pump": "The pump and its power",
    "gas": "The gas",
    "gas-line": "The gas line",
    "catheter": "The catheter",
    "blood-lines": "Central lumen and pressure line",
    "signal": "Trigger and timing",
    "settings": "Ratio, volume, limits, sound",
    "patient": "The patient",
    "treatment": "Treatment",
}
"""The groups of acts, in the order of the page."""


def _acts(view: View) -> list[str]:
    """Which acts a step may not tell without a mark, by group; each group closed, for there are many."""
    acts = view.library.acts.acts.values()
    if not acts:
        return []
    groups = (
        block("details", [f"<summary>{title}</summary>", block("ul", told, class_="entries")])
        for group, title in _GROUPS.items()
        if (told := [_act(view, act) for act in acts if act.about == group])
    )
    return [
        '<h2 id="acts">What needs a mark</h2>',
        "<p>A rule sees a step only by its marks. So whatever tells somebody to do one of these, in whatever words, "
        "must carry a mark for it, or the check fails. In brackets: how many rules speak of the mark.</p>",
        *groups,
    ]


def _act(view: View, act: Act) -> str:
    """One act, with its marks and how many rules speak of each."""
    rules = view.library.safety.values()
    counts = {mark: sum(mark in rule.named for rule in rules) for mark in act.marks}
    marks = ", ".join(f"<code>{esc(_written(mark))}</code>\u00a0({count})" for mark, count in counts.items())
    return f"<li>{view.say(act.say)} {marks}</li>"


def _written(mark: str) -> str:
    """A mark as an author writes it."""
    return mark.replace("-", ": ") if mark in DERIVED_MARKS else mark


def _entry(view: View, rule: SafetyRule) -> str:
    within = f" Within {lasting(rule.within)}." if rule.within is not None else ""
    only = f" Only for: {', '.join(_where(view, key) for key in sorted(rule.only))}." if rule.only else ""
    return (
        f'<li id="{esc(rule.id)}"><b>{view.say(rule.say)}</b>{within}{only} {view.say(rule.reason)} '
        f'{view.rests_on(rule.sources)} <code class="quiet">{esc(rule.id)}</code></li>'
    )


def _where(view: View, key: str) -> str:
    tree = view.library.trees.get(key)
    return view.say(tree.title) if tree else ABOUT.get(key, esc(key))
