"""Priorities against the published table.

Source: IEC 60601-1-8:2006+A1:2012+A2:2020 (edition 2.2), 6.1.2, Table 1; read in a secondary that cites the
standard clause by clause. For minor harm that comes late the table leaves a choice (low priority, or no
alarm at all); here the alarm has sounded, so it is low.
"""

from __future__ import annotations

from itertools import product

import pytest

from alarmtrees.model import Harm

#                 immediate  prompt    delayed
TABLE_1 = {
    "irreversible": ("high", "high", "medium"),
    "reversible": ("high", "medium", "low"),
    "minor": ("medium", "low", "low"),
}
ONSETS = ("immediate", "prompt", "delayed")


@pytest.mark.parametrize(("severity", "onset"), list(product(TABLE_1, ONSETS)))
def test_priority(severity: str, onset: str) -> None:
    """All nine pairs of severity and onset."""
    assert str(Harm(severity, onset).priority) == TABLE_1[severity][ONSETS.index(onset)]


def test_there_is_nothing_else() -> None:
    """A pair outside the table has no priority."""
    for severity, onset in (("severe", "prompt"), ("minor", "soon")):
        with pytest.raises(KeyError):
            _ = Harm(severity, onset).priority
