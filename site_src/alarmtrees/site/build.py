"""All pages that are made from a library. Nothing here knows the site's generator."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from ..learning.course import course_of
from ..learning.data import practised
from ..learning.questions import Question, questions
from ..learning.questions_csv import FILE as QUESTIONS_FILE
from ..learning.questions_csv import questions_csv
from ..learning.questions_qti import FILE as PACKAGE_FILE
from ..learning.questions_qti import questions_qti
from ..model import Library
from ..proof.analysis import Analysis
from ..proof.evidence import Evidence
from ..reading.keep import Store
from .bedside.forms import forms_pages
from .bedside.home import home_page
from .bedside.layout import HAS_GRAPHVIZ
from .bedside.picture import tree_picture
from .bedside.sheet import Imprint
from .bedside.tree import tree_page
from .finder import LEARNED, learned
from .kept import CODE, Kept
from .knowledge.article import ASSETS as ARTICLE_ASSETS
from .knowledge.article import article_markdown
from .knowledge.calculator import calculators_pages
from .knowledge.cautions import cautions_list
from .knowledge.glossary import link_words
from .knowledge.job import job_page
from .knowledge.numbers import numbers_page
from .knowledge.pictures import pictures_page
from .knowledge.settings import settings_page
from .knowledge.sources import sources_page
from .knowledge.trace_scenes import tidy as tidy_traces
from .knowledge.trace_scenes import unplayed
from .knowledge.traces import tree_traces, waveforms_of
from .knowledge.words import words_page
from .markup import Page, SiteFile, calls, invented_mark, invented_told
from .review.checks import checks_page
from .review.editors import editors_page
from .review.hazards import hazards_page
from .review.history import history_page
from .review.kinds import kinds_page
from .review.overview import overview_page
from .review.review import review_page
from .review.rules import RuleDoc, rule_page, rules_index
from .review.safety import safety_page
from .teaching.bench import bench_page
from .teaching.competence import competence_page
from .teaching.educator import educator_page
from .teaching.learn import learn_page
from .teaching.letter import letter_page
from .teaching.plan import plan_page
from .teaching.practice import practice_page, told_practice, tree_practice
from .teaching.room import has_shown, room_page, room_shown
from .teaching.slides import slides_files, slides_page

__all__ = [
    "ARTICLE_ASSETS",
    "CODE",
    "HAS_GRAPHVIZ",
    "Imprint",
    "Page",
    "SiteFile",
    "article_markdown",
    "build_all",
    "build_files",
    "build_pages",
    "calls",
    "cautions_list",
    "invented_mark",
    "invented_told",
    "link_words",
    "tidy_traces",
    "unplayed",
]


NOTHING_SAID: Mapping[str, Sequence[str]] = {}


def build_all(
    library: Library,
    rules: Sequence[RuleDoc],
    imprint: Imprint | None = None,
    store: Store | None = None,
    analysis: Analysis | None = None,
    said: Mapping[str, Sequence[str]] = NOTHING_SAID,
) -> tuple[list[Page], list[SiteFile]]:
    """Every generated page, and every file beside them; what both need is worked out once. See `build_pages`."""
    kept = Kept(library.published(), store or Store(None))
    asked = questions(kept.library, kept.questions)
    return _pages(kept, rules, imprint, analysis, asked, said), _files(kept, asked)


def build_pages(
    library: Library,
    rules: Sequence[RuleDoc],
    imprint: Imprint | None = None,
    store: Store | None = None,
    analysis: Analysis | None = None,
    said: Mapping[str, Sequence[str]] = NOTHING_SAID,
) -> list[Page]:
    """Every generated page, the home page first.

    Args:
        library: a library without errors; of one with errors, the pages of what could be read.
        rules: the rules to explain.
        imprint: what sheets of paper say of the site; nothing unless given.
        store: keeps what takes long for the next build; nothing is kept without it.
        analysis: what the check has proved on its trees without the drafts, where it has.
        said: what the check says of drafts and of their stories, by file; it stands on their pages.
    """
    kept = Kept(library.published(), store or Store(None))
    return _pages(kept, rules, imprint, analysis, questions(kept.library, kept.questions), said)


def build_files(library: Library, store: Store | None = None) -> list[SiteFile]:
    """Every file beside the pages, each made from a library without errors."""
    kept = Kept(library.published(), store or Store(None))
    return _files(kept, questions(kept.library, kept.questions))


def _pages(
    kept: Kept,
    rules: Sequence[RuleDoc],
    imprint: Imprint | None,
    analysis: Analysis | None,
    known: list[Question],
    said: Mapping[str, Sequence[str]],
) -> list[Page]:
    library = kept.library
    course = course_of(library, known)
    return [
        home_page(library),
        job_page(library),
        *(kept.page(tree, tree_page, imprint) for tree in library.trees.values()),
        *_drafts(library, said),
        *calculators_pages(library),
        *forms_pages(library, imprint or Imprint()),
        rules_index(rules),
        *(rule_page(rule) for rule in rules),
        *_proof(Evidence(library, kept.store, analysis)),
        kinds_page(library),
        safety_page(library),
        *([hazards] if (hazards := hazards_page(library)) else []),
        learn_page(course),
        competence_page(course),
        letter_page(course),
        educator_page(course),
        plan_page(course),
        practice_page(library, kept.told),
        bench_page(library),
        room_page(library, kept.told),
        slides_page(library, table=True),
        words_page(library),
        sources_page(library),
        settings_page(library),
        numbers_page(library),
        *([pictures] if (pictures := pictures_page(library)) else []),
        editors_page(library),
    ]


def _drafts(library: Library, said: Mapping[str, Sequence[str]]) -> Iterator[Page]:
    """The pages of the drafts, which may lead to all trees."""
    whole = replace(library, trees={**library.trees, **library.drafts}, drafts={})
    for tree in library.drafts.values():
        files = (tree.file, f"kb/stories/{tree.id}.yml")
        yield tree_page(whole, tree, said=[one for file in files for one in said.get(file, ())])


def _files(kept: Kept, asked: list[Question]) -> list[SiteFile]:
    library = kept.library
    return [
        *slides_files(library, asked, kept.file),
        *([SiteFile(f"assets/{LEARNED}", script)] if (script := learned(library, kept.store)) else []),
        SiteFile(QUESTIONS_FILE, questions_csv(library, asked)),
        SiteFile(PACKAGE_FILE, questions_qti(library, asked)),
        *(kept.file(tree, tree_practice) for tree in practised(library)),
        *told_practice(kept.told),
        *(kept.file(tree, room_shown) for tree in practised(library) if has_shown(library, tree)),
        *(kept.file(tree, tree_picture) for tree in library.in_use.values() if HAS_GRAPHVIZ),
        *(kept.file(tree, tree_traces) for tree in library.trees.values() if waveforms_of(library, tree)),
    ]


def _proof(evidence: Evidence) -> Iterator[Page]:
    """What was checked, who reviewed it, and which changes it has been through."""
    library = evidence.library
    yield overview_page(library, evidence)
    yield review_page(library)
    for tree in evidence.trees.values():
        yield checks_page(library, evidence, tree)
        if tree.id in library.changes:
            yield history_page(library, tree)
