"""The shipped calculators: their entries, what they refuse, their plans, the command line, and their pages."""

from __future__ import annotations

import itertools
import json
import math
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from alarmtrees.calc import trial
from alarmtrees.calc.compute import compute
from alarmtrees.calc.entry import EntryError, clock, duration, read, rounded, shown
from alarmtrees.calc.units import UnitError, unit
from alarmtrees.model import Library
from alarmtrees.site.knowledge import trace_scenes
from alarmtrees.site.knowledge.calculator import calculator_page, calculators_pages
from alarmtrees.terminal.cli import main
from calculators import shipped, value, worked
from cases.bundle import REPO, write_library
from circulation.scene import Scene
from small_library import shipped_library

ALL = sorted(shipped())
WANTED = {  # weaning as two, and gas left and gas use on one page: the rate is of use only with what is left
    "gas-use",
    "planned-hold",
    "platelet-fall",
    "transducer-height",
    "urine-by-weight",
    "weaning-stops",
    "gas-left",
    "altitude",
    "timing",
    "five-pressures",
    "transport-reserve",
    "weaning-plan-ratio",
    "weaning-plan-volume",
    "alarm-limit",
}
NUMBERS = [
    (key, name) for key, one in shipped().items() for name, field in one.fields.items() if field.kind == "number"
]


def test_all_are_there_without_a_fault() -> None:
    assert set(ALL) == WANTED
    for formula in shipped().values():
        assert formula.faults == () and list(trial.faults(formula)) == []
        assert any(case.gives and case.sources for case in formula.checks), formula.calculator.id


def test_nothing_of_a_patient_is_filled_in_before() -> None:
    """What stands in a field at first is the hospital's, or an assumption about room and plan."""
    filled = {(key, name) for key, one in shipped().items() for name, field in one.fields.items() if field.default}
    assert filled == {
        *(("gas-left", name) for name in ("cylinder", "temperature", "refill", "interval", "extra")),
        ("altitude", "ground"),
        ("gas-use", "days"),
        ("transport-reserve", "spare"),
    }


# ---------------------------------------------------------------------- entries


@pytest.mark.parametrize(
    ("entered", "words"),
    [
        ("", "Nothing is filled in"),
        ("   ", "Nothing is filled in"),
        ("1,5", "Write a point, not a comma"),
        ("1,000", "Write a point, not a comma"),
        ("abc", "This is no number"),
        ("1e3", "This is no number"),
        ("0x10", "This is no number"),
        ("1.", "This is no number"),
        (".5", "This is no number"),
        ("1 2", "This is no number"),
        ("inf", "This is no number"),
        ("nan", "This is no number"),
        ("１２", "This is no number"),
        ("--1", "This is no number"),
        ("<b>1</b>", "This is no number"),
        ("99999999999999999999", "This is no number"),
        ("-100000", ("A value below zero", "This is too low")),
        ("\u2212100000", ("A value below zero", "This is too low")),
        ("999999", "This is too high"),
    ],
)
@pytest.mark.parametrize(("calculator", "name"), NUMBERS)
def test_an_entry_that_is_no_number_of_the_range_gets_clear_words(calculator, name, entered, words) -> None:
    field = shipped()[calculator].fields[name]
    for one in field.units:
        with pytest.raises(EntryError) as refused:
            read(entered, field, one)
        assert str(refused.value).startswith(words)


@pytest.mark.parametrize(("calculator", "name"), NUMBERS)
def test_both_edges_of_a_range_are_in_it_in_every_unit(calculator: str, name: str) -> None:
    field = shipped()[calculator].fields[name]
    for one in field.units:
        for edge in (field.low, field.high):
            typed = f"{one.from_si(field.units[0].to_si(edge)):.10f}"
            assert read(typed, field, one) == pytest.approx(field.units[0].to_si(edge), rel=1e-8, abs=1e-9)


def test_choices_and_times_of_day() -> None:
    fields = shipped()["weaning-plan-ratio"].fields
    assert read("yes", fields["third"]) is True and read("NO", fields["third"]) is False
    assert [read(typed, fields["start"]) for typed in ("8:05", "08:05", "0805")] == [485, 485, 485]
    assert read("2359", fields["start"]) == 1439 and read("23:59", fields["start"]) == 1439
    for typed in ("", "8", "830", "2400", "08:300", "24:00", "8.30", "8:5", "8:60", "-1:00", "noon"):
        with pytest.raises(EntryError, match="no time of day"):
            read(typed, fields["start"])
    for typed in ("", "maybe"):
        with pytest.raises(EntryError):
            read(typed, fields["third"])


def test_what_needs_one_entry_alone_is_said_with_that_one() -> None:
    limit, five = shipped()["alarm-limit"], shipped()["five-pressures"]
    assert [limit.refuse[at].say for at in compute(limit, {"worse": True}).refuse] == [limit.refuse[0].say]
    assert compute(limit, {"worse": False}).refuse == () and not compute(limit, {"worse": False}).sound
    told = compute(five, {"begins": "before"}).reads
    assert len(told) == 1 and "Call the specialist now" in five.reads[told[0]].say
    # By way of a step: the fall of the end-diastolic pressure needs two readings.
    assert compute(five, {"own_low": 0.0}).reads == ()
    low = compute(five, {"own_low": 50 * 133.322, "helped_low": 60 * 133.322}).reads
    assert ["Look at the gas line" in five.reads[at].say for at in low] == [True]


def test_an_edge_that_was_turned_into_another_unit_is_still_the_edge() -> None:
    """20 bar is refused as 290.0755 psi as well (1 psi is 6,894.757 Pa)."""
    formula = shipped()["gas-left"]
    field = formula.fields["pressure"]
    assert read("290.07547546", field, field.units[1]) == pytest.approx(20e5, rel=1e-9)
    assert worked("gas-left", pressure=20).refuse and not worked("gas-left", pressure="20.001").refuse


@pytest.mark.parametrize(
    ("text", "factor", "offset"),
    [
        ("mL", 1e-6, 0),
        ("bar", 1e5, 0),
        ("%", 0.01, 0),
        ("/min", 1 / 60, 0),
        ("ft", 0.3048, 0),
        ("mmHg", 133.322387415, 0),  # SI, conventional millimetre of mercury
        ("psi", 6894.757293168, 0),
        ("°C", 1, 273.15),
        ("°F", 5 / 9, 255.3722222222),
        ("ms min", 0.06, 0),
        ("cm3/mol", 1e-6, 0),
        ("J/(mol K)", 1, 0),
        ("none", 1, 0),
    ],
)
def test_units(text: str, factor: float, offset: float) -> None:
    assert unit(text).factor == pytest.approx(factor, rel=1e-10)
    assert unit(text).offset == pytest.approx(offset, rel=1e-10)


@pytest.mark.parametrize(
    "text", ["", " ", "bars", "L/L/L", "(L)", "L/(", "°C/min", "__import__", "L*2", "2", "/", "µL"]
)
def test_what_is_no_unit(text: str) -> None:
    with pytest.raises(UnitError):
        unit(text)


def test_rounding_never_loses_a_whole_number_to_the_last_bits() -> None:
    step = shipped()["gas-left"].steps["hours"]
    assert rounded(step, 24 * 3600 * (1 - 1e-15)) == 24 and rounded(step, 23.99 * 3600) == 23
    near = replace(step, down=False, digits=1)
    assert [rounded(near, hours * 3600) for hours in (0.25, 0.35, -0.25, 2.449)] == [0.3, 0.4, -0.2, 2.4]
    assert shown(near, -0.01 * 3600) == "0.0\u00a0h" and shown(near, -3600) == "\u22121.0\u00a0h"


def test_times_of_day_go_past_midnight() -> None:
    assert (clock(22 * 60 + 30, 0), clock(22 * 60 + 30, 5400)) == ("22:30", "00:00 (day 2)")
    assert clock(0, 49 * 3600) == "01:00 (day 3)"
    # A deadline is never told too late: 14:34:54 is 14:34.
    assert clock(14 * 60 + 20, 894) == "14:34" and duration(894) == "14\u00a0min"
    assert clock(0.1 * 3, 60 * (1 - 0.3)) == "00:01"
    assert [duration(seconds) for seconds in (0, 900, 7200, 8100)] == [
        "0\u00a0min",
        "15\u00a0min",
        "2\u00a0h",
        "2\u00a0h 15\u00a0min",
    ]


# ---------------------------------------------------------------------- what they say and refuse


def test_the_alarm_limit_is_refused_while_an_alarm_sounds_or_the_patient_is_worse() -> None:
    say = {index: line.say for index, line in enumerate(shipped()["alarm-limit"].refuse)}
    for given, words in (
        ({"sounding": "yes"}, "An alarm sounds"),
        ({"worse": "yes"}, "The patient is worse"),
        ({"ordered": "no"}, "Nobody has agreed"),
        ({"agreed": 110, "now": 100}, "already at or below"),
        ({"agreed": 110, "now": 60}, "already at or below"),
    ):
        refused = worked("alarm-limit", **given).refuse
        assert [say[index].startswith(words) or words in say[index] for index in refused] == [True], given


def test_the_alarm_limit_never_follows_a_falling_peak() -> None:
    """Whatever the peak is now, the limit is that of the agreed one, or there is none."""
    for now in range(101, 140):
        result = worked("alarm-limit", agreed=110, now=now)
        assert not result.refuse
        assert value("alarm-limit", "limit", agreed=110, now=now) == pytest.approx(100)
        assert bool(result.warn) == (now < 110 or now > 120)


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, ["clear no timing"]),
        ({"helped_low": 66, "helped_peak": 104}, ["too late, which harms, cannot be excluded"]),
        ({"helped_low": 66}, ["too late, which harms, cannot be excluded", "call the specialist now"]),
        ({"helped_low": 60, "helped_peak": 100}, ["too early or too late"]),
        ({"helped_low": 59, "helped_peak": 96}, ["does not fall by more than a reading may err"]),
        ({"own_peak": 110, "helped_peak": 112}, ["not lowered by more than a reading may err"]),
        ({"augmented": 97}, ["not above the heart's own"]),
        ({"augmented": 112, "helped_peak": 118}, ["not above the assisted systolic pressure"]),
        ({"helped_peak": 103}, ["may be chance"]),
        ({"begins": "before"}, ["fill too early", "Call the specialist now"]),
        ({"begins": "after"}, ["fill too late"]),
        ({"valley": "wide"}, ["empty too early"]),
        ({"valley": "broad"}, ["empty too late", "gas line"]),
        ({"valley": "unclear"}, ["say nothing on timing"]),
        ({"corners": "round"}, ["nobody judges timing"]),
        ({"corners": "ringing"}, ["excellent help", "move nothing"]),
        ({"last_own_low": 62, "last_helped_low": 49}, ["Something has changed", "falls less"]),
        ({"last_own_low": 62, "last_helped_low": 59}, ["falls more", "Look where the rise begins"]),
        ({"last_own_peak": 100, "last_augmented": 124}, ["stands less high", "gas line"]),
        ({"last_own_peak": 104, "last_helped_peak": 94}, ["lowered less"]),
        ({"last_own_peak": 112}, ["Look at the patient first"]),
    ],
)
def test_what_five_pressures_suggest(given: dict[str, object], words: list[str]) -> None:
    told = five_pressures_say(**given)
    assert all(word in told for word in words)
    assert "cannot show filling that is too early" in told  # always said
    assert "clear no timing" in told
    assert not PRAISE.search(told)
    assert "is the highest" not in told


def test_a_damped_or_ringing_trace_is_not_compared_and_a_call_for_harm_stays() -> None:
    """Only a sharp trace is judged by its numbers; what may harm cannot be excluded on any."""
    last = {"last_own_low": 62, "last_helped_low": 40, "last_own_peak": 100, "last_augmented": 140}
    for corners in ("round", "ringing", "unclear"):
        told = five_pressures_say(corners=corners, **last)
        assert "last reading" not in told and "stands less high" not in told, corners
        assert "call the specialist now" in five_pressures_say(corners=corners, helped_low=66)
    assert "than at the last reading" in five_pressures_say(**last)


PRAISE = re.compile(r"no error|looks? right|as it should|well timed|as expected")
"""What no reading may be told: the five pressures cannot know it."""

SIGNS = {
    "notch-hidden": {"begins": "before"},
    "notch-free": {"begins": "after"},
    "hollow": {"valley": "wide"},
    "hump-broad": {"valley": "broad"},
    "rounded": {"corners": "round"},
}
"""What somebody who sees a sign of a trace answers to the questions on its shape."""

HARMLESS = {
    "title",
    "say",
    "why",
    "balloon",
    "beside",
    "trees",
    "causes",
    "seen",
    "sources",
    "rate",
    "resistance",
    "size",
}
"""What a trace may say without being wrong in timing, gas or line."""


RIGHT = {"notch-v", "peak-highest", "end-lower", "systole-lower"}
"""Signs of right timing: a step moved by so little that it shows no other is no fault."""


def five_of(library: Library, scene: Scene) -> dict[str, int]:
    """The five pressures of a trace as somebody types them; fewer where a trace has no such points."""
    five = trace_scenes.Played(Path(library.root) / trace_scenes.CACHE).strip(scene).five
    points = {
        "own_peak": five.unassisted_systole,
        "augmented": five.augmented,
        "helped_low": five.assisted_end,
        "helped_peak": five.assisted_systole,
        "own_low": five.unassisted_end,
    }
    return {key: round(point.pressure) for key, point in points.items() if point}


def faulty(library: Library) -> Iterator[tuple[str, dict[str, int], list[str], set[str]]]:
    """Each reading of the library with a fault: its name, its figures, the signs seen, and what is moved or broken."""
    for waveform in library.waveforms.values():
        if wrong := set(waveform.raw) - HARMLESS:
            signs = [sign for _, sign in waveform.seen]
            yield waveform.id, five_of(library, trace_scenes.scene_of(waveform.raw)), signs, wrong
    for series in library.waveform_series.values():
        usual = trace_scenes.scene_of(library.waveforms[series.of].raw)
        for step in series.steps:
            scene = trace_scenes.moved(usual, series.moves, step.by)
            if scene != usual and set(step.signs) - RIGHT:
                yield f"{series.id} {step.by}", five_of(library, scene), list(step.signs), {series.moves}


def test_each_faulty_reading_is_told_to_who_names_its_signs() -> None:
    """Each fault of the library whose signs the questions ask for gets a line of its own, and none is ever cleared."""
    library, formula = shipped_library(), shipped()["five-pressures"]
    always = {len(formula.reads) - 1} | {at for at, line in enumerate(formula.reads) if "No earlier fall" in line.say}
    count = 0
    for name, five, signs, _ in faulty(library):
        seen = {key: said for sign in signs for key, said in SIGNS.get(sign, {}).items()}
        if len(five) < 5 or not seen:
            continue
        count += 1
        result = worked("five-pressures", **five, **seen)
        assert result.refuse or set(result.reads) - always, (name, seen)
    assert count >= 10


MISCOUNTED = ("fixed-rate-beating", "t-waves-counted", "demand-by-spikes", "both-by-spikes")


def test_beats_that_are_counted_wrongly_are_never_called_right() -> None:
    """The figures that such a trace gives at 1:2, where five pressures are read, and a reader who saw no sign of it."""
    library, fed = shipped_library(), 0
    for name in MISCOUNTED:
        scene = replace(trace_scenes.scene_of(library.waveforms[name].raw), every=2)
        five = five_of(library, scene)
        if len(five) == 5:
            fed += 1
            told = five_pressures_say(**five)
            assert "clear no timing" in told and not PRAISE.search(told), (name, told)
    assert fed >= 2


def five_pressures_say(**given: object) -> str:
    """All that the calculator reads out of these entries."""
    lines = shipped()["five-pressures"].reads
    return " ".join(lines[index].say for index in worked("five-pressures", **given).reads)


def test_a_peak_far_above_the_agreed_one_is_asked_about() -> None:
    """A limit from an agreed peak that no longer fits sounds late; a limit is still given, with a warning."""
    assert worked("alarm-limit", agreed=60, now=112).warn and not worked("alarm-limit", agreed=60, now=112).refuse
    assert not worked("alarm-limit", agreed=110, now=112).warn


def test_the_usual_height_of_a_cabin_is_not_called_too_high() -> None:
    """8,000 ft are 2,438.4 m (1 ft is 0.3048 m exactly)."""
    assert not worked("altitude", cabin=2438.4).warn and not worked("altitude", cabin=2439).warn
    assert worked("altitude", cabin=2600).warn


def test_no_word_gives_a_verdict_on_help() -> None:
    """Quaal 2001: augmented pressure is no measure of efficacy; the page suggests causes, and points to the patient."""
    text = Path(REPO / "kb/calculators/five-pressures.yml").read_text("utf-8").lower()
    assert not re.search(
        r"effective|efficacy\b(?!\])|works well|good augmentation|sufficient|adequate",
        text.replace("augmentation-is-not-efficacy", ""),
    )


def test_the_plan_by_volume_by_hand() -> None:
    """40 mL, a tenth less each hour down to a half, looks each quarter of an hour (the shipped settings)."""
    plan = shipped()["weaning-plan-volume"].plan
    assert plan
    steps = [
        (at / 3600, round(shows * 1e6, 6)) for _, at, shows in worked("weaning-plan-volume", full=40).plan if shows
    ]
    assert steps == [(0, 36), (1, 32), (2, 28), (3, 24), (4, 20), (5, 40)]
    looks = [at / 60 for index, at, _ in worked("weaning-plan-volume").plan if plan.rows[index].look]
    assert looks == [15 * k for k in range(1, 21)]


def test_the_plan_by_ratio_by_hand() -> None:
    for third, expected in (("yes", [(0, 50), (4, 33), (5, 100)]), ("no", [(0, 50), (4, 100)])):
        plan = worked("weaning-plan-ratio", third=third).plan
        assert [(at / 3600, round(shows * 100)) for _, at, shows in plan if shows] == expected


def test_what_may_stay_empty_gives_no_number_and_hides_none() -> None:
    formula = shipped()["five-pressures"]
    result = worked("five-pressures")
    assert result.sound and math.isnan(result.values["last_fall"])
    beside = worked("five-pressures", last_own_low=62, last_helped_low=49)
    assert beside.sound and value("five-pressures", "last_fall", last_own_low=62, last_helped_low=49) == pytest.approx(
        13
    )
    assert math.isnan(beside.values["last_rise"])
    # What must be there is still missed.
    assert not compute(formula, {"last_own_low": 62.0}).sound


def said(calculator: str, **given: object) -> str:
    """All that a calculator says of these entries: why not, warnings, readings, rows of its plan."""
    formula, result = shipped()[calculator], worked(calculator, **given)
    rows = [formula.plan.rows[index].say for index, _, _ in result.plan] if formula.plan else []
    lines = [formula.refuse[at].say for at in result.refuse]
    if not lines:
        lines = [*(formula.warn[at].say for at in result.warn), *(formula.reads[at].say for at in result.reads), *rows]
    return " ".join(lines)


GAS = {"first": 150, "first_at": "22:10", "second": 120, "second_at": "02:40", "mark": 5}


def test_two_readings_give_a_range_and_never_one_number() -> None:
    """By hand: 30 bar in 4 h 30 min, read to 5 bar, over midnight; 97.5 to 102.5 bar lie above the change."""
    assert value("gas-use", "time", **GAS) == pytest.approx(4.5)
    assert value("gas-use", "shortest", **GAS) == pytest.approx(97.5 / 35 * 4.5)
    assert value("gas-use", "longest", **GAS) == pytest.approx(102.5 / 25 * 4.5)
    for wrong in ({"second": 151}, {"second": 20}, {"second_at": "22:10"}, {"days": "0.5"}):
        assert worked("gas-use", **{**GAS, **wrong}).refuse, wrong


@pytest.mark.parametrize(
    ("given", "words", "never"),
    [
        # Ten minutes and a fall of one mark: up to 60 bar an hour, so no hours.
        ({"first_at": "22:00", "second": 145, "second_at": "22:10"}, "A fast leak cannot be ruled out", "every {round"),
        ({"first_at": "22:00", "second": 150, "second_at": "22:05"}, "Look along the gas line now", "every {round"),
        ({"second": 146}, "A fast leak cannot be ruled out", "every {round"),
        # Two days at a fine gauge and no fall: slower than planned for certain.
        ({"second": 150, "days": 2, "mark": 1}, "How long it lasts at the most cannot be told yet", "leak cannot be"),
        ({"second": 60, "first_at": "22:00", "second_at": "22:30"}, "Change the cylinder now", "every {round_every}"),
        ({}, "It empties faster than this hospital plans", "Change the cylinder now"),
        ({"days": 1}, "If only midnight lies between the two readings, write 0", "Change the cylinder now"),
        ({"second": 145, "ahead": 8}, "Whether it lasts so long cannot be told", "It may not last"),
    ],
)
def test_a_leak_is_never_ruled_out_by_readings_that_cannot_show_it(given, words: str, never: str) -> None:
    told = said("gas-use", **{**GAS, **given})
    assert words in told and never not in told
    if "cannot be ruled out" in words or "Look along the gas line now" in words:
        assert math.isnan(worked("gas-use", **{**GAS, **given}).values["shortest"])


def test_the_time_between_two_readings_is_said_back_first() -> None:
    first, beside = shipped()["gas-use"].outputs[:2]
    told = {**GAS, "first_at": "22:00", "second_at": "02:00"}
    assert first.beside == beside.id
    for days, hours in ((0, 4), (1, 28)):
        assert (value("gas-use", "apart", **told, days=days), value("gas-use", "apart_too", **told, days=days)) == (
            pytest.approx(hours),
            pytest.approx(0, abs=1e-9),
        )


def test_at_the_least_is_the_least_that_two_readings_allow() -> None:
    """Every true pair of pressures within half a mark of those read lasts between the two figures."""
    for error in itertools.product((-2.5, 0, 2.5), repeat=2):
        first, second = 150 + error[0], 120 + error[1]
        lasts = (second - 20) / (first - second) * 4.5
        assert value("gas-use", "shortest", **GAS) <= lasts * (1 + 1e-9)
        assert lasts <= value("gas-use", "longest", **GAS) * (1 + 1e-9)


def test_a_planned_hold_ends_before_the_warning_and_is_called_for_in_time() -> None:
    plan = shipped()["planned-hold"].plan
    assert plan and plan.counts and plan.counts.id == "resting_warning"
    told = [(round(at / 60), plan.rows[index].say[:14]) for index, at, _ in worked("planned-hold", length=3).plan]
    assert told == [(0, "The balloon st"), (3, "Planned end. L"), (5, "Still at rest:"), (15, "Still at rest:")]
    assert worked("planned-hold", length=6).warn and worked("planned-hold", length=15).refuse
    # A start that fails needs the time after which a call is repeated, 2 min.
    assert worked("planned-hold", length=13.1).refuse and not worked("planned-hold", length=13).refuse
    assert "watches pulse and mean" in plan.rows[0].say and "blood thinning" in said("planned-hold", length=3)


def test_stops_follow_the_order_then_the_stricter_of_two_local_values() -> None:
    """The shipped values: 65 mmHg, 2.2 L/min/m², a fifth."""
    assert value("weaning-stops", "stop_index", index=3) == pytest.approx(2.4)
    assert value("weaning-stops", "stop_index", index="2.5") == pytest.approx(2.2)
    assert value("weaning-stops", "stop_index", index=3, ordered_index=2) == pytest.approx(2)
    assert worked("weaning-stops", index=3, ordered_index=2).warn
    assert worked("weaning-stops", mean=64).refuse and worked("weaning-stops", index=2).refuse
    formula = shipped()["weaning-stops"]
    without = compute(formula, {"mean": 78 * 133.322387415})
    assert without.sound and math.isnan(without.values["stop_index"]) and without.warn


@pytest.mark.parametrize(
    ("given", "words", "never"),
    [
        ({"mean": 65}, "Do not begin", "Stop before any number"),
        ({"ordered_mean": 77}, "No room", "Stop before any number"),
        ({"mean": 60, "ordered_mean": 55}, "even if the order stops lower", "Stop before any number"),
        ({"index": 2, "ordered_index": 1.6}, "even if the order stops lower", "Stop before any number"),
        ({"ordered_mean": 60}, "Read it back", "Do not begin"),
        ({"index": "3.5", "ordered_index": "2.2"}, "lower than a fall by {wean_stop_fall}", "Do not begin"),
        ({"index": "3.5", "ordered_index": "2.8"}, "Stop before any number", "Read it back"),
        ({}, "Lactate: ____", "Do not begin"),
    ],
)
def test_no_weaning_begins_without_room_and_a_lower_order_is_read_back(given, words: str, never: str) -> None:
    told = said("weaning-stops", **{"index": "2.9", **given})
    assert words in told and never not in told


def test_an_order_below_what_any_hospital_may_set_is_not_taken() -> None:
    fields, settings = shipped()["weaning-stops"].fields, shipped_library().settings
    for name, setting in (("ordered_mean", "wean_stop_pressure"), ("ordered_index", "wean_stop_index")):
        assert settings[setting].range and fields[name].low == settings[setting].range[0]
    for name, typed in (("ordered_mean", "30"), ("ordered_index", "0.5")):
        with pytest.raises(EntryError, match="too low"):
            read(typed, fields[name])


def test_the_stops_of_the_plans_are_those_of_the_calculator() -> None:
    for key in ("weaning-plan-ratio", "weaning-plan-volume"):
        plan = shipped()[key].plan
        assert plan and any("lower than at full help, whichever comes first" in stop for stop in plan.stops), key


def test_a_count_at_the_limit_is_told_and_one_above_it_is_not() -> None:
    """180 less 30 % is 126."""
    assert value("platelet-fall", "call_at", before=180) == pytest.approx(126)
    assert worked("platelet-fall", before=180, now=126).warn and not worked("platelet-fall", before=180, now=127).warn
    assert worked("platelet-fall", before=180, now=90).warn != worked("platelet-fall", before=180, now=89).warn


LESS = "Less than the local value for a call"


@pytest.mark.parametrize(
    ("given", "words", "never"),
    [
        ({"before": 30, "highest": 30, "now": 22}, "A low count, whatever the fall", LESS),
        ({"before": 130, "highest": 130, "now": 100}, "A low count", LESS),
        ({"before": 240, "highest": 300, "now": 170}, "Fallen by {platelet_fall} or more", LESS),
        ({"before": 240, "now": 172}, "Nothing is cleared by the first count alone", LESS),
        ({"before": 240, "highest": 240, "now": 172}, LESS, "Tell the prescriber at once"),
        ({"before": 108, "now": 240}, "typed the other way round?", "No fall"),
        ({"before": 300, "highest": 310, "now": 108}, "more than half", LESS),
    ],
)
def test_platelets_are_cleared_by_no_first_count_and_no_low_one(given, words: str, never: str) -> None:
    told = said("platelet-fall", **given)
    assert words in told and never not in told


def test_a_fall_below_the_limit_is_never_shown_as_the_limit() -> None:
    """241 to 169 is 29.88 %."""
    step = shipped()["platelet-fall"].steps["fallen"]
    told = worked("platelet-fall", before=241, highest=241, now=169)
    assert shown(step, told.values["fallen"]) == "29.8\u00a0%" and LESS in said(
        "platelet-fall", before=241, highest=241, now=169
    )


def test_a_hospital_that_calls_above_a_half_clears_nothing_above_it() -> None:
    formula = shipped()["platelet-fall"]
    local = {"called": 0.6, "low": formula.fixed["low"].value or 0}
    result = trial.result_of(formula, {"before": "400", "highest": "400", "now": "180"}, local)
    assert any("more than half" in formula.warn[at].say for at in result.warn)
    assert not any(LESS in formula.reads[at].say for at in result.reads)


ENOUGH = "Not below {urine_low}"


@pytest.mark.parametrize(
    ("given", "words", "never"),
    [
        ({"weight": 82, "urine": 6000, "time": 1}, "Much urine", ENOUGH),
        ({"urine": 1200, "time": 24}, "can hide that the urine has stopped", ENOUGH),
        ({"urine": 1200, "time": 24, "last_hour": 5}, "The last hour alone is below", ENOUGH),
        ({"urine": 1200, "time": 24, "last_hour": 45}, ENOUGH, "Tell the doctor now"),
        ({"urine": 50, "time": 1}, ENOUGH, "Tell the doctor now"),
        ({"urine": 50, "time": 2, "last_hour": 60}, "More in the last hour", ENOUGH),
        ({"urine": 40, "time": 0.5}, "Less than an hour", ENOUGH),
    ],
)
def test_urine_is_cleared_by_the_last_hour_alone(given, words: str, never: str) -> None:
    told = said("urine-by-weight", **given)
    assert words in told and never not in told


def test_an_amount_below_the_limit_is_never_shown_as_the_limit() -> None:
    """39.9 mL in an hour at 80 kg are 0.499 mL/kg/h."""
    step = shipped()["urine-by-weight"].steps["flow"]
    told = worked("urine-by-weight", weight=80, urine="39.9", time=1)
    assert shown(step, told.values["flow"]) == "0.49\u00a0mL/kg/h"


@pytest.mark.parametrize(
    ("calculator", "given", "words", "fine"),
    [
        ("five-pressures", {"helped_low": 0, "own_low": 68}, "A lowest point of zero", {}),
        ("five-pressures", {"helped_low": 18}, "differ by as much as a whole beat", {}),
        ("five-pressures", {"order": "fifth"}, "swapped", {}),
        (
            "five-pressures",
            {"own_peak": 40, "own_low": 30, "helped_low": 26, "helped_peak": 37},
            "call the doctor now",
            {},
        ),
        ("transport-reserve", {"battery": 0, "spare": 600}, "No tested time", {}),
        ("transport-reserve", {"battery": 120}, "Nothing is left over", {"battery": 121}),
        ("transducer-height", {"shown": 72}, "call the doctor now", {"shown": 73}),
        ("transducer-height", {"height": 0}, "It hangs at the mark", {}),
        ("altitude", {"ground": 5000, "cabin": 2400}, "Were feet typed as metres?", {}),
        ("gas-left", {"pressure": 21}, "a gauge may be off by more than what is left", {}),
        ("gas-left", {"pressure": 200, "cylinder": 20}, "A month or more", {}),
        ("gas-left", {"extra": "2.5"}, "Whole refills only", {}),
        ("gas-left", {}, "Two readings of the gauge come first", {}),
        ("alarm-limit", {"agreed": 40, "now": 45}, "Read the order back", {}),
        ("alarm-limit", {"agreed": 250, "now": 255}, "Read the order back", {}),
    ],
)
def test_what_cannot_be_or_harms_is_asked_about(calculator: str, given, words: str, fine) -> None:
    assert words in said(calculator, **given)
    assert words not in said(calculator, **fine) or not given


def test_gas_that_is_short_or_spent() -> None:
    assert worked("gas-left", pressure=20.05, cylinder=0.1).warn  # not one refill
    assert value("gas-left", "refills", pressure=30, extra=200) == 0  # never below none
    assert value("gas-left", "refills", pressure=120, extra=5) == value("gas-left", "refills", pressure=120) - 5


# ---------------------------------------------------------------------- one source of each formula


def test_no_number_of_a_formula_stands_in_the_program() -> None:
    """The constants by which a formula would be known stand in its YAML file, and nowhere in the package or theme."""
    telling = set()
    for formula in shipped().values():
        for raw in formula.calculator.raw.get("constants", {}).values():
            if sum(sign.isdigit() for sign in raw["value"].lstrip("0.")) >= 2:
                telling.add(raw["value"])
    assert {"101325", "0.0065", "287.05287", "11.87", "546", "413"} <= telling
    telling = {
        one for one in telling if sum(sign.isdigit() for sign in one.lstrip("0.")) >= 4 or one in ("546", "0.0065")
    }
    shape = re.compile(rf"(?<![\w.#-])(?:{'|'.join(re.escape(one) for one in sorted(telling))})(?![\w.%-])")
    for path in (REPO / "site_src").rglob("*"):
        if path.suffix in (".py", ".js", ".html") and "vendor" not in path.parts:
            assert shape.findall(path.read_text("utf-8")) == [], path


# ---------------------------------------------------------------------- command line


def calc(capsys: pytest.CaptureFixture[str], *arguments: str) -> tuple[int, str, str]:
    """The command on the shipped library, which is read once for all of these tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("alarmtrees.terminal.calculate.open_library", lambda root: shipped_library())
        status = main(["calc", *arguments, "--root", str(REPO)])
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return status, out, err


def test_calc_prints_results_with_units(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = calc(capsys, "altitude", "cabin=8000 ft", "volume=40")
    assert (status, err) == (0, "")
    assert "Volume at the end, if it can move: 53.9\u00a0mL" in out and "Height at the end: 8000 ft" in out
    assert "decides nothing" in out


def test_calc_as_json(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = calc(capsys, "altitude", "cabin=1500m", "volume=40", "--json")
    told = json.loads(out)
    assert status == 0 and told["results"]["growth"] == {
        "say": "Volume at the end, times that at the start",
        "value": 1.198,
        "unit": "",
    }
    status, out, _ = calc(
        capsys, "alarm-limit", "worse=yes", "sounding=no", "ordered=yes", "agreed=110", "now=112", "--json"
    )
    told = json.loads(out)
    assert status == 1 and told["results"] == {} and "The patient is worse" in told["refused"][0]


def test_calc_lists_what_there_is(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, _ = calc(capsys)
    assert status == 0 and all(f"{key}: " in out for key in ALL)


def test_calc_refuses_with_a_reason_and_no_number(capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = calc(capsys, "gas-left", "pressure=20")
    assert (status, out) == (1, "") and "\nNo number: The gauge is at or below 20\u00a0bar (290\u00a0psi)" in err
    assert err.startswith("Look at the patient")


def test_calc_answers_in_the_unit_that_was_typed(capsys: pytest.CaptureFixture[str]) -> None:
    """30 bar in 4 h 30 min read to 5 bar are 7.78 bar an hour at the most, or 113 psi."""
    typed = ["gas-use", "first=2175.6psi", "first_at=22:10", "second=1740.5 psi", "second_at=02:40"]
    status, out, _ = calc(capsys, *typed, "mark=72.52 psi")
    assert (
        status == 0
        and "Fall in an hour, at the most: 113\u00a0psi/h" in out
        and "From the first reading to the second: 4\u00a0h and 30\u00a0min" in out
    )
    assert "20\u00a0bar (290\u00a0psi" in out.partition("02:40  ")[2]
    status, out, _ = calc(capsys, *typed, "mark=72.52 psi", "--json")
    assert json.loads(out)["results"]["fast"]["unit"] == "psi/h"
    status, out, err = calc(capsys, *typed, "mark=5")
    assert (status, out) == (2, "") and "mark: 5 has no unit, and others are in psi" in err


@pytest.mark.parametrize("key", ALL)
def test_calc_prints_the_patient_the_limits_and_the_cautions(capsys: pytest.CaptureFixture[str], key: str) -> None:
    formula = shipped()[key]
    status, out, err = calc(capsys, key, *(f"{name}={text}" for name, text in formula.examples.items()))
    assert status == 0, err
    assert out.splitlines()[2] == "Look at the patient before the machine."
    for part in ("valid", "breaks"):
        for note in formula.calculator.raw[part]:
            assert note["say"].split("{")[0] in out
    for caution in formula.calculator.cautions:
        assert shipped_library().cautions[caution].say.split("{")[0].split(". ")[0] in out


def test_calc_prints_times_of_day(capsys: pytest.CaptureFixture[str]) -> None:
    _, out, _ = calc(capsys, "weaning-plan-volume", "start=22:30", "full=40")
    assert "\n23:30  Tell the doctor" in out and "\n03:30 (day 2)  Tell the doctor" in out and "Leave the plan:" in out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["gas-lft"], "that can be read; did you mean `gas-left`? There are: "),
        (["zzz"], "that can be read. There are: "),
        (["gas-left"], "pressure: it is missing"),
        (["gas-left", "pressure"], "write it as name=value"),
        (["gas-left", "pressure=1,5"], "not a comma"),
        (["gas-left", "pressure=-3"], "A value below zero"),
        (["gas-left", "pressure=1e9"], "This is no number"),
        (["gas-left", "pressure="], "Nothing is filled in"),
        (["gas-left", "pressure=3 furlongs"], "This is no number"),
        (["gas-left", "presure=3", "pressure=30"], "did you mean `pressure`?"),
        (["gas-left", "pressure=30", "pressure=40"], "given twice"),
        (["timing", "rate=80", "sex=other"], "is none of man, woman"),
        (["weaning-plan-ratio", "start=25:00", "third=yes"], "no time of day"),
    ],
)
def test_calc_used_wrongly(capsys: pytest.CaptureFixture[str], arguments: list[str], words: str) -> None:
    status, out, err = calc(capsys, *arguments)
    assert (status, out) == (2, "") and words in err


BOTTLES = (REPO / "tests/cases/formula-check/bad/missed.txt").read_text("utf-8")


def bottles(root: Path, **changes: str) -> Path:
    text = BOTTLES.partition("-- kb/calculators/bottles.yml --\n")[2].partition("-- findings --")[0]
    for old, new in changes.items():
        text = text.replace(old, new)
    text = text.replace(" * 1.01", changes.get("factor", "")).replace("trees: [a]\n", "")
    return write_library(root, {"kb/calculators/bottles.yml": text})


def test_calc_with_faults_works_nothing_out(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = bottles(tmp_path, factor=" * 1.01")
    assert main(["calc", "bottles", "bottles=2", "--root", str(root)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and "kb/calculators/bottles.yml:14:5" in err and "[formula-check]" in err


def test_a_value_that_the_hospital_has_not_set_stops_the_sum(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    root = bottles(tmp_path)
    path = root / "kb/calculators/bottles.yml"
    path.write_text(
        path.read_text("utf-8")
        .replace("outputs:", "local:\n  angle: {setting: watch_left, sign: a, unit: min, range: [0, 90]}\noutputs:", 1)
        .replace("is: bottles * each", "is: bottles * each * angle / angle")
        .replace("given: {", "given: {angle: 30, "),
        "utf-8",
    )
    settings = root / "kb/settings.yml"
    text = settings.read_text("utf-8")
    settings.write_text(text.replace("roles:", "  watch_left: {say: Time left, unit: min}\nroles:", 1), "utf-8")
    status = main(["check", "--root", str(root), "--today", "2026-11-25"])
    out = capsys.readouterr().out
    assert status == 0 and "[unset]" in out, out
    assert main(["calc", "bottles", "bottles=2", "--root", str(root)]) == 1
    assert (
        capsys.readouterr().err.partition("\n")[2]
        == "No number: “Time left” is not set here; without it nothing is worked out.\n"
    )


def test_a_library_without_calculators_loads_no_units(tmp_path: Path) -> None:
    root = write_library(tmp_path, {})
    code = (
        "import sys; from alarmtrees.terminal.cli import main; "
        f"main(['check', '--root', {str(root)!r}, '--today', '2026-11-25']); sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], capture_output=True, timeout=60).returncode == 0


# ---------------------------------------------------------------------- pages


def test_there_is_a_page_for_each_and_a_list() -> None:
    pages = {page.path: page for page in calculators_pages(shipped_library())}
    assert set(pages) == {"calculators/index", *(f"calculators/{key}/index" for key in ALL)}
    for key in ALL:
        assert f'data-calculator="{key}"' in pages["calculators/index"].body


@pytest.mark.parametrize("key", ALL)
def test_formula_table_plot_limits_and_cautions_stand_in_the_page(key: str) -> None:
    formula = shipped()[key]
    body = calculator_page(shipped_library(), formula).body
    assert body.count("<math") >= len(formula.steps) and "<table" in body
    assert ('class="plot"' in body) == (formula.plot is not None)
    assert "It decides nothing" in body and body.count('class="cautions"') == 1
    assert "NaN" not in body.rpartition("</script>")[2] and "None" not in body
    for note in (*formula.calculator.raw["valid"], *formula.calculator.raw["breaks"]):
        assert note["say"].split("{")[0][:30].split("'")[0].split('"')[0] in body
    assert "\n\n" not in body.partition('<section class="calc"')[2].partition("</section>")[0]


def test_a_plot_is_told_in_words() -> None:
    body = calculator_page(shipped_library(), shipped()["timing"]).body
    assert "from 759\u00a0ms at 50 /min it falls to 169\u00a0ms at 150 /min." in body
    body = calculator_page(shipped_library(), shipped()["weaning-plan-ratio"]).body
    assert "at 0 h 50\u00a0%; at 4 h 33\u00a0%; at 5 h 100\u00a0%." in body


def test_texts_of_a_calculator_are_escaped(tmp_path: Path) -> None:
    from alarmtrees.reading.open import open_library

    hostile = "</script><script>alert(1)</script>"
    root = bottles(tmp_path)
    path = root / "kb/calculators/bottles.yml"
    text = path.read_text("utf-8")
    for words in (
        "Water in bottles",
        "Water in one",
        "Water in all",
        "Full bottles.",
        "A bottle that leaks.",
        "All of it",
    ):
        text = text.replace(words, hostile)
    path.write_text(text, "utf-8")
    for page in calculators_pages(open_library(root)):
        assert "<script>alert" not in page.body and "</script><" not in page.body.replace("</script>\n<", "")


def test_tables_and_numbers_are_finite() -> None:
    for formula in shipped().values():
        for number in re.findall(r"<td>([^<]*)</td>", calculator_page(shipped_library(), formula).body):
            part = number.split("\u00a0")[0].replace("\u2212", "-")
            assert not re.fullmatch(r"-?[0-9.]+", part) or math.isfinite(float(part))
