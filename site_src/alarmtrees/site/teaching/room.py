"""The page for a screen in front of a class: a practice case, played by many, whose hands the teacher counts.

Without a script it is a list of the alarms with their slides. `room.js` shows the cases, with the engine and the files
of the page Practice; it keeps nothing and sends nothing.
"""

from __future__ import annotations

from collections.abc import Container

from ...learning import practised
from ...learning.soonest import by_subject
from ...model import ABOUT, Library, Tree
from ...model.addresses import PRACTICE, ROOM, SLIDES, picture_file, tree_path
from ..knowledge.traces import trace_parts, waveforms_of
from ..markup import (
    UNSEARCHED,
    Page,
    SiteFile,
    View,
    block,
    esc,
    items,
    priority_badge,
    script_json,
    slides_at,
    untagged,
    whole,
)
from .practice import NOT_A_PERMISSION

TITLE = "A case for a class"

TRACES = 2
"""How many traces of an alarm are shown at the end, at the most."""

_ASSETS = (
    *("room.css", "spacing.js", "play.js", "practice-files.js"),
    *("practice-steps.js", "practice-debrief.js", "room.js"),
)
_KEYS = (
    ("Space, Enter, →, Page Down", "next"),
    ("←, Page Up", "back"),
    ("1 to 4", "one hand more for that answer; with Shift one less"),
    ("R", "show how each answer is judged"),
    ("Home, End", "the scene; what the class chose"),
    ("Esc", "back to this list"),
)


def room_page(library: Library, told: Container[str] = ()) -> Page:
    """What a case in front of a class is, its keys, and all alarms with their cases.

    Args:
        library: without errors.
        told: the ids of the alarms that have told bedsides, too.
    """
    view = View(library, ROOM)
    alarms = {tree.id for tree in practised(library)}
    groups = [
        _group(view, about, chosen, told)
        for about, trees in by_subject(library).items()
        if (chosen := [tree for tree in trees if tree.id in alarms])
    ]
    return Page(
        path=ROOM,
        assets=_ASSETS,
        title=TITLE,
        description="A practice case on a screen in front of a class, with hands counted by the teacher.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                f'<p class="notice" {UNSEARCHED}>{NOT_A_PERMISSION}</p>',
                _intro(view),
                # Empty, it asks the frame of the site for the look of traces: a case may bring one.
                # Readers of Markdown do not know a dialog as a block, so it stands in one.
                '<div><dialog class="room" id="_room" aria-labelledby="_room-title">'
                '<div class="trace" hidden></div></dialog></div>',
                block("div", groups, class_="cases", id="_cases"),
            ]
        ),
    )


def has_shown(library: Library, tree: Tree) -> bool:
    """Whether an alarm has traces or drawings to show to a class."""
    return bool(waveforms_of(library, tree)) or any(map(tree.picture_at, tree.nodes.values()))


def room_shown(library: Library, tree: Tree) -> SiteFile:
    """What is shown large of an alarm, as a script that hands it to the page: the drawings of its steps, and its first
    traces, which name what they show and so come when the case is over."""
    view = View(library, ROOM)
    traces = []
    for waveform in waveforms_of(library, tree)[:TRACES]:
        drawn, key, _ = trace_parts(library, waveform)
        seen = [view.plain(words) for words, _ in waveform.seen]
        traces.append({"title": view.plain(waveform.title), "drawn": drawn, "key": untagged(key), "seen": seen})
    pictures = {
        node.id: {"title": picture.title, "says": picture.description, "file": f"../{picture_file(picture.id)}"}
        for node in tree.nodes.values()
        if (picture := tree.picture_at(node))
    }
    told = script_json({"traces": traces, "pictures": pictures})
    return SiteFile(f"practice/shown/{tree.id}.js", f"alarmtrees.shown({told});\n")


def _intro(view: View) -> str:
    keys = (f"<b>{keys}</b>: {what}" for keys, what in _KEYS)
    return block(
        "div",
        [
            "<p>Choose a case. Its scene stands large on the screen; then come its steps, each with numbered answers. "
            "Ask for hands and count them, and show how each answer is judged. The case goes on as the page of the "
            "alarm does. At the end stands what the class chose and where it parted from the page.</p>",
            "<p>Nobody is named. Nothing is kept, nothing is sent, and no network is needed.</p>",
            '<noscript><p class="notice">A case needs JavaScript. Without it, use the slides of an alarm.</p>'
            "</noscript>",
            block("details", ["<summary>Keys, also those of a presenter</summary>", items("ul", keys)]),
            '<p data-scripted hidden><label class="named"><input type="checkbox" data-named> Tell what is behind each '
            "case: the class reads this list too</label></p>",
            '<p class="notice" role="status" data-note hidden></p>',
            f'<p class="quiet">Alone: <a href="{view.to(PRACTICE)}">Practice cases</a>. To tell: '
            f'<a href="{view.to(SLIDES)}">Slides</a>.</p>',
        ],
        **{"class": "intro"},
    )


def _group(view: View, about: str, trees: list[Tree], told: Container[str]) -> str:
    entries = block("ul", (_entry(view, tree, tree.id in told) for tree in trees), class_="alarms")
    return block("section", [f"<h2>{ABOUT[about]}</h2>", entries], **{"class": "group", "data-search-exclude": "yes"})


def _entry(view: View, tree: Tree, is_told: bool) -> str:
    """An alarm, folded; opened it lists its cases, and without the script what else there is of it."""
    hook = f'data-tree-of="{esc(tree.id)}"{" data-shown" if has_shown(view.library, tree) else ""}'
    hook += " data-told" if is_told else ""
    ways = (
        f'<a href="{view.to(slides_at(view.library, tree))}">Slides</a> · '
        f'<a href="{view.to(tree_path(tree.id))}">The page</a>'
    )
    return (
        f"<li><details {hook}><summary>{priority_badge(tree)} {view.say(tree.title)}</summary>"
        f"<ol data-cases hidden></ol><ol data-bedsides hidden></ol><p>{ways}</p></details></li>"
    )
