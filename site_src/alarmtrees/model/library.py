"""All that one department keeps."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from .article import Article, Calculator
from .facts import (
    NO_STORIES,
    NO_SYNONYMS,
    Acts,
    Caution,
    Mark,
    Phrases,
    Role,
    SafetyRule,
    Setting,
    Stage,
    Stories,
    Synonyms,
    Told,
    Waveform,
    WaveformSeries,
)
from .hazard import HazardRow
from .picture import Picture
from .source import Map, Source
from .story import Story
from .tree import Tree


@dataclass(frozen=True, slots=True)
class Library:
    """All that one department keeps: the trees, and the facts they share.

    `known` holds the ids of all tree files, the broken ones too, and `broken` the kinds of fact files
    that have faults: a reference to what a broken file may hold is no second fault. `wordings` are what
    the hospital's own consoles print, by the id of the tree: private, and never part of an export.
    `phrases` are what people type into the box, by the voice that said it.
    `invented` is the name of the hospital that the shipped settings belong to, where that is an invented one,
    and `reviewers` are the roles that may sign a review; anybody may where none is named.
    `changes` are what changed for a reader, by the id of the tree.
    `bedsides` are the stories told of a tree's alarm, by the id of the tree.
    `hazards` is what can go wrong with each act, by its mark; None where there is no such table.
    `pictures` are the line drawings of kb/pictures/, by id.
    `written` names all Markdown files of kb/, the articles and the plain pages.
    `drafts` are trees that are set apart: only what is published has some, see `published`.
    `unreviewed` is how many pages the house has not reviewed, and `changed` whether one says something else than what
    was signed, where the trees here are not whole enough to tell.
    """

    root: str
    sources_read: tuple[Source, ...]
    trees: Mapping[str, Tree]
    known: frozenset[str]
    broken: frozenset[str] = frozenset()
    hospital: str = ""
    fictional: bool = False
    invented: str = ""
    reviewers: tuple[str, ...] = ()
    settings: Mapping[str, Setting] = field(default_factory=dict)
    roles: Mapping[str, Role] = field(default_factory=dict)
    marks: Mapping[str, Mark] = field(default_factory=dict)
    acts: Acts = field(default_factory=Acts)
    safety: Mapping[str, SafetyRule] = field(default_factory=dict)
    cautions: Mapping[str, Caution] = field(default_factory=dict)
    sources: Mapping[str, Map] = field(default_factory=dict)
    words: Mapping[str, Map] = field(default_factory=dict)
    synonyms: Synonyms = NO_SYNONYMS
    phrases: Mapping[str, Phrases] = field(default_factory=dict)
    wordings: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    articles: Mapping[str, Article] = field(default_factory=dict)
    written: frozenset[str] = frozenset()
    calculators: Mapping[str, Calculator] = field(default_factory=dict)
    waveforms: Mapping[str, Waveform] = field(default_factory=dict)
    waveform_series: Mapping[str, WaveformSeries] = field(default_factory=dict)
    stories: Stories = NO_STORIES
    path: tuple[Stage, ...] = ()
    changes: Mapping[str, tuple[Told, ...]] = field(default_factory=dict)
    bedsides: Mapping[str, tuple[Story, ...]] = field(default_factory=dict)
    hazards: Mapping[str, HazardRow] | None = None
    pictures: Mapping[str, Picture] = field(default_factory=dict)
    drafts: Mapping[str, Tree] = field(default_factory=dict)
    unreviewed: int | None = None
    changed: bool | None = None

    @property
    def in_use(self) -> dict[str, Tree]:
        """The trees that readers may be led to."""
        return {key: tree for key, tree in self.trees.items() if tree.in_use}

    def published(self) -> Library:
        """The library as readers get it: drafts are set apart, so that nothing else can lead to them or count them."""
        drafts = {key: tree for key, tree in self.trees.items() if tree.is_draft}
        stages = (replace(one, pages=tuple(page for page in one.pages if page[0] not in drafts)) for one in self.path)
        return replace(
            self,
            trees={key: tree for key, tree in self.trees.items() if key not in drafts},
            drafts={**self.drafts, **drafts},
            path=tuple(stages) if drafts else self.path,
            bedsides={key: told for key, told in self.bedsides.items() if key not in drafts},
        )

    def may_sign(self, role: str) -> bool:
        """Whether a role may sign a review: anybody may where the settings name nobody."""
        return not self.reviewers or role in self.reviewers

    def sign_refusal(self, role: str) -> str:
        """Why a role may not sign, who may, and what to do about it, in one line."""
        return (
            f"the {role} may not sign; `reviewers` in the settings lists {', '.join(self.reviewers)}: "
            "let one of these sign, or list the role as well, in kb/settings.local.yml"
        )
