"""What is checked: one page a rule, from the rule's own words, and the list of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Protocol

from ...model.addresses import CHANGES, CHECKS, RULES, SAFETY, rule_path
from ..markup import LOOKED_UP, NOT_SAFE, Page, address, esc, items, whole

_FAMILIES = {
    "reading": "Reading a file",
    "references": "References",
    "shape": "Shape of a tree",
    "library": "The library",
    "causes": "Causes and remedies",
    "safety": "Safety",
    "stories": "Stories",
    "formulas": "Formulas of calculators",
    "words": "Words",
    "review": "Review",
}


class RuleDoc(Protocol):
    """What a page needs of a rule. `doc` is Markdown."""

    @property
    def id(self) -> str:
        """The kebab-case id."""

    @property
    def family(self) -> str:
        """The family it belongs to."""

    @property
    def severity(self) -> str:
        """How much a finding weighs."""

    @property
    def doc(self) -> str:
        """What is wrong, why it matters, a good and a bad example."""


def rules_index(rules: Sequence[RuleDoc]) -> Page:
    """All rules, family by family."""
    path = RULES
    body = ['<h1 id="_top">What is checked</h1>', *_INTRODUCTION]
    for family, title in _families(rules):
        members = [rule for rule in rules if rule.family == family]
        lines = (
            f'<a href="{address(path, rule_path(rule.id))}"><code>{esc(rule.id)}</code></a> '
            f"{esc(_summary(rule.doc))}{_weight(rule)}"
            for rule in members
        )
        body += [f"<h2>{esc(title)}</h2>", items("ul", lines, "entries")]
    description = "Every rule that a tree must pass before it is published."
    return Page(path, "What is checked", whole(body), description, boost=LOOKED_UP)


_SAFETY, _CHECKS, _CHANGES = (f'<a href="{address(RULES, path)}">' for path in (SAFETY, CHECKS, CHANGES))
_INTRODUCTION = (
    "<p>Every tree passes these rules before the site is built. Those about safety hold on every way through "
    "a tree, and on into the tree that it hands over to.</p>",
    f'<p class="strip">{NOT_SAFE} What must hold on every way stands in the '
    f"{_SAFETY}safety rules</a>; what was checked, alarm by alarm, in {_CHECKS}checked on every way</a>. "
    f"How two versions are compared: {_CHANGES}kinds of change</a>.</p>",
)


def rule_page(rule: RuleDoc) -> Page:
    """One rule in its own words."""
    path = rule_path(rule.id)
    family = _FAMILIES.get(rule.family, rule.family)
    head = [
        f'<h1 id="_top"><code>{esc(rule.id)}</code></h1>',
        f'<p class="quiet"><a href="{address(path, RULES)}">What is checked</a>, {esc(family)}; '
        f"severity: {esc(rule.severity)}.</p>",
    ]
    body = f"{whole(head)}\n\n{rule.doc.strip()}\n"
    # A search finds the list of rules. With every rule's page in it, all pages would load a far larger index.
    return Page(path, rule.id, body, _summary(rule.doc), boost=0, markdown=True)


def _families(rules: Iterable[RuleDoc]) -> list[tuple[str, str]]:
    present = dict.fromkeys(rule.family for rule in rules)
    known = [(key, title) for key, title in _FAMILIES.items() if key in present]
    return known + [(key, key.capitalize()) for key in present if key not in _FAMILIES]


def _summary(doc: str) -> str:
    """The first paragraph of a rule's words, on one line, without mark-up."""
    return " ".join(doc.strip().split("\n\n")[0].replace("`", "").split())


def _weight(rule: RuleDoc) -> str:
    return ' <span class="quiet">(warning)</span>' if str(rule.severity) == "warning" else ""
