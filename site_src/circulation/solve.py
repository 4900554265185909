"""The equations of the whole loop, and their solution over time."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import inf
from typing import NamedTuple

from .balloon import Drive, Stroke, beside, line_pressure, passage, shifting, wall
from .heart import Activation, systole, ventricular_pressure
from .values import Body
from .valves import flow_rate, one_way, opening_rate
from .vessels import joined, lagging

SAMPLE = 0.002
"""Distance in s of the moments that are kept."""

STEP = 0.002
"""Length of a step in s. At 90 beats a minute it asks about 1,350 times a beat how fast all changes."""

OPENING, BALLOON, AMOUNT = 10, 11, 14
"""Where the valve's opening, the balloon's filling and the amount of gas stand in what is integrated."""


class State(NamedTuple):
    """The loop at one moment: pressures in mmHg, flows and stretches (of walls, by volume) in mL/s.

    Attributes:
        out, inflow: through the aortic and the mitral valve.
        along, down: from the arch to the descending aorta, and on to the lower body.
        to_head, from_head, from_lower, home: to and from the small vessels, and from the veins to the atrium.
        filling: how fast the balloon fills.
        gas: pressure of the gas at the console.
        shifting: how fast the drive shifts it.
    """

    ventricle: float
    atrium: float
    veins: float
    arch: float
    descending: float
    lower: float
    head: float
    out: float
    inflow: float
    along: float
    down: float
    to_head: float
    from_head: float
    from_lower: float
    home: float
    gas: float
    filling: float
    shifting: float

    @property
    def arch_stretch(self) -> float:
        """Of the wall of the arch."""
        return self.out - self.along - self.to_head

    @property
    def descending_stretch(self) -> float:
        """Of the wall of the descending aorta: blood and balloon stretch it together."""
        return self.along - self.down + self.filling

    @property
    def lower_stretch(self) -> float:
        """Of the walls in the lower body."""
        return self.down - self.from_lower

    @property
    def head_stretch(self) -> float:
        """Of the walls in the head."""
        return self.to_head - self.from_head


class Loop:
    """The equations of one body, under given heartbeats and strokes of the balloon.

    What is integrated, in this order: blood in ventricle, arch, descending aorta, lower body, head, veins, atrium
    (mL); flow through the aortic valve, along the aorta, down (mL/s); the valve's opening (0 to 1); the balloon's
    filling (mL), the drive's pressure (mmHg), what it has shifted (mL), the amount of gas (mL at the pressure of the
    atmosphere).
    """

    def __init__(self, body: Body, beats: Sequence[float], strokes: Sequence[Stroke] = (), leaks_from: float = 0.0):
        """Set up the loop.

        Args:
            body: its values.
            beats: the R waves in s, at least two, in order.
            strokes: of the balloon, in order and apart.
            leaks_from: when the gas begins to leak, if it does.
        """
        self.body = body
        self.beats = tuple(beats)
        self.strokes = tuple(strokes)
        self._leaks_from = leaks_from
        self._activation = Activation(body.heart)
        first = beats[1] - beats[0]
        before = (first, *(late - early for early, late in pairwise(beats)))
        self._systoles = tuple(systole(interval) for interval in before)
        self._drive = Drive(body.balloon, strokes) if strokes else None

    def start(self) -> list[float]:
        """A state to begin from; after some beats nothing of it is seen any more."""
        vessels, arteries = self.body.vessels, 65.0
        chambers = (vessels.arch, vessels.descending, vessels.lower, vessels.head)
        atrium = (vessels.veins_start + vessels.lift) * vessels.atrium
        volumes = [130.0, *(arteries * chamber for chamber in chambers), vessels.veins_start * vessels.veins, atrium]
        balloon = self.body.balloon
        return [*volumes, 0.0, 60.0, 40.0, 0.0, balloon.folds / 2.0, balloon.pull, 0.0, balloon.amount]

    def tension(self, time: float) -> float:
        """How far the ventricle's muscle is tensed, 0 to 1; an early beat finds it still tensed by the one before."""
        at = max(bisect_right(self.beats, time) - 1, 0)
        own = self._activation(time - self.beats[at], self._systoles[at])
        before = self._activation(time - self.beats[at - 1], self._systoles[at - 1]) if at else 0.0
        return max(own, before)

    def state(self, time: float, y: Sequence[float]) -> State:
        """All pressures and flows that follow from what is integrated."""
        vessels = self.body.vessels
        blood, arch_v, descending_v, lower_v, head_v, veins_v, atrium_v, out, along, down, _, *balloon = y
        ventricle = ventricular_pressure(self.body.heart, self.tension(time), blood, out)
        veins, atrium = veins_v / vessels.veins, atrium_v / vessels.atrium
        lower, from_lower = lagging(vessels, vessels.lower, lower_v, down, vessels.lower_resistance, veins)
        arch, head = joined(vessels, arch_v, out - along, head_v, veins)
        descending, gas, filling, moved = self._around_balloon(time, descending_v, along - down, balloon)
        return State(
            ventricle=ventricle,
            atrium=atrium,
            veins=veins,
            arch=arch,
            descending=descending,
            lower=lower,
            head=head,
            out=out,
            inflow=one_way(atrium - ventricle, self.body.valves.mitral),
            along=along,
            down=down,
            to_head=(arch - head) / vessels.branch,
            from_head=(head - veins) / vessels.head_resistance,
            from_lower=from_lower,
            home=(veins + vessels.lift - atrium) / vessels.return_resistance,
            gas=gas,
            filling=filling,
            shifting=moved,
        )

    def _around_balloon(
        self, time: float, blood: float, net: float, balloon: Sequence[float]
    ) -> tuple[float, float, float, float]:
        """Pressures in the descending aorta and of the gas, and how fast the balloon fills and the drive moves.

        The gas flows by the difference between line and balloon, and the wall around lags by that flow: solved at once.
        """
        vessels, values = self.body.vessels, self.body.balloon
        filled, drive, shifted, amount = balloon
        lag = vessels.viscous / vessels.descending
        at_rest = (blood + filled) / vessels.descending + lag * net
        if self._drive is None:
            return at_rest, 0.0, 0.0, 0.0
        room, inside, open_for = beside(values, shifted), at_rest + wall(values, filled), passage(values, time)
        # line = line_pressure(…, inside + lag filling);   filling = open_for (line - inside - lag filling)
        excess = line_pressure(amount, room, filled, inside) - inside
        filling = open_for * excess / (1.0 + open_for * lag * (1.0 + filled / room))
        line = line_pressure(amount, room, filled, inside + lag * filling)
        return at_rest + lag * filling, line, filling, shifting(values, drive, line, shifted)

    @property
    def changes(self) -> Sequence[float]:
        """The moments at which the drive is told to change over, s."""
        return self._drive.changes if self._drive else ()

    def told(self, time: float) -> float:
        """The pressure that the drive is to reach, mmHg."""
        return self._drive(time) if self._drive else self.body.balloon.pull

    def rates(self, time: float, entries: Sequence[float], told: float) -> list[float]:
        """How fast each entry of what is integrated changes, per s.

        Args:
            time: the moment, s.
            entries: what is integrated.
            told: the pressure that the drive is to reach, mmHg.
        """
        vessels, valves, s = self.body.vessels, self.body.valves, self.state(time, entries)
        opening, difference = entries[OPENING], s.ventricle - s.arch
        return [
            s.inflow - s.out,
            s.arch_stretch,
            s.along - s.down,
            s.lower_stretch,
            s.head_stretch,
            s.from_head + s.from_lower - s.home,
            s.home - s.inflow,
            flow_rate(valves, opening, difference, s.out),
            (s.arch - s.descending - vessels.between * s.along) / vessels.arch_mass,
            (s.descending - s.lower - vessels.between * s.down) / vessels.descending_mass,
            opening_rate(valves, opening, difference),
            s.filling,
            (told - entries[BALLOON + 1]) / self.body.balloon.switch,
            s.shifting,
            -self.body.balloon.leak * s.gas if time > self._leaks_from else 0.0,
        ]


@dataclass(frozen=True, slots=True)
class Solution:
    """What was kept of a solved loop: the moments in s, what is integrated at each, and all that follows from it."""

    times: list[float]
    entries: list[list[float]]
    states: list[State]


def solve(loop: Loop, begin: float, end: float, step: float = STEP) -> Solution:
    """Integrate a loop from 0 by even steps and keep what lies between two moments.

    Where the drive is told to change over, a step is cut in two: nothing jumps within one. A browser takes the same
    steps, so it draws the same.

    Args:
        loop: the equations.
        begin, end: what to keep, in s, to the nearest sample.
        step: length of a step, s; `SAMPLE` or a whole part of it.
    """
    y, at = loop.start(), 0
    changes = (*loop.changes, inf)
    every, first, last = round(SAMPLE / step), round(begin / SAMPLE), round(end / SAMPLE)
    times: list[float] = []
    entries: list[list[float]] = []
    for number in range(last * every + 1):
        time, until = number * step, (number + 1) * step
        if number % every == 0 and number >= first * every:
            times.append(time)
            entries.append(y)
        while changes[at] < until:
            if changes[at] > time:
                y, time = one_step(loop, time, y, changes[at] - time), changes[at]
            at += 1
        y = one_step(loop, time, y, until - time)
    return Solution(times, entries, [loop.state(*moment) for moment in zip(times, entries, strict=True)])


def one_step(loop: Loop, time: float, y: Sequence[float], step: float) -> list[float]:
    """What is integrated, one step later (Runge and Kutta, fourth order)."""
    half, told = step / 2.0, loop.told(time + step / 2.0)
    a = loop.rates(time, y, told)
    b = loop.rates(time + half, [v + half * r for v, r in zip(y, a, strict=True)], told)
    c = loop.rates(time + half, [v + half * r for v, r in zip(y, b, strict=True)], told)
    d = loop.rates(time + step, [v + step * r for v, r in zip(y, c, strict=True)], told)
    return [v + step / 6.0 * (e + 2.0 * (f + g) + h) for v, e, f, g, h in zip(y, a, b, c, d, strict=True)]
