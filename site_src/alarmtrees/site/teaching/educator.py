"""The view of a group, for whoever teaches: files that learners hand over, read in the browser and nowhere else."""

from __future__ import annotations

from ...learning.course import Course
from ...learning.questions_csv import FILE as QUESTIONS_FILE
from ...learning.questions_qti import FILE as PACKAGE_FILE
from ...model.addresses import EDUCATOR, LEARN, PLAN
from ..markup import Page, View, block, whole
from .known import known_script
from .learn import ASSETS

TITLE = "For the educator"


def educator_page(course: Course) -> Page:
    """The page that reads the files; what it needs to know of this site stands in it."""
    view = View(course.library, EDUCATOR)
    told = (
        '<p class="screen-only">Learners save their record to a file on the page '
        f'<a href="{view.to(LEARN)}">Learn</a>, under a few words of their own such as “bed 4 night”, never a name, '
        "and hand it over. Choose all files at once. They are read in this browser: nothing is sent, and nothing is "
        "kept when you leave the page. To see next month what has changed, save the group to a file, and choose it "
        "together with the new ones. Days, due dates and time needed: "
        f'<a href="{view.to(PLAN)}">Plan and refresher</a>.</p>'
    )
    careful = (
        '<p class="notice">It shows where somebody may want help. It is no exam and no proof: a record can be '
        "incomplete, shared or changed by hand. Signing off competence is the hospital’s.</p>"
    )
    return Page(
        path=EDUCATOR,
        assets=(*ASSETS, "calendar.js", "group.js", "educator.js"),
        title=TITLE,
        description="What learners have read, answered and practised, from the files that they hand over.",
        body=whole(
            [
                f'<h1 id="_top">{TITLE}</h1>',
                told,
                careful,
                '<noscript><p class="notice">Reading files needs JavaScript. Without it, look at the printed '
                "record together.</p></noscript>",
                _files(),
                _questions(),
                known_script(view, course),
            ]
        ),
        boost=0,
    )


def _questions() -> str:
    """The questions as files, for programs that ask them elsewhere."""
    root = "../" * EDUCATOR.count("/")
    return (
        '<section class="part screen-only"><h2>The questions, for other programs</h2>\n'
        "<p>All self-check questions with their answers and reasons, with the values of this site: as a "
        f'<a href="{root}{QUESTIONS_FILE}" download>table (CSV)</a>, and as a '
        f'<a href="{root}{PACKAGE_FILE}" download>package in 1EdTech QTI 3.0</a>. They age with this site: each '
        "names the version of the page that it is about.</p></section>"
    )


def _files() -> str:
    return block(
        "div",
        [
            '<p class="buttons"><label class="button" for="files">Choose files</label>'
            '<input id="files" class="unseen" type="file" multiple accept=".json,application/json">'
            '<button type="button" data-group disabled>Save the group to a file</button>'
            '<button type="button" data-csv disabled>Save as a table (CSV)</button>'
            '<button type="button" data-print disabled>Print the overview</button>'
            '<button type="button" data-print-all disabled>Print all</button>'
            '<button type="button" data-clear disabled>Clear all</button></p>',
            '<p class="screen-only" role="status" data-done></p>',
            '<ul class="warn" data-bad hidden></ul>',
            "<div data-asked-back></div>",
            "<div data-table></div>",
        ],
        **{"class": "educator", "data-educator": "", "hidden": ""},
    )
