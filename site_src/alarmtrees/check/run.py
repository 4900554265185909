"""Checks a library: load, schema, references, graph, safety; all findings, sorted."""

from __future__ import annotations

import gc
from collections.abc import Collection
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from ..model import Library, Source, Tree
from ..model.finding import Finding, Severity
from ..proof.analysis import Analysis
from ..proof.graph import Graph
from ..reading.open import open_library
from .rules import RULES, View

_READ = ("reading", "references")
"""Families that look at files and names alone; what is proved on ways needs their word first."""

_FAMILY = {rule.id: rule.family for rule in RULES}

_UNSHOWN = (*_READ, "shape")
"""Families of errors with which there is no page to look at: it would lead nowhere, or never end."""

_BINDING = frozenset({"unknown-target", "unknown-tree", "unknown-cause", "unknown-mark"})
"""References that must hold before anything can be proved about a tree's ways."""


@dataclass(frozen=True, slots=True)
class CheckResult:
    """A library, all that was found in it, and what was proved on its trees on the way.

    Attributes:
        library: as read.
        findings: sorted by place.
        analysis: what was proved, drafts among the trees.
        published: what was proved without the drafts; None where there are none.
        of_drafts: the findings that are in drafts, and in the stories of their alarms.
    """

    library: Library
    findings: tuple[Finding, ...]
    analysis: Analysis
    published: Analysis | None = None
    of_drafts: frozenset[Finding] = frozenset()

    @property
    def errors(self) -> int:
        """How many findings are errors."""
        return sum(finding.severity is Severity.ERROR for finding in self.findings)

    @property
    def stopping(self) -> int:
        """How many errors keep the site from being built.

        Those of a draft do not, where its page can be shown all the same: nobody else is led there, and whoever
        writes it has to see it.
        """
        shown = sum(one.severity is Severity.ERROR and _FAMILY[one.rule] not in _UNSHOWN for one in self.of_drafts)
        return self.errors - shown

    @property
    def warnings(self) -> int:
        """How many findings are warnings."""
        return sum(finding.severity is Severity.WARNING for finding in self.findings)


def check_library(root: Path, today: date | None = None) -> CheckResult:
    """Find all that is wrong in a library.

    Args:
        root: the folder that holds `trees/` and `kb/`.
        today: the day to judge reviews by; None for the machine's date.

    Returns:
        The library as read, and the findings. A broken tree hides nothing of the others.

    Raises:
        FileNotFoundError: there is no library here.
    """
    # What is built here holds no circles and stays alive: looking for circles would cost a quarter of the
    # time, and more than its share in a large library.
    collecting = gc.isenabled()
    gc.disable()
    try:
        return _checked(open_library(root), today or date.today())
    finally:
        if collecting:
            gc.enable()


def _checked(library: Library, today: date) -> CheckResult:
    whole = View(library, Graph(library.trees), today)
    found = [finding for rule in RULES if rule.family in _READ for finding in rule.findings(whole)]
    loose = {finding.place.file for finding in found if finding.rule in _BINDING}
    sound = {key: tree for key, tree in library.trees.items() if tree.file not in loose}
    view = whole if len(sound) == len(library.trees) else View(library, Graph(sound), today)
    drafts = {tree.file for tree in library.trees.values() if tree.is_draft}
    found += _proved(view)
    published = None
    if drafts:
        # A draft that leads into a tree must not hide a fault of what is published.
        published = _without_drafts(view)
        found = list(dict.fromkeys([*found, *_proved(published)]))
    findings = tuple(sorted(found, key=lambda finding: finding.sort_key))
    told = drafts | {f"kb/stories/{tree.id}.yml" for tree in library.trees.values() if tree.is_draft}
    of_drafts = frozenset(finding for finding in findings if finding.place.file in told)
    return CheckResult(library, findings, view, published, of_drafts)


def _without_drafts(view: View) -> View:
    trees = {key: tree for key, tree in view.graph.trees.items() if not tree.is_draft}
    return View(view.library.published(), Graph(trees), view.today)


def _proved(view: View) -> list[Finding]:
    return [finding for rule in RULES if rule.family not in _READ for finding in rule.findings(view)]


def unsound(result: CheckResult, file: str) -> list[Finding]:
    """The errors in a tree's file with which nobody knows what its ways mean; how it is worded is none of them."""
    proved = (*_UNSHOWN, "causes", "safety")
    found = (one for one in result.findings if one.place.file == file and one.severity is Severity.ERROR)
    return [one for one in found if _FAMILY[one.rule] in proved]


def alone(tree: Tree, source: Source) -> View:
    """A tree by itself, as if there were no other."""
    trees = {tree.id: tree}
    return View(Library("", (source,), trees, frozenset(trees)), Graph(trees), date.today())


def errors_in(tree: Tree, view: View, rule_ids: Collection[str]) -> list[Finding]:
    """The errors in one tree under some rules about trees, pages or the whole library."""
    found = (finding for rule in RULES if rule.id in rule_ids for finding in rule.findings(view))
    return [finding for finding in found if finding.place.file == tree.file and finding.severity is Severity.ERROR]
