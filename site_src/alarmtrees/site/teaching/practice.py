"""The page of practice cases, and one file of cases for each alarm that can be practised.

Without a script it is a list of the alarms. `practice.js` plays the cases: it asks for the file of an alarm only when
that alarm is played, by a plain script element, so that it works from a folder too.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

from ...learning import ToldCase, is_practised, practised, tree_data
from ...learning.minutes import case_words, minutes, tree_words
from ...learning.soonest import by_subject
from ...model import ABOUT, Library, Tree
from ...model.addresses import LEARN, PRACTICE, RECORD, tree_path
from ..knowledge.traces import unnamed_trace
from ..markup import UNSEARCHED, Page, SiteFile, View, block, esc, priority_badge, script_json, whole

TITLE = "Practice cases"
_ASSETS = (
    *("practice.css", "progress.js", "spacing.js", "play.js", "practice-files.js"),
    *("practice-steps.js", "practice-debrief.js", "practice.js"),
)

SPACING = (
    "After a good play a case comes again after 2 days, then after three times the gap before, at most 36 days. A "
    "fair play, with more than one turn of your own, a remedy in vain or a call too early, keeps the gap. After a "
    "bad one, unsafe, left too early or for a wrong page, it is 1 day.",
    "A review is best placed at 20 to 40 % of a week, if the test comes a week later, and at 5 to 10 % of a year, "
    "if it comes a year later (Cepeda and others, Psychol Sci 2008). A first test that waits is kept longer "
    "(Karpicke and Roediger, J Exp Psychol Learn Mem Cogn 2007). Widening gaps keep as much as even ones at the end "
    "(Latimier and others, Educ Psychol Rev 2021), and more on the way there (Kang and others, Psychon Bull Rev "
    "2014).",
    "Chosen, without a source: to begin with a week and end with a year, three times, 1 day, what is good, fair or "
    "bad, and which of several cases is drawn.",
)
"""When a case comes again, by `spacing.js`, and where each number is from."""

NOT_A_PERMISSION = "<b>Practice, not a permission.</b> Times in a case are a story’s, not limits."


_NO_TOLD: Mapping[str, Sequence[ToldCase]] = {}


def practice_page(library: Library, told: Mapping[str, Sequence[ToldCase]] = _NO_TOLD) -> Page:
    """What the cases are, the next one, and all alarms with how far a learner has come; then the told bedsides."""
    view = View(library, PRACTICE)
    alarms = {tree.id: tree for tree in practised(library)}
    groups = [
        _group(view, about, chosen)
        for about, trees in by_subject(library).items()
        if (chosen := [tree for tree in trees if tree.id in alarms])
    ]
    return Page(
        path=PRACTICE,
        assets=_ASSETS,
        title=TITLE,
        description="A made-up case for every cause of every alarm, to be played step by step.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                f'<p class="notice" {UNSEARCHED}>{NOT_A_PERMISSION}</p>',
                _intro(view, len(alarms), sum(len(tree.causes) for tree in alarms.values()), told_too=bool(told)),
                _case(),
                block("div", groups, class_="cases", id="_cases"),
                _told(view, alarms, told),
                _kept(view),
            ]
        ),
    )


def tree_practice(library: Library, tree: Tree) -> SiteFile:
    """The cases of an alarm, as a script that hands them to the page."""
    return SiteFile(f"practice/{tree.id}.js", practice_file(tree_data(library, tree, _traces(library, tree))))


def practice_file(data: dict[str, Any]) -> str:
    """The script that hands the cases of a tree to the page."""
    return f"alarmtrees.practiceData({script_json(data)});\n"


def told_practice(told: Mapping[str, Sequence[ToldCase]]) -> Iterator[SiteFile]:
    """The told bedsides of each alarm, as a script that hands them to the page."""
    for tree_id, cases in told.items():
        data = {"tree": tree_id, "cases": [case.data for case in cases]}
        yield SiteFile(f"practice/told/{tree_id}.js", f"alarmtrees.toldData({script_json(data)});\n")


def practice_link(view: View, tree: Tree) -> str:
    """On the page of an alarm, not on paper: the way to its cases where it has any, and the minutes that it takes."""
    read = f"{minutes(tree_words(view.library, tree))} min to read"
    if not is_practised(tree):
        return f'<p class="edit" {UNSEARCHED}>This page: {read}</p>'
    case = f"{minutes(case_words(view.library, tree))} min a case"
    link = f'<a href="{view.to(PRACTICE, tree.id)}">Practise this alarm</a>'
    return f'<p class="edit" {UNSEARCHED}>{link}: {case}; the page {read}</p>'


def _traces(library: Library, tree: Tree) -> dict[str, str]:
    """The trace that the case of a cause of a tree shows, by tree and cause; of several the first."""
    found: dict[str, str] = {}
    for waveform in library.waveforms.values():
        for cause in waveform.causes:
            if cause not in found and cause.partition("/")[0] == tree.id:
                found[cause] = unnamed_trace(library, waveform)
    return found


def _intro(view: View, alarms: int, causes: int, told_too: bool) -> str:
    told = '<a href="#_told" data-scripted hidden>Told bedsides</a>' if told_too else ""
    return block(
        "div",
        [
            f"<p>Each of {causes} causes of {alarms} alarms is a case: you choose what to do next, and it answers. A "
            "step out of order costs time; one that breaks a safety rule ends the case. At the end your way stands "
            "beside the page’s way, which is what the page of the alarm asks for.</p>",
            '<noscript><p class="notice">Playing a case needs JavaScript. Without it, open an alarm below, choose one '
            "of its causes, and go through its steps on the page as if you stood at that bed.</p></noscript>",
            '<p class="buttons"><button type="button" class="loud" data-scripted hidden data-next>Next case</button>'
            f'{told}<a href="{view.to(LEARN)}">Learn</a></p>',
            '<p class="quiet" data-scripted hidden data-sum role="status"></p>',
        ],
        **{"class": "intro", "data-intro": ""},
    )


def _case() -> str:
    """Where the script shows the case that is played."""
    # Empty, it asks the frame of the site for the look of traces: a case may bring one.
    trace = '<div class="trace" hidden></div>'
    return block("div", [trace], **{"class": "play", "id": "_case", "hidden": "", "data-search-exclude": "yes"})


def _group(view: View, about: str, trees: list[Tree]) -> str:
    entries = block("ul", (_entry(view, tree) for tree in trees), class_="alarms")
    return block("section", [f"<h2>{ABOUT[about]}</h2>", entries], **{"class": "group", "data-search-exclude": "yes"})


def _entry(view: View, tree: Tree) -> str:
    """An alarm; its link leads to its page, and with the script to one of its cases."""
    number = len(tree.causes)
    hooks = (
        f'data-tree-of="{esc(tree.id)}" data-harm="{esc(tree.harm.priority.value)}" '
        f'data-causes="{esc(" ".join(tree.causes))}"'
    )
    told = f'<span class="played" data-state>{number} cause{"" if number == 1 else "s"}</span>'
    return (
        f'<li id="{esc(tree.id)}" {hooks}><a class="alarm-link" href="{view.to(tree_path(tree.id))}">'
        f'{priority_badge(tree)}<span class="alarm-link__title">{view.say(tree.title)} {told}</span></a></li>'
    )


_KINDS: tuple[tuple[str, Callable[[ToldCase], bool]], ...] = (
    ("Two things at once", lambda case: case.two),
    ("Across pages", lambda case: case.across and not case.two),
    ("On one page", lambda case: not (case.across or case.two)),
)


def _told(view: View, alarms: Mapping[str, Tree], told: Mapping[str, Sequence[ToldCase]]) -> str:
    """All told bedsides, by what is hard about them and by alarm; without the script there is nothing to play."""
    if not told:
        return ""
    groups = [_told_group(view, alarms, told, words, fits) for words, fits in _KINDS]
    return block(
        "section",
        [
            "<h2>Told bedsides</h2>",
            "<p>Somebody told these without looking at the pages. More than one thing may be the matter, and the way "
            "may lead on to another page. At the end stands what the bedside asked for, and by when. They do not "
            "count: play them as often as you like.</p>",
            *filter(None, groups),
        ],
        **{"class": "told", "id": "_told", "data-scripted": "", "hidden": "", "data-search-exclude": "yes"},
    )


def _told_group(
    view: View,
    alarms: Mapping[str, Tree],
    told: Mapping[str, Sequence[ToldCase]],
    words: str,
    fits: Callable[[ToldCase], bool],
) -> str:
    chosen = [
        (tree, [(number, case) for number, case in enumerate(told[tree.id], start=1) if fits(case)])
        for tree in alarms.values()
        if tree.id in told
    ]
    count = sum(len(cases) for _, cases in chosen)
    rows = [_told_row(view, tree, cases) for tree, cases in chosen if cases]
    return block("details", [f"<summary>{words}: {count}</summary>", *rows]) if rows else ""


def _told_row(view: View, tree: Tree, cases: Sequence[tuple[int, ToldCase]]) -> str:
    title = view.say(tree.title)
    named = ((f"{esc(tree.id)}/t-{case.code}", number) for number, case in cases)
    links = " ".join(
        f'<a id="{case}" href="#{case}"><span class="unseen">{title}, bedside </span>{number}</a>'
        for case, number in named
    )
    return f'<p class="told__row"><b>{title}</b> <span class="buttons">{links}</span></p>'


def _kept(view: View) -> str:
    """What is kept of the plays, and where they come from."""
    return block(
        "section",
        [
            "<h2>What is kept, and when a case comes again</h2>",
            "<p>What you played stays in this browser; nothing is sent to anybody. You can save it to a file on the "
            f'page <a href="{view.to(LEARN)}">Learn</a>. It is no exam: what somebody may do is signed off by the '
            f'hospital, on the <a href="{view.to(RECORD)}">record</a>.</p>',
            *(f'<p class="quiet">{esc(words)}</p>' for words in SPACING),
        ],
        **{"class": "part", "id": "_kept"},
    )
