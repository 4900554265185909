"""Which words tell an act: two lists made before the table, and the grammar by itself."""

from __future__ import annotations

import hashlib
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarmtrees.check.rules.base import View
from alarmtrees.model import DERIVED_MARKS, Library
from alarmtrees.proof.acts import Grammar, Told, told_in
from alarmtrees.proof.acts.object import Part
from alarmtrees.reading.facts import fitting_acts
from alarmtrees.reading.load import parse
from alarmtrees.reading.schema import problems
from small_library import shipped_library

LISTS = Path(__file__).parent / "acts"


def lines_of(name: str) -> list[str]:
    text = (LISTS / f"{name}.txt").read_text("utf-8")
    return [line for line in text.splitlines() if line and not line.startswith("#")]


DANGEROUS = [
    (set(marks.split(", ")), line) for marks, _, line in (one.partition(" | ") for one in lines_of("dangerous"))
]
HARMLESS = lines_of("harmless")


def is_held_out(line: str) -> bool:
    """A third of each list, by its hash: the table was made without a look at these."""
    return int(hashlib.sha256(line.encode()).hexdigest(), 16) % 3 == 0


@cache
def library() -> Library:
    return shipped_library()


@cache
def grammar() -> Grammar:
    return Grammar(library().acts)


def told(*lines: str) -> list[Told]:
    return [one for _, one in told_in(grammar(), lines)]


def marks_of(line: str) -> set[str]:
    return {mark for one in told(line) if one.act for mark in one.act.marks}


# ---------------------------------------------------------------------- the two lists


def test_the_lists_are_long_and_say_nothing_twice() -> None:
    texts = [line for _, line in DANGEROUS]
    assert len(set(texts)) == len(texts) >= 120 and len(set(HARMLESS)) == len(HARMLESS) >= 150
    assert {mark for marks, _ in DANGEROUS for mark in marks} - {"?"} <= set(library().marks) | set(DERIVED_MARKS)


def test_dangerous_lines_are_found() -> None:
    """All of those that were looked at, and 95 in 100 of the others."""
    missed = [line for _, line in DANGEROUS if not told(line)]
    assert [line for line in missed if not is_held_out(line)] == []
    held = [line for _, line in DANGEROUS if is_held_out(line)]
    assert len(missed) <= 0.05 * len(held), missed


def test_dangerous_lines_demand_the_mark_that_is_meant() -> None:
    other = [line for marks, line in DANGEROUS if marks != {"?"} and not marks & marks_of(line)]
    assert [line for line in other if not is_held_out(line)] == []
    assert len(other) <= 0.05 * sum(is_held_out(line) for _, line in DANGEROUS), other


def test_harmless_lines_demand_nothing() -> None:
    assert [line for line in HARMLESS if told(line)] == []


@pytest.mark.parametrize("act", sorted(library().acts.acts))
def test_each_act_has_a_line_that_tells_it(act: str) -> None:
    assert any(one.act and one.act.id == act for _, line in DANGEROUS for one in told(line))


@pytest.mark.parametrize("act", sorted(library().acts.acts))
def test_each_act_has_a_harmless_line_with_its_thing(act: str) -> None:
    """The same thing, looked at, spoken of or forbidden: what tells the act is the verb, not the noun."""
    ways = library().acts.acts[act].ways
    names = {name for way in ways for part in re.findall(r"\{(.*?)\}", way) for name in part.split("|")}
    nouns = [phrase for name in names for phrase in library().acts.things.get(name, ())]
    held = [line for line in HARMLESS for noun in nouns if re.search(rf"\b{re.escape(noun)}s?\b", line.casefold())]
    assert held


def test_each_demanded_mark_has_a_line() -> None:
    demanded = {mark for act in library().acts.acts.values() for mark in act.marks}
    assert demanded - {mark for _, line in DANGEROUS for mark in marks_of(line)} == set()


# ---------------------------------------------------------------------- the shipped trees


def test_no_shipped_step_tells_an_act_without_its_mark() -> None:
    """`check` says so of the library; here each mark that was given for an act is taken away, and is missed."""
    view = View(library(), None, None)  # type: ignore[arg-type]
    seen = 0
    for tree in library().trees.values():
        for node in tree.nodes.values():
            for text in view.told(node):
                act = text.told.act
                fitting = (*act.marks, *act.told) if act else ()
                assert act is None or not node.marks.isdisjoint(fitting), (tree.id, node.id, text.told.words)
                seen += act is not None
    assert seen > 250


# ---------------------------------------------------------------------- the grammar

ARTICLES = re.compile(r"\b(?:the|a|an) ", re.IGNORECASE)


@given(st.sampled_from([line for _, line in DANGEROUS] + HARMLESS), st.randoms(use_true_random=False))
def test_case_and_articles_make_no_difference(line: str, random) -> None:
    """Casing, and articles left out before a noun."""
    fewer = ARTICLES.sub(lambda match: match.group() if random.random() < 0.5 else "", line)
    cased = "".join(letter.upper() if random.random() < 0.5 else letter.lower() for letter in fewer)
    assert bool(told(cased)) == bool(told(line))
    assert {one.act and one.act.id for one in told(line.upper())} == {one.act and one.act.id for one in told(line)}


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("Centre the catheter.", "Center the catheter."),
        ("Heparinise the patient.", "Heparinize the patient."),
        ("Anaesthetise the patient.", "Anesthetize the patient."),
        ("Re-start the pump.", "Restart the pump."),
        ("Put the pump on stand-by.", "Put the pump on standby."),
        ("Clamp the gas lines.", "Clamp the gas line."),
        ("Try stopping the pump.", "Try to stop the pump."),
    ],
)
def test_spellings_and_forms_are_alike(one: str, other: str) -> None:
    assert marks_of(one) == marks_of(other) != set()


@pytest.mark.parametrize(
    ("lines", "act"),
    [
        (("Look at the gas line.", "Clamp it."), "clamp"),
        (("Watch the pump; then stop it.",), "stop"),
        (("Start it once.",), "start"),
        (("Feel the pulse.", "Put it on hold."), "stop"),
    ],
)
def test_it_means_what_was_named_last_or_else_the_pump(lines: tuple[str, ...], act: str) -> None:
    assert act in [one.act and one.act.id for one in told(*lines)]


def test_it_means_nothing_that_the_pump_is_not_where_the_noun_is_unknown() -> None:
    assert not told("Take hold of the sleeve, and push it home.")


@pytest.mark.parametrize(
    ("forbidden", "told_on"),
    [
        ("Do not wait, restart the pump.", "Do not stop, flush or pull the catheter."),
        ("Never flush the line, but stop the pump.", "Never flush the line or stop the pump."),
        ("Do not hesitate to restart the pump.", "Do not restart the pump."),
        ("If it is dry, restart the pump.", "If somebody restarts the pump, call."),
        ("Have somebody stop the pump.", "Have the doctor stop the pump."),
        ("The line must be clamped.", "The line must not be clamped."),
        ("Clear it by pressing the key.", "Without pressing the key, look."),
        ("Pump off.", "Pump off: call."),
        ("Head up.", "Head up is too high."),
        ("The pump may now be restarted.", "The line may be kinked."),
        ("The patient is to be turned.", "The patient is turned."),
        ("The second person clamps the line.", "The second person watches the line."),
        ("Somebody has to clamp the line.", "Somebody has to call."),
        ("Best is to restart the pump.", "Best is to wait for the pump."),
        ("Restarting the pump helps.", "Restarting the pump helps nobody."),
        ("A short flush helps.", "A short flush is seen."),
        ("Every five minutes, fill the balloon.", "Every five minutes, look at the balloon."),
        ("The line is dry, then restart the pump.", "The line is dry, then watch the pump."),
        ("Fetch the syringe and lay it on the pump.", "Fetch the syringe and lay it on the table."),
        ("Lay the syringe on the pump.", "Lay the syringe ready."),
        ("Disconnect the blower.", "Disconnect the phone."),
        ("Switch the blower off.", "Switch the lamp off."),
        ("Step it down to 1:4.", "Next step, look at 1:4."),
        ("Squeeze the flush bag.", "Flush bag is empty."),
        ("Move the line round the leg.", "Look at the line round the leg."),
    ],
)
def test_acts_and_what_only_looks_like_them(forbidden: str, told_on: str) -> None:
    assert told(forbidden) and not told(told_on)


def test_the_words_are_quoted_as_they_stand() -> None:
    assert [one.words for one in told("Then Re-Start the Pump, once.")] == ["re-start the pump"] or [
        one.words for one in told("Then Restart the Pump, once.")
    ] == ["Restart the Pump"]


@given(st.text(alphabet=st.sampled_from("the pump stop never if , . : {a} it and to by İß’'-1:2 \n"), max_size=60))
def test_any_text_is_read(text: str) -> None:
    told(text)


def test_a_long_line_is_read_in_looks_at_words_that_grow_with_its_length(monkeypatch: pytest.MonkeyPatch) -> None:
    """Counted, for a clock says little on a busy machine."""
    looks = 0
    is_in = Part.is_in

    def counted(part: Part, at: int, kind: str) -> bool:
        nonlocal looks
        looks += 1
        return is_in(part, at, kind)

    monkeypatch.setattr(Part, "is_in", counted)
    counts = []
    for times in (100, 200, 400):
        looks = 0
        for unit in (
            "stop the pump and ",
            "if dry, ",
            "never stop or ",
            "to stop it by pressing ",
            "stop it. ",
            "x ",
            "pump and ",
            "put it, ",
        ):
            told(unit * times)
        counts.append(looks)
    assert counts[1] < 2.3 * counts[0] and counts[2] < 2.3 * counts[1], counts


# ---------------------------------------------------------------------- the table


def test_without_a_table_nothing_is_told() -> None:
    empty = Grammar(replace(library().acts, acts={}))
    assert told_in(empty, ["Restart the pump."]) == []


def test_ways_that_speak_of_things_without_a_name_are_named() -> None:
    text = "acts:\n  a: {say: A., about: pump, marks: [b], ways: ['stop {pmp}']}\nthings: {pump: [pump]}\nwords: {}\n"
    source = fitting_acts(parse(text, "kb/acts.yml", "acts", "acts"))
    assert source is not None
    (found,) = source.problems
    assert found.message == "`things` hold no `pmp`, so this way would find nothing; did you mean `pump`?"


@pytest.mark.parametrize("way", ["Stop {pump}", "stop {pump", "stop|{pump}", "{pump} stop", "stop pump!"])
def test_a_way_that_is_none_is_refused(way: str) -> None:
    text = f"acts:\n  a: {{say: A., about: pump, marks: [b], ways: ['{way}']}}\nthings: {{pump: [pump]}}\nwords: {{}}\n"
    (found,) = problems(parse(text, "kb/acts.yml", "acts", "acts"))
    assert found.message == f"“{' '.join(way.split())}” is not verbs and what follows, as `turn|switch {{pump}} off`"
