"""The values of the model, each with its unit and where it comes from.

Three kinds of origin are named: a published form, a value known from memory of a published work, and a value that
was chosen so that the pressures come out as in a heart in shock.
"""

from __future__ import annotations

from dataclasses import dataclass, field

BLOOD_DENSITY = 1.06e-3 / 1.33322
"""Blood, 1.06 g/cm3, in mmHg s2 / cm2: with lengths in cm and volumes in mL, pressures come out in mmHg."""

ATMOSPHERE = 760.0
"""Pressure of the air, mmHg. All other pressures are above it."""


@dataclass(frozen=True, slots=True)
class Heart:
    """The left ventricle: a spring that stiffens with each beat, and what fills it.

    Attributes:
        stiffness: at the end of systole, mmHg/mL. Chosen; a healthy one is above 2.
        unstressed: volume without pressure at the end of systole, mL. Chosen.
        passive: scale of the passive pressure, mmHg. Chosen.
        passive_rate: steepness of the passive curve, 1/mL. Chosen.
        flow_loss: share of the active pressure lost per flow, s/mL (form Shroff; value from memory).
        rise, fall: exponents of the double Hill curve (form Mynard 2012, Stergiopulos 1996; softened by choice).
        rise_share: time of the rise as a share of the time of the fall. Chosen.
        delay: from the R wave to the first tension, s. Chosen.
        fall_share: time of the fall as a share of systole without the delay, so that the valve closes where
            Weissler's regression has it. Fitted.
    """

    stiffness: float = 1.15
    unstressed: float = 15.0
    passive: float = 1.1
    passive_rate: float = 0.0245
    flow_loss: float = 0.0007
    rise: float = 1.5
    fall: float = 10.0
    rise_share: float = 0.45
    delay: float = 0.03
    fall_share: float = 1.0


@dataclass(frozen=True, slots=True)
class Valves:
    """The aortic valve, which opens and closes in time, and the mitral valve, which lets blood one way.

    Attributes:
        area: of the open aortic valve, cm2. Chosen.
        length: of the blood that is sped up in it, cm. Chosen.
        rate: how fast it opens and closes, 1/(mmHg s) (Mynard 2012, from memory).
        mitral: resistance of the mitral valve, mmHg s/mL. Chosen.
    """

    area: float = 3.0
    length: float = 2.0
    rate: float = 9.0
    mitral: float = 0.02


@dataclass(frozen=True, slots=True)
class Vessels:
    """Arteries as four elastic chambers, joined by blood that has mass; veins and atrium close the loop.

    Attributes:
        arch, descending, lower, head: compliances, mL/mmHg. Their sum, about 1, fits the pulse pressure; chosen.
        viscous: time by which a wall lags behind its stretch, s. Chosen.
        arch_mass, descending_mass: inertance between the chambers, mmHg s2/mL (density times length by area).
        between: resistance between arch and descending aorta, and again down to the lower body, mmHg s/mL. Chosen.
        branch: resistance from the arch to the head's arteries, mmHg s/mL. Chosen.
        resistance: of all small vessels together, mmHg s/mL. Textbook order of size.
        head_share: the share of the flow that goes to head and arms. Chosen.
        veins, atrium: compliances, mL/mmHg. Chosen.
        veins_start: pressure that the veins start from, mmHg. Chosen.
        lift: by how much the right heart raises the pressure on the way to the atrium, mmHg; of right heart and
            lungs the model knows no more than that. Chosen so that the atrium is as full as in shock.
        return_resistance: from veins to atrium, mmHg s/mL. Chosen.
    """

    arch: float = 0.20
    descending: float = 0.30
    lower: float = 0.36
    head: float = 0.12
    viscous: float = 0.025
    arch_mass: float = 0.0022
    descending_mass: float = 0.0045
    between: float = 0.10
    branch: float = 0.15
    resistance: float = 0.92
    head_share: float = 0.3
    veins: float = 80.0
    atrium: float = 9.0
    veins_start: float = 9.0
    lift: float = 15.0
    return_resistance: float = 0.03

    @property
    def head_resistance(self) -> float:
        """Of the head's small vessels, mmHg s/mL."""
        return self.resistance / self.head_share

    @property
    def lower_resistance(self) -> float:
        """Of the small vessels of all else, mmHg s/mL."""
        return self.resistance / (1.0 - self.head_share)


@dataclass(frozen=True, slots=True)
class Balloon:
    """The balloon, its gas, and the drive that moves it. All but the sizes in use are chosen.

    Attributes:
        volume: when full, mL. Sizes in use are 34, 40, 50 (Parissis 2011).
        conductance: gas flow per pressure through line and catheter, mL/(s mmHg); with `force` and the pressures so
            that 10 to 90 % of the filling takes about 105 ms, and emptying about 75 ms.
        slack: share of the volume up to which the wall is slack.
        stretch: how it stiffens beyond, mmHg/mL2.
        folds: volume below which the wall lies on itself, mL.
        fold: how it then holds the gas back, mmHg/mL2.
        dead: gas volume of line and console when the drive has shifted all, mL.
        base: pressure of the gas when the balloon is empty, mmHg: a little above the atmosphere.
        full_at: pressure at which the drive's shift just fills the balloon, mmHg.
        push, pull: pressure of the drive against the atmosphere while it fills and while it empties, mmHg.
        force: flow of the drive per pressure, mL/(s mmHg).
        switch: how long the drive takes to change over, s.
        stop: volume at either end over which the drive slows down, mL.
        gas: the amount of gas as a share of the usual.
        leak: gas lost through a hole in the line, mL/(s mmHg). 0 for a tight circuit.
        water, swing: how far water in a bend of the line changes the passage, as a share, and how often, Hz.
    """

    volume: float = 40.0
    conductance: float = 8.0
    slack: float = 0.95
    stretch: float = 4.0
    folds: float = 3.0
    fold: float = 20.0
    dead: float = 40.0
    base: float = 8.0
    full_at: float = 100.0
    push: float = 220.0
    pull: float = -140.0
    force: float = 7.0
    switch: float = 0.02
    stop: float = 20.0
    gas: float = 1.0
    leak: float = 0.0
    water: float = 0.0
    swing: float = 13.0

    @property
    def shift(self) -> float:
        """The volume that the drive shifts, mL: what the balloon holds, and by how much the gas is pressed together."""
        return (self.dead + self.slack * self.volume) * (ATMOSPHERE + self.full_at) / (
            ATMOSPHERE + self.base
        ) - self.dead

    @property
    def amount(self) -> float:
        """The gas in the circuit, mL at the pressure of the atmosphere."""
        empty = self.dead + self.shift + self.folds / 2.0
        return self.gas * empty * (ATMOSPHERE + self.base) / ATMOSPHERE


@dataclass(frozen=True, slots=True)
class Body:
    """A patient of the model, with a balloon in place."""

    heart: Heart = field(default_factory=Heart)
    valves: Valves = field(default_factory=Valves)
    vessels: Vessels = field(default_factory=Vessels)
    balloon: Balloon = field(default_factory=Balloon)
