"""Each kind of change, shown by the smallest edit of the small library that gives it, with each weight it may have.

A kind that nobody shows here fails: a name in the table that no edit brings is a promise, not a net.
"""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import pytest

from alarmtrees.compare import compare_libraries
from alarmtrees.compare.change import Change
from alarmtrees.compare.kinds import KINDS, Weight
from alarmtrees.model import Library
from alarmtrees.reading.open import open_library
from large_tree import compared, large_doc
from test_compare import LINE, MARKS, SAFETY

HERE = Path(__file__).parent
SUPPLY, SETTINGS, CAUTIONS = "trees/supply-low.yml", "kb/settings.yml", "kb/cautions.yml"
SAFE, MARKED, ARTICLE, WORDS = "kb/safety.yml", "kb/marks.yml", "kb/plugging-in.md", "kb/words.yml"

E, W, N = Weight.ERROR, Weight.WARNING, Weight.NOTE


@dataclass(frozen=True)
class Text:
    """A text of a file replaced: by nothing where `new` is None, which takes the file away; `old` "" is a new file."""

    file: str
    old: str
    new: str | None

    def made(self, root: Path) -> None:
        path = root / self.file
        if self.new is None:
            path.unlink()
        elif not self.old:
            path.parent.mkdir(exist_ok=True)
            path.write_text(self.new, "utf-8")
        else:
            text = path.read_text("utf-8")
            assert self.old in text, self.old
            path.write_text(text.replace(self.old, self.new, 1), "utf-8")


@dataclass(frozen=True)
class Case:
    """A kind and its weight; what is edited in both versions first, and what then in the one now."""

    kind: str
    weight: Weight
    edits: tuple[Text, ...]
    first: tuple[Text, ...] = ()


def line(kind: str, weight: Weight, old: str, new: str, *first: tuple[str, str]) -> Case:
    """One edit in the tree of the open line."""
    return Case(kind, weight, (Text(LINE, old, new),), tuple(Text(LINE, *pair) for pair in first))


def file(kind: str, weight: Weight, name: str, old: str, new: str | None, *first: tuple[str, str]) -> Case:
    """One edit in another file."""
    return Case(kind, weight, (Text(name, old, new),), tuple(Text(name, *pair) for pair in first))


SUM, TRACES = "kb/calculators/bottles.yml", "kb/waveforms.yml"
BOTTLES = """\
id: bottles
title: Water in bottles
summary: How much water the bottles hold.
inputs:
  bottles: {say: Bottles, sign: n, unit: none, range: [0, 100], example: 3}
  each: {say: Water in one, sign: v, unit: [L, mL], range: [0.1, 10], default: 2}
outputs:
  water: {say: Water in all, sign: V, unit: L, digits: 1, is: bottles * each}
valid: [{say: Full bottles.}]
breaks: [{say: A bottle that leaks.}]
table: {say: Water, rows: {input: bottles, values: [1, 2]}, show: [water]}
plot: {say: Water, across: bottles, curves: [{say: All of it, show: water}]}
checks:
  - {say: Two bottles., given: {bottles: 2}, gives: {water: 4}, within: 0.001, sources: [common-practice]}
cautions: [patient-first]
sources: [common-practice]
review: {by: lead, on: 2026-09-14, next: 2027-09-14}
"""
SCENES = """\
scenes:
  alone:
    title: Alone
    say: A weak heart ejects more.
    seen: [{say: The notch is free., sign: notch-free}]
    sources: [common-practice]
"""
STORIES = "patients: [{say: A man since an operation.}]\nplaces: [{say: in a room}]\nscenes: {}\n"
NO = "{none: It makes no difference.}"
HAZARDS = f"acts:\n  clamp: {{not-given: {NO}, given: {NO}, wrong-time: {NO}, wrong-length: {NO}}}\n"
BEDSIDES = "kb/stories/line-open.yml"
STORY = """\
- id: worse
  say: The patient is worse.
  opens: line-open
  answers: ["anytime: Patient worse"]
  end: {call: doctor-on-call}
"""
STILL = """\
- id: still
  say: The plug was pushed home, and the balloon stands still.
  opens: line-open
  answers: [As before, It stands still]
  end: {call: specialist-on-call}
"""
DRAWN = """\
<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 360 200"><title>Where the plug goes</title>
<desc>A wall with a plug. The plug points to the left.</desc><path d="M9 9h99"/></svg>
"""
PLUG = "kb/pictures/plug.svg"
PICTURED = ("  plug:\n", "  plug:\n    picture: plug\n")
BY = "by: [call, look-first]}"
PATH = """\
stages:
  - id: first
    title: First
    when: First day
    why: It comes first.
    pages: [{page: line-open, why: It is met first.}]
"""
THEN_HOLDS = "then: holds\n"
ASKED = (
    THEN_HOLDS
    + """\
  wet:
    ask: Is the floor wet?
    answers: [{say: Wet, to: holds}, {say: Dry, to: holds}]
"""
)
RESTART = "Restart the pump within {resting_warning}."
WHY = "A loose plug is the usual cause."
TOLD = "    call: doctor-on-call\n    then"
OTHER = """\
  wet:
    ask: Is the floor wet?
    answers: [{say: Wet, to: done}, {say: Dry, to: broken}]
"""
COLOURS = """\
  colour:
    ask: Which colour?
    answers: [{say: Red, to: shape}, {say: Blue, to: broken}]
  shape:
    ask: Which shape?
    answers: [{say: Round, to: plug}, {say: Flat, to: broken}]
  plug:
    do:"""
TURNED = (Text(LINE, "to: colour}", "to: shape}"), Text(LINE, "Red, to: shape", "Red, to: plug"))
TURNED = (*TURNED, Text(LINE, "Round, to: plug", "Round, to: colour"))
IN_A_ROW = ("    then: done\n", "    then: write\n  write:\n    do:\n      - Write it down.\n    then: done\n")
COPY = "  done-too:\n    end: resolved\n    say: The balloon moves again.\n  broken:\n"
NEW_TREE = (HERE / "small-library" / SUPPLY).read_text("utf-8").replace("id: supply-low", "id: supply-new")

CASES = [
    # the ways
    line("other-end", E, "to: broken, pump", "to: patient-worse, pump"),
    line("other-question", E, "then: holds", "then: wet", ("  tell:\n", OTHER + "  tell:\n")),
    line("call-gone", E, "to: tell, when", "to: done, when"),
    line("safety-gone", E, "    marks: [look-first]\n", ""),
    Case(
        "question-moved",
        W,
        TURNED,
        (Text(LINE, "to: plug}", "to: colour}"), Text(LINE, "  plug:\n    do:", COLOURS)),
    ),
    line("question-gone", W, "then: wet", "then: holds", (THEN_HOLDS, ASKED), ("then: holds", "then: wet")),
    line("question-added", W, "then: holds", "then: wet", (THEN_HOLDS, ASKED)),
    line("step-gone", W, "to: tell, when", "to: done, when"),
    line("step-added", W, *IN_A_ROW),
    Case(
        "step-moved",
        W,
        (
            Text(LINE, "to: tell, when", "to: write, when"),
            Text(LINE, "    then: write\n", "    then: done\n"),
            Text(LINE, "- Write it down.\n    then: done", "- Write it down.\n    then: tell"),
        ),
        (Text(LINE, *IN_A_ROW),),
    ),
    line("longer", E, "    pump: starts\n", "    pump: starts\n    takes: 3 min\n"),
    line("not-comparable", E, "then: done", "then: plug"),
    Case(
        "not-comparable",
        W,
        (Text(LINE, "then: plug", "then: done"),),
        (Text(LINE, "then: done", "then: plug"),),
    ),
    # what follows, and what comes and goes
    line("leads-elsewhere", W, "to: tell, when", "to: done, when"),
    line("leads-elsewhere", E, "to: tell, when", "to: write, when", ("  done:\n", "  write:\n    do:\n      - Write.\n    then: done\n  done:\n")),  # noqa: E501
    line("rewired", N, "then: done", "then: done-too", ("  broken:\n", COPY)),
    line("end-added", N, "  broken:\n", COPY),
    line("end-gone", N, COPY, "  broken:\n", ("  broken:\n", COPY)),
    line("answer-gone", E, "      - {say: Has a new alarm, to: elsewhere}\n", ""),
    line("answer-reworded", E, "say: As before, to: plug", "say: The same, to: plug"),
    line("answer-added", W, "to: elsewhere}\n", "to: elsewhere}\n      - {say: Not there, to: broken}\n"),
    line("answers-reordered", N, "    answers:\n      - {say: As before, to: plug}\n", "    answers:\n", ("to: elsewhere}\n", "to: elsewhere}\n      - {say: As before, to: plug}\n")),  # noqa: E501
    # what steps say
    line("guard-gone", E, "Restart only if it is dry.", "Restart.", (RESTART, "Restart only if it is dry.")),
    line("guard-gone", W, "only if it locks", "soon", (WHY, "It holds only if it locks.")),
    line("guard-changed", E, "if dry", "if clean", (RESTART, "Restart only if dry.")),
    line("guard-changed", W, "if it locks", "if it clicks", (WHY, "It holds if it locks.")),
    line("negation-turned", E, "Do not touch", "Touch", (RESTART, "Do not touch the plug.")),
    line("negation-turned", W, "is the usual", "is not the usual"),
    line("direction-turned", E, "Restart the pump", "Stop the pump"),
    line("direction-turned", W, "A loose plug", "A tight plug"),
    line("limit-changed", E, "within {resting_warning}", "within {call_by}"),
    line("limit-changed", N, "in 2", "in 3", (WHY, "It is loose in 2 of 9.")),
    line("exchanged", E, "Tell the doctor what was done.", "Write down the time and the place."),
    line("question-reworded", W, "How is the patient?", "What do you see?"),
    line("step-reworded", W, "Push the plug home until", "Press the plug home until"),
    line("end-reworded", W, "The plug is broken.", "The plug is beyond mending."),
    line("meanwhile-reworded", W, "Stay with the patient.", "Stay at the patient's bed."),
    line("meanwhile-gone", W, "    meanwhile: Stay with the patient.\n", ""),
    line("meanwhile-added", N, "say: The patient is worse.\n", "say: The patient is worse.\n    meanwhile: Stay.\n"),
    line("lines-reordered", W, "      - Push the plug home until it locks.\n      - " + RESTART, "      - " + RESTART + "\n      - Push the plug home until it locks."),  # noqa: E501
    line("why-reworded", N, WHY, "It mostly is loose."),
    line("why-gone", N, f"    why: {WHY}\n", ""),
    line("why-added", N, TOLD, TOLD.replace("    then", "    why: So it is.\n    then")),
    line("typo", N, "It moves, to: tell", "it moves, to: tell"),
    # what steps are and do
    line("safety-words-gone", E, "      - Clamp the line.\n", "", ("    do:\n", "    do:\n      - Clamp the line.\n")),
    line("call", E, TOLD, TOLD.replace("doctor", "specialist")),
    line("end-changed", E, "go: supply-low/look", "go: supply-low/call-now"),
    line("pump", E, "pump: starts", "pump: stops"),
    line("pump-seen", W, "pump: moves", "pump: still"),
    line("mark-gone", E, "    marks: [look-first]\n", ""),
    line("mark-added", W, TOLD, TOLD.replace("    then", "    marks: [clamp]\n    then")),
    line("caution-gone", W, "    cautions: [rest-is-short]\n", ""),
    line("cautions-changed", N, "    cautions: [rest-is-short]\n", "    cautions: [rest-is-short, patient-first]\n"),
    line("picture-added", W, *PICTURED),
    line("picture-changed", W, "picture: plug", "picture: wall", PICTURED),
    line("picture-gone", N, "    picture: plug\n", "", PICTURED),
    line("fixes-changed", N, "    fixes: [plug-loose]\n", ""),
    line("takes-changed", N, "    pump: starts\n", "    pump: starts\n    takes: 3 s\n"),
    line("when-changed", N, ", when: fixed", ""),
    line("sources-changed", N, "    sources: [doe-2001]\n", "    sources: [common-practice, doe-2001]\n"),
    # the head of a tree
    line("title-changed", W, "title: Line is open", "title: The line leaks"),
    line("summary-changed", W, "The line is open and lets gas out.", "The line lets gas out."),
    line("pump-changed", W, "pump: stopped", "pump: running"),
    line("harm-changed", W, "harm: {severity: irreversible", "harm: {severity: minor"),
    line("about-changed", N, "about: gas", "about: power"),
    line("aliases-changed", N, "hose off, ", ""),
    line("condition-changed", N, "condition: technical", "condition: physiological"),
    line("related-changed", N, "start: look\n", "start: look\nrelated: [plugging-in]\n"),
    line("caution-added", N, "[patient-first, rest-is-short]\nsources", "[patient-first, rest-is-short, dry]\nsources"),
    line("cause-gone", W, "  plug-broken: {say: The plug is broken, share: 30}\n", ""),
    line("cause-added", N, "anytime:\n", "  wet: {say: The plug is wet, share: 1}\nanytime:\n"),
    line("cause-changed", N, "share: 30}", "share: 40}"),
    line("status-changed", W, "status: in-use", "status: draft"),
    line("status-changed", E, "status: draft", "status: in-use", ("status: in-use", "status: draft")),
    line("withdrawn", W, "status: in-use", "status: withdrawn\nwithdrawn: {on: 2026-01-02, why: It was wrong.}"),
    line("withdrawal-changed", W, "why: It was wrong.", "why: It was wet.", ("status: in-use", "status: withdrawn\nwithdrawn: {on: 2026-01-02, why: It was wrong.}")),  # noqa: E501
    file("tree-gone", E, SUPPLY, "x", None),
    file("tree-added", E, "trees/supply-new.yml", "", NEW_TREE),
    file("tree-added", W, "trees/supply-new.yml", "", NEW_TREE.replace("status: in-use", "status: draft")),
    # what trees share
    file("safety-rule-gone", E, SAFE, SAFETY[SAFETY.index("calls:") :], ""),
    file("safety-rule-weakened", E, SAFE, "then: [clamp, pump-starts]", "then: [clamp]"),
    file("safety-rule-strengthened", N, SAFE, "by: [call, look-first]", "by: [call]"),
    file("safety-rule-reworded", W, SAFE, "The patient is looked at first.", "First the patient is looked at."),
    file("safety-rule-reason", N, SAFE, "A clamp is no remedy.", "A clamp mends nothing."),
    file("safety-rule-added", N, SAFE, "look-before-all:", SAFETY[SAFETY.index("calls:") :].replace("calls:", "more:") + "look-before-all:"),  # noqa: E501
    file("mark-gone", E, MARKED, "clamp: {say: The line is clamped., step_words: [clamp the line]}\n", ""),
    file("mark-weakened", E, MARKED, ", step_words: [clamp the line]", ""),
    file("mark-changed", N, MARKED, "The line is clamped.", "Somebody clamps the line."),
    file("mark-added", N, MARKED, "clamp:", "dry: {say: It is dry.}\nclamp:"),
    file("setting-changed", E, SETTINGS, "    value: 15\n", "    value: 12\n"),
    file("setting-changed", N, SETTINGS, "value: 7", "value: 8", ("values:\n", "values:\n  spare: {say: Spare, value: 7, unit: min, status: common practice, by: lead (fictional), on: 2026-01-02}\n")),  # noqa: E501
    file("setting-gone", E, SETTINGS, "  call_by: {say: The longest time alone, value: 5, unit: min, status: common practice, by: lead (fictional), on: 2026-01-02}\n", ""),  # noqa: E501
    file("setting-gone", N, SETTINGS, "  spare: {say: Spare, value: 7, unit: min, status: common practice, by: lead (fictional), on: 2026-01-02}\n", "", ("values:\n", "values:\n  spare: {say: Spare, value: 7, unit: min, status: common practice, by: lead (fictional), on: 2026-01-02}\n")),  # noqa: E501
    file("setting-added", N, SETTINGS, "values:\n", "values:\n  spare: {say: Spare, value: 7, unit: min, status: common practice, by: lead (fictional), on: 2026-01-02}\n"),  # noqa: E501
    file("setting-note", N, SETTINGS, "say: The longest rest", "say: The rest"),
    file("setting-note", W, SETTINGS, "    unit: min\n    status: read", "    unit: min\n    range: [5, 20]\n    range_from: common practice, no source\n    status: read"),  # noqa: E501
    file("role-gone", E, SETTINGS, '  doctor-on-call: {say: doctor on call, phone: "5 0002", fictional: "yes"}\n', ""),
    file("role-changed", E, SETTINGS, 'phone: "5 0002"', 'phone: "5 0003"'),
    file("role-added", N, SETTINGS, "roles:\n", 'roles:\n  guard: {say: guard, phone: "5 0009", fictional: "yes"}\n'),
    file("reviewers-changed", W, SETTINGS, "values:\n", "reviewers: [lead specialist]\nvalues:\n"),
    file("caution-gone", W, CAUTIONS, "patient-first:\n  say: Look at the patient before the machine.\n  why: The danger is in the patient.\n", ""),  # noqa: E501
    file("caution-added", N, CAUTIONS, "patient-first:", "dry:\n  say: Keep it dry.\npatient-first:"),
    file("caution-reworded", W, CAUTIONS, "do not restart; call", "do not restart, and call"),
    file("caution-reworded", N, CAUTIONS, "the machine", "The machine"),
    file("caution-reason", N, CAUTIONS, "why: The danger is in the patient.", "why: So it is."),
    file("words-changed", N, WORDS, "goes back and forth", "moves"),
    file("words-changed", W, WORDS, "goes back and forth", "never goes back and forth"),
    file("article-added", E, "kb/other.md", "", "---\ntitle: Other\ndescription: Other.\npart: start\ntasks: [connect]\ntrees: []\nreview: {by: lead, on: 2026-01-02, next: 2999-01-02}\n---\n# Other\n"),  # noqa: E501
    file("article-gone", W, ARTICLE, "", None),
    file("article-changed", N, ARTICLE, "sources: [doe-2001, common-practice]", "sources: [doe-2001]"),
    file("article-changed", W, ARTICLE, "cautions: [patient-first, rest-is-short]", "cautions: [patient-first]"),
    file("passage-reworded", W, ARTICLE, "1. Push the plug home.", "1. Press the plug home."),
    file("passage-reworded", N, ARTICLE, "- [ ] A dry plug", "- A dry plug"),
    file("passage-moved", W, ARTICLE, "1. One.\n2. Two.\n", "1. Two.\n2. One.\n", ("## Why\n\n", "## Why\n\n1. One.\n2. Two.\n\n")),  # noqa: E501
    file("passage-added", W, ARTICLE, "1. Push the plug home.\n", "1. Push the plug home.\n2. Look at it.\n"),
    file("passage-added", E, ARTICLE, "1. Push the plug home.\n", "1. Push the plug home.\n2. Never look away.\n"),
    file("passage-gone", W, ARTICLE, "1. Push the plug home.\n", ""),
    file("passage-gone", E, ARTICLE, "2. Never pull.\n", "", ("1. Push the plug home.\n", "1. Push the plug home.\n2. Never pull.\n")),  # noqa: E501
    file("calculator-added", E, SUM, "", BOTTLES),
    file("calculator-gone", W, SUM, "", None, ("", BOTTLES)),
    file("formula-changed", E, SUM, "bottles * each", "bottles + each", ("", BOTTLES)),
    file("calculator-reworded", W, SUM, "A bottle that leaks.", "A bottle with a hole.", ("", BOTTLES)),
    file("calculator-reworded", N, SUM, "Full bottles.", "full bottles.", ("", BOTTLES)),
    file("calculator-changed", N, SUM, "sign: n", "sign: m", ("", BOTTLES)),
    file("synonyms-changed", N, "kb/synonyms.yml", "hose, tube", "hose, pipe", ("", "same: {hose: [hose, tube]}\n")),
    file("waveforms-changed", N, TRACES, "A weak heart", "A tired heart", ("", SCENES)),
    file("waveforms-changed", W, TRACES, "ejects more", "ejects less", ("", SCENES)),
    file("practice-changed", N, "kb/practice.yml", "A man", "A young man", ("", STORIES)),
    file("practice-changed", W, "kb/practice.yml", "since an", "without an", ("", STORIES)),
    file("hazards-changed", N, "kb/hazards.yml", "", HAZARDS),
    file("hazards-changed", W, "kb/hazards.yml", "given: {none: It makes no difference.}", "given: {none: It may do.}", ("", HAZARDS)),  # noqa: E501
    Case("story-fails", E, (Text(LINE, "say: It stands still", "say: It rests"),), (Text(BEDSIDES, "", STILL),)),
    Case("story-led-otherwise", W, (Text(LINE, "plug home", "plug right home"),), (Text(BEDSIDES, "", STILL),)),
    file("stories-changed", N, BEDSIDES, "", STORY),
    file("stories-changed", W, BEDSIDES, "end: {call: doctor-on-call}", "end: resolved", ("", STORY)),
    file("picture-redrawn", W, PLUG, "M9 9h99", "M9 9v99", ("", DRAWN)),
    file("direction-turned", E, PLUG, "to the left", "to the right", ("", DRAWN)),
    file("pictures-changed", N, PLUG, "", DRAWN),
    file("pictures-changed", N, PLUG, "", None, ("", DRAWN)),
    file("safety-rule-weakened", E, SAFE, "within: 10 s", "within: 5 min", (BY, f"{BY[:-1]}, within: 10 s}}")),
    file("safety-rule-strengthened", N, SAFE, "within: 10 s", "within: 5 s", (BY, f"{BY[:-1]}, within: 10 s}}")),
    file("setting-note", N, SETTINGS, "say: Testfield", "say: Little Testfield"),
    file("learning-changed", N, "kb/learning.yml", "First day", "First hours", ("", PATH)),
    file("changes-changed", N, "kb/changes.yml", "", "line-open: [{on: 2026-01-03, say: Asks for the plug.}]\n"),
    file("stray-changed", N, "kb/odd.yml", "", "{}\n"),
]  # fmt: skip


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Callable[[tuple[Text, ...]], Library]:
    """The small library with marks and safety rules, and with some edits; each is read once."""
    base = tmp_path_factory.mktemp("kinds") / "base"
    shutil.copytree(HERE / "small-library", base)
    (base / "kb" / "marks.yml").write_text(MARKS, "utf-8")
    (base / "kb" / "safety.yml").write_text(SAFETY, "utf-8")
    Text(LINE, "    why: The danger is in the patient.\n", "    marks: [look-first]\n").made(base)
    known: dict[tuple[Text, ...], Library] = {}

    def read(edits: tuple[Text, ...]) -> Library:
        if edits not in known:
            root = base.with_name("edited")
            shutil.copytree(base, root)
            for edit in edits:
                edit.made(root)
            known[edits] = open_library(root)
            shutil.rmtree(root)
        return known[edits]

    return read


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.kind}-{case.weight}")
def test_an_edit_gives_its_kind(case: Case, library: Callable[[tuple[Text, ...]], Library]) -> None:
    changes = compare_libraries(library(case.first), library((*case.first, *case.edits))).changes
    assert (case.kind, case.weight) in [(change.kind, change.weight) for change in changes]
    assert "unexplained" not in [change.kind for change in changes]
    heads = {change.fingerprint for change in changes if change.follows is None}
    assert all(change.follows in heads for change in changes if change.follows is not None)


def test_many_steps_that_come_or_go_are_told_in_one_sentence() -> None:
    old, new = large_doc(80), large_doc(80)
    new["nodes"]["s1"]["answers"] = [{"say": answer["say"], "to": "s57"} for answer in new["nodes"]["s1"]["answers"]]
    assert ("steps-changed", W) in _told(list(compared(old, new).changes))


def test_versions_with_little_in_common_are_rewritten(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("alarmtrees.compare.ways.STATES_A_STEP", 0)
    monkeypatch.setattr("alarmtrees.compare.ways.STATES_AT_LEAST", 9)
    old, new = large_doc(80), large_doc(80)
    new["nodes"]["s1"]["answers"][0]["to"] = "s57"
    assert ("rewritten", E) in _told(list(compared(old, new).changes))


def test_what_no_finding_names_is_unexplained(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("alarmtrees.compare.trees.edits", lambda matching, ways: ())
    old, new = large_doc(80), large_doc(80)
    new["nodes"]["s2"]["do"] = ["Do something else."]
    assert _told(list(compared(old, new).changes)) == {("unexplained", E)}


def _told(changes: list[Change]) -> set[tuple[str, Weight]]:
    return {(change.kind, change.weight) for change in changes}


def test_each_kind_is_shown_with_each_weight_it_may_have() -> None:
    shown = {(case.kind, case.weight) for case in CASES}
    shown |= {("steps-changed", W), ("rewritten", E), ("unexplained", E)}  # by the tests above
    shown.add(("approvals-changed", W))  # beside the library, so by the tests of approvals
    known = {(kind.id, kind.weight) for kind in KINDS.values()}
    known |= {(kind.id, kind.also[0]) for kind in KINDS.values() if kind.also}
    assert known - shown == set() and shown - known == set()
