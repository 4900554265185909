"""All pages that are made from a library. Nothing here knows the site's generator."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from ..evidence import Evidence
from ..history import history as changes_of
from ..model import Library
from ..questions import questions
from ..questions_csv import FILE as QUESTIONS_FILE
from ..questions_csv import questions_csv
from .article import article_markdown
from .calculator import calculators_pages
from .cautions import cautions_list
from .checks import checks_page
from .competence import competence_page
from .educator import educator_page
from .glossary import link_words
from .history import history_page
from .home import home_page
from .job import job_page
from .layout import HAS_GRAPHVIZ
from .learn import learn_page
from .markup import Page, SiteFile, invented_mark
from .numbers import numbers_page
from .overview import overview_page
from .practice import practice_files, practice_page
from .review import review_page
from .rules import RuleDoc, rule_page, rules_index
from .safety import safety_page
from .settings import settings_page
from .sheet import Imprint
from .slides import slides_files, slides_page
from .sources import sources_page
from .traces import tidy as tidy_traces
from .tree import tree_page
from .words import words_page

__all__ = [
    "HAS_GRAPHVIZ",
    "Imprint",
    "Page",
    "SiteFile",
    "article_markdown",
    "build_files",
    "build_pages",
    "cautions_list",
    "invented_mark",
    "link_words",
    "tidy_traces",
]


def build_pages(library: Library, rules: Sequence[RuleDoc], imprint: Imprint | None = None) -> list[Page]:
    """Every generated page, the home page first.

    Args:
        library: a library without errors; of one with errors, the pages of what could be read.
        rules: the rules to explain.
        imprint: what sheets of paper say of the site; nothing unless given.
    """
    return [
        home_page(library),
        job_page(library),
        *(tree_page(library, tree, imprint) for tree in library.trees.values()),
        *calculators_pages(library),
        rules_index(rules),
        *(rule_page(rule) for rule in rules),
        *_proof(library),
        safety_page(library),
        learn_page(library),
        competence_page(library),
        educator_page(library),
        practice_page(library),
        slides_page(library, table=True),
        words_page(library),
        sources_page(library),
        settings_page(library),
        numbers_page(library),
    ]


def build_files(library: Library) -> list[SiteFile]:
    """Every file beside the pages, each made from a library without errors."""
    asked = questions(library)
    table = SiteFile(QUESTIONS_FILE, questions_csv(library, asked))
    return [*slides_files(library, asked), table, *practice_files(library)]


def _proof(library: Library) -> Iterator[Page]:
    """What was checked, who reviewed it, and which changes it has been through."""
    evidence = Evidence(library)
    changes = changes_of(Path(library.root))
    yield overview_page(library, evidence)
    yield review_page(library)
    for tree in evidence.trees.values():
        known = changes.get(tree.file, [])
        yield checks_page(library, evidence, tree, bool(known))
        if known:
            yield history_page(library, tree, known)
