"""The orders in which readers meet things: the steps of a tree, the articles."""

from __future__ import annotations

from ..model import Article, Library, Node, Tree
from ..reading.articles import PARTS


def reading_order(tree: Tree) -> tuple[str, ...]:
    """The ids of all steps, so that the usual way reads down and every answer leads further down.

    Reverse postorder of a depth-first search that takes the answers last to first: without loops it
    is a topological order, and the step behind the first answer follows as early as that allows.
    Steps that cannot be reached come last. Linear in steps and answers.
    """
    done: dict[str, None] = {}
    seen = {tree.start}
    stack = [(tree.start, iter(_targets(tree, tree.nodes[tree.start])))]
    while stack:
        here, targets = stack[-1]
        following = next((to for to in targets if to not in seen and to in tree.nodes), None)
        if following is None:
            done[here] = None
            stack.pop()
        else:
            seen.add(following)
            stack.append((following, iter(_targets(tree, tree.nodes[following]))))
    return (*reversed(done), *(key for key in tree.nodes if key not in done))


def _targets(tree: Tree, node: Node) -> list[str]:
    """Where a step leads, what leads to the end of the page first."""
    answers = tree.answers_at(node)
    own = [answer.to for answer in answers if not answer.anytime]
    anytime = [answer.to for answer in answers if answer.anytime]
    ways = own + ([node.then] if node.then else []) + anytime
    return ways[::-1]


def by_part(library: Library) -> dict[str, list[Article]]:
    """The articles under the part of the job they belong to, by title."""
    groups: dict[str, list[Article]] = {part: [] for part in PARTS}
    for article in sorted(library.articles.values(), key=lambda article: article.title.casefold()):
        groups[article.part].append(article)
    return {part: articles for part, articles in groups.items() if articles}
