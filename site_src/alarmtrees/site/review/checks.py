"""What was checked of one alarm, and on what: for editors and whoever answers for the page, not for the bedside."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from ...model import Library, Node, Tree
from ...model.addresses import CHECKS, SAFETY, checks_path, history_path, tree_path
from ...model.finding import Step
from ...model.wording import lasting
from ...proof.economy import NewOrder, Remedy, Row, shares_of
from ...proof.economy.told import ASSUMED, gained, verdict
from ...proof.evidence import BROKEN, HOLDS, IDLE, Carried, Carrier, Evidence, Seen, telling
from ...proof.order import reading_order
from ..markup import NOT_SAFE, Page, View, block, esc, items, review_line, whole

TITLE = "Checked on every way"
ASSETS = ("checks.css",)


def checks_page(library: Library, evidence: Evidence, tree: Tree) -> Page:
    """The page of checks of one tree that has no loops.

    Args:
        library: holds the tree.
        evidence: that of the library.
        tree: the tree.
    """
    view = View(library, checks_path(tree.id))
    steps = StepLinks(view, tree)
    body = [
        f'<h1 id="_top">{TITLE}: {view.say(tree.title)}</h1>',
        f'<p class="quiet"><a href="{view.to(tree_path(tree.id))}">The alarm’s own page</a>; '
        f'<a href="{view.to(CHECKS)}">all alarms</a>. For editors and reviewers, not for the bedside.</p>',
        f'<p class="strip">{NOT_SAFE}</p>',
        _facts(view, evidence, tree),
        *_causes(view, evidence, tree, steps),
        *_ways(evidence, tree, steps),
        *_safety(view, evidence, tree, steps),
        *_order(evidence, tree, steps),
        '<h2 class="part">Review</h2>',
        review_line(library, tree),
        _changes(view, tree),
    ]
    return Page(
        path=view.path,
        title=f"{TITLE}: {view.plain(tree.title)}",
        description=f"What was checked of the page “{view.plain(tree.title)}”, and on what.",
        body=whole(body),
        source=f"../{tree.file}",
        boost=0,
        assets=ASSETS,
    )


def _changes(view: View, tree: Tree) -> str:
    if tree.id not in view.library.changes:
        return ""
    return f'<p><a href="{view.to(history_path(tree.id))}">Changes of this page</a></p>'


class StepLinks:
    """Links to the steps of a tree by their numbers; those of other trees by their titles."""

    def __init__(self, view: View, tree: Tree) -> None:
        self.view = view
        self.tree = tree
        self.numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}

    def number(self, node_id: str) -> str:
        """A step as a number that leads to it."""
        return f'<a href="{self.view.to(tree_path(self.tree.id), node_id)}">{self.numbers[node_id]}</a>'

    def named(self, node_id: str) -> str:
        """A step as number and words."""
        return f"{self.number(node_id)} {self.view.say(_short(self.tree.nodes[node_id]))}"

    def carriers(self, found: Iterable[Carrier]) -> str:
        """Steps, and answers with the step they stand at."""
        by_step: dict[str, list[str]] = {}
        for node_id, answer in found:
            by_step.setdefault(node_id, [])
            if answer is not None:
                by_step[node_id].append(f"“{self.view.say(answer)}”")
        own = sorted((key for key in by_step if key), key=lambda key: self.numbers[key])
        told = ", ".join(" ".join([self.number(key), *by_step[key]]) for key in own)
        parts = [f"{'steps' if len(own) > 1 else 'step'} {told}"] if own else []
        return " and ".join([*parts, *([f"{', '.join(by_step[''])} at any time"] if "" in by_step else [])])

    def way(self, way: Iterable[Step]) -> str:
        """A way as a list: each step, and the answer given there."""
        return items("ol", map(self._on_way, way), "way")

    def _on_way(self, step: Step) -> str:
        tree, node_id, link = self.tree, step.node, ""
        if "/" in step.node:
            tree_id, _, node_id = step.node.partition("/")
            tree = self.view.library.trees[tree_id]
            link = f'<a href="{self.view.to(tree_path(tree_id), node_id)}">{self.view.say(tree.title)}</a>: '
        words = self.view.say(_short(tree.nodes[node_id]))
        shown = f"{link}{words}" if link else f"Step {self.number(node_id)} {words}"
        return f"{shown} <b>{self.view.say(step.answer)}</b>" if step.answer else shown


def _short(node: Node) -> str:
    return node.lines[0]


def counted(number: int) -> str:
    """A whole number in groups of three digits, which never part.

    >>> counted(1234567).replace(chr(0x202F), "_")
    '1_234_567'
    """
    return f"{number:,}".replace(",", "\u202f")


def _facts(view: View, evidence: Evidence, tree: Tree) -> str:
    rest, longest, expected = evidence.rest(tree), evidence.longest(tree), evidence.expected(tree)
    carried = evidence.carried(tree).values()
    tested = sum(one.state in (HOLDS, BROKEN) for one in carried)
    idle = sum(one.state == IDLE for one in carried)
    facts = [
        ("Ways", f"{counted(evidence.ways(tree))}, counted, on through the pages that this one hands over to"),
        ("Steps", str(len(tree.nodes))),
        (
            "Causes",
            f"{len(tree.causes)}, each led through alone" if tree.causes else "none named: nothing to lead through",
        ),
        ("Safety rules", f"{tested} put to the test here; {idle} find nothing here that they speak of"),
        ("Longest rest of the balloon", lasting(rest.seconds) + ", until it is seen to move or somebody is called"),
    ]
    if expected is not None and longest is not None:
        told = f"{lasting(expected)} on the mean over the causes; {lasting(longest.seconds)} at the longest"
        facts.append(("From the first step to the remedy", told))
    if first := evidence.first_help(tree):
        limit = view.library.settings.get(f"help_{tree.harm.onset}")
        most = f"; at the most it may be {view.say(limit.shown)}" if limit and limit.value else ""
        facts.append(("First help, or a call, at the longest", f"{lasting(first.seconds)}{most}"))
    return block("dl", (f"<dt>{name}</dt><dd>{told}</dd>" for name, told in facts), class_="facts")


# ------------------------------------------------------------------ causes and questions


def _causes(view: View, evidence: Evidence, tree: Tree, steps: StepLinks) -> list[str]:
    if not tree.causes:
        return []
    seen = evidence.coverage(tree)
    asked = {node for met in seen.values() for node in met}
    questions = [key for key in steps.numbers if key in asked and telling(tree.nodes[key])]
    shares = shares_of(tree)
    told = any(cause.share for cause in tree.causes.values())
    head = [
        '<tr><th scope="col">Cause</th>' + ('<th scope="col">Share</th>' if told else ""),
        *(f'<th scope="col">{steps.number(key)}</th>' for key in questions),
        '<th scope="col">Remedy</th><th scope="col">After</th></tr>',
    ]
    rows = [
        f'<tr><th scope="row">{view.say(cause.say)}</th>'
        + (f"<td>{round(100 * shares[cause.id])} %</td>" if told else "")
        + "".join(_cell(seen[cause.id].get(key)) for key in questions)
        + _remedy(evidence.usual(tree, cause.id), steps)
        + "</tr>"
        for cause in tree.causes.values()
    ]
    return [
        '<h2 class="part">Causes and questions</h2>',
        "<p>Each cause is led through the tree alone, by a reader who gives any answer that can be seen under it. A "
        "letter is such an answer; a dot says that the question is never come to. <b>Bold</b>: the answer names the "
        "cause. The remedy is the step that removes it or that calls for it, and the time is that of the usual way "
        "there." + (" Shares are estimates, for editors alone.</p>" if told else "</p>"),
        table("Causes and questions", head, rows),
        items("ul", (_legend(view, tree.nodes[key], steps) for key in questions), "legend"),
    ]


def _cell(seen: Seen | None) -> str:
    if seen is None:
        return "<td>·</td>"
    letters = " ".join(chr(ord("a") + place) for place in seen.answers)
    return f"<td><b>{letters}</b></td>" if seen.named else f"<td>{letters}</td>"


def _remedy(remedy: Remedy | None, steps: StepLinks) -> str:
    if remedy is None:
        return "<td>none</td><td>·</td>"
    return f"<td>{steps.number(remedy.way[-1].node)}</td><td>{lasting(remedy.seconds)}</td>"


def _legend(view: View, node: Node, steps: StepLinks) -> str:
    answers = "; ".join(f"{chr(ord('a') + i)} {view.say(answer.say)}" for i, answer in enumerate(node.answers))
    return f'{steps.named(node.id)} <span class="quiet">{answers}</span>'


def table(name: str, head: Iterable[str], rows: Iterable[str], css: str = "") -> str:
    """A table that scrolls by itself, its first column standing still; reached by key as well."""
    body = f'<table class="{css}">' if css else "<table>"
    lines = [body, "<thead>", *head, "</thead>", "<tbody>", *rows, "</tbody>", "</table>"]
    return block("div", lines, class_="wide", **{"tabindex": "0", "role": "region", "aria-label": name})


# ------------------------------------------------------------------ ways


def _ways(evidence: Evidence, tree: Tree, steps: StepLinks) -> list[str]:
    rest, longest = evidence.rest(tree), evidence.longest(tree)
    parts = ['<h2 class="part">The longest ways</h2>']
    if rest.seconds:
        parts += [f"<h3>The balloon rests for {lasting(rest.seconds)}</h3>", steps.way(rest.way)]
    else:
        parts.append("<p>On no way does the balloon rest before somebody is called.</p>")
    if longest:
        cause = steps.view.say(tree.causes[longest.cause].say)
        parts += [f"<h3>The remedy comes after {lasting(longest.seconds)}</h3>", f"<p>The cause: {cause}.</p>"]
        parts.append(steps.way(longest.way))
    return parts


# ------------------------------------------------------------------ safety rules


def _safety(view: View, evidence: Evidence, tree: Tree, steps: StepLinks) -> list[str]:
    carried = evidence.carried(tree)
    tested = [one for one in carried.values() if one.state in (HOLDS, BROKEN)]
    idle = [one for one in carried.values() if one.state == IDLE]
    if not carried:
        return []
    parts = ['<h2 class="part">Safety rules</h2>']
    parts.append(items("ul", (_rule(view, one, steps) for one in tested), "entries") if tested else "")
    if idle:
        link = f'<a href="{view.to(CHECKS)}">which rule holds where</a>'
        parts.append(f'<p class="quiet">{len(idle)} more rules find nothing here that they speak of: {link}.</p>')
    return parts


def _rule(view: View, one: Carried, steps: StepLinks) -> str:
    rule = view.library.safety[one.rule]
    state = "" if one.state == HOLDS else "<b>Does not hold.</b> "
    about = f" Put to the test at {steps.carriers(one.subjects)}." if one.subjects else ""
    kept = f" Kept by {steps.carriers(one.guards)}." if one.guards else ""
    where = f'<span class="quiet">{about}{kept} {_rule_link(view, one.rule)}</span>'
    return f"{state}{view.say(rule.say)}{where}"


def _rule_link(view: View, rule: str) -> str:
    return f'<a href="{view.to(SAFETY, rule)}"><code>{esc(rule)}</code></a>'


# ------------------------------------------------------------------ the order of the questions


def _order(evidence: Evidence, tree: Tree, steps: StepLinks) -> list[str]:
    if not tree.causes:
        return []
    rows = evidence.advice(tree).rows
    told = [part for row in rows for part in _row(row, steps)]
    none = "<p>No questions of this page could change places.</p>"
    return ['<h2 class="part">The order of the questions</h2>', *(told or [none]), f'<p class="quiet">{ASSUMED}</p>']


def _row(row: Row, steps: StepLinks) -> Iterator[str]:
    yield "<p>These questions could change places:</p>"
    yield items("ul", map(steps.named, row.steps))
    yield f"<p>{verdict(row)}</p>"
    if row.best:
        yield items("ol", map(steps.named, row.best.steps))
        yield f"<p>{_gained(row.best, steps.view)}.</p>"
    if row.swaps:
        yield "<p>Two of them exchanged:</p>"
        yield items(
            "ul",
            (
                f"{steps.number(s.first)} and {steps.number(s.second)}: {_gained(s.order, steps.view)}"
                for s in row.swaps
            ),
        )


def _gained(order: NewOrder, view: View) -> str:
    """What an order gains, with links to the safety rules that it breaks."""
    known = view.library.safety
    return gained(order, lambda rule: _rule_link(view, rule) if rule in known else f"<code>{esc(rule)}</code>")
