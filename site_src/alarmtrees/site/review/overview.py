"""What is checked of the whole library: each alarm in a line, each safety rule in each alarm, articles and alarms."""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Article, Library, Tree
from ...model.addresses import CHANGES, CHECKS, REVIEW, RULES, SAFETY, checks_path, tree_path
from ...model.wording import lasting
from ...proof.evidence import APART, BROKEN, HOLDS, IDLE, Evidence
from ..markup import NOT_SAFE, Page, View, block, esc, items, whole
from .checks import ASSETS, TITLE, counted, table

_SIGNS = {HOLDS: "●", IDLE: "·", APART: "", BROKEN: "✗"}


def overview_page(library: Library, evidence: Evidence) -> Page:
    """The page of checks of the library."""
    view = View(library, CHECKS)
    body = [
        f'<h1 id="_top">{TITLE}</h1>',
        f'<p class="strip">{NOT_SAFE}</p>',
        _told(view, evidence),
        '<h2 class="part">Each alarm</h2>',
        _alarms(view, evidence),
        *_rules(view, evidence),
        *_articles(view),
    ]
    description = "How many ways were checked, which safety rule holds where, and which article serves which alarm."
    return Page(CHECKS, TITLE, whole(body), description, boost=0, assets=ASSETS)


def _told(view: View, evidence: Evidence) -> str:
    trees = evidence.trees.values()
    ways = counted(sum(map(evidence.ways, trees)))
    causes = counted(sum(len(tree.causes) for tree in trees))
    rules = len(view.library.safety)
    return (
        f"<p>{len(trees)} alarms with {causes} causes and {ways} ways through them. {rules} safety rules are decided "
        f"on every one of these ways, by reasoning on the graph of steps and not by samples. By which rules a tree is "
        f'checked: <a href="{view.to(RULES)}">what is checked</a>. Who reviewed it and what is due: '
        f'<a href="{view.to(REVIEW)}">review</a>. '
        f'What weighs how much where a change is proposed: <a href="{view.to(CHANGES)}">kinds of change</a>.</p>'
    )


# ------------------------------------------------------------------ each alarm


def _alarms(view: View, evidence: Evidence) -> str:
    names = (
        "Alarm",
        "Ways",
        "Causes",
        "Longest rest",
        "First help or call, at the longest",
        "Remedy, on the mean",
        "Remedy, at the longest",
        "A quicker order",
    )
    head = ["<tr>" + "".join(f'<th scope="col">{name}</th>' for name in names) + "</tr>"]
    rows = [_alarm(view, evidence, tree, names) for tree in _by_title(evidence)]
    return block("table", ["<thead>", *head, "</thead>", "<tbody>", *rows, "</tbody>"], class_="cards cards--wide")


def _by_title(evidence: Evidence) -> list[Tree]:
    return sorted(evidence.trees.values(), key=lambda tree: tree.title.casefold())


def _alarm(view: View, evidence: Evidence, tree: Tree, names: tuple[str, ...]) -> str:
    expected, longest, first = evidence.expected(tree), evidence.longest(tree), evidence.first_help(tree)
    gain = evidence.advice(tree).gain
    facts = [
        counted(evidence.ways(tree)),
        str(len(tree.causes)),
        lasting(evidence.rest(tree).seconds),
        "–" if first is None else lasting(first.seconds),
        "–" if expected is None else lasting(expected),
        "–" if longest is None else lasting(longest.seconds),
        f"{lasting(gain)} sooner" if gain >= 1 else "none",
    ]
    cells = "".join(f'<td data-name="{name}">{fact}</td>' for name, fact in zip(names[1:], facts, strict=True))
    link = f'<a href="{view.to(checks_path(tree.id))}">{view.say(tree.title)}</a>'
    return f'<tr><th scope="row">{link}</th>{cells}</tr>'


# ------------------------------------------------------------------ safety rules


def _rules(view: View, evidence: Evidence) -> Iterator[str]:
    trees = _by_title(evidence)
    if not view.library.safety or not trees:
        return
    yield '<h2 class="part">Which safety rule holds where</h2>'
    yield (
        "<p>A dot ●: the alarm has steps that the rule speaks of, and it holds on every way. A small dot: it has none, "
        "so there is nothing to hold. Empty: the rule is not for this alarm.</p>"
    )
    head = ['<tr><th scope="col">Rule</th>']
    head += [
        f'<th scope="col"><a href="{view.to(checks_path(tree.id))}">{view.say(tree.title)}</a></th>' for tree in trees
    ]
    rows = []
    for rule in view.library.safety:
        states = [evidence.carried(tree)[rule].state for tree in trees]
        link = f'<a href="{view.to(SAFETY, rule)}">{esc(rule)}</a>'
        cells = "".join(f"<td>{_SIGNS[state]}</td>" for state in states)
        rows.append(f'<tr><th scope="row">{link}</th>{cells}</tr>')
    yield table("Which safety rule holds where", [*head, "</tr>"], rows, "matrix")


# ------------------------------------------------------------------ articles


def _articles(view: View) -> list[str]:
    library = view.library
    if not library.articles:
        return []
    serving = {
        key: [a for a in library.articles.values() if key in a.trees or a.id in tree.related]
        for key, tree in library.in_use.items()
    }
    by_title = sorted((library.trees[key] for key in serving), key=lambda tree: tree.title.casefold())
    alone = [
        article for article in library.articles.values() if not any(article in found for found in serving.values())
    ]
    return [
        '<h2 class="part">Which article serves which alarm</h2>',
        items("ul", (_served(view, tree, serving[tree.id]) for tree in by_title), "entries"),
        f"<p>Articles that serve no alarm: {_links(view, alone)}.</p>" if alone else "",
    ]


def _served(view: View, tree: Tree, articles: list[Article]) -> str:
    name = f'<a href="{view.to(tree_path(tree.id))}"><b>{view.say(tree.title)}</b></a>'
    return f"{name}: {_links(view, articles) or 'no article yet'}"


def _links(view: View, articles: list[Article]) -> str:
    return ", ".join(f'<a href="{view.to(article.id)}">{view.say(article.title)}</a>' for article in articles)
