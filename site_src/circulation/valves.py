"""Valves: one that opens and closes in time, and one that simply lets blood one way."""

from __future__ import annotations

from .values import BLOOD_DENSITY, Valves

ALMOST_SHUT = 1e-5
"""The smallest opening, as a share: it keeps divisions finite and lets less than a hundredth of a mL a beat through."""


def inertance(valves: Valves) -> float:
    """Mass of the blood in the open aortic valve, mmHg s2/mL."""
    return BLOOD_DENSITY * valves.length / valves.area


def loss(valves: Valves) -> float:
    """Bernoulli's loss in the open aortic valve, mmHg s2/mL2."""
    return BLOOD_DENSITY / (2.0 * valves.area**2)


def opening_rate(valves: Valves, opening: float, difference: float) -> float:
    """How fast the opening changes, 1/s, under a difference of pressure in mmHg (form Mynard 2012).

    The valve closes by the pressure that drives blood back, so a little flows back before it is shut: that is
    where the notch comes from.
    """
    if difference > 0.0:
        return (1.0 - opening) * valves.rate * difference
    return opening * valves.rate * difference


def flow_rate(valves: Valves, opening: float, difference: float, flow: float) -> float:
    """How fast the flow through the aortic valve changes, mL/s2."""
    share = max(opening, ALMOST_SHUT)
    return (share * difference - loss(valves) * flow * abs(flow) / share) / inertance(valves)


def one_way(difference: float, resistance: float) -> float:
    """Flow in mL/s through a valve that opens and closes at once."""
    return max(difference, 0.0) / resistance
