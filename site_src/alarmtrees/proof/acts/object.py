"""A part of a line, and what its verbs act on."""

from __future__ import annotations

import re
from functools import cached_property
from typing import TYPE_CHECKING

from .words import ARTICLES, Word, norm, words_of

if TYPE_CHECKING:
    from .table import Grammar, Item, Names

_LETTERS = re.compile(r"[^\W\d_]+")

REACH = 8
"""So many words may stand between a verb and its object; a line to do has 14."""

PARTS = 6
"""So many parts are looked at for what "it" means."""

NEAR = 30
"""So many words behind a verb are looked at for what must follow it."""

AND = frozenset([",", "and", "or", "but", "then"])
IT = frozenset(["it", "them", "one"])
NOTHING = frozenset(["no", "not", "nothing", "none", "neither", "nor", "nobody", "nowhere", "never"])

PUMP = frozenset(["pump", "pump-at-rest", "console"])
DEVICE, OTHER, DEED = frozenset(["device"]), frozenset(["other"]), frozenset(["deed"])

_STEPPED = IT | frozenset(["up", "down", "ratio", "assist", "pump"])

_ENDS = AND | frozenset(["by", "for", "until", "as", "if", "when"])
"""What may follow a verb that needs no object: "Restart, then watch"."""


class Part:
    """A part of a line, between two stops, with the things that it names."""

    def __init__(self, grammar: Grammar, text: str, begin: int, end: int, before: Part | None = None) -> None:
        """Take up the text; its words are only looked at where they matter.

        Args:
            grammar: the table.
            text: a plain text.
            begin: where the part begins in it.
            end: where it ends.
            before: the part before it: "it" may mean what stands there.
        """
        self.g, self.text, self.begin, self.end, self.before = grammar, text, begin, end, before
        self.verb_at = -1
        self._meant: dict[tuple[int, int], Names] = {}

    def is_quiet(self, verbs_only: bool) -> bool:
        """Whether it tells nothing, by a glance that spares most of the parts.

        Args:
            verbs_only: whether only verbs of the table matter.
        """
        norms = [norm(word) for word in _LETTERS.findall(self.text, self.begin, self.end)]
        if not self.g.telling.isdisjoint(norms):
            return False
        soft = self.g.words["soft"]
        head = next((word for word in norms if word not in soft and word not in AND), None)
        return verbs_only or head is None or head in ARTICLES or head in self.g.harmless

    @cached_property
    def w(self) -> tuple[Word, ...]:
        """Its words."""
        return tuple(words_of(self.text, self.begin, self.end))

    @cached_property
    def norms(self) -> tuple[str, ...]:
        """Its words as they are compared."""
        return tuple(word.norm for word in self.w)

    @cached_property
    def n(self) -> int:
        """How many they are."""
        return len(self.w)

    @cached_property
    def head(self) -> int:
        """The first that counts."""
        return self.soft(0)

    @cached_property
    def spans(self) -> dict[int, tuple[int, Names]]:
        """Where things stand: first word -> the word behind the last, and their classes."""
        spans: dict[int, tuple[int, Names]] = {}
        at = 0
        while at < self.n:
            at = self._span(at, spans)
        return spans

    @cached_property
    def present(self) -> Names:
        """All classes of things that the part names."""
        return frozenset().union(*(names for _, names in self.spans.values()))

    def _span(self, at: int, spans: dict[int, tuple[int, Names]]) -> int:
        """Note the thing that begins at a word, by its longest name, and say where to look on."""
        for words, names in self.g.things.get(self.norms[at], ()):
            end = at + len(words)
            if at == self.head and len(words) > 1 and "base" in self.g.verbs.get(words[0], ()):
                continue  # "lower limit": a part begins with its verb
            if self.norms[at:end] != words:
                continue
            names_another = end < self.n and self.norms[end] in self.g.words["heads"] and not self.w[end].det
            if self.norms[end : end + 1] == ("round",) and end + 1 < self.n and self.w[end + 1].det:
                names_another = False  # "the line round the leg"; "the hourly round" has none
            if not self.w[end - 1].owns and not names_another:
                spans[at] = end, names
            return end
        return at + 1

    def soft(self, at: int) -> int:
        """The first word from here on that is no mere "then gently"."""
        soft = self.g.words["soft"]
        while at < self.n and (self.norms[at] in soft or self.norms[at] in AND):
            if self.norms[at] == "once" and at + 2 < self.n and "base" not in self.g.verbs.get(self.norms[at + 1], ()):
                break  # "once the line is dry" is a condition
            if self.norms[at] == "step" and self.norms[at + 1 : at + 2] and self.norms[at + 1] in _STEPPED:
                break  # "step it down"
            at += 1
        return at

    def is_in(self, at: int, kind: str) -> bool:
        """Whether there is a word here, and of that kind."""
        return at < self.n and self.norms[at] in self.g.words[kind]

    def form(self, at: int, kind: str = "base") -> str | None:
        """The plainest form of the verb that a word may be, where it can be one in that form."""
        if at >= self.n or (at in self.spans and self.spans[at][0] > at + 1) or (kind == "base" and self.w[at].det):
            return None
        return self.g.verbs.get(self.norms[at], {}).get(kind)

    # ---------------------------------------------------------------------- it

    def _can_be_it(self, at: int) -> bool:
        names = self.spans[at][1]
        return at != self.verb_at and not names.isdisjoint(DEVICE | OTHER) and "patient" not in names

    def meant(self, at: int) -> Names:
        """What "it" means here: the thing named last, also in one of the parts before, else the pump."""
        if (at, self.verb_at) not in self._meant:
            self._meant[at, self.verb_at] = self._look_back(at)
        return self._meant[at, self.verb_at]

    def _look_back(self, at: int) -> Names:
        part: Part | None = self
        for _ in range(PARTS):
            if part is None:
                break
            if named := part.named(at):
                return named
            part = part.before
            at = part.n if part else 0
        return PUMP

    def named(self, at: int) -> Names | None:
        """What "it" could mean of this part, before a word."""
        for k in range(at - 1, max(-1, at - NEAR), -1):
            if k in self.spans:
                if self._can_be_it(k):
                    return self.spans[k][1]
            elif self.w[k].det and self.norms[k] not in self.g.known and k + 1 < at and not self._within(k):
                return PUMP  # a noun that the table does not know
        return None

    def _within(self, at: int) -> bool:
        """Whether a word stands inside the name of a thing, or before it: "the old pump"."""
        return any(k in self.spans and (k > at or self.spans[k][0] > at) for k in range(max(0, at - 4), at + 3))

    # ---------------------------------------------------------------------- objects

    def thing(self, names: Names, at: int, end: int, touched: bool = False) -> int | None:
        """The word behind the nearest object of some classes, or None.

        Args:
            names: the classes.
            at: where to begin.
            end: where to end; a preposition, a condition and a "nothing" end the search as well.
            touched: whether what is touched counts too: "tap on the line".
        """
        k, last = at, min(end, at + REACH)
        while k < last:
            word = self.norms[k]
            if k in self.spans:
                stop, classes = self.spans[k]
                if stop <= end and classes & names:
                    return stop
                if classes == OTHER:
                    return None
                k = stop
                continue
            if word in IT and self._is_it(k, end):
                return k + 1 if self.meant(k) & names or "it" in names else None
            if (word in NOTHING and k < at + 2) or word in self.g.words["guards"]:
                return None
            if word in self.g.words["prepositions"] and word != "of":
                leads_on = word == "with" or word in self.g.words["contacts"]
                if not (touched and leads_on and k <= at + 1):
                    return None
            k += 1
        return None

    def _is_it(self, at: int, end: int) -> bool:
        """Whether a word stands for a thing: "one" before a noun counts it instead."""
        following = self.norms[at + 1] if at + 1 < end else ","
        return self.norms[at] != "one" or following in AND or following in self.g.words["prepositions"]

    def past_adverbs(self, at: int, end: int) -> int:
        """The first word from here on that is neither adverb nor particle."""
        while at < end and (self.is_in(at, "soft") or self.is_in(at, "trails")):
            at += 1
        return at

    def words(self, item: Item, at: int, end: int) -> int | None:
        """The word behind one of the words of an item, where they stand here."""
        for words in item.words:
            stop = at + len(words)
            if stop <= end and self.norms[at:stop] == words:
                return stop
        return None

    # ---------------------------------------------------------------------- ways

    def match(self, items: tuple[Item, ...], at: int, end: int) -> int | None:
        """The word behind all that must follow a verb, or None."""
        parts = [item for item in items if not item.is_gap]
        movable = len(parts) == 2 and bool(parts[0].thing) != bool(parts[1].thing)
        if movable and (len(items) == 2 or items[0].thing):
            thing, words = parts if parts[0].thing else parts[::-1]
            stop = self._either_side(thing, words, at, end)
            if stop is not None or (items[0].thing and len(items) == 2):
                return stop
        if not items:
            alone = any(k >= end or self.norms[k] in _ENDS for k in (at, self.past_adverbs(at, end)))
            return at if alone else None
        return self._in_order(items, at, end, True)

    def _either_side(self, thing: Item, words: Item, at: int, end: int) -> int | None:
        """A verb with a particle, before or behind its object: "turn off the pump", "turn the pump off"."""
        for first in range(at, min(end, self.past_adverbs(at, end) + 1)):
            stop = self.words(words, first, end)
            if stop is not None and (found := self.thing(thing.thing, stop, end)) is not None:
                return found
        found = self.thing(thing.thing, at, end)
        if found is None:
            return None
        close = self.past_adverbs(found, end)
        for k in range(found, end):
            stop = self.words(words, k, end)
            if stop is not None and (
                k <= close or stop >= end or self.norms[stop] in AND or self.is_in(stop, "trails")
            ):
                return stop
        return None

    def _in_order(self, items: tuple[Item, ...], at: int, end: int, first: bool) -> int | None:
        """The word behind items that follow one another."""
        if not items:
            return at
        item, rest = items[0], items[1:]
        if item.thing:
            stop = self.thing(item.thing, at, end)
            return None if stop is None else self._in_order(rest, stop, end, False)
        if item.is_gap:
            end = next((k for k in range(at, end) if self.norms[k] == ","), end)
            item, rest, starts = rest[0], rest[1:], range(at, end)
        else:
            starts = range(at, end if rest and not first else min(end, self.past_adverbs(at, end) + 1))
        for k in starts:
            stop = self._here(item, k, end)
            if stop is not None and (done := self._in_order(rest, stop, end, False)) is not None:
                return done
        return None

    def _here(self, item: Item, at: int, end: int) -> int | None:
        if item.words:
            return self.words(item, at, end)
        stop, names = self.spans.get(at, (end + 1, OTHER))
        return stop if stop <= end and names & item.thing else None
