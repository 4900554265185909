"""The competency record: a list to print and sign, task by task, made from what the articles and alarms say."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence

from ...learning import is_practised, main_cases
from ...model import (
    Article,
    Library,
    Node,
    Tree,
)
from ...model.quantities import quantities
from ...proof.graph import Graph
from ...reading.articles import cited, heading
from ..knowledge.passages import inline
from ..markup import (
    Page,
    View,
    block,
    esc,
    invented_mark,
    short_source,
    strip,
    tree_path,
    whole,
)
from ..offline import BUILD, content_date
from .learn import RECORD, SIGNED_OFF, path_of

TITLE = "Competency record"

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

SEEN = "What right looks like"
COLUMNS = ("Shown", "Done under supervision", "Done alone", "Initials", "Date")

_LONG = 210
_ITEM = re.compile(r"^\s*(?:[-*+]|\d{1,9}[.)])\s+(?:\[[ xX]\]\s+)?")
_SENTENCE = re.compile(r"(?<=[.!?])\s+(?=[A-Z])")
_TAG = re.compile(r"<[^>]*>")
_FIRST_LOOKS = 3
_FIRST_REMEDIES = 1


def competence_page(library: Library) -> Page:
    """The record: what the learner shows, and room to sign, for each task."""
    view = View(library, RECORD)
    tasks = [(name, rows) for task, name in TASKS.items() if (rows := list(_rows(view, task)))]
    told = (
        f"<p><b>{SIGNED_OFF}</b> It says what a learner can show for each task of the work, taken from the articles "
        "and alarms of this site. Whoever signs has seen it. A hospital may strike out rows, and add its own.</p>"
    )
    how = (
        "<p>An alarm is shown when the learner finds its page, looks first where the page looks first, goes on to its "
        "end, and says whom to call and what must not be done there. A practice case of it counts as shown if the "
        "hospital says so, never as done.</p>"
    )
    return Page(
        path=RECORD,
        title=TITLE,
        description="A list to print and sign: what a learner can show for each task of the work.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                strip(),
                told,
                how,
                _print(),
                '<p class="on-paper">The record is for paper: the columns to sign come with the print.</p>',
                _whose(),
                _table(view, tasks)
                if tasks
                else "<p>There are no articles or alarms yet, so there is nothing to show.</p>",
            ]
        ),
        boost=0,
    )


def _class(column: str) -> str:
    """The column's class: the date's is wider than a mark's, for it is written by hand."""
    return "date" if column == "Date" else "mark"


def _print() -> str:
    return '<p class="buttons" data-scripted hidden><button type="button" data-print>Print this record</button></p>'


def _whose() -> str:
    """Left blank: filled in by hand, on paper."""
    lines = ("Name", "Role", "Unit", "Educator")
    return '<p class="whose">' + "".join(f"<span>{line}:</span> " for line in lines) + "</p>"


def _table(view: View, tasks: Sequence[tuple[str, list[str]]]) -> str:
    """One table, so that its head stands on every page of paper: which version it is, and that it decides nothing."""
    width = len(COLUMNS) + 1
    library = view.library
    mark = invented_mark(library)
    hospital = esc(f"{library.hospital} ({mark})" if mark else library.hospital)
    dated = content_date(library)
    version = f"Version: build {BUILD}" + (f", content of {esc(dated)}" if dated else "")
    head = "".join(f'<th scope="col">{name}</th>' for name in ("To show", *COLUMNS))
    lines = [
        f'<colgroup><col class="what">{"".join(f"<col class={_class(name)}>" for name in COLUMNS)}</colgroup>',
        "<thead>",
        f'<tr class="version"><td colspan="{width}">{TITLE}. {hospital}. {version}. {SIGNED_OFF} '
        '<span class="initials">Learner’s initials: ____________</span></td></tr>',
        f"<tr>{head}</tr>",
        "</thead>",
    ]
    for name, rows in tasks:
        lines += [f'<tbody><tr class="task"><th colspan="{width}" scope="rowgroup">{name}</th></tr>']
        lines += [f"<tr><td>{row}</td>{'<td></td>' * len(COLUMNS)}</tr>" for row in rows]
        lines += ["</tbody>"]
    return block("table", lines, class_="record")


def _rows(view: View, task: str) -> Iterator[str]:
    """What is shown for a task: each article that serves it first, then each alarm given to it."""
    articles, trees = given_to(view.library)[task]
    rows = [f"<b>{_link(view, one)}</b>: {_right(view, one)}" for one in articles]
    yield from rows
    yield from (f"Alarm: <b>{_link(view, tree)}</b>. {_looks(view, tree)}" for tree in trees)


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
    in_use = [one for one in library.trees.values() if one.status != "withdrawn" and one.id not in away]
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


def _link(view: View, one: Article | Tree) -> str:
    path = tree_path(one.id) if isinstance(one, Tree) else one.id
    return f'<a href="{view.to(path)}">{view.say(one.title)}</a>'


def _right(view: View, article: Article) -> str:
    """What right looks like, as far as it fits in; else what the article is for."""
    told = ""
    for line in _seen(article):
        words = _plain(view, line)
        if not words:
            continue
        if told and len(_read(told)) + len(_read(words)) > _LONG:
            break
        told = f"{told} {words}" if told else words
    return told or view.say(article.description)


def _seen(article: Article) -> list[str]:
    """The lines of the section that says what is seen when it is done well: its items, else its sentences."""
    items, sentences, inside = list[str](), list[str](), False
    for passage in article.passages:
        if passage.kind == "heading":
            level, words = heading(passage)
            inside = words == SEEN if level == 2 else inside
        elif inside and passage.kind == "item":
            items.append(_ITEM.sub("", passage.text))
        elif inside and passage.kind == "paragraph":
            sentences += _SENTENCE.split(passage.text.strip())
    return items or sentences


def _plain(view: View, text: str) -> str:
    """A line without its citations and links; a sentence with a number that is not the hospital's own is left out.

    On this paper nobody looks a source up, and a number without one does not stand alone.
    """
    for _, begin, end in reversed(list(cited(text))):
        text = text[:begin].rstrip() + text[end:]
    kept = (one for one in _SENTENCE.split(text) if next(quantities(one), None) is None)
    return _TAG.sub("", inline(view, " ".join(kept))).strip()


def _read(html: str) -> str:
    return _TAG.sub("", html)


def _looks(view: View, tree: Tree) -> str:
    """What the alarm's page asks and tells first, in its order; what holds a number names its sources."""
    steps = first_steps(view.library, tree)
    keys = dict.fromkeys(key for words, node in steps if next(quantities(words), None) for key in node.sources)
    entries = view.library.sources
    names = ", ".join(esc(short_source(entries[key], key) if key in entries else key) for key in keys)
    told = " ".join(view.say(words) for words, _ in steps) + (f' <span class="cite">({names})</span>' if names else "")
    return f'<span class="quiet">First: {told}</span>' if steps else ""


def first_steps(library: Library, tree: Tree) -> list[tuple[str, Node]]:
    """What a reader meets first on an alarm's main way: its first looks, and the first thing done among them.

    The main way is that of the careful reader where the likeliest cause is at work; where no cause can be played, that
    of the first answers. A thing done only after some of a look's answers says after which.
    """
    found: list[tuple[str, Node]] = []
    looks, done, before = 0, 0, None
    for node in _main_way(library, tree):
        looks, done = looks + (node.kind == "ask"), done + (node.kind == "do")
        if node.kind not in ("ask", "do") or looks > _FIRST_LOOKS or done > _FIRST_REMEDIES:
            break
        if node.kind == "ask" or looks < _FIRST_LOOKS:
            found.append((_after(before, node) + node.lines[0], node))
        before = node
    return found


def _main_way(library: Library, tree: Tree) -> Iterator[Node]:
    if is_practised(tree) and not Graph({tree.id: tree}).knots:
        likeliest = max(tree.causes.values(), key=lambda cause: cause.share or 0)  # of equal ones the first
        main = main_cases(tree, library.safety.values())[likeliest.id]
        yield from (tree.nodes[key] for key in main.way)
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
