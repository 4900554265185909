"""How soon a tree leads to the remedy, and whether another order of its questions would be quicker.

`times.py` how long each cause takes; `sequence.py` the best order of some looks; `reorder.py` which questions of a tree
could change places, and what of that keeps every safety rule.
"""

from .reorder import Advice, Adviser, NewOrder, Row, Swap, advice_of
from .sequence import Look, Looks, gain_range
from .times import Remedies, Remedy, mean, shares_of

__all__ = [
    "Advice",
    "Adviser",
    "Look",
    "Looks",
    "NewOrder",
    "Remedies",
    "Remedy",
    "Row",
    "Swap",
    "advice_of",
    "gain_range",
    "mean",
    "shares_of",
]
