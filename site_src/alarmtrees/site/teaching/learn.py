"""The page for learners: the path of a first month, with questions to ask oneself under each stage.

Without a script it is a list, with the answers folded away. `learn.js` adds what is kept in the browser.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from zlib import crc32

from ...learning import is_practised
from ...learning.course import Course
from ...learning.minutes import Words, hours, minutes, needed, stage_words
from ...learning.path import page_of, read_stamp, stage_anchor
from ...learning.questions import Question
from ...model import Article, Stage, Tree
from ...model.addresses import BENCH, EDUCATOR, LEARN, LETTER, PICTURES, PLAN, PRACTICE, RECORD, ROOM, SLIDES, tree_path
from ..markup import UNSEARCHED, Page, View, block, esc, items, priority_badge, whole
from .passages import inline

TITLE = "Learn"
ASSETS = ("learn.css", "progress.js", "learn.js")

SIGNED_OFF = "Signing off competence is the hospital’s; this list decides nothing."


_PRIVATE = (
    "Ticks and answers stay in this browser. Nothing is sent to anybody, and nothing here is an exam. "
    "On a computer that others use, save them to a file and erase them here."
)


def learn_page(course: Course) -> Page:
    """The path with its questions, and what can be done with one's own record."""
    view = View(course.library, LEARN)
    stages = course.stages
    told = f"<p>What to read in a first month, in which order and why, with questions to ask yourself. {_PRIVATE}</p>"
    return Page(
        path=LEARN,
        assets=("learn.css", "progress.js", "calendar.js", "group.js", "learn.js"),
        title=TITLE,
        description="The path of a first month, with questions to ask yourself.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                _short_ways(view),
                told,
                block("div", _sofar(stages), **{"class": "sofar", "data-sofar": "", "hidden": ""}),
                f"<p>{_time(view, course)}</p>",
                _jump(view, stages),
                *(_stage(view, *one, course.words) for one in zip(stages, course.asked, strict=True)),
                _keep(),
                _ways(view),
            ]
        ),
    )


def _short_ways(view: View) -> str:
    """What a learner comes back for, within reach of the thumb: the path below is long."""
    ways = [
        (view.to(PRACTICE), "Practice cases"),
        (view.to(BENCH), "Try the timing"),
        ("#_record", "Your record"),
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


def _time(view: View, course: Course) -> str:
    """How long the whole path takes, and where it is said how that is counted."""
    time = needed(stage_words(stage, course.words) for stage in course.stages)
    return (
        f"The whole path takes {hours(time.all)}: {hours(time.work)} of reading, questions and one case of each alarm, "
        f"and {hours(time.pauses)} of pauses. Dates, and how that is counted: "
        f'<a href="{view.to(PLAN)}">Plan and refresher</a>.'
    )


def _stage_time(stage: Stage, words: Mapping[str, Words]) -> str:
    time = needed([stage_words(stage, words)])
    asked = minutes(sum(words[name].asked for name, _ in stage.pages if name in words))
    return f"{time.work} min, {asked} of them for the questions" + (
        f", and {time.pauses} of pauses." if time.pauses else "."
    )


def _page_time(words: Words | None) -> str:
    if words is None:
        return ""
    case = f", a case {minutes(words.case)} min" if words.case else ""
    return f'<span class="time">{minutes(words.page)} min{case}</span>'


def _jump(view: View, stages: Sequence[Stage]) -> str:
    links = (f'<a href="#{esc(stage_anchor(stage))}">{view.say(stage.title)}</a>' for stage in stages)
    return f'<nav class="jump" {UNSEARCHED} aria-label="Stages">\n{items("ol", links)}\n</nav>'


def _stage(view: View, stage: Stage, asked: Sequence[Question], words: Mapping[str, Words]) -> str:
    """A stage, open as it comes: the script folds all but the next one to read."""
    when = f'<span class="quiet">{view.say(stage.when)}.</span> ' if stage.when else ""
    entries = [
        _entry(view, page, why, words.get(name))
        for name, why in stage.pages
        if (page := page_of(view.library, name)) is not None
    ]
    folded = block(
        "details",
        [
            f"<summary><h2>{view.say(stage.title)}</h2> <span data-count></span></summary>",
            f"<p>{when}{view.say(stage.why)}</p>" if stage.why else "",
            f'<p class="quiet">{_stage_time(stage, words)}<span data-due-by></span></p>',
            block("ol", entries, class_="path"),
            _asked(view, asked) if asked else "",
        ],
        **{"data-stage": esc(stage.id), "data-days": str(stage.days), "open": ""},
    )
    return block(
        "section", [folded], **{"class": "stage", "id": esc(stage_anchor(stage)), "data-search-exclude": "yes"}
    )


def _entry(view: View, page: Tree | Article, why: str, words: Words | None) -> str:
    path = tree_path(page.id) if isinstance(page, Tree) else page.id
    kind = f"{priority_badge(page)} " if isinstance(page, Tree) else ""
    causes = f' data-causes="{esc(" ".join(page.causes))}"' if isinstance(page, Tree) and is_practised(page) else ""
    return (
        f'<li data-page="{esc(page.id)}" data-stamp="{read_stamp(page)}"{causes}>'
        f'<a class="article-link" href="{view.to(path)}"><b>{view.say(page.title)}</b> '
        f"<span>{view.say(why)}</span></a>{_page_time(words)}{kind}</li>"
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
                    '<p><label for="label">A few words of your own, such as “bed 4 night”; no name</label>'
                    '<input id="label" type="text" maxlength="60" autocomplete="off"></p>',
                    '<p class="notice" data-named role="status" hidden></p>',
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
        (BENCH, "Try the timing", "A model of heart and balloon that answers when you move the timing."),
        (
            PLAN,
            "Plan and refresher",
            "Due dates for a calendar and for paper, and what to go through again every year.",
        ),
        (RECORD, "Competency record", "A list to print and sign, task by task."),
        (
            LETTER,
            "Letter of completion",
            "What was read, answered and practised, in the hospital’s name; it proves nothing.",
        ),
        (SLIDES, "Slides", "Each alarm and article as slides, and all questions as a table."),
        *([(PICTURES, "Pictures", "Each drawing, and where it stands.")] if view.library.pictures else []),
        (ROOM, "A case for a class", "A case on a screen in front of a class; the teacher counts hands."),
        (EDUCATOR, "For the educator", "A group’s files in one view: what to teach next. All stays in the browser."),
    ]
    links = (
        f'<a class="article-link" href="{view.to(path)}"><b>{name}</b> <span>{told}</span></a>'
        for path, name, told in ways
    )
    return block("section", ["<h2>Also for learning</h2>", items("ul", links, "articles")], class_="part", id="_ways")
