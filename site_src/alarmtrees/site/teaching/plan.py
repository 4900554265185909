"""The plan: days of each stage, due dates for a calendar and for paper, time needed, and what to refresh every year."""

from __future__ import annotations

from collections.abc import Sequence

from ...learning.course import Course
from ...learning.minutes import hours, needed, stage_words
from ...learning.path import stage_anchor
from ...model import Stage
from ...model.addresses import EDUCATOR, LEARN, PLAN
from ..markup import Page, View, block, esc, whole
from .known import counted, known_script
from .learn import ASSETS

TITLE = "Plan and refresher"


def plan_page(course: Course) -> Page:
    """The plan of the path, and the yearly refresher."""
    view = View(course.library, PLAN)
    stages = course.stages
    of_stage = [stage_words(stage, course.words) for stage in stages]
    total = needed(of_stage)
    days = sum(stage.days for stage in stages)
    told = (
        f'<p>When each stage of the <a href="{view.to(LEARN)}">path</a> is to be finished. Nothing is sent; the plan '
        "stays in this browser, and goes into the learner’s own file.</p>"
    )
    return Page(
        path=PLAN,
        assets=(*ASSETS, "calendar.js", "group.js", "plan.js"),
        title=TITLE,
        description="Days and due dates of each stage, the time it needs, and what to refresh every year.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                told,
                _start(),
                _table(view, stages, of_stage),
                f"<p data-sum>The whole path: {days} days, {hours(total.work)} of work and {hours(total.pauses)} of "
                f"pauses, {hours(total.all)} in all.</p>",
                f'<p class="quiet">{counted(view)}</p>',
                _refresher(view),
                known_script(view, course),
            ]
        ),
        boost=0,
    )


def _start() -> str:
    return block(
        "div",
        [
            '<p><label for="start">First day</label><input id="start" type="date" min="2000-01-01" '
            'max="2999-12-31"></p>',
            '<p class="buttons"><button type="button" data-calendar>Save as a calendar file</button>'
            '<button type="button" data-print>Print</button>'
            '<button type="button" data-reset>Days as at first</button></p>',
            '<p role="status" data-done></p>',
        ],
        **{"class": "keep", "data-plan": "", "hidden": ""},
    )


def _table(view: View, stages: Sequence[Stage], words: Sequence[int]) -> str:
    """The stages with their days and minutes; the script fills the dates in, and lets the days be changed."""
    lines = [
        '<thead><tr><th scope="col">Stage</th><th scope="col">Days</th><th scope="col" class="dated">Begins</th>'
        '<th scope="col" class="dated">Due</th><th scope="col">Minutes</th></tr></thead>',
        "<tbody>",
    ]
    for stage, own in zip(stages, words, strict=True):
        time = needed([own])
        pauses = f' <span class="quiet">+ {time.pauses} pause</span>' if time.pauses else ""
        lines.append(
            f'<tr data-stage-of="{esc(stage.id)}"><th scope="row"><a href="{view.to(LEARN, stage_anchor(stage))}">'
            f"{view.say(stage.title)}</a></th><td data-days>{stage.days}</td>"
            f'<td class="dated" data-from></td><td class="dated" data-due-on></td><td>{time.work}{pauses}</td></tr>'
        )
    lines.append("</tbody>")
    return block("table", lines, class_="plan")


def _refresher(view: View) -> str:
    return block(
        "section",
        [
            "<h2>Once a year</h2>",
            "<p>What is wrong most, then what harms soonest: alarms by how soon harm comes, and by the shortest time "
            "that a safety rule gives. For a group, it stands on the page "
            f'<a href="{view.to(EDUCATOR)}">For the educator</a>.</p>',
            "<noscript><p>It is made from your record, which needs JavaScript.</p></noscript>",
            "<div data-refresher></div>",
        ],
        **{"class": "part", "id": "_refresher"},
    )
