"""What a learner shows for each task of the work: which articles and alarms stand under it, and what is met first."""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Article, Library, Node, Tree
from ..proof.graph import Graph
from .cases import main_way
from .data import is_practised
from .path import path_of

TASKS = {
    "insert": "Assist at insertion",
    "connect": "Connect and start",
    "zero": "Zero the pressure line",
    "trigger": "Choose the trigger",
    "time": "Time inflation and deflation",
    "read": "Read the pressures",
    "alarms": "Answer alarms, and call",
    "round": "Go the hourly round",
    "gas": "Keep the gas, change the cylinder",
    "hold": "Hold, and count the rest",
    "transport": "Move the patient",
    "wean": "Wean",
    "remove": "Help at removal",
    "hand-over": "Hand over",
    "teach": "Teach and drill",
    "plan": "Plan, and care for what surrounds it",
}
"""The tasks of the whole job, in the order of the work, as the record names them."""


ROWS = 8
"""How many things to show a task has, where what serves it leaves a choice."""


ARTICLES = 3
"""How many of them are articles."""


_FIRST_LOOKS = 3


_FIRST_REMEDIES = 1


def given_to(library: Library) -> dict[str, tuple[list[Article], list[Tree]]]:
    """For each task the articles and alarms that stand under it, each article and each alarm in use once.

    What the path marks as no work at the bed (`at_bed: no`) is left out: nobody could show it.
    An article stands under the first of its tasks that is not full. An alarm stands under a task of an article that is
    learned in the same stage and serves it, else of one in the same stage, else of one that serves it.
    """
    path = path_of(library)
    away = frozenset[str]().union(*(stage.away for stage in path))
    stages = {name: place for place, stage in enumerate(path) for name, _ in stage.pages}
    order = {name: place for place, name in enumerate(stages)}
    shown = (one for one in library.articles.values() if one.id not in away)
    articles = sorted(shown, key=lambda one: order.get(one.id, len(order)))
    given: dict[str, tuple[list[Article], list[Tree]]] = {task: ([], []) for task in TASKS}
    under: dict[str, str] = {}
    for article in articles:
        free = [task for task in article.tasks if len(given[task][0]) < ARTICLES]
        under[article.id] = free[0] if free else article.tasks[0]
        given[under[article.id]][0].append(article)
    in_use = [one for one in library.in_use.values() if one.id not in away]
    for tree in sorted(in_use, key=lambda tree: order.get(tree.id, len(order))):
        near = [one for one in articles if stages.get(one.id) == stages.get(tree.id)]
        serving = [one for one in articles if tree.id in one.trees]
        both = [one for one in near if one in serving]
        fit = [one for group in (both, near, serving, articles) for one in group]
        free = [under[one.id] for one in fit if _size(given[under[one.id]]) < ROWS]
        group = both or near or serving or articles
        best = {under[one.id] for one in group}
        task = min((one for one in free if one in best), key=lambda one: _size(given[one]), default=None)
        given[task or next(iter(free), "alarms")][1].append(tree)
    return given


def _size(given: tuple[list[Article], list[Tree]]) -> int:
    return len(given[0]) + len(given[1])


def first_steps(library: Library, tree: Tree) -> list[tuple[str, Node]]:
    """What a reader meets first on an alarm's main way: its first looks, and the first thing done among them.

    The main way is that of the careful reader where the likeliest cause is at work; where no cause can be played, that
    of the first answers. A thing done only after some of a look's answers says after which.
    """
    found: list[tuple[str, Node]] = []
    looks, done, before = 0, 0, None
    for node in likeliest_way(library, tree):
        looks, done = looks + (node.kind == "ask"), done + (node.kind == "do")
        if node.kind not in ("ask", "do") or looks > _FIRST_LOOKS or done > _FIRST_REMEDIES:
            break
        if node.kind == "ask" or looks < _FIRST_LOOKS:
            found.append((_after(before, node) + node.lines[0], node))
        before = node
    return found


def likeliest_way(library: Library, tree: Tree) -> Iterator[Node]:
    """The steps of the careful reader where the likeliest cause is at work; those of the first answers, where no cause
    can be played."""
    if is_practised(tree) and not Graph({tree.id: tree}).knots:
        likeliest = max(tree.causes.values(), key=lambda cause: cause.share or 0)  # of equal ones the first
        yield from (tree.nodes[key] for key in main_way(tree, library.safety.values(), likeliest.id))
        return
    node = tree.nodes.get(tree.start)
    for _ in tree.nodes:  # a loop ends here
        if node is None:
            return
        yield node
        node = tree.nodes.get(node.then or next((answer.to for answer in node.answers), ""))


def _after(before: Node | None, node: Node) -> str:
    """After which answers something is done, where the look before it has others."""
    if before is None or node.kind != "do":
        return ""
    leading = [answer.say for answer in before.answers if answer.to == node.id]
    if not leading or len(leading) == len(before.answers):
        return ""
    return f"After {' or '.join(f'“{say}”' for say in leading)}: "
