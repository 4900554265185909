"""The things the project is about, as frozen dataclasses, each knowing where it stands in its file.

Nothing here reads a file or decides anything; `reading/` reads, `check/rules/` decide.
"""

from .article import Article, Calculator, Choice, Passage, SelfCheck
from .facts import (
    NO_STORIES,
    NO_SYNONYMS,
    Act,
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
    Telling,
    Told,
    Waveform,
    WaveformSeries,
    WaveformStep,
)
from .library import Library
from .pattern import PLACES, Pattern
from .picture import Picture
from .source import Map, Problem, Seq, Source, Spot
from .tree import ABOUT, DERIVED_MARKS, FIXED, Answer, Cause, Harm, Node, Priority, Review, Tree, Withdrawal

__all__ = [
    "ABOUT",
    "DERIVED_MARKS",
    "FIXED",
    "NO_STORIES",
    "NO_SYNONYMS",
    "PLACES",
    "Act",
    "Acts",
    "Answer",
    "Article",
    "Calculator",
    "Cause",
    "Caution",
    "Choice",
    "Harm",
    "Library",
    "Map",
    "Mark",
    "Node",
    "Passage",
    "Pattern",
    "Phrases",
    "Picture",
    "Priority",
    "Problem",
    "Review",
    "Role",
    "SafetyRule",
    "SelfCheck",
    "Seq",
    "Setting",
    "Source",
    "Spot",
    "Stage",
    "Stories",
    "Synonyms",
    "Telling",
    "Told",
    "Tree",
    "Waveform",
    "WaveformSeries",
    "WaveformStep",
    "Withdrawal",
]
