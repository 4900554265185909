"""The engine of the practice cases that learners play, driven from here: node runs the site's own scripts."""

from __future__ import annotations

import atexit
import json
import shutil
import subprocess
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import cache, cached_property
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from small_library import REPOSITORY
from tools import missing

ASSETS = REPOSITORY / "site_src" / "theme" / "assets"
SCRIPTS = ("page.js", "spacing.js", "play.js", "progress.js", "calendar.js", "group.js")

RUNS, RESTS = 0, 1


@cache
def _node() -> subprocess.Popen[str]:
    program = shutil.which("node")
    if program is None:
        missing("node is not installed: the engine of the practice cases was not run")
    scripts = [str(ASSETS / name) for name in SCRIPTS]
    command = [str(program), str(Path(__file__).with_suffix(".js")), *scripts]
    node = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, encoding="utf-8")
    atexit.register(node.communicate)
    return node


def call_all(calls: Iterable[Sequence[Any]]) -> list[Any]:
    """Many calls at once: one line there and one back.

    Raises:
        ValueError: the engine refuses one.
    """
    node = _node()
    assert node.stdin and node.stdout
    node.stdin.write(json.dumps(list(calls)) + "\n")
    node.stdin.flush()
    answers = json.loads(node.stdout.readline())
    for answer in answers:
        if "fault" in answer:
            raise ValueError(answer["fault"])
    return [answer.get("told") for answer in answers]


def call(*parts: Any) -> Any:
    """One call: its name and what it is given."""
    return call_all([parts])[0]


class Choice(SimpleNamespace):
    """One choice of a play: `node`, `verdict`, `answer`, `rule`, `took`, `clock`."""


class State(SimpleNamespace):
    """A state of a play as `play.js` has it, and what is offered in it; `at` is where the engine keeps it."""

    def __init__(self, told: Mapping[str, Any]) -> None:
        super().__init__(**told)
        self.way = [Choice(**choice) for choice in told["way"]]
        self.done, self.unsafe = frozenset(told["done"]), frozenset(told["unsafe"])

    @property
    def over(self) -> bool:
        """Whether the case has ended."""
        return bool(self.verdict)

    @property
    def went(self) -> str:
        """How it went: "good", "fair" or "bad"."""
        return call("went", self.at)


class Tree:
    """A tree's data, made ready by the engine when it is first played."""

    def __init__(self, data: Mapping[str, Any]) -> None:
        self.data = data
        self.nodes: Mapping[str, Mapping[str, Any]] = data["nodes"]

    @cached_property
    def at(self) -> int:
        """Where the engine keeps it."""
        return call("tree", self.data)


class Play:
    """One case with one seed."""

    def __init__(self, tree: Tree, case: Mapping[str, Any], seed: int = 0) -> None:
        self.tree, self.case, self.seed = tree, case, seed
        self.way: Sequence[str] = case["way"]

    @cached_property
    def at(self) -> int:
        """Where the engine keeps it."""
        return call("play", self.tree.at, self.case, self.seed)

    def begin(self) -> State:
        """The state before the first choice."""
        return State(call("begin", self.at))

    def choose(self, state: State, node: str, **changed: Any) -> State:
        """The state after a choice; `changed`: what is to be otherwise in the state before it."""
        return State(call("choose", self.at, state.at, node, changed))

    def debrief(self, state: State) -> dict[str, Any]:
        """What is said afterwards."""
        return call("debrief", self.at, state.at)

    @cached_property
    def tree_play(self) -> State:
        """The play that follows the tree to its end."""
        return self.on(self.begin())

    def on(self, state: State) -> State:
        """From a state along the tree to the end."""
        while not state.over:
            state = self.choose(state, state.right)
        return state


def through(plays: Sequence[Play], pick: Callable[[int, State], str]) -> list[State]:
    """Many plays to their ends side by side, a choice of each at once: by its number and state one step is picked."""
    for play, at in zip(plays, call_all(("play", one.tree.at, one.case, one.seed) for one in plays), strict=True):
        play.at = at
    states = [State(told) for told in call_all(("begin", play.at) for play in plays)]
    while going := [number for number, state in enumerate(states) if not state.over]:
        chosen = [("choose", plays[number].at, states[number].at, pick(number, states[number])) for number in going]
        for number, told in zip(going, call_all(chosen), strict=True):
            states[number] = State(told)
    return states
