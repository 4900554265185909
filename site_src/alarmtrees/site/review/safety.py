"""The safety rules: what holds on every way through every tree."""

from __future__ import annotations

from ...model import ABOUT, Library, SafetyRule
from ...model.addresses import HAZARDS, SAFETY
from ...model.wording import lasting
from ..markup import NOT_SAFE, Page, View, block, esc, whole


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
    ]
    return Page(
        path=view.path,
        title="Safety rules",
        body=whole(body),
        description="What holds on every way through every tree, and why.",
        source="safety.yml",
    )


def _hazards(view: View) -> list[str]:
    if view.library.hazards is None:
        return []
    link = f'<a href="{view.to(HAZARDS)}">What can go wrong with each act</a>'
    return [f"<p>{link}, and which of these rules holds it.</p>"]


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
