"""The balloon's gas against the gas law, and the curve of its pressure against what is taught. "Common practice" means
that no source was found."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest
from CoolProp.CoolProp import PropsSI
from plays import play_once, strip_once

from circulation.balloon import wall
from circulation.scene import Play, Scene
from circulation.signs import SIGNS
from circulation.solve import AMOUNT, BALLOON
from circulation.values import ATMOSPHERE

PASCAL = 133.322
"""One mmHg in Pa."""


def played(**differs: Any) -> Play:
    """The balloon follows every beat unless said otherwise."""
    return play_once(replace(Scene(), **differs))


def tops(done: Play) -> list[float]:
    """Pressure of the gas at the end of each whole hump of the trace."""
    trace = done.trace
    ends = [stroke.empty for stroke in done.loop.strokes if trace.begin < stroke.fill and stroke.empty < trace.end]
    return [trace.gas[trace.index(end) - 1] for end in ends]


def lines(done: Play) -> list[float]:
    """Pressure of the gas just before each hump of the trace."""
    trace = done.trace
    return [trace.gas[trace.index(s.fill) - 1] for s in done.loop.strokes if trace.begin + 0.1 < s.fill < trace.end]


def has(sign: str, done: Play, usual: Play) -> bool:
    return SIGNS[sign](strip_once(done.scene), strip_once(usual.scene))


# ---- the gas law


@pytest.mark.parametrize("pressure", [-100.0, 0.0, 100.0, 250.0])
def test_helium_is_an_ideal_gas_here(pressure: float) -> None:
    """By the reference equation of state (Ortiz Vega 2013, in CoolProp), to 0.1 %."""
    kelvin = 310.0
    density = PropsSI("D", "T", kelvin, "P", (ATMOSPHERE + pressure) * PASCAL, "Helium")
    assert density == pytest.approx((ATMOSPHERE + pressure) * PASCAL / (2077.1 * kelvin), rel=1e-3)


@pytest.mark.parametrize("differs", [{}, {"passage": 0.1}, {"gas": 1.06}, {"volume": 25.0}, {"rhythm": "fibrillation"}])
def test_no_gas_comes_or_goes(differs: dict[str, Any]) -> None:
    """Boyle's law, in the balloon and beside it, reckoned anew from pressures and volumes: one amount, to 0.1 %."""
    done = played(**differs)
    balloon = done.loop.body.balloon
    for entry, state in zip(done.solution.entries[::7], done.solution.states[::7], strict=True):
        filled, shifted = entry[BALLOON], entry[BALLOON + 2]
        inside = ATMOSPHERE + state.descending + wall(balloon, filled)
        beside = (ATMOSPHERE + state.gas) * (balloon.dead + balloon.shift - shifted)
        assert (inside * filled + beside) / ATMOSPHERE == pytest.approx(balloon.amount, rel=1e-3)
        assert entry[AMOUNT] == balloon.amount


def test_what_leaks_is_lost() -> None:
    """The amount falls by the flow through the hole, added up."""
    done = played(leak=0.25)
    sample = done.trace.sample
    first = next(at for at, time in enumerate(done.solution.times) if time > 8.0)
    lost = sum(done.loop.body.balloon.leak * state.gas for state in done.solution.states[first:-1]) * sample
    amounts = [entry[AMOUNT] for entry in done.solution.entries[first:]]
    assert amounts[0] - amounts[-1] == pytest.approx(lost, rel=0.01)


def test_the_balloon_is_never_emptier_than_empty() -> None:
    for differs in ({}, {"passage": 0.1}, {"gas": 1.06}, {"leak": 0.9}, {"resistance": 0.5}, {"rate": 130.0}):
        done = played(**differs)
        volume = done.loop.body.balloon.volume
        assert min(done.trace.filled) >= 0.0 and max(done.trace.filled) <= 1.06 * volume


# ---- the curve (common practice, no source, but where said)


def test_the_curve_has_spike_flat_top_dip_and_line() -> None:
    """A quick rise with a spike, a flat top, a quick fall with a dip, and a line a little above the atmosphere."""
    done = played()
    top, line = tops(done), lines(done)
    assert max(done.trace.gas) > top[0] + 30.0
    assert min(done.trace.gas) < line[0] - 20.0
    assert all(2.0 < one < 20.0 for one in line)
    end = done.trace.index(done.trace.beats[1].stroke[1])  # type: ignore[index]
    assert abs(done.trace.gas[end - 1] - done.trace.gas[end - 25]) < 5.0  # flat for its last 50 ms


@pytest.mark.parametrize("differs", [{}, {"every": 2}, {"rate": 70.0}, {"rate": 120.0}, {"resistance": 1.6}])
def test_the_flat_top_stands_near_the_augmented_peak(differs: dict[str, Any]) -> None:
    """Common teaching: the wall of a balloon that is just full carries little, so its gas is near the pressure around.
    Within 10 mmHg of the peak, and above the aorta at the same moment."""
    done = played(**differs)
    augmented = done.five.augmented
    assert augmented
    end = done.trace.index(
        done.trace.beats[1].stroke[1] if done.trace.beats[1].stroke else done.trace.beats[0].stroke[1]
    )  # type: ignore[index]
    assert abs(tops(done)[0] - augmented.pressure) < 10.0
    assert 0.0 < done.trace.gas[end - 1] - done.trace.pressure[end - 1] < 25.0


def test_a_partly_filled_balloon_has_the_pressure_around_it() -> None:
    """While the wall is slack and no gas flows, gas and blood have one pressure."""
    done = played(gas=0.9, rate=60.0)
    at = done.trace.index(done.trace.beats[1].stroke[1]) - 2  # type: ignore[index]
    aorta = done.solution.states[at + len(done.solution.states) - len(done.trace.gas)].descending
    assert max(done.trace.filled) < 0.95 * done.loop.body.balloon.volume
    assert done.trace.gas[at] == pytest.approx(aorta, abs=1.0)


def test_the_top_follows_the_patients_pressure() -> None:
    low, usual, high = (tops(played(resistance=share))[0] for share in (0.5, 1.0, 1.6))
    assert low + 5.0 < usual < high - 5.0
    line = [lines(played(resistance=share))[0] for share in (0.5, 1.0, 1.6)]
    assert max(line) - min(line) < 5.0


def test_the_top_is_narrow_in_a_fast_heart_and_wide_in_a_slow_one() -> None:
    assert has("gas-narrow", played(rate=130.0), played())
    assert has("gas-wide", played(rate=55.0), played())


def test_a_kink_makes_it_high_and_round_and_slow() -> None:
    kinked, free = played(passage=0.1), played()
    for sign in ("gas-top-high", "gas-rounded", "fills-slowly"):
        assert has(sign, kinked, free)
        assert not has(sign, free, free)
    assert max(kinked.trace.gas) > max(free.trace.gas) + 20.0
    assert min(kinked.trace.gas) < min(free.trace.gas) - 20.0


def test_a_kink_read_at_the_console_dips_deep_and_is_no_leak() -> None:
    """What this model shows of a kink, and that it does not show the slow fall to a high line which is taught (common
    practice): one portion of gas that has not come back is missing at the console. Its line does not sink either."""
    kinked, free = played(passage=0.1), played()
    assert has("gas-dips", kinked, free) and not has("gas-dips", free, free)
    assert not has("gas-line-high", kinked, free) and not has("gas-line-sinks", kinked, free)
    assert not has("gas-dips", played(leak=0.05), free) and not has("gas-dips", played(rate=55.0), free)


def test_a_small_leak_sinks_the_line_first_and_an_open_line_has_no_top() -> None:
    small, wide, whole = played(leak=0.05), played(leak=20.0), played()
    assert has("gas-line-sinks", small, whole) and not has("gas-line-sinks", whole, whole)
    fall_of_line = lines(small)[0] - lines(small)[-1]
    assert fall_of_line > 10.0
    assert fall_of_line > 1.3 * (tops(small)[0] - tops(small)[-1])
    assert has("gas-top-gone", wide, whole) and not has("gas-top-gone", small, whole)
    assert max(wide.trace.filled[-300:]) < 0.25 * max(whole.trace.filled)


def test_too_much_gas_raises_line_and_top() -> None:
    full, usual = played(gas=1.06), played()
    assert lines(full)[0] > lines(usual)[0] + 20.0
    assert tops(full)[0] > tops(usual)[0] + 20.0
    assert all(abs(early - late) < 1.0 for early, late in pairwise(lines(full)))


def test_water_in_a_bend_lets_it_tremble() -> None:
    assert has("gas-trembles", played(passage=0.4, water=0.8), played())
    assert not has("gas-trembles", played(passage=0.4), played())


def test_the_gas_comes_back_to_where_it_was() -> None:
    """A settled state: two beats apart, nothing has changed by 0.1 %."""
    done = played(rate=120.0)  # 0.5 s: each beat lies on the samples alike
    for line in (done.trace.gas, done.trace.filled, done.trace.pressure, done.trace.ventricle):
        assert line[:250] == pytest.approx(line[500:750], rel=1e-3, abs=0.05)


def test_strips_hold_no_gas_without_a_balloon() -> None:
    strip = strip_once(Scene(every=0))
    assert strip.gas == () and strip.marks == () and strip.fills == ()
