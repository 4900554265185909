"""The page for learners: the path of a first month, with questions to ask oneself under each stage.

Without a script it is a list, with the answers folded away. `learn.js` adds what is kept in the browser.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Sequence
from zlib import crc32

from ...learning.questions import Question, questions
from ...model import (
    Article,
    Library,
    Stage,
    Tree,
)
from ...model.stamp import content_stamp
from ...reading.articles import PARTS
from ..knowledge.job import LEARN, by_part
from ..knowledge.passages import inline
from ..markup import (
    ABOUT,
    UNSEARCHED,
    Page,
    View,
    block,
    esc,
    items,
    priority_badge,
    strip,
    tree_path,
    whole,
)

PATH = LEARN
RECORD = "competence/index"
EDUCATOR = "learn/educator"
PRACTICE = "practice/index"
SLIDES = "slides/index"
TITLE = "Learn"

SIGNED_OFF = "Signing off competence is the hospital’s; this list decides nothing."

A_TREE = 1
"""How many questions about an alarm are asked here: practice cases ask for all of its steps."""

_DIGITS = 12
_PRIVATE = (
    "Ticks and answers stay in this browser. Nothing is sent to anybody, and nothing here is an exam. "
    "On a computer that others use, save them to a file and erase them here."
)


def learn_page(library: Library) -> Page:
    """The path with its questions, and what can be done with one's own record."""
    view = View(library, PATH)
    stages = path_of(library)
    told = f"<p>What to read in a first month, in which order and why, with questions to ask yourself. {_PRIVATE}</p>"
    return Page(
        path=PATH,
        title=TITLE,
        description="The path of a first month, with questions to ask yourself.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                strip(),
                _short_ways(view),
                told,
                block("div", _sofar(stages), **{"class": "sofar", "data-sofar": "", "hidden": ""}),
                _jump(view, stages),
                *(_stage(view, stage, asked) for stage, asked in zip(stages, asked_here(library), strict=True)),
                _keep(),
                _ways(view),
            ]
        ),
    )


def path_of(library: Library) -> tuple[Stage, ...]:
    """The stages that the library sets; where it sets none, all articles by part, then all alarms by subject."""
    if library.path:
        return library.path
    groups: list[tuple[str, str, Sequence[Article | Tree]]] = [
        (part, PARTS[part], articles) for part, articles in by_part(library).items()
    ]
    groups += [
        (f"about-{about}", word, [tree for tree in library.trees.values() if tree.about == about])
        for about, word in ABOUT.items()
    ]
    return tuple(
        Stage(key, title, "", "", tuple((one.id, "") for one in pages)) for key, title, pages in groups if pages
    )


def page_of(library: Library, name: str) -> Tree | Article | None:
    """The tree or article of the path under an id; None for a tree that is withdrawn, and for what is not there."""
    tree = library.trees.get(name)
    if tree and tree.status == "withdrawn":
        return None
    return tree or library.articles.get(name)


def read_stamp(page: Tree | Article) -> str:
    """A stamp of what a page says: it changes when somebody who has read it should read it again."""
    if isinstance(page, Tree):
        return content_stamp(page)[:_DIGITS]
    told = "\n".join((page.title, page.description, *page.cautions, page.text[page.body_at :]))
    return hashlib.sha256(told.encode()).hexdigest()[:_DIGITS]


def asked_here(library: Library) -> list[list[Question]]:
    """The questions that stand under each stage: all about its articles, and some about each of its alarms.

    Of an alarm's questions those stand here whose reasons came up least before, so that the page asks for many rules.
    """
    asked: dict[tuple[str, str], list[Question]] = {}
    for question in questions(library):
        asked.setdefault((question.about_kind, question.about), []).append(question)
    told: Counter[str] = Counter()
    found = []
    for stage in path_of(library):
        here = list[Question]()
        for page in (page_of(library, name) for name, _ in stage.pages):
            if isinstance(page, Tree):
                here += _least_told(asked.get(("tree", page.id), []), told)
            elif page:
                here += asked.get(("article", page.id), [])
        found.append(here)
    return found


def _least_told(about: Sequence[Question], told: Counter[str]) -> list[Question]:
    """The questions about one alarm that stand here; counts their reasons in."""
    left, chosen = list(about), list[Question]()
    while left and len(chosen) < A_TREE:
        chosen.append(min(left, key=lambda one: sum(told[choice.why] for choice in one.choices)))
        left.remove(chosen[-1])
        told.update({choice.why for choice in chosen[-1].choices})
    return chosen


def _short_ways(view: View) -> str:
    """What a learner comes back for, within reach of the thumb: the path below is long."""
    ways = [
        (view.to(PRACTICE), "Practice cases"),
        ("#_record", "Your record"),
        (view.to(RECORD), "Competency record"),
    ]
    links = "".join(f'<a class="button" href="{href}">{name}</a>' for href, name in ways)
    return f'<nav class="short-ways" {UNSEARCHED} aria-label="For learning">{links}</nav>'


def _sofar(stages: Sequence[Stage]) -> list[str]:
    """Filled in by the script: what has been read, and what comes next."""
    count = sum(len(stage.pages) for stage in stages)
    return [
        f'<p data-said role="status"></p><progress max="{count}" value="0" aria-label="Pages read"></progress>',
        "<p data-next></p>",
    ]


def _jump(view: View, stages: Sequence[Stage]) -> str:
    links = (f'<a href="#{esc(stage_anchor(stage))}">{view.say(stage.title)}</a>' for stage in stages)
    return f'<nav class="jump" {UNSEARCHED} aria-label="Stages">\n{items("ol", links)}\n</nav>'


def stage_anchor(stage: Stage) -> str:
    """The place of a stage on the page."""
    return f"stage-{stage.id}"


def place_of(library: Library, name: str) -> str:
    """The place of the stage in which an article or tree is read; none where the path leaves it out."""
    return next((stage_anchor(stage) for stage in path_of(library) if name in dict(stage.pages)), "")


def _stage(view: View, stage: Stage, asked: Sequence[Question]) -> str:
    """A stage, open as it comes: the script folds all but the next one to read."""
    when = f'<span class="quiet">{view.say(stage.when)}.</span> ' if stage.when else ""
    entries = [
        _entry(view, page, why) for name, why in stage.pages if (page := page_of(view.library, name)) is not None
    ]
    folded = block(
        "details",
        [
            f"<summary><h2>{view.say(stage.title)}</h2> <span data-count></span></summary>",
            f"<p>{when}{view.say(stage.why)}</p>" if stage.why else "",
            block("ol", entries, class_="path"),
            _asked(view, asked) if asked else "",
        ],
        **{"data-stage": "", "open": ""},
    )
    return block(
        "section", [folded], **{"class": "stage", "id": esc(stage_anchor(stage)), "data-search-exclude": "yes"}
    )


def _entry(view: View, page: Tree | Article, why: str) -> str:
    path = tree_path(page.id) if isinstance(page, Tree) else page.id
    kind = f"{priority_badge(page)} " if isinstance(page, Tree) else ""
    return (
        f'<li data-page="{esc(page.id)}" data-stamp="{read_stamp(page)}">'
        f'<a class="article-link" href="{view.to(path)}"><b>{view.say(page.title)}</b> '
        f"<span>{view.say(why)}</span></a>{kind}</li>"
    )


def _asked(view: View, chosen: Sequence[Question]) -> str:
    number = len(chosen)
    told = f"{number} question{'' if number == 1 else 's'}: choose in your mind, then open the answers."
    return block(
        "div",
        [
            "<h3>Ask yourself</h3>",
            f"<p data-told>{told}</p>",
            block("ol", (question_block(view, one) for one in chosen), class_="asks"),
        ],
        **{"class": "asked", "data-asked": ""},
    )


def question_block(view: View, question: Question) -> str:
    """A question with its answers folded away, each with its reason; their order gives nothing away."""
    choices = sorted(question.choices, key=lambda choice: crc32(f"{question.id}{choice.say}".encode()))
    answers = (
        f'<li data-answer="{"right" if right else "wrong"}"><b>{"Right" if right else "Wrong"}: '
        f"<span data-say>{inline(view, say)}</span></b> <span data-why>{inline(view, why)}</span></li>"
        for say, right, why in choices
    )
    told = "".join(answers)
    return (
        f'<li data-check="{esc(question.id)}"><p class="ask">{inline(view, question.ask)}</p>'
        f'<ul class="said">{"".join(f"<li>{inline(view, say)}</li>" for say, _, _ in choices)}</ul>'
        f'<details><summary>The answers</summary><ul class="told">{told}</ul></details></li>'
    )


def _keep() -> str:
    """What a learner can do with the record in this browser; all of it needs the script."""
    return block(
        "section",
        [
            "<h2>Your record</h2>",
            '<noscript><p class="notice">Ticks, questions with a choice, and files need JavaScript. The path, its '
            "questions and their answers stand above; each page says at its end what it rests on.</p></noscript>",
            block(
                "div",
                [
                    '<p data-unkept class="notice" hidden>This browser keeps nothing: save to a file before you '
                    "leave.</p>",
                    '<p><label for="label">Initials or a code of your own; no name</label>'
                    '<input id="label" type="text" maxlength="60" autocomplete="off"></p>',
                    '<p class="buttons"><button type="button" data-save>Save to a file</button>'
                    '<label class="button" for="file">Read a file in</label>'
                    '<input id="file" class="unseen" type="file" accept=".json,application/json">'
                    '<button type="button" data-erase>Erase all here</button></p>',
                    '<p role="status" data-done></p>',
                    "<p>The file holds what you have read, answered and practised. Whoever teaches you can look at it "
                    "if you hand it over. What is read in is added: of each entry the later stays.</p>",
                ],
                **{"class": "keep", "data-keep": "", "hidden": ""},
            ),
        ],
        **{"class": "part", "id": "_record", "data-search-exclude": "yes"},
    )


def _ways(view: View) -> str:
    """The other pages for learning and teaching."""
    ways = [
        (PRACTICE, "Practice cases", "A made-up case for every cause of every alarm, to be played step by step."),
        (RECORD, "Competency record", "A list to print and sign, task by task."),
        (SLIDES, "Slides", "Each alarm and article as slides, and all questions as a table."),
        (EDUCATOR, "For the educator", "An overview of the files that learners hand over; all stays in the browser."),
    ]
    links = (
        f'<a class="article-link" href="{view.to(path)}"><b>{name}</b> <span>{told}</span></a>'
        for path, name, told in ways
    )
    return block("section", ["<h2>Also for learning</h2>", items("ul", links, "articles")], class_="part", id="_ways")
