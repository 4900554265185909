"""Where the energy goes that the ventricle and the balloon put into the blood."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from circulation.solve import OPENING, Loop, Solution, State
from circulation.valves import ALMOST_SHUT, inertance, loss


@dataclass(frozen=True, slots=True)
class Energy:
    """Work and losses over a time, mmHg mL.

    Attributes:
        ventricle: put in by the ventricle, less what filled it.
        balloon: put in by the balloon on the wall around it.
        lift: put in by what stands for the right heart.
        lost: to friction, in vessels, walls and valves.
        stored: more in stretched walls and moving blood at the end than at the beginning.
    """

    ventricle: float
    balloon: float
    lift: float
    lost: float
    stored: float

    @property
    def unexplained(self) -> float:
        """What was put in and is neither lost nor stored: 0 but for the error of the solution."""
        return self.ventricle + self.balloon + self.lift - self.lost - self.stored


def energy(loop: Loop, solution: Solution) -> Energy:
    """The balance of a solved loop over the time that was kept."""
    sample = solution.times[1] - solution.times[0]
    moments = list(zip(solution.entries, solution.states, strict=True))

    def over_time(values: list[float]) -> float:
        return sum((early + late) / 2.0 for early, late in pairwise(values)) * sample

    ventricle = over_time([s.ventricle * (s.out - s.inflow) for _, s in moments])
    balloon = over_time([s.descending * s.filling for _, s in moments])
    lift = over_time([loop.body.vessels.lift * s.home for _, s in moments])
    lost = over_time([_lost(loop, entries, s) for entries, s in moments])
    stored = _stored(loop, *moments[-1]) - _stored(loop, *moments[0])
    return Energy(ventricle, balloon, lift, lost, stored)


def _lost(loop: Loop, entries: Sequence[float], s: State) -> float:
    """Power lost at one moment."""
    vessels = loop.body.vessels
    flows = (
        (s.along, vessels.between),
        (s.down, vessels.between),
        (s.to_head, vessels.branch),
        (s.from_head, vessels.head_resistance),
        (s.from_lower, vessels.lower_resistance),
        (s.home, vessels.return_resistance),
        (s.inflow, loop.body.valves.mitral),
    )
    walls = (
        (s.arch_stretch, vessels.arch),
        (s.descending_stretch, vessels.descending),
        (s.lower_stretch, vessels.lower),
        (s.head_stretch, vessels.head),
    )
    friction = sum(flow**2 * resistance for flow, resistance in flows)
    stretch = sum(rate**2 * vessels.viscous / compliance for rate, compliance in walls)
    return friction + stretch + _lost_in_valve(loop, entries[OPENING], s)


def _lost_in_valve(loop: Loop, opening: float, s: State) -> float:
    """Eddies behind the valve, and the moving blood that its closing leaves nowhere to go."""
    valves = loop.body.valves
    share = max(opening, ALMOST_SHUT)
    eddies = loss(valves) * abs(s.out) ** 3 / share**2
    # Kinetic energy is inertance / share * flow² / 2: what changes as the share does is given off, or taken up.
    change = valves.rate * (s.ventricle - s.arch) * (1.0 - opening if s.ventricle > s.arch else opening)
    moving = inertance(valves) * s.out**2 / 2.0 * change / share**2 if opening > ALMOST_SHUT else 0.0
    return eddies + moving


def _stored(loop: Loop, entries: Sequence[float], s: State) -> float:
    """Energy in stretched walls and moving blood. The ventricle's own is work of the muscle, and left to it."""
    vessels = loop.body.vessels
    walls = (
        (entries[1], vessels.arch),
        (entries[2] + entries[11], vessels.descending),
        (entries[3], vessels.lower),
        (entries[4], vessels.head),
        (entries[5], vessels.veins),
        (entries[6], vessels.atrium),
    )
    valve = inertance(loop.body.valves) / max(entries[OPENING], ALMOST_SHUT)
    masses = ((s.out, valve), (s.along, vessels.arch_mass), (s.down, vessels.descending_mass))
    return sum(v**2 / compliance for v, compliance in walls) / 2.0 + sum(m * flow**2 for flow, m in masses) / 2.0
