"""Arteries as elastic chambers whose walls lag behind their stretch.

A wall's pressure depends on how fast it is stretched, and that on the pressure, which drives blood out. All of it is
linear, so it is solved at once, in place of one more state for each wall.
"""

from __future__ import annotations

from .values import Vessels


def lagging(
    vessels: Vessels, compliance: float, volume: float, inflow: float, resistance: float, beyond: float
) -> tuple[float, float]:
    """One chamber with an outlet.

    Args:
        vessels: for how long the wall lags.
        compliance: of the chamber, mL/mmHg.
        volume: in it, mL.
        inflow: into it, mL/s.
        resistance: of its outlet, mmHg s/mL.
        beyond: the pressure behind the outlet, mmHg.

    Returns:
        Its pressure in mmHg, and the flow out of it in mL/s.
    """
    lag = vessels.viscous / compliance
    pressure = (volume / compliance + lag * (inflow + beyond / resistance)) / (1.0 + lag / resistance)
    return pressure, (pressure - beyond) / resistance


def joined(vessels: Vessels, arch: float, net: float, head: float, veins: float) -> tuple[float, float]:
    """Arch and head, between which blood flows by the branch.

    Args:
        vessels: their values.
        arch, head: volumes, mL.
        net: what flows into the arch, less what flows on along the aorta, mL/s.
        veins: pressure behind the head's small vessels, mmHg.

    Returns:
        The pressures in arch and head, mmHg.
    """
    arch_lag, head_lag = vessels.viscous / vessels.arch, vessels.viscous / vessels.head
    branch, small = 1.0 / vessels.branch, 1.0 / vessels.head_resistance
    # arch (1 + al b) - head al b = arch_side;   head (1 + hl b + hl s) - arch hl b = head_side
    arch_side = arch / vessels.arch + arch_lag * net
    head_side = head / vessels.head + head_lag * small * veins
    arch_own, head_own = 1.0 + arch_lag * branch, 1.0 + head_lag * (branch + small)
    determinant = arch_own * head_own - arch_lag * head_lag * branch**2
    return (
        (arch_side * head_own + arch_lag * branch * head_side) / determinant,
        (head_side * arch_own + head_lag * branch * arch_side) / determinant,
    )
