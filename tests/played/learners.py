"""Six invented learners in their first month, played by the site's own scripts: each makes errors of its own, and three
things are planted, which a view of the group has to name."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from itertools import product
from typing import Any

from alarmtrees.learning import practised, tree_data
from alarmtrees.learning.path import asked_here, page_of, read_stamp
from alarmtrees.model import Library, Stage
from engine import Play, Tree, call
from small_library import shipped_library

LABELS = ("bed 4 night", "blue mug", "lift 2", "tuesday tea", "third locker", "window 7")
TWICE = "lift 2"
"""Its learner has worked at two computers, and hands over two files."""

RULE = "patient-again-before-resolved"
"""The first thing planted: the first five break it in both alarms, the sixth breaks it and then plays well."""
IN = ("gas-line-kinked", "limb-cold")

ASK = "handing-over/1"
"""The second: the first four have it wrong at the end, the fifth had it wrong and then right."""

STAGE, UNREAD = "pressures", "which-line"
"""The third: four have all of this stage but one page."""

DONE = ("dangers", STAGE)
BEGUN = datetime(2026, 9, 1, 8)

Event = tuple[str, str, str, Any]


@dataclass(frozen=True)
class File:
    """A file that a learner hands over."""

    name: str
    text: str


def months(days: int = 28) -> list[File]:
    """The files of the six after some days, the second one of the learner at two computers last.

    Args:
        days: how far the month has gone; only what was done until then is in the files.
    """
    until = (BEGUN + timedelta(days=days)).isoformat()
    files = []
    for number, label in enumerate(LABELS):
        events = [one for one in _events(number) if one[0] <= until]
        parts = [events[::2], events[1::2]] if label == TWICE else [events]
        files += [File(f"{number}-{part}.json", call("lived", label, own)["text"]) for part, own in enumerate(parts)]
    return sorted(files, key=lambda one: one.name[2:])


@cache
def _world() -> _World:
    return _World(shipped_library())


@cache
def _events(number: int) -> list[Event]:
    return sorted(_world().events(number), key=lambda one: one[0])


class _World:
    """What can be read, answered and played, and how a careful or a careless learner plays it."""

    def __init__(self, library: Library) -> None:
        self.library = library
        self.asked = dict(zip((stage.id for stage in library.path), asked_here(library), strict=True))
        self.stages = {stage.id: stage for stage in library.path}
        self.trees = {tree.id: tree for tree in practised(library)}
        self.plays: dict[tuple[str, str, str], dict[str, Any]] = {}
        self.data: dict[str, Tree] = {}

    def events(self, number: int) -> Iterator[Event]:
        """One learner's month; no two of its events have the same time."""
        moment = BEGUN + timedelta(minutes=7 * number)

        def now(day: int) -> str:
            nonlocal moment
            moment = max(moment + timedelta(minutes=3), BEGUN + timedelta(days=day, minutes=7 * number))
            return f"{moment.isoformat()}.{number:03}Z"

        for day, name in zip((0, 9), DONE, strict=True):
            yield from self._stage(self.stages[name], number, lambda day=day: now(day))
        for day, tree in zip((4, 20), IN, strict=True):
            broken = self._played(tree, RULE)
            yield now(day), "cases", f"{tree}/{broken['case']}", broken
            if number == 5:
                yield now(day + 2), "cases", f"{tree}/{broken['case']}", self._played(tree, "", broken["case"])
        yield now(22), "checks", ASK, number == 5
        if number == 4:
            yield now(24), "checks", ASK, True
        # An error that nobody else makes.
        own = self.asked["people"][-1 - number].id
        assert own != ASK
        yield now(25), "checks", own, False

    def _stage(self, stage: Stage, number: int, now: Any) -> Iterator[Event]:
        for name, _ in stage.pages:
            page = page_of(self.library, name)
            if page is not None and not (name == UNREAD and number < 4):
                yield now(), "read", name, read_stamp(page)
            if name in self.trees:
                played = self._played(name, "")
                yield now(), "cases", f"{name}/{played['case']}", played
        for question in self.asked[stage.id]:
            yield now(), "checks", question.id, True

    def _played(self, name: str, breaks: str, cause: str = "") -> dict[str, Any]:
        """How a case of an alarm went: as the page goes, or up to the first step that breaks a rule."""
        if (name, breaks, cause) not in self.plays:
            causes = [cause] if cause else list(self.trees[name].causes)
            self.plays[name, breaks, cause] = self._play(name, breaks, causes)
        return self.plays[name, breaks, cause]

    def _play(self, name: str, breaks: str, causes: list[str]) -> dict[str, Any]:
        if name not in self.data:
            self.data[name] = Tree(tree_data(self.library, self.trees[name]))
        tree = self.data[name]
        cases = {case["id"]: case for case in tree.data["cases"]}
        # Which steps are offered is drawn: some draws offer none that breaks the rule.
        for cause, seed in product(causes, range(3)):
            play = Play(tree, cases[cause], seed)
            state = play.begin()
            while not state.over:
                ends = [play.choose(state, step) for step in state.unsafe] if breaks else []
                broken = [end for end in ends if end.way[-1].rule == breaks]
                state = broken[0] if broken else play.choose(state, state.right)
            if not breaks or state.verdict == "unsafe":
                rule = state.way[-1].rule
                told = {"case": cause, "verdict": state.verdict, "went": state.went, "rule": rule}
                return {**told, "seconds": round(state.clock), "rested": round(state.rested)}
        raise AssertionError(f"no case of {name} offers a step that breaks {breaks}")
