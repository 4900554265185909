"""Writes a library of as many trees as wanted, each of 30 steps and shaped like the shipped ones.

The facts (marks, safety rules, settings, cautions, sources) are those of this repository, so every
safety rule has its work to do. Two of the trees are handed over to by all others, as with blood in
the line and a cardiac arrest. Texts and shapes vary by a fixed seed; the library has no findings.
"""

from __future__ import annotations

import random
import shutil
from pathlib import Path

from alarmtrees.model.stamp import content_stamp
from lone import open_tree

# Articles, calculators, traces, cases and the path for learners speak of the shipped trees, which are not there.
FACTS = ("settings", "marks", "acts", "safety", "cautions", "sources", "words", "synonyms")
HERE = Path(__file__).resolve()
KB = HERE.parents[2] / "kb"
NODES = 30

_PLACES = ("console", "table", "bed rail", "wall", "floor", "patient's side", "door", "monitor", "lamp", "pole")
_PARTS = ("connector", "clip", "cable", "joint", "sleeve", "collar", "plug", "bracket", "tube", "seal")
_STATES = ("firm", "loose", "bent", "wet", "cracked", "open", "turned", "pinched", "dry", "clean")
_WHYS = (
    "A {part} near the {place} can look {state} and still let gas out, so feel it and do not only look.",
    "Whoever looks at the {part} first saves time. A {state} {part} by the {place} is found in seconds.",
    "The {part} at the {place} is where hands and wheels meet it; a {state} one stops the pump again.",
    "In this invented department the {part} is {state} more often than not when the bed was moved.",
)

_NAMES = ("sound", "light", "word", "sign", "look", "noise", "smell", "feel")

_CAUTIONS = "[patient-first, trained-staff-only, policy-first, clinician-decides, balloon-must-not-rest]"


def write_library(root: Path, trees: int, seed: int = 1) -> None:
    """Write a library.

    Args:
        root: an empty folder.
        trees: how many trees to write.
        seed: another seed gives other words and shapes.
    """
    (root / "trees").mkdir(parents=True)
    (root / "kb").mkdir()
    for kind in FACTS:
        shutil.copy(KB / f"{kind}.yml", root / "kb")
    for number in range(trees):
        path = root / "trees" / f"{tree_id(number)}.yml"
        path.write_text(tree_text(number, random.Random(seed * 1_000_003 + number)), encoding="utf-8")
        _stamp(path)


def tree_id(number: int) -> str:
    """The id of a generated tree."""
    return f"made-{number:04d}"


def _stamp(path: Path) -> None:
    _, tree = open_tree(path)
    assert tree is not None, f"{path.name} does not fit the schema"
    assert len(tree.nodes) == NODES, (path.name, len(tree.nodes))
    text = path.read_text(encoding="utf-8").replace("content: unstamped", f"content: {content_stamp(tree)}")
    path.write_text(text, encoding="utf-8")


class _Words:
    """Draws words; what is drawn twice differs by a running number where it must be unique."""

    def __init__(self, draw: random.Random) -> None:
        self.draw = draw

    def why(self) -> str:
        return self.draw.choice(_WHYS).format(
            part=self.draw.choice(_PARTS), place=self.draw.choice(_PLACES), state=self.draw.choice(_STATES)
        )

    def thing(self) -> str:
        return f"the {self.draw.choice(_PARTS)} at the {self.draw.choice(_PLACES)}"

    def takes(self) -> str:
        return f"{self.draw.choice((5, 10, 15))} s"


def tree_text(number: int, draw: random.Random) -> str:
    """The text of one tree of 30 steps: 21 that all have, two for each cause that can be fixed, and fillers."""
    words = _Words(draw)
    causes = [f"cause-{i}" for i in range(draw.randint(3, 4))]
    fillers = NODES - 21 - 2 * len(causes)
    steps = [
        *_opening("prepare-0" if fillers else "where-0", words),
        *_preparing(fillers, words),
        *_search(causes, words),
        *_remedies(causes, words),
        *_closing(words),
        *_ends(number, words),
    ]
    return "\n".join([*_head(number, causes, words), *steps, *_tail()]) + "\n"


def _head(number: int, causes: list[str], words: _Words) -> list[str]:
    shares = [100 // (len(causes) + 1)] * (len(causes) + 1)
    lines = [
        "# yaml-language-server: $schema=../schema/tree.schema.json",
        f"id: {tree_id(number)}",
        f"title: Made alarm number {number}",
        f"summary: Something at {words.thing()} is not as it was. The balloon does not move.",
        "status: in-use",
        "about: gas",
        "aliases:",
        *(f"  - {word} of alarm {number}" for word in _NAMES),
        "condition: technical",
        "harm: {severity: irreversible, onset: prompt}",
        "pump: stopped",
        "causes:",
    ]
    for cause, share in zip([*causes, "lost-gas"], shares, strict=True):
        lines.append(f'  {cause}: {{say: "Something is wrong with {words.thing()}", share: {share}}}')
    # The two trees that the others hand over to do not offer blood at any time: they would go in circles.
    blood = ['  - {say: "Blood in the gas line", to: blood, marks: [blood-seen]}'] if number > 1 else []
    return [
        *lines,
        "anytime:",
        '  - {say: "Patient worse", to: worse, marks: [patient-worse]}',
        '  - {say: "No pulse", to: arrest, marks: [no-pulse]}',
        *blood,
        "start: look-at-patient",
        "nodes:",
    ]


def _tail() -> list[str]:
    return [
        f"cautions: {_CAUTIONS}",
        "sources: [weil-2007, mihatov-2015, linley-2003, common-practice]",
        "review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: unstamped}",
    ]


def _ask(name: str, question: str, answers: list[str], words: _Words, marks: str = "") -> str:
    return "\n".join(
        [
            f"  {name}:",
            f"    ask: {question}",
            f"    why: {words.why()}",
            *([f"    marks: [{marks}]"] if marks else []),
            f"    takes: {words.takes()}",
            "    sources: [common-practice]",
            "    answers:",
            *(f"      - {{{answer}}}" for answer in answers),
            "",
        ]
    )


def _do(name: str, lines: list[str], then: str, words: _Words, *more: str) -> str:
    return "\n".join(
        [
            f"  {name}:",
            "    do:",
            *(f'      - "{line}"' for line in lines),
            f"    why: {words.why()}",
            f"    takes: {words.takes()}",
            "    sources: [linley-2003, common-practice]",
            *(f"    {line}" for line in more),
            f"    then: {then}",
            "",
        ]
    )


def _call(name: str, words: _Words, *more: str) -> str:
    return "\n".join(
        [
            f"  {name}:",
            "    end: call",
            "    call: specialist-on-call",
            f"    say: It is {words.thing()}. That is for the specialist.",
            f"    meanwhile: Stay with the patient. Watch {words.thing()}, and tell how long the balloon has rested.",
            f"    why: {words.why()}",
            "    sources: [weil-2007, common-practice]",
            *(f"    {line}" for line in more),
            "",
        ]
    )


def _opening(onward: str, words: _Words) -> list[str]:
    return [
        _ask(
            "look-at-patient",
            "Pulse and pressure?",
            [
                'say: "As before the alarm", to: look-for-blood',
                'say: "Weaker or lower", to: call-doctor, marks: [patient-worse]',
                'say: "No pulse, or not sure", to: arrest, marks: [no-pulse]',
            ],
            words,
            "patient-check",
        ),
        _do(
            "call-doctor",
            ["Call the doctor for this patient."],
            "look-for-blood",
            words,
            "call: doctor-on-call",
            "marks: [doctor-called]",
        ),
        _ask(
            "look-for-blood",
            "What is seen inside the gas line?",
            [
                'say: "Whole line seen, no blood, no brown spots", to: last-moved, marks: [blood-clear]',
                'say: "Blood or brown spots", to: blood, marks: [blood-seen]',
                'say: "Cannot tell", to: blood, marks: [blood-unsure]',
            ],
            words,
            "blood-check",
        ),
        _ask(
            "last-moved",
            "When did the balloon last move?",
            [
                f'say: "Less than {{resting_warning}} ago", to: {onward}, marks: [rested-short]',
                'say: "{resting_warning} ago or longer", to: hold, marks: [rested-too-long]',
                'say: "Nobody knows", to: hold, marks: [rest-unknown]',
            ],
            words,
            "rest-check",
        ),
    ]


def _preparing(count: int, words: _Words) -> list[str]:
    names = [*(f"prepare-{i}" for i in range(count)), "where-0"]
    return [
        _do(name, [f"Uncover {words.thing()}.", f"Hold a light to {words.thing()}."], names[i + 1], words)
        for i, name in enumerate(names[:-1])
    ]


def _search(causes: list[str], words: _Words) -> list[str]:
    """One question after the other, each telling one cause from those that are left."""
    steps = []
    for i, cause in enumerate(causes):
        rest = [*causes[i + 1 :], "lost-gas"]
        onward = f"where-{i + 1}" if i + 1 < len(causes) else "call-lost-gas"
        steps.append(
            _ask(
                f"where-{i}",
                f"How does {words.thing()} sit now?",
                [
                    f'say: "It is {words.draw.choice(_STATES)}, not as it was", to: remedy-{i}, when: [{cause}]',
                    f'say: "As it was before", to: {onward}, when: [{", ".join(rest)}]',
                ],
                words,
                "line-traced" if i == 0 else "",
            )
        )
    return steps


def _remedies(causes: list[str], words: _Words) -> list[str]:
    return [
        _do(
            f"remedy-{i}",
            ["Hold the patient's end still with one hand.", "Only if no blood was seen: push it home until it locks."],
            "sits-now",
            words,
            "marks: [reconnect]",
            f"fixes: [{cause}]",
            "cautions: [blood-means-torn]",
        )
        for i, cause in enumerate(causes)
    ]


def _closing(words: _Words) -> list[str]:
    return [
        _ask(
            "sits-now",
            "How does it sit after the push?",
            ['say: "Locked, and all else firm", to: restart', 'say: "It slips, or looks cracked", to: call-damaged'],
            words,
        ),
        _do(
            "restart",
            ["Only if no blood was seen: renew the gas, once.", "Only if at rest under {resting_warning}: restart."],
            "does-it-move",
            words,
            "marks: [refill, console-step]",
            "pump: starts",
            "cautions: [one-refill-only, balloon-must-not-rest]",
        ),
        _ask(
            "does-it-move",
            "Does the balloon move now?",
            [
                'say: "Fully, with every assisted beat", to: timing, when: fixed, pump: moves',
                'say: "The gas alarm is back", to: call-leak-again, marks: [leak-again]',
                'say: "It stands still", to: call-still, pump: still',
            ],
            words,
        ),
        _ask(
            "timing",
            "How does the pressure trace look?",
            ['say: "As before", to: watch', 'say: "Different, or not sure", to: call-trace'],
            words,
            "timing-look",
        ),
        _ask(
            "watch",
            "What is seen while you watch for {leak_watch}?",
            [
                'say: "No gas alarm, line clear", to: patient-again',
                'say: "Gas alarm once more", to: call-leak-again, marks: [leak-again]',
            ],
            words,
        ),
        _ask(
            "patient-again",
            "What are pulse and pressure after the restart?",
            ['say: "As before the alarm", to: together', 'say: "Weaker or lower", to: worse, marks: [patient-worse]'],
            words,
            "patient-again",
        ),
    ]


def _ends(number: int, words: _Words) -> list[str]:
    names = ("call-rested", "call-damaged", "call-leak-again", "call-still", "call-trace")
    say = "The line holds and the balloon moves."
    resolved = f"  together:\n    end: resolved\n    say: {say}\n    why: {words.why()}\n"
    lost = _call("call-lost-gas", words, "fixes: [lost-gas]")
    worse = _call("worse", words, "marks: [doctor-called]")
    hold = _do("hold", ["Put the pump on hold."], "call-rested", words, "pump: stops", "marks: [console-step]")
    calls = [_call(name, words) for name in names]
    return [resolved, *calls, lost, worse, hold, _blood(number, words), _arrest(number, words)]


def _blood(number: int, words: _Words) -> str:
    if number:
        return _go("blood", tree_id(0), words)
    lines = ["Stop the pump, and leave it still."]
    return _do("blood", lines, "call-rested", words, "pump: stops", "marks: [console-step]")


def _arrest(number: int, words: _Words) -> str:
    if number != 1:
        return _go("arrest", tree_id(1), words)
    return _do("arrest", ["Start chest compressions."], "worse", words, "marks: [compressions]")


def _go(name: str, tree: str, words: _Words) -> str:
    say = "Blood, or no certainty." if name == "blood" else "No pulse."
    told = f"    say: {say}\n    why: {words.why()}\n    sources: [mihatov-2015]\n"
    return f"  {name}:\n    end: go\n    go: {tree}/{name}\n{told}"
