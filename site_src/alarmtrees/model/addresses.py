"""Where each page of the site lies: the only list of them, for whoever makes a page, links to one or looks one up.

An address is a path with forward slashes and without an ending; a page of its own folder is its `index`.
"""

from __future__ import annotations

import re

HOME = "index"
ABOUT = "about"
"""Written by hand, as the articles are."""
JOB = "articles/index"
CALCULATORS = "calculators/index"
LEARN = "learn/index"
EDUCATOR = "learn/educator"
PLAN = "learn/plan"
PRACTICE = "practice/index"
ROOM = "practice/class"
BENCH = "bench"
"""Where timing is tried on a model."""
RECORD = "competence/index"
LETTER = "competence/letter"
SLIDES = "slides/index"
RULES = "rules/index"
CHECKS = "checks/index"
REVIEW = "review/index"
CHANGES = "changes/index"
SAFETY = "safety/index"
HAZARDS = "hazards/index"
WORDS = "words/index"
SOURCES = "sources/index"
NUMBERS = "numbers/index"
PICTURES = "pictures/index"
SETTINGS = "settings/index"
EDITORS = "editors/index"

SINGLE = frozenset(
    (
        *(HOME, JOB, CALCULATORS, LEARN, EDUCATOR, PLAN, PRACTICE, ROOM, BENCH, RECORD, LETTER, SLIDES),
        *(RULES, CHECKS, REVIEW, CHANGES, SAFETY, HAZARDS),
        *(WORDS, SOURCES, NUMBERS, PICTURES, SETTINGS, EDITORS),
    )
)
"""The pages made from the library of which there is one each."""

REFERENCE = (PICTURES, SETTINGS, NUMBERS, WORDS, SOURCES)
"""What is looked up; on paper it stands behind all else."""

FOOT = {
    HOME: "All alarms",
    JOB: "Tasks",
    CALCULATORS: "Calculators",
    LEARN: "Learn",
    WORDS: "Words",
    ABOUT: "About",
    EDITORS: "For editors and reviewers",
}
"""What the foot of every page leads to, under which name."""

_OF_ONE = re.compile(r"(alarms|calculators|rules)/([^/]+)/index")
_KINDS = {"alarms": "tree", "calculators": "calculator", "rules": "rule"}


def tree_path(tree_id: str) -> str:
    """Where the page of a tree lies."""
    return f"alarms/{tree_id}/index"


def calculator_path(key: str) -> str:
    """Where the page of a calculator lies."""
    return f"calculators/{key}/index"


def forms_path(about_id: str) -> str:
    """Where the sheet to write on of an article or calculator lies."""
    return f"forms/{about_id}/index"


def rule_path(rule_id: str) -> str:
    """Where the page of a rule of the check lies."""
    return f"rules/{rule_id}/index"


def checks_path(tree_id: str) -> str:
    """Where the page of checks of a tree lies."""
    return f"checks/{tree_id}/index"


def history_path(tree_id: str) -> str:
    """Where the page with the changes of a tree lies."""
    return f"history/{tree_id}/index"


def picture_file(picture_id: str) -> str:
    """Where the file of a drawing lies, with its ending: as in `kb/`."""
    return f"pictures/{picture_id}.svg"


def slides_path(name: str) -> str:
    """Where a set of slides lies."""
    return f"slides/{name}/index"


def kind_of(path: str) -> tuple[str, str]:
    """What kind of page lies at an address, and which one.

    Kinds: "tree", "calculator", "rule" (each by its id), "made" (one of its kind), "article" (any Markdown file of
    kb/), and "odd" for all that nobody may link to from an article.

    >>> kind_of("alarms/pump-stopped/index"), kind_of("review/index"), kind_of("zeroing"), kind_of("a/b")
    (('tree', 'pump-stopped'), ('made', 'review/index'), ('article', 'zeroing'), ('odd', 'a/b'))
    """
    if path in SINGLE:
        return "made", path
    if one := _OF_ONE.fullmatch(path):
        return _KINDS[one.group(1)], one.group(2)
    return ("odd" if "/" in path else "article"), path
