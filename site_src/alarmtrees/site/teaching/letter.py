"""The letter of completion: what a learner's file says was done, in the hospital's own name, and what that is not."""

from __future__ import annotations

from ...learning.course import Course
from ...model import Library
from ...model.addresses import LEARN, LETTER, RECORD
from ..markup import Page, View, block, esc, hospital_named, whole
from ..offline import BUILD, content_date
from .known import known_script
from .learn import ASSETS

TITLE = "Letter of completion"

IS = (
    "It says what a file holds that the learner’s browser has saved: pages marked as read, questions answered, cases "
    "played."
)

IS_NOT = (
    "It is no proof of competence and no certificate of any body. Nobody was examined, nobody was watched at a bed, "
    "and the file can be incomplete, shared or changed by hand. What somebody may do is signed off by the hospital, "
    "on its record."
)


def letter_page(course: Course) -> Page:
    """The letter, blank until a file or the browser's own record is chosen."""
    view = View(course.library, LETTER)
    return Page(
        path=LETTER,
        assets=(*ASSETS, "calendar.js", "group.js", "letter.js"),
        title=TITLE,
        description="A letter that says what a learner has read, answered and practised, and what it does not prove.",
        body=whole(
            [
                '<div class="screen-only">',
                f'<h1 id="_top">{TITLE}</h1>',
                "<p>Made from the learner’s file, in this browser: nothing is sent. The name is written by hand, on "
                f'paper. What somebody may do is signed on the <a href="{view.to(RECORD)}">competency record</a>.</p>',
                '<noscript><p class="notice">Making it needs JavaScript. Progress is kept on '
                f'<a href="{view.to(LEARN)}">Learn</a>.</p></noscript>',
                '<p class="buttons" data-letter hidden><button type="button" data-own>From this browser</button>'
                '<label class="button" for="file">From a file</label>'
                '<input id="file" class="unseen" type="file" accept=".json,application/json">'
                '<button type="button" data-print disabled>Print</button></p>',
                '<p role="status" data-done></p>',
                "</div>",
                _sheet(course.library),
                known_script(view, course),
            ]
        ),
        boost=0,
    )


def _sheet(library: Library) -> str:
    hospital = esc(hospital_named(library))
    dated = content_date(library)
    invented = '<p class="notice">An invented hospital: this letter is an example, and means nothing.</p>'
    return block(
        "article",
        [
            f'<p class="letter__from">{hospital}</p>',
            "<h2 data-heading></h2>",
            '<p class="whose"><span>Name:</span> <span>Role and unit:</span></p>',
            "<p data-said></p>",
            "<ul data-lines></ul>",
            f"<h3>What this letter is</h3>\n<p>{IS}</p>",
            f"<h3>What it is not</h3>\n<p>{IS_NOT}</p>",
            invented if library.fictional else "",
            '<p class="whose"><span>For the hospital, name and role:</span> <span>Signature:</span> '
            "<span>Date:</span></p>",
            f'<p class="quiet">Content of {esc(dated)}, build {BUILD}. <span data-from></span></p>',
        ],
        **{"class": "letter", "data-sheet": "", "hidden": ""},
    )
