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
from alarmtrees.site.knowledge import traces
from alarmtrees.site.knowledge.calculator import calculator_page, calculators_pages
from alarmtrees.terminal.cli import main
from calculators import random_entries, shipped, value, worked
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


NOTHING_SHOWS = "These figures name no error"


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, [NOTHING_SHOWS, "proves nothing", "too early"]),
        ({"helped_low": 66, "helped_peak": 104}, ["empties too late"]),
        ({"helped_low": 66}, ["empties too late", "call the specialist now"]),
        ({"helped_low": 60, "helped_peak": 100}, ["too early or too late"]),
        ({"helped_low": 59, "helped_peak": 96}, ["does not fall by more than a reading may err"]),
        ({"helped_low": 55}, ["no more than the mean of 25 patients"]),
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
    assert (NOTHING_SHOWS in told) == (not given)
    assert "is the highest" not in told


def test_five_pressures_never_praise_beside_a_finding() -> None:
    """Whatever is typed in: the only quiet sentence stands alone, but for the missing earlier reading."""
    formula = shipped()["five-pressures"]
    quiet = next(index for index, line in enumerate(formula.reads) if line.say.startswith(NOTHING_SHOWS))
    beside = {index for index, line in enumerate(formula.reads) if "No earlier fall" in line.say}
    beside |= {quiet, len(formula.reads) - 1}
    for entered in random_entries(formula, seed=14, count=3000):
        told = compute(formula, entered).reads
        assert quiet not in told or set(told) <= beside


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
    five = traces.Played(Path(library.root) / traces.CACHE).strip(scene).five
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
            yield waveform.id, five_of(library, traces.scene_of(waveform.raw)), signs, wrong
    for series in library.waveform_series.values():
        usual = traces.scene_of(library.waveforms[series.of].raw)
        for step in series.steps:
            scene = traces.moved(usual, series.moves, step.by)
            if scene != usual and set(step.signs) - RIGHT:
                yield f"{series.id} {step.by}", five_of(library, scene), list(step.signs), {series.moves}


def test_no_faulty_reading_is_praised_whatever_is_answered_on_its_shape() -> None:
    """Each fault of the library, under all answers to the questions on shape. Only what no figure shows, filling and a
    line that rings or lags, may pass for right, and only where all of its shape is answered wrongly as well; then the
    sentence itself names filling that is too early."""
    library, formula = shipped_library(), shipped()["five-pressures"]
    quiet = next(index for index, line in enumerate(formula.reads) if line.say.startswith(NOTHING_SHOWS))
    assert "too early" in formula.reads[quiet].say and "Let a second person look" in formula.reads[quiet].say
    shapes = [formula.fields[name].choices for name in ("corners", "begins", "valley")]
    right, count = ("sharp", "notch", "sharp"), 0
    for name, five, signs, wrong in faulty(library):
        if len(five) < 5:
            continue
        count += 1
        seen = {key: said for sign in signs for key, said in SIGNS.get(sign, {}).items()}
        for shape in itertools.product(*shapes):
            answers = dict(zip(("corners", "begins", "valley"), shape, strict=True))
            result = worked("five-pressures", **five, **answers)
            if result.refuse or quiet not in result.reads:
                continue
            assert shape == right and wrong <= {"fill", "line"}, (name, shape)
            assert any(answers[key] != said for key, said in seen.items()) or not seen, (name, seen)
    assert count >= 10


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


def test_two_readings_give_a_range_and_never_one_number() -> None:
    """By hand: 30 bar in 4 h 30 min, read to 5 bar, over midnight; 100 bar lie above the change."""
    given = {"first": 150, "first_at": "22:10", "second": 120, "second_at": "02:40", "mark": 5}
    assert value("gas-use", "time", **given) == pytest.approx(4.5)
    assert value("gas-use", "shortest", **given) == pytest.approx(100 / 35 * 4.5)
    assert value("gas-use", "longest", **given) == pytest.approx(100 / 25 * 4.5)
    assert value("gas-use", "time", **{**given, "days": 1}) == pytest.approx(28.5)
    near = worked("gas-use", **{**given, "second": 146})
    assert near.sound and near.warn and math.isnan(near.values["longest"]) and near.values["shortest"] > 0
    for wrong in ({"second": 151}, {"second": 20}, {"second_at": "22:10"}, {"days": "0.5"}):
        assert worked("gas-use", **{**given, **wrong}).refuse, wrong


def test_a_planned_hold_ends_before_the_warning_and_is_called_for_in_time() -> None:
    plan = shipped()["planned-hold"].plan
    assert plan and plan.counts and plan.counts.id == "resting_warning"
    told = [(round(at / 60), plan.rows[index].say[:14]) for index, at, _ in worked("planned-hold", length=3).plan]
    assert told == [(0, "The balloon st"), (3, "Planned end. L"), (5, "Still at rest:"), (15, "Still at rest:")]
    assert worked("planned-hold", length=6).warn and worked("planned-hold", length=15).refuse


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


def test_a_count_at_the_limit_is_told_and_one_above_it_is_not() -> None:
    """180 less 30 % is 126."""
    assert value("platelet-fall", "call_at", before=180) == pytest.approx(126)
    assert worked("platelet-fall", before=180, now=126).warn and not worked("platelet-fall", before=180, now=127).warn
    assert worked("platelet-fall", before=180, now=90).warn != worked("platelet-fall", before=180, now=89).warn


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
    assert (status, out) == (1, "") and err.startswith("No number: The gauge is at or below 20\u00a0bar")


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
    assert capsys.readouterr().err == "No number: “Time left” is not set here; without it nothing is worked out.\n"


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
