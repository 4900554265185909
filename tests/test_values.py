"""Every local value of the shipped library: what a hospital may set it to, and what is refused.

The ranges themselves are held to what is published where anything is; the source is named beside each. For the
others `kb/settings.yml` says "common practice, no source", and the tests hold that it says so.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import cache

import pytest

from alarmtrees.calc.entry import short
from alarmtrees.calc.formula import counted
from alarmtrees.check.rules import RULES, View
from alarmtrees.model import Library, Setting
from alarmtrees.model.finding import Finding, Severity
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.resting import COUNTED
from small_library import shipped_library

TODAY = date(2026, 11, 25)
ADDRESS = "site_address"
NUMBERS = [name for name in shipped_library().settings if name != ADDRESS]

BY_VALUE = ("setting-range", "formula", "formula-check", "formula-dimension", "formula-range", "resting-limit")
"""The rules that look at values; what all others find is the same with any."""


@cache
def graph() -> Graph:
    return Graph(shipped_library().trees)


def with_values(values: dict[str, str], units: dict[str, str] | None = None) -> Library:
    """The shipped library as a hospital has set it, with those calculators alone that count with these values."""
    library = shipped_library()
    given = {
        name: replace(library.settings[name], value=value, unit=(units or {}).get(name, library.settings[name].unit))
        for name, value in values.items()
    }
    calculators = {
        key: one for key, one in library.calculators.items() if {name for _, name in counted(one)} & values.keys()
    }
    return replace(library, settings={**library.settings, **given}, calculators=calculators)


def errors(library: Library, changed: set[str]) -> list[Finding]:
    view = View(library, graph(), TODAY)
    rules = [rule for rule in RULES if rule.id in BY_VALUE]
    if not changed & set(COUNTED):
        rules = [rule for rule in rules if rule.id != "resting-limit"]
    found = (finding for rule in rules for finding in rule.findings(view))
    return [finding for finding in found if finding.severity is Severity.ERROR]


def others(setting: Setting) -> Iterator[str]:
    """Both ends of its range, and what lies half way from each to the shipped value."""
    assert setting.range and setting.value
    for edge in setting.range:
        yield short(edge)
        yield short((edge + float(setting.value)) / 2)


def test_no_number_is_left_out() -> None:
    assert len(NUMBERS) >= 49
    assert all(setting.value and setting.range for name in NUMBERS if (setting := shipped_library().settings[name]))


@pytest.mark.parametrize("name", NUMBERS)
def test_a_hospital_may_set_any_value_inside_the_range(name: str) -> None:
    setting = shipped_library().settings[name]
    assert setting.unit and setting.range and setting.range_from
    assert setting.range[0] < float(setting.value or "") < setting.range[1], "room on both sides"
    for value in others(setting):
        found = errors(with_values({name: value}), {name})
        assert not found, f"{name} {value}: {[finding.message for finding in found]}"


@pytest.mark.parametrize("name", NUMBERS)
def test_a_slip_is_refused_and_the_range_is_named(name: str) -> None:
    """Half as much again as the most, ten times as much, a tenth of the least, and below zero."""
    setting = shipped_library().settings[name]
    assert setting.range and setting.value
    low, high = setting.range
    for value in (high * 1.5, high * 10, low / 10 if low else -1, -high):
        found = errors(with_values({name: f"{value:.6f}"}), {name})
        (told,) = [finding.message for finding in found if finding.rule == "setting-range"]
        assert f"`{name}`" in told and f"{short(low)} to {short(high)} {setting.unit}" in told
        assert not [finding for finding in found if "calculators" in finding.message], "told once"


@pytest.mark.parametrize(
    ("name", "value", "unit"),
    [
        ("resting_warning", "150", "min"),
        ("resting_warning", "15", "h"),
        ("resting_warning", "30", "min"),
        ("head_up_limit", "300", "degrees"),
        ("call_by", "20", "min"),
        ("sound_pause", "2", "h"),
    ],
)
def test_what_would_be_dangerous_at_a_bedside_is_refused(name: str, value: str, unit: str) -> None:
    found = errors(with_values({name: value}, {name: unit}), {name})
    assert "setting-range" in {finding.rule for finding in found}


@pytest.mark.parametrize(
    ("values", "named"),
    [
        ({"resting_warning": "6", "call_by": "8"}, ("call_by", "resting_warning")),
        ({"before_page": "150", "call_by": "2"}, ("before_page", "call_by")),
        ({"wean_look_every": "60", "wean_volume_hold": "0.5"}, ("wean_look_every", "wean_volume_hold")),
        ({"wean_look_every": "30", "wean_12_hold": "0.25"}, ("wean_look_every", "wean_12_hold")),
        ({"wean_look_every": "30", "wean_13_hold": "0.25"}, ("wean_look_every", "wean_13_hold")),
        ({"removal_look_every": "60", "removal_look_for": "0.5"}, ("removal_look_for",)),  # out of its range
        # A plan of so many looks that nobody could read it.
        ({"wean_look_every": "5", "wean_12_hold": "24"}, ("wean_look_every", "wean_12_hold")),
    ],
)
def test_values_that_do_not_fit_each_other_are_both_named(values: dict[str, str], named: tuple[str, ...]) -> None:
    found = errors(with_values(values), set(values))
    assert any(all(f"`{name}`" in finding.message for name in named) for finding in found), found


def test_all_values_may_be_other_ones_at_once() -> None:
    """Half way to the lower end, and to the upper one."""
    settings = shipped_library().settings
    for end in (1, 3):
        values = {name: list(others(settings[name]))[end] for name in NUMBERS}
        assert not errors(with_values(values), set(values))


# What is published, against what the ranges let pass.
PUBLISHED = [
    # Weil 2007: longer than 15 min is hazardous. Mueller 1999: clot in 3 of 3 calves at 20 min; beyond is refused.
    ("resting_warning", 15, True),
    ("resting_warning", 20, True),
    ("resting_warning", 30, False),
    # Khir 2005: at 30 degrees pressure and flow are lower. Units hold to 30 or 45 (common practice, no source).
    ("head_up_limit", 30, True),
    ("head_up_limit", 45, True),
    ("head_up_limit", 60, False),
    # Onorati 2013: 4 h at 1:2, 1 h at 1:3; a tenth of the volume each hour, five times.
    ("wean_12_hold", 4, True),
    ("wean_13_hold", 1, True),
    ("wean_volume_step", 10, True),
    ("wean_volume_hold", 1, True),
    ("wean_volume_floor", 50, True),
    # A teaching page read in a secondary: steps of 1 to 6 h, 10 mL of 40 mL at a time.
    ("wean_volume_hold", 6, True),
    ("wean_volume_step", 25, True),
    # Parissis 2011: balloons of 34 to 50 mL; ISO 2533: 1,500 m.
    ("gas_refill_volume", 50, True),
    ("altitude_look_step", 1500, True),
]


@pytest.mark.parametrize(("name", "value", "passes"), PUBLISHED)
def test_ranges_hold_what_is_published(name: str, value: float, passes: bool) -> None:
    low, high = shipped_library().settings[name].range or (0, 0)
    assert (low <= value <= high) == passes


def test_each_range_says_why() -> None:
    library = shipped_library()
    for name in NUMBERS:
        setting = library.settings[name]
        assert (
            setting.range_sources
            or "no source" in setting.range_from
            or "from memory" in setting.range_from
            or "no published limit" in setting.range_from
        ), name
        assert set(setting.range_sources) <= library.sources.keys()
