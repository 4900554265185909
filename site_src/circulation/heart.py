"""The left ventricle: how stiff it is in the course of a beat, and the pressure that follows."""

from __future__ import annotations

from math import exp

from .values import Heart


def systole(interval: float) -> float:
    """From the R wave to the closure of the aortic valve in s, for a beat after `interval` s.

    The regression of total electromechanical systole (Weissler 1968, men, from memory) at the rate of that
    interval. It was made in healthy adults; the rate is held between 40 and 150 a minute.

    >>> round(systole(60 / 70), 3)
    0.399
    """
    rate = min(max(60.0 / interval, 40.0), 150.0)
    return (546.0 - 2.1 * rate) / 1000.0


class Activation:
    """How far the muscle is tensed at each moment of a beat: 0 at rest, 1 at its most (double Hill curve)."""

    def __init__(self, heart: Heart) -> None:
        self._rise, self._fall = heart.rise, heart.fall
        self._rise_share = heart.rise_share
        self._delay = heart.delay
        self._fall_share = heart.fall_share
        self._scale = 1.0
        self._scale = 1.0 / max(self._shape(step / 500.0) for step in range(1, 1000))

    def _shape(self, x: float) -> float:
        """The curve at `x`, the time as a share of the time of the fall."""
        rise = (x / self._rise_share) ** self._rise
        return float(rise / (1.0 + rise) / (1.0 + x**self._fall) * self._scale)

    def __call__(self, since: float, systole_lasts: float) -> float:
        """Tension `since` s after the R wave of a beat whose systole lasts as long as said."""
        time = since - self._delay
        return self._shape(time / (self._fall_share * (systole_lasts - self._delay))) if time > 0.0 else 0.0


def passive_pressure(heart: Heart, volume: float) -> float:
    """Pressure of the slack ventricle in mmHg at a volume in mL."""
    return heart.passive * (exp(heart.passive_rate * (volume - heart.unstressed)) - 1.0)


def ventricular_pressure(heart: Heart, tension: float, volume: float, outflow: float) -> float:
    """Pressure in the ventricle in mmHg; what flows out takes a part of the active pressure away."""
    active = heart.stiffness * (volume - heart.unstressed) * (1.0 - heart.flow_loss * outflow)
    return tension * active + (1.0 - tension) * passive_pressure(heart, volume)
