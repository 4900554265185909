"""The table of acts made ready, so that each text is read in time linear in its length."""

from __future__ import annotations

from dataclasses import dataclass

from ...model import Act, Acts
from .words import forms, norm, numbers_of, phrase_words

KINDS = (
    *("soft", "guards", "places", "forbids", "waits", "leads", "people", "others", "lets", "heads", "prepositions"),
    *("contacts", "musts", "trails", "numbers", "looks", "handles", "says", "stays"),
    *("bests", "helps", "asides", "grave"),
)
"""The kinds of small words."""

Names = frozenset[str]
"""Classes of things."""


@dataclass(frozen=True, slots=True)
class Item:
    """What must follow a verb: a `thing` of some classes, one of some `words`, or a gap, which has neither."""

    thing: Names = frozenset()
    words: tuple[tuple[str, ...], ...] = ()

    @property
    def is_gap(self) -> bool:
        """Whether it stands for whatever lies between."""
        return not self.thing and not self.words


@dataclass(frozen=True, slots=True)
class Way:
    """One way to tell an act, behind its verb; `needs` are the classes of its first thing."""

    act: Act
    items: tuple[Item, ...]
    needs: Names


class Grammar:
    """All words and ways of the table, each where it is looked up."""

    def __init__(self, acts: Acts) -> None:
        """Make the words of the table ready.

        Args:
            acts: the table; without any act nothing is ever told.
        """
        self.ways: dict[str, list[Way]] = {}
        self.verbs: dict[str, dict[str, str]] = {}
        self.things: dict[str, list[tuple[tuple[str, ...], Names]]] = {}
        self.words = {kind: frozenset(map(norm, acts.words.get(kind, ()))) for kind in KINDS}
        self.looks = self.words["looks"] | self.words["says"] | self.words["stays"]
        kinds = ("soft", "guards", "places", "forbids", "people", "others")
        self.harmless = self.looks | self.words["guards"] | self.words["forbids"]
        self.known = self.looks.union(*(self.words[kind] for kind in kinds))
        for act in acts.acts.values():
            for way in act.ways:
                heads, *rest = way.split()
                items = tuple(map(_item, rest))
                ready = Way(act, items, next((item.thing for item in items if item.thing), frozenset()))
                for verb in heads.split("|"):
                    self.ways.setdefault(norm(verb), []).append(ready)
                    self._add_verb(verb, acts)
        self.telling = frozenset(self.verbs)
        for kind in ("looks", "handles", "leads", "says", "stays"):
            for verb in acts.words.get(kind, ()):
                self._add_verb(verb, acts)
        self._add_things(acts)

    def _add_verb(self, verb: str, acts: Acts) -> None:
        for form, kind in forms(verb, acts.forms):
            self.verbs.setdefault(form, {})[kind] = norm(verb)
            if kind == "base":
                third = verb + ("es" if verb.endswith(("s", "x", "ch", "sh", "o")) else "s")
                self.verbs.setdefault(norm(third), {})["third"] = norm(verb)
            if len(verb) > 3:
                self.verbs.setdefault(norm("re" + form), {}).setdefault(kind, norm(verb))

    def _add_things(self, acts: Acts) -> None:
        names: dict[tuple[str, ...], set[str]] = {}
        for name, phrases in acts.things.items():
            for phrase in phrases:
                for words in numbers_of(phrase_words(phrase)):
                    names.setdefault(words, set()).add(name)
        for words in sorted(names, key=len, reverse=True):
            self.things.setdefault(words[0], []).append((words, frozenset(names[words])))


def _item(item: str) -> Item:
    if item == "..":
        return Item()
    if item.startswith("{"):
        return Item(thing=frozenset(item.strip("{}").split("|")))
    return Item(words=tuple(tuple(map(norm, words.split("_"))) for words in item.split("|")))
