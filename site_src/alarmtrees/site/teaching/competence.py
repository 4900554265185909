"""The competency record: a list to print and sign, task by task, made from what the articles and alarms say."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from ...learning.course import Course
from ...learning.path import read_stamp
from ...learning.record import TASKS, first_steps, given_to
from ...model import Article, Tree
from ...model.addresses import LETTER, RECORD, tree_path
from ...model.quantities import quantities
from ...model.wording import sentences_of
from ...reading.articles import cited, heading, unlisted
from ..markup import Page, View, block, esc, hospital_named, short_source, untagged, whole
from ..offline import BUILD, content_date, is_changed
from .learn import ASSETS, SIGNED_OFF
from .passages import inline

TITLE = "Competency record"


SEEN = "What right looks like"
COLUMNS = ("Shown", "Done under supervision", "Done alone")

_LONG = 210


LEVELS = ("under supervision", "alone", "alone, and teaches others")
"""What somebody may do; common practice, no source. A hospital may strike out and add."""


def competence_page(course: Course) -> Page:
    """The record: what the learner shows for each task, and one line to sign."""
    view = View(course.library, RECORD)
    checks: dict[str, list[str]] = {}
    for question in course.questions:
        checks.setdefault(question.about, []).append(question.id)
    tasks = [(name, rows) for task, name in TASKS.items() if (rows := list(_rows(view, task, checks)))]
    told = (
        f"<p><b>{SIGNED_OFF}</b> It says what a learner can show for each task of the work, taken from the articles "
        "and alarms of this site. Put a mark in a column for what was seen, and sign once, at the end. A hospital may "
        "strike out rows, and add its own.</p>"
    )
    how = (
        "<p>An alarm is shown when the learner finds its page, looks first where the page looks first, goes on to its "
        "end, and says whom to call and what must not be done there. A practice case of it counts as shown if the "
        "hospital says so, never as done.</p>"
    )
    return Page(
        path=RECORD,
        assets=(*ASSETS, "record.js"),
        title=TITLE,
        description="A list to print and sign: what a learner can show for each task of the work.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                told,
                how,
                _fill(view),
                '<p class="on-paper">The record is for paper: the columns, and the line to sign, come with the '
                "print.</p>",
                _whose(),
                _table(view, tasks)
                if tasks
                else "<p>There are no articles or alarms yet, so there is nothing to show.</p>",
                _signed() if tasks else "",
            ]
        ),
        boost=0,
    )


def _fill(view: View) -> str:
    """Print it, and fill in what a learner's file knows: never what only somebody who has watched can say."""
    return block(
        "div",
        [
            '<p class="buttons"><button type="button" data-print>Print this record</button>'
            '<button type="button" data-own>Fill in from this browser</button>'
            '<label class="button" for="file">Fill in from a file</label>'
            '<input id="file" class="unseen" type="file" accept=".json,application/json">'
            '<button type="button" data-empty disabled>Take out again</button></p>',
            '<p role="status" data-done></p>',
            "<p>Filled in is what the learner’s browser kept: read, answered, practised. The marks and the line to "
            "sign stay "
            f'blank: they are for whoever has watched. To hand out: <a href="{view.to(LETTER)}">letter of '
            "completion</a>.</p>",
        ],
        **{"class": "fill", "data-scripted": "", "hidden": ""},
    )


def _signed() -> str:
    """The one line to sign: left blank, for paper."""
    boxes = " ".join(f"<span>☐ {level}</span>" for level in LEVELS)
    lines = ("Educator, name and role", "Signature", "Date", "Learner’s signature", "Next date")
    spans = " ".join(f"<span>{line}:</span>" for line in lines)
    return block(
        "div",
        [f'<p class="level"><b>Level, for all that is marked:</b> {boxes}</p>', f'<p class="whose">{spans}</p>'],
        class_="signed",
    )


def _whose() -> str:
    """Left blank: filled in by hand, on paper."""
    lines = ("Name", "Role", "Unit", "Educator")
    return '<p class="whose">' + "".join(f"<span>{line}:</span> " for line in lines) + "</p>"


def _table(view: View, tasks: Sequence[tuple[str, list[str]]]) -> str:
    """One table, so that its head stands on every page of paper: which version it is, and that it decides nothing."""
    width = len(COLUMNS) + 1
    library = view.library
    hospital = esc(hospital_named(library))
    dated = content_date(library)
    since = ", changed since" if is_changed(library) else ""
    version = f"Version: build {BUILD}" + (f", content of {esc(dated)}{since}" if dated else "")
    head = "".join(f'<th scope="col">{name}</th>' for name in ("To show", *COLUMNS))
    lines = [
        f'<colgroup><col class="what">{"<col>" * len(COLUMNS)}</colgroup>',
        "<thead>",
        f'<tr class="version"><td colspan="{width}">{TITLE}. {hospital}. {version}. {SIGNED_OFF} '
        '<span class="initials">Learner’s initials: ____________</span></td></tr>',
        f"<tr>{head}</tr>",
        "</thead>",
    ]
    for name, rows in tasks:
        lines += [f'<tbody><tr class="task"><th colspan="{width}" scope="rowgroup">{name}</th></tr>']
        lines += [f"<tr>{row}{'<td></td>' * len(COLUMNS)}</tr>" for row in rows]
        lines += ["</tbody>"]
    return block("table", lines, class_="record")


def _rows(view: View, task: str, checks: Mapping[str, Sequence[str]]) -> Iterator[str]:
    """What is shown for a task: each article that serves it first, then each alarm given to it."""
    articles, trees = given_to(view.library)[task]

    def cell(one: Article | Tree, told: str) -> str:
        causes = " ".join(one.causes) if isinstance(one, Tree) else ""
        known = f'data-about="{esc(one.id)}" data-stamp="{read_stamp(one)}" data-causes="{esc(causes)}"'
        return f'<td {known} data-checks="{esc(" ".join(checks.get(one.id, ())))}">{told}</td>'

    for article in articles:
        yield cell(article, f"<b>{_link(view, article)}</b>: {_right(view, article)}")
    for tree in trees:
        yield cell(tree, f"Alarm: <b>{_link(view, tree)}</b>. {_looks(view, tree)}")


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
        if told and len(untagged(told)) + len(untagged(words)) > _LONG:
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
            items.append(unlisted(passage.text))
        elif inside and passage.kind == "paragraph":
            sentences += sentences_of(passage.text.strip())
    return items or sentences


def _plain(view: View, text: str) -> str:
    """A line without its citations and links; a sentence with a number that is not the hospital's own is left out.

    On this paper nobody looks a source up, and a number without one does not stand alone.
    """
    for _, begin, end in reversed(list(cited(text))):
        text = text[:begin].rstrip() + text[end:]
    kept = (one for one in sentences_of(text) if next(quantities(one), None) is None)
    return untagged(inline(view, " ".join(kept))).strip()


def _looks(view: View, tree: Tree) -> str:
    """What the alarm's page asks and tells first, in its order; what holds a number names its sources."""
    steps = first_steps(view.library, tree)
    keys = dict.fromkeys(key for words, node in steps if next(quantities(words), None) for key in node.sources)
    entries = view.library.sources
    names = ", ".join(esc(short_source(entries[key], key) if key in entries else key) for key in keys)
    told = " ".join(view.say(words) for words, _ in steps) + (f' <span class="cite">({names})</span>' if names else "")
    return f'<span class="quiet">First: {told}</span>' if steps else ""
