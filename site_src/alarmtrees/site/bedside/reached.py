"""The number behind whoever a step names to be reached, beside the one whom it calls itself.

A step has one button to call, and its words may send for another person too: at night nobody looks for that number
elsewhere.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from ...model import Role

_ON_CALL = "-on-call"
_SENTENCE = re.compile(r"(?<=[.;!?])(\s+)")
_TAG = re.compile(r"(<[^>]*>)")
# "Until the doctor says otherwise" sends for nobody; these words do.
_SENT_FOR = re.compile(
    r"\b(have|call(?:ed)?|tells?|told|asks?|send|sent|fetch|fetched|brought|needed|hears?|now|at once|instead)\b",
    re.IGNORECASE,
)


class Reached:
    """Puts numbers into the texts of one step, each once.

    Args:
        roles: whom a page may name.
        numbers: how the number of each is written on the page; a role without one is left out.
        own: the role that the step calls with a line of its own.
    """

    def __init__(self, roles: Iterable[Role], numbers: Mapping[str, str], own: str | None = None) -> None:
        self.numbers = numbers
        self.open = {role.id: _named(role) for role in roles if role.id != own and numbers.get(role.id)}

    def told(self, html: str) -> str:
        """A text of the step, ready for a page, with the numbers that it is the first to need.

        >>> from ...model import Role
        >>> team = Role("arrest-team", "arrest team", "1 23", True, None)
        >>> Reached([team], {"arrest-team": "1 23"}).told("Only if grey: arrest team. Tell the arrest team.")
        'Only if grey: arrest team (1 23). Tell the arrest team.'
        """
        return "".join(self._sentence(part) for part in _SENTENCE.split(html))

    def _sentence(self, html: str) -> str:
        sent_for = _SENT_FOR.search(_TAG.sub("", html)) is not None
        for role, named in tuple(self.open.items()):
            # A team or a line is named to be called, and for nothing else.
            if sent_for or not role.endswith(_ON_CALL):
                parts = _TAG.split(html)
                for place in range(0, len(parts), 2):
                    parts[place], count = named.subn(rf"\g<0> ({self.numbers[role]})", parts[place], count=1)
                    if count:
                        del self.open[role]
                        break
                html = "".join(parts)
        return html


def _named(role: Role) -> re.Pattern[str]:
    one = "|".join(map(re.escape, role.names))
    return re.compile(rf"\b(?:{one})(?: (?:{one}))*\b(?!['’&])", re.IGNORECASE)
