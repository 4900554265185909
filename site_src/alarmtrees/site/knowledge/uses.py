"""Where something is used, as one line of links."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from ...model import Tree
from ...model.addresses import ABOUT, SAFETY, SETTINGS, SINGLE, WORDS, calculator_path, rule_path, tree_path
from ...proof.order import reading_order
from ...proof.provenance import HELP, RESTS, Use
from ..markup import UNSEARCHED, View, esc

_KINDS = {
    "setting": "Settings",
    "caution": "Cautions",
    "safety": "Safety rules",
    "word": "Words",
    "tree": "Alarms",
    "article": "Articles",
    "calculator": "Calculators",
    "rule": "Checks",
    "clock": "Clock",
}
_RULES = {RESTS: "how long the balloon rests, on every way", HELP: "how soon the first help comes, on every page"}
"""What a rule that counts with values does with them."""


_FEW = 3
"""So many uses stand in a line; more are folded away."""


class Uses:
    """Writes lines of uses for one page; the order of each tree's steps is worked out once."""

    def __init__(self, view: View) -> None:
        self.view = view
        self.numbers: dict[str, dict[str, int]] = {}

    def line(self, uses: Sequence[Use], label: str, none: str) -> str:
        """All uses behind a label; many of them folded away, kind by kind."""
        by_kind: dict[str, dict[str, list[str]]] = {kind: {} for kind in _KINDS}
        for use in uses:
            steps = by_kind[use.kind].setdefault(use.id, [])
            if use.node:
                steps.append(use.node)
        told = [
            f"{name}: {', '.join(self._entry(kind, key, steps) for key, steps in by_kind[kind].items())}"
            for kind, name in _KINDS.items()
            if by_kind[kind]
        ]
        if len(uses) <= _FEW:
            return f'<p class="uses" {UNSEARCHED}>{label}: {"; ".join(told) or none}.</p>'
        summary = f"<summary>{label} ({len(uses)} places)</summary>"
        return f'<details class="uses" {UNSEARCHED}>{summary}{"".join(f"<p>{line}.</p>" for line in told)}</details>'

    def steps_of(self, uses: Sequence[Use]) -> str:
        """One page, with all of its steps that are named."""
        return self._entry(uses[0].kind, uses[0].id, [use.node for use in uses if use.node])

    def _entry(self, kind: str, key: str, steps: list[str]) -> str:
        view, library = self.view, self.view.library
        if kind == "tree":
            tree = library.trees[key]
            numbers = self._numbers(tree)
            links = ", ".join(self._steps(tree, sorted(set(steps), key=lambda step: numbers[step])))
            name = f'<a href="{view.to(tree_path(key))}">{view.say(tree.title)}</a>'
            return f"{name} (step {links})" if links else name
        if kind == "article":
            return f'<a href="{view.to(key)}">{view.say(library.articles[key].title)}</a>'
        if kind == "calculator":
            return f'<a href="{view.to(calculator_path(key))}">{view.say(library.calculators[key].title)}</a>'
        if kind == "rule":
            return f'<a href="{view.to(rule_path(key))}">{_RULES[key]}</a>'
        if kind == "clock":
            return "on the page of each alarm"
        page, anchor, words = self._fact(kind, key)
        if page not in SINGLE and page not in library.written:
            return view.say(words).rstrip(".")
        return f'<a href="{view.to(page, anchor)}">{view.say(words).rstrip(".")}</a>'

    def _fact(self, kind: str, key: str) -> tuple[str, str, str]:
        """The page, the place on it, and the words of a fact."""
        library = self.view.library
        if kind == "setting":
            return SETTINGS, key, library.settings[key].say
        if kind == "caution":
            return ABOUT, f"caution-{key}", library.cautions[key].say
        if kind == "safety":
            return SAFETY, key, library.safety[key].say
        return WORDS, key, str(library.words[key]["say"])

    def _steps(self, tree: Tree, steps: Iterable[str]) -> Iterator[str]:
        for step in steps:
            href = self.view.to(tree_path(tree.id), step)
            yield f'<a href="{href}">{self._numbers(tree).get(step, esc(step))}</a>'

    def _numbers(self, tree: Tree) -> dict[str, int]:
        if tree.id not in self.numbers:
            order = reading_order(tree)
            self.numbers[tree.id] = {step: number for number, step in enumerate(order, start=1)}
        return self.numbers[tree.id]
