"""Every kind of change that a comparison tells, with its usual weight: one table for the program and its readers."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum


class Weight(StrEnum):
    """How much a change weighs for the reader."""

    ERROR = "error"
    WARNING = "warning"
    NOTE = "note"


ORDER = {Weight.ERROR: 0, Weight.WARNING: 1, Weight.NOTE: 2}


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of change.

    Attributes:
        id: its kebab-case name, as reports print it; part of every fingerprint.
        weight: what it weighs.
        say: what has changed.
        also: what else it may weigh, and when.
    """

    id: str
    weight: Weight
    say: str
    also: tuple[Weight, str] | None = None


_SLIP = (Weight.NOTE, "where only a slip is mended")
_SEEN = (Weight.ERROR, "where something shows it or the checks count with it")

_ERRORS = {
    "other-end": "The same answers end elsewhere, end sooner, or go on where they ended.",
    "other-question": "After the same answers something else is asked.",
    "call-gone": "Somebody is no longer called on a way.",
    "safety-gone": "A step with a safety mark is gone from a way.",
    "safety-words-gone": "No line of a step speaks any longer of what its safety mark means.",
    "answer-gone": "An answer is no longer offered.",
    "answer-reworded": "An answer is gone, and another in its place leads to the same step.",
    "call": "A step or an end calls another role.",
    "end-changed": "An end is of another sort, or hands over to another place.",
    "exchanged": "A step says something else altogether, or what another step said.",
    "longer": "Help comes later than before on a way.",
    "role-gone": "A role is gone.",
    "role-changed": "A role's name or number changed.",
    "pump": "A step does something else to the pump.",
    "mark-gone": "A step, an answer or the list of marks has lost a mark.",
    "mark-weakened": "A mark demands less.",
    "safety-rule-gone": "A safety rule is removed, or the rules cannot be read.",
    "safety-rule-weakened": "A safety rule asks for less.",
    "tree-gone": "An alarm has no page any longer.",
    "story-fails": "A bedside story no longer comes out as told.",
    "unexplained": "Something in a tree is another, or its ways are, and no other finding names it.",
    "rewritten": "The versions differ in so many places that not all ways were put side by side.",
}

_WARNINGS = {
    "question-gone": "A question is gone from a way.",
    "question-added": "A question is new on a way.",
    "question-moved": "A question comes in another order on a way.",
    "step-gone": "A step is gone from a way.",
    "step-added": "A step is new on a way.",
    "step-moved": "A step comes in another order on a way.",
    "steps-changed": "More steps are gone, new or moved than are told one by one.",
    "question-reworded": "A question reads otherwise.",
    "step-reworded": "A step reads otherwise.",
    "end-reworded": "An end reads otherwise.",
    "meanwhile-reworded": "What is done until help comes reads otherwise.",
    "meanwhile-gone": "What is done until help comes is gone.",
    "lines-reordered": "The lines of a step stand in another order.",
    "picture-added": "A step shows a picture now.",
    "picture-changed": "A step shows another picture.",
    "picture-redrawn": "A picture is drawn otherwise, or says something else of itself.",
    "caution-gone": "A caution no longer stands on a page or step, or is gone from the list.",
    "pump-seen": "An answer says something else about what is seen of the pump.",
    "pump-changed": "Another state of the pump is assumed when the page is opened.",
    "harm-changed": "Harm and so the priority changed.",
    "withdrawn": "A tree is withdrawn.",
    "cause-gone": "A cause is no longer considered.",
    "safety-rule-reworded": "A safety rule reads otherwise.",
    "reviewers-changed": "Others may sign a review.",
    "approvals-changed": "The file of approvals changed.",
    "answer-added": "An answer is new.",
    "story-led-otherwise": "A bedside story is led another way, and still comes out as told.",
    "title-changed": "The title of an alarm changed.",
    "summary-changed": "The sentence under a title changed.",
    "withdrawal-changed": "Since when or why a tree is withdrawn changed.",
}

_NOTES = {
    "typo": "A slip is mended.",
    "rewired": "A step or answer leads to another step, and the reader meets the same.",
    "answers-reordered": "The answers to a question stand in another order.",
    "end-added": "An end is new in a tree.",
    "end-gone": "An end no longer stands in a tree.",
    "mark-changed": "A mark's words changed, and it demands no less.",
    "why-reworded": "The reason of a step reads otherwise.",
    "why-gone": "The reason of a step is gone.",
    "why-added": "A step says why now.",
    "picture-gone": "A step shows no picture any longer.",
    "pictures-changed": "A picture is new, or gone.",
    "meanwhile-added": "An end says what to do until help comes.",
    "caution-added": "A caution is new.",
    "caution-reason": "Reason or sources of a caution changed.",
    "cautions-changed": "The cautions of a step changed, and none is gone.",
    "fixes-changed": "A step or call is said to remove other causes.",
    "takes-changed": "A step is said to take another time.",
    "when-changed": "An answer is said to be seen under other causes.",
    "cause-added": "A cause is new.",
    "cause-changed": "Words or share of a cause changed.",
    "about-changed": "A tree stands in another group.",
    "aliases-changed": "Other names of an alarm changed.",
    "condition-changed": "An alarm counts as of another condition.",
    "related-changed": "The articles beside a tree changed.",
    "sources-changed": "Sources changed.",
    "safety-rule-added": "A safety rule is new.",
    "safety-rule-strengthened": "A safety rule asks for more.",
    "safety-rule-reason": "Reason or sources of a safety rule changed.",
    "setting-added": "A setting is new.",
    "role-added": "A role is new.",
    "calculator-changed": "Signs, tables, sources or what belongs to a calculator changed.",
    "synonyms-changed": "The finder's words changed.",
    "learning-changed": "The path of new colleagues changed.",
    "changes-changed": "What the pages of changes say changed.",
    "stray-changed": "A file changed that nothing reads.",
}

_REASON = (Weight.WARNING, "where it stands in a reason")

_TURNS = (Weight.WARNING, "where a text says the opposite, or another condition or number")

_HELD = (Weight.WARNING, "where something is gone or another")

_PASSAGES = (
    Kind("article-added", Weight.ERROR, "An article is new."),
    Kind("article-gone", Weight.WARNING, "An article is gone."),
    Kind("article-changed", Weight.NOTE, "What an article belongs to changed.", (Weight.WARNING, "where it is gone")),
    Kind(
        "passage-gone",
        Weight.WARNING,
        "A paragraph, item, row or question of an article is gone.",
        (Weight.ERROR, "where it names a condition, or what is not done"),
    ),
    Kind(
        "passage-added",
        Weight.WARNING,
        "A paragraph, item, row or question of an article is new.",
        (Weight.ERROR, "where it says what is not done"),
    ),
    Kind(
        "passage-reworded",
        Weight.WARNING,
        "A passage of an article reads otherwise.",
        (Weight.NOTE, "where only a link or a list is other"),
    ),
    Kind("passage-moved", Weight.WARNING, "A passage of an article stands in another place."),
    Kind("calculator-added", Weight.ERROR, "A calculator is new."),
    Kind("calculator-gone", Weight.WARNING, "A calculator is gone."),
    Kind("formula-changed", Weight.ERROR, "A formula, unit, range, value, warning or check of a calculator changed."),
    Kind("calculator-reworded", Weight.WARNING, "A calculator reads otherwise.", _SLIP),
    Kind("words-changed", Weight.NOTE, "A word of the glossary changed.", _TURNS),
    Kind("waveforms-changed", Weight.NOTE, "A pressure trace changed.", _TURNS),
    Kind("hazards-changed", Weight.NOTE, "The table of what can go wrong changed.", _HELD),
    Kind("stories-changed", Weight.NOTE, "The stories that the check plays changed.", _HELD),
    Kind("practice-changed", Weight.NOTE, "The stories of practice cases changed.", _TURNS),
)

_BY_CASE = (
    Kind(
        "not-comparable",
        Weight.ERROR,
        "The ways of a tree cannot be compared.",
        (Weight.WARNING, "where only the version before is broken"),
    ),
    Kind("tree-added", Weight.ERROR, "An alarm has a page now.", (Weight.WARNING, "where it is a draft")),
    Kind("guard-gone", Weight.ERROR, "A text no longer says under which condition something is done.", _REASON),
    Kind("guard-changed", Weight.ERROR, "A text says another condition under which something is done.", _REASON),
    Kind("negation-turned", Weight.ERROR, "A text says no longer that something is not so, or not done.", _REASON),
    Kind("direction-turned", Weight.ERROR, "A text says the opposite: later for earlier, close for open.", _REASON),
    Kind(
        "limit-changed",
        Weight.ERROR,
        "A number or a setting in a text changed.",
        (Weight.NOTE, "where it stands in a reason"),
    ),
    Kind(
        "leads-elsewhere",
        Weight.WARNING,
        "A step or answer leads to another step.",
        (Weight.ERROR, "where something else is to be done there"),
    ),
    Kind("mark-added", Weight.WARNING, "A mark is new.", (Weight.NOTE, "where it is new in the list of marks")),
    Kind("caution-reworded", Weight.WARNING, "A caution reads otherwise.", _SLIP),
    Kind(
        "status-changed",
        Weight.WARNING,
        "A tree has another status.",
        (Weight.ERROR, "where it is put in use"),
    ),
    Kind("setting-changed", Weight.NOTE, "A setting has another value.", _SEEN),
    Kind("setting-gone", Weight.NOTE, "A setting is gone.", _SEEN),
    Kind(
        "setting-note",
        Weight.NOTE,
        "What stands with a setting changed: words, status, source, who set it, its range.",
        (Weight.WARNING, "where it may lie between other values now"),
    ),
)

KINDS: Mapping[str, Kind] = {
    **{
        name: Kind(name, weight, say)
        for weight, told in ((Weight.ERROR, _ERRORS), (Weight.WARNING, _WARNINGS), (Weight.NOTE, _NOTES))
        for name, say in told.items()
    },
    **{kind.id: kind for kind in (*_BY_CASE, *_PASSAGES)},
}
"""All kinds by their ids."""


def weight_of(kind: str, weight: Weight | None) -> Weight:
    """The weight of a change: what its kind weighs, or the other weight that the kind may have.

    Raises:
        ValueError: the kind is not in the table, or it never has that weight.
    """
    known = KINDS.get(kind)
    if known is None:
        raise ValueError(f"there is no kind of change `{kind}`; list it in compare/kinds.py")
    if weight is None or weight is known.weight:
        return known.weight
    if known.also is None or known.also[0] is not weight:
        raise ValueError(f"a change of the kind `{kind}` is no {weight}; compare/kinds.py says what it weighs")
    return weight
