"""Reads a line: where a verb tells an act, and which.

A line is cut at its stops. In each part a verb tells an act where it stands first, behind a condition ("Only if no
blood: …"), behind a comma or "and" that follows a told verb, behind "try to" or "by", or as "have the pump restarted"
and "the line must be clamped". What is forbidden, looked at, asked, or done by others tells no act.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from .object import AND, DEED, DEVICE, IT, NEAR, NOTHING, OTHER, REACH, Part
from .told import Told
from .words import parts_of, plain

if TYPE_CHECKING:
    from .table import Grammar, Way

_WHICH = frozenset(["that", "another", "second", "free", "two", "else", "and"])
_ASKED = frozenset(["whether", "to", "if", "that", "how", "when", "why"])
_PARTICLES = frozenset(["off", "up", "down", "out", "over"])
_AGAINST = frozenset(["through", "into", "against", "onto"])
_NOTED = frozenset([",", "and", "now", "again", "immediately", "first", "at-once", "once"])
_TURNED, _SWITCHED = frozenset(["turn", "switch", "shut"]), frozenset(["off", "on", "out"])
_FETCHED = frozenset(["fetch", "bring"])
_EACH = frozenset(["every", "each"])
_IS = frozenset(["is", "are", "has", "was"])


def told_in(grammar: Grammar, lines: Iterable[str], noted: bool = True, strange: bool = True) -> list[tuple[int, Told]]:
    """The acts that a step tells, each with the line in which it does.

    Args:
        grammar: the table.
        lines: the texts of one step, in their order: "it" may mean what a line before spoke of.
        noted: whether a part without a verb may tell an act ("Oxygen at once.").
        strange: whether verbs that the table does not know are named as well.

    Returns:
        The acts in the order of the text; what one line tells twice is named once.
    """
    found: list[tuple[int, Told]] = []
    before: Part | None = None
    for index, line in enumerate(lines if grammar.ways else ()):
        told, before = _read(grammar, line, before, noted, strange)
        found += [(index, one) for one in told]
    return found


def _read(
    grammar: Grammar, line: str, before: Part | None, noted: bool, strange: bool
) -> tuple[list[Told], Part | None]:
    """The acts that a line tells, and its last part; linear in the words of the line."""
    text = plain(line)
    shown = line if len(text) == len(line) else text
    found: dict[str | None, Told] = {}
    quoted: bool | None = None
    for begin, end in parts_of(text):
        part = _Reading(grammar, text, begin, end, before)
        if quoted is not True and not part.is_quiet(not noted and not strange):
            for act in part.acts(noted and quoted is None, strange and quoted is None):
                words = shown[part.w[act.begin].begin : part.w[act.end - 1].end]
                known = act.way.act if act.way else None
                found.setdefault(known.id if known else None, Told(known, words))
        quoted = part.quotes if text[end : end + 1] == ":" else None
        before = part
    return list(found.values()), before


class _Found:
    """An act between two words of a part; without a way, one that the table does not know."""

    __slots__ = ("begin", "end", "way")

    def __init__(self, begin: int, end: int, way: Way | None) -> None:
        self.begin, self.end, self.way = begin, end, way


class _Reading(Part):
    """One part, read from its first word to its last."""

    found: list[_Found]

    @property
    def quotes(self) -> bool | None:
        """What a colon behind it begins: what is said (True), what somebody is told (False), or neither."""
        if self.is_in(self.head, "says") or self.is_in(self.head, "lets"):
            return self.n - self.head == 1
        return None

    def acts(self, noted: bool, strange: bool) -> list[_Found]:
        """All acts of the part."""
        self.found, self.noted, self.strange = [], noted, strange
        at: int | None = 0
        while at is not None:
            at = self._from(at)
        self._must_be()
        return self.found

    # ---------------------------------------------------------------------- where a verb tells an act

    def _from(self, at: int) -> int | None:
        """Note the act told from here on; give the place where the next may begin, further on."""
        at = self.soft(at)
        if at >= self.n:
            return None
        if self.is_in(at, "guards") or self.is_in(at, "places"):
            return self._behind_guard(at)
        if self._negates(at):
            return self._behind_never(at)
        if self.norms[at] in _EACH and (behind := self._behind_guard(at)):
            return behind  # "every five minutes, fill the balloon"
        if self.is_in(at, "lets"):
            if person := self._person(at + 1):
                end, decides = person
                reports = self.form(end, "part") and not self.form(end)
                return None if decides or reports else end
            if self.norms[at] in ("have", "get", "see", "want") and (caused := self._caused(at + 1)):
                return self._have_done(at, *caused)
        if self.noted and at == self.head and (praised := self._praised(at)):
            self._note(*praised)
        if verb := self.form(at):
            if self.noted and at in self.spans:
                self._noun(at, bare=False)  # "pump off"; "shock the patient" is read as a verb
            return self._verb(at, verb)
        return self._no_verb(at)

    def _praised(self, at: int) -> tuple[int, str, int] | None:
        """An act that is praised instead of ordered: "restarting helps", "best is to restart", "time to restart"."""
        if any(word in NOTHING for word in self.norms):
            return None
        if (verb := self.form(at, "ing")) and any(self.is_in(k, "helps") for k in range(at, self.n)):
            return at, verb, self.n
        begin = min(self.n, at + REACH)
        for k in range(at, begin):
            to = k + 2 if self.norms[k + 1 : k + 2] == ("is",) else k + 1
            if self.is_in(k, "bests") and self.norms[to : to + 1] == ("to",) and (verb := self.form(to + 1)):
                return to + 1, verb, self.n
        return None

    def _negates(self, at: int) -> bool:
        word, following = self.norms[at], self.norms[at + 1] if at + 1 < self.n else ""
        not_done = word in ("do", "must", "may", "should") and following in ("not", "never")
        return word in ("don't", "don’t") or not_done or self.is_in(at, "forbids")

    def _near_comma(self, at: int) -> int:
        last = min(self.n, at + NEAR)
        return next((k for k in range(at, last) if self.norms[k] == ","), last)

    def _comma(self, at: int) -> int:
        return next((k for k in range(at, self.n) if self.norms[k] == ","), self.n)

    def _behind_guard(self, at: int) -> int | None:
        """Behind a condition: the act follows a comma, or the words "on the console"."""
        comma = self._comma(at)
        if comma == self.n:
            forbidden = at + 1 < self.n and self.norms[at + 1] in NOTHING  # "under no circumstances"
            return None if forbidden or not self.is_in(at, "places") else self._behind_place(at)
        while comma < self.n:
            behind = self.soft(comma + 1)
            if behind < self.n and (self.form(behind) or self._negates(behind) or self._is_guard(behind)):
                return behind
            comma = self._comma(comma + 1)
        return None

    def _is_guard(self, at: int) -> bool:
        return self.is_in(at, "guards") or self.is_in(at, "lets")

    def _behind_place(self, at: int) -> int | None:
        for k in range(at + 2, min(self.n, at + NEAR)):
            before = self.norms[k - 1]
            if self.form(k) and before not in AND and before != "to" and not self.is_in(k - 1, "prepositions"):
                return k
        return None

    def _behind_never(self, at: int) -> int | None:
        """Behind a "never": nothing, but for "do not wait", "do not hesitate to", and what follows "but" or a comma."""
        wait = next((k for k in range(at + 1, min(self.n, at + 4)) if self.is_in(k, "waits")), None)
        if wait is not None:
            following = self.norms[wait + 1] if wait + 1 < self.n else ""
            return wait + 2 if following == "to" else wait + 1 if following in AND else self._comma(wait) + 1
        listed = any(self.norms[k] in ("or", "nor") for k in range(at + 1, min(self.n, at + NEAR)))
        for k in range(at + 1, self.n):
            turns = self.norms[k] in ("but", "instead") or (self.norms[k] == "," and not listed)
            behind = self.soft(k)
            if turns and not (behind < self.n and self.norms[behind] in NOTHING):
                return k + 1
        return None

    def _person(self, at: int) -> tuple[int, bool] | None:
        """The word behind "somebody" or "the doctor", and whether it is one who decides."""
        end, decides = at, False
        while self.is_in(end, "people") or self.is_in(end, "others") or (end < self.n and self.norms[end] == "and"):
            decides = decides or self.is_in(end, "others")
            end += 1
        if all(self.norms[k] in _WHICH for k in range(at, end)):
            return None
        return end + (end < self.n and self.norms[end] == "to"), decides

    # ---------------------------------------------------------------------- a told verb

    def _verb(self, at: int, verb: str) -> int | None:
        end, led, following = self._scope(at, verb)
        self._note(at, verb, end)
        for k, kind in led:
            if form := self.form(k, kind):
                self._note(k, form, end)
        return following

    def _scope(self, at: int, verb: str) -> tuple[int, list[tuple[int, str]], int | None]:
        """Where the words of a verb end, which verbs it leads to, and where the next act may begin."""
        led: list[tuple[int, str]] = []
        asks, leads = verb in self.g.words["says"], verb in self.g.words["leads"]
        looks, closed = verb in self.g.looks and not leads, False
        for k in range(at + 1, self.n):
            word = self.norms[k]
            closed = closed or (asks and word in _ASKED) or (k > at + 1 and word != "as" and self.is_in(k, "guards"))
            if word in AND:
                if (word == "," or not closed) and self._begins(k):
                    return k, led, k
            elif word == "to" and not looks and k + 1 < self.n and not self.w[k + 1].det:
                led.append((k + 1, "base"))
            elif word == "by" and not asks:
                led.append((k + 1, "ing"))
            elif leads and k <= at + 2 and self.norms[k - 1] != "from" and self.form(k, "ing"):
                led.append((k, "ing"))
        return self.n, led, None

    def _begins(self, at: int) -> bool:
        """Whether another act, or what forbids one, begins behind a comma or "and"."""
        behind = self.soft(at)
        if behind >= self.n:
            return False
        if self.form(behind) and self._is_verb(behind):
            return True
        if self.norms[at] in (",", "but", "and") and self._negates(behind):
            return True
        if self.norms[at] == "," and self.is_in(behind, "guards"):
            return True
        return self.is_in(behind, "lets") and bool(self._person(behind + 1) or self._caused(behind + 1))

    def _is_verb(self, at: int) -> bool:
        """Whether a word that may be a noun is a verb here: "watch pulse and pressure" has none behind "and"."""
        return at not in self.spans or self._has_object(at + 1)

    def _has_object(self, at: int) -> bool:
        return at < self.n and (self.w[at].det or at in self.spans or self.norms[at] in IT)

    def _note(self, at: int, verb: str, end: int) -> None:
        """Note each act that a verb tells with the words behind it."""
        end = min(end, at + NEAR)
        if any(self.norms[k] in NOTHING for k in range(at + 1, min(at + 3, end))) or self.norms[at + 1 : at + 2] == (
            "of",
        ):
            return  # "restart nothing"; "part of the line"
        if not self.noted and verb == "open" and at == self.head and at + 1 in self.spans and not self.w[at + 1].det:
            return  # an answer "Open tap at the transducer" says what is seen
        listed = at + 1
        while listed < min(self.n, at + NEAR) and (self.norms[listed] in AND or self.form(listed)):
            listed += 1
        if listed > at + 1 and listed < self.n and self.norms[listed] in NOTHING:
            return  # "start, join and renew nothing"
        self.verb_at = at
        matched, with_it = False, not IT.isdisjoint(self.norms)
        for way in self.g.ways.get(verb, ()):
            if way.needs and not with_it and way.needs.isdisjoint(self.present):
                continue
            stop = self.match(way.items, at + 1, end)
            if stop is not None:
                matched = True
                self.found.append(_Found(at, stop, way))
        harmless = verb in self.g.looks or verb in self.g.words["lets"] or verb in self.g.words["leads"]
        if self.strange and not matched and not harmless:
            stop = self._changed(at, verb, end)
            if stop is not None:
                self.found.append(_Found(at, stop, None))

    def _changed(self, at: int, verb: str, end: int) -> int | None:
        """The word behind the device that a verb changes in a way that the table does not know."""
        if at in self.spans and at + 1 < end:
            behind = at + 2 if self.norms[at + 1] in _PARTICLES else at + 1
            if not self._has_object(behind):
                return None  # "pump on hold" is no verb
        guard = next((k for k in range(at + 1, end) if self._ends_object(k)), end)
        handles = verb in self.g.words["handles"]
        stop = self.thing(DEVICE, at + 1, guard, touched=not handles)
        named = [self.spans[k] for k in range(at + 1, guard) if k in self.spans]
        if handles and stop is not None and (self.is_in(stop, "asides") or self._is_laid_by(at, stop)):
            return None  # "lay it ready"
        if stop is not None and stop < end and self.norms[stop] in _IS:
            return None  # "flush bag is empty" says how it stands
        if stop is None:
            stop = next((after for after, names in named if names & DEED), None)
        if stop is None and not handles and all(names != OTHER for _, names in named):
            touched = (k for k in range(at + 1, guard) if self.is_in(k, "contacts"))
            stop = next((after for k in touched if (after := self.thing(DEVICE, k + 1, guard)) is not None), None)
        if stop is None and (first := self._grave(at, verb, guard)) is not None:
            stop = first + 1
        return stop

    def _grave(self, at: int, verb: str, end: int) -> int | None:
        """The unknown noun that is the object of a grave verb: "purge the circuit", "switch off the blower"."""
        first = at + 1
        if verb in _TURNED:
            if not any(self.norms[k] in _SWITCHED for k in range(first, min(end, at + 5))):
                return None
            first += first < end and self.norms[first] in _SWITCHED
        elif verb not in self.g.words["grave"]:
            return None
        known = any(self.spans[k][1] == OTHER for k in range(first, end) if k in self.spans)
        return first if first < end and self.w[first].det and not known else None

    def _is_laid_by(self, at: int, stop: int) -> bool:
        """Whether what has just been fetched is put somewhere: "fetch the mask and lay it on the table"."""
        fetched = any(word in _FETCHED for word in self.norms[max(0, at - NEAR) : at])
        return fetched and self.norms[at + 1] in IT and self.thing(DEVICE, stop + 1, self.n) is None

    def _ends_object(self, at: int) -> bool:
        begins = self.norms[at] == "that" and at + 1 < self.n and self.w[at + 1].det
        return begins or self.norms[at] == "," or self.is_in(at, "guards")

    # ---------------------------------------------------------------------- past forms

    def _caused(self, at: int) -> tuple[int, int] | None:
        """In "have the pump restarted": the thing and the past form."""
        for k in range(at, min(self.n, at + 4)):
            if k in self.spans or (k == at and self.norms[k] in IT):
                end = self.spans[k][0] if k in self.spans else k + 1
                last = (
                    p for p in reversed(range(end, min(self.n, end + 3))) if self.form(p, "part") or self.form(p, "ing")
                )
                return next(((k, p) for p in last), None)
            if self.norms[k] in AND or self.is_in(k, "prepositions"):
                return None
        return None

    def _have_done(self, at: int, thing: int, past: int) -> int | None:
        for kind in ("part", "ing"):
            self._note_past(at, thing, past, kind)
        if verb := self.form(at):
            self._note(at, verb, self.n)
        following = next((k for k in range(past, self.n) if self.norms[k] in (",", "and")), self.n)
        return following if following < self.n and self._begins(following) else None

    def _note_past(self, begin: int, thing: int, past: int, kind: str) -> None:
        verb = self.form(past, kind)
        if verb is None or verb in self.g.looks:
            return
        names = self.spans[thing][1] if thing in self.spans else self.meant(thing)
        for way in self.g.ways.get(verb, ()):
            first = next((item for item in way.items if item.thing), None)
            if first is None or not names & first.thing:
                continue
            rest = tuple(item for item in way.items if item is not first and not item.is_gap)
            if not rest or self.match(rest, past + 1, min(self.n, past + NEAR)) is not None:
                self.found.append(_Found(begin, past + 1, way))

    def _must_be(self) -> None:
        """Note "the line must be clamped", where no condition begins the part and nothing forbids it."""
        is_verb = self.head < self.n and self.head not in self.spans and self.form(self.head)
        if self.head >= self.n or self.is_in(self.head, "guards") or is_verb:
            return
        allowed = "now" in self.norms  # "may now be restarted"; "may be kinked" only says what may have happened
        musts = (
            k for k in range(self.head + 1, self.n) if self.is_in(k, "musts") or (allowed and self.norms[k] == "may")
        )
        must = next(musts, None)
        is_to = must is not None and self.norms[must - 1 : must + 1] in (("is", "to"), ("are", "to"))
        asked = (k for k in range(self.n) if self.is_in(k, "guards") and not (is_to and must and k == must - 1))
        if must is None or any(word in NOTHING for word in self.norms) or any(True for _ in asked):
            return
        thing = next((k for k in range(must - 1, max(-1, must - 4), -1) if k in self.spans), None)
        be = next((k for k in range(must + 1, min(self.n, must + 4)) if self.norms[k] == "be"), None)
        if thing is None or be is None:
            return
        past = next((k for k in range(be + 1, min(self.n, be + 4)) if self.form(k, "part")), None)
        if past is not None:
            self._note_past(thing, thing, past, "part")

    # ---------------------------------------------------------------------- parts without a known verb

    def _no_verb(self, at: int) -> int | None:
        if self.noted and (person := self._person(at)) and not person[1]:
            does = person[0]  # "the second person clamps the line", "someone needs to clamp it"
            obliged = self.norms[does + 1 : does + 2] == ("to",) and (
                self.is_in(does, "musts") or self.norms[does] == "has"
            )
            does = does + 2 if obliged else does
            if verb := self.form(does, "base" if obliged else "third"):
                self._note(does, verb, self.n)
        self._unknown(at)
        for k in range(at + 1, self.n - 2):
            if self.norms[k] != "," or self.norms[k - 1] == ",":
                continue
            behind = self.soft(k)
            if self.form(behind) and self._is_verb(behind) and self._has_object(behind + 1):
                return k  # "the line is dry, then restart the pump"
        return None

    def _unknown(self, at: int) -> None:
        """Note an act named by a noun, or told by a verb that the table does not know."""
        if self.is_in(at, "numbers") or self._is_amount(at) or (at in self.spans and not self._is_bare_verb(at)):
            if self.noted:
                self._noun(at)
            return
        word = self.w[at]
        no_verb = word.det or word.norm in self.g.known or word.norm in self.g.verbs or self.is_in(at, "prepositions")
        if not self.strange or no_verb or at + 1 >= self.n or not word.norm.isalpha():
            return
        following = self.norms[at + 1]
        leads_on = self.is_in(at + 1, "trails") or self.is_in(at + 1, "contacts") or following in _AGAINST
        if leads_on or self._has_object(at + 1):
            stop = self.thing(DEVICE, at + 1, min(self._comma(at), at + NEAR), touched=True)
            if stop is not None and not self._does(stop):
                self.found.append(_Found(at, stop, None))

    def _does(self, at: int) -> bool:
        """Whether a verb in the third person stands here: "fresh gas fills the line" tells nobody to do it."""
        word = self.norms[at] if at < self.n else ""
        return word in _IS or (word.endswith("s") and not self.is_in(at, "prepositions") and at not in self.spans)

    def _is_bare_verb(self, at: int) -> bool:
        """Whether a thing is a verb here: "Suture the sheath"."""
        return self.spans[at][0] == at + 1 and not self.w[at].det and self._has_object(at + 1)

    def _noun(self, at: int, bare: bool = True) -> None:
        """Note a thing that stands for the act: "Oxygen at once", "one restart"."""
        while at < self.n and at not in self.spans:
            if not (self.is_in(at, "numbers") or self.is_in(at, "soft") or self._is_amount(at)):
                return
            at += 1
        if at >= self.n:
            return
        end, names = self.spans[at]
        for way in self.g.ways.get("*", ()):
            if len(way.items) == 1 and not bare:
                continue
            if way.items[0].thing & names and (stop := self._noted(way, end)) is not None:
                self.found.append(_Found(at, stop, way))

    def _is_amount(self, at: int) -> bool:
        return self.norms[at][:1].isdigit()

    def _noted(self, way: Way, end: int) -> int | None:
        """The word behind a note, "oxygen at once", "pump off"; None where it goes on: "pump off its trolley"."""
        stop: int | None = end
        if any(self.norms[k] in _IS for k in range(end, self._near_comma(end))):
            return None  # "head up is too high" says how it stands
        if len(way.items) > 1:
            if self.text[self.end : self.end + 1] in (":", "?"):
                return None  # "Pump off: call" is a condition
            stop = self._in_order(way.items[1:], end, min(self.n, end + REACH), True)
        if (
            stop is None
            or stop == self.n
            or self.norms[stop] in _NOTED
            or self.is_in(stop, "helps")
            or len(way.items) > 2
        ):
            return stop
        goes_on = len(way.items) == 1 or not (self._is_amount(stop) or self.is_in(stop, "prepositions"))
        return None if goes_on else stop
