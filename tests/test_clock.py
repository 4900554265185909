"""What counts of two tabs' accounts of a rest: the same whichever comes first, and never a shorter rest by accident."""

from __future__ import annotations

import itertools
import json
import shutil
import subprocess
import time
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from small_library import REPOSITORY
from tools import missing

ASSETS = REPOSITORY / "site_src" / "theme" / "assets"
# Plays the file in a page that has nothing but the few functions it shares, and answers a line for each line.
PLAYER = """
const [, , file] = process.argv;
global.window = {alarmtrees: {isTime: (one) => typeof one === "number" && one >= 0 && one <= 8.64e15,
    timeOf: String, two: (one) => String(one).padStart(2, "0")}};
require(file);
require("readline").createInterface({input: process.stdin}).on("line", (line) => {
    const [name, ...given] = JSON.parse(line);
    console.log(JSON.stringify(window.alarmtrees.clocks[name](...given)));
});
"""
NOW = 1_000_000_000_000
MINUTE = 60_000


class Clocks:
    """The functions of the clock, in one process of node."""

    def __init__(self, node: str) -> None:
        self.process = subprocess.Popen(
            [node, "-e", PLAYER, "x", str(ASSETS / "clock.js")],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def __call__(self, name: str, *given: Any) -> Any:
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(json.dumps([name, *given]) + "\n")
        self.process.stdin.flush()
        return json.loads(self.process.stdout.readline())


@pytest.fixture(scope="module")
def clocks() -> Any:
    node = shutil.which("node")
    if node is None:
        missing("node is missing: the resting clock was not tried")
    played = Clocks(str(node))
    yield played
    played.process.kill()
    played.process.communicate()


@st.composite
def accounts(draw: st.DrawFn) -> dict[str, Any]:
    kind = draw(st.sampled_from(["told", "stopped", "still", "short", "long", "unknown", "moved", ""]))
    turn = draw(st.integers(0, 2))
    if kind == "":
        return {"kind": "", "turn": turn}
    at = NOW - draw(st.integers(0, 3)) * MINUTE
    if kind == "moved":
        before = {"kind": "told", "since": at - MINUTE, "at": at}
        return {"kind": kind, "at": at, "turn": turn, "ended": {"before": before, "by": {"walk": "a"}, "length": ""}}
    made = {"kind": kind, "at": at, "since": at - draw(st.integers(0, 3)) * MINUTE, "turn": turn}
    return made | ({"warned": True} if draw(st.booleans()) else {})


@settings(max_examples=60, deadline=None)
@given(st.lists(accounts(), min_size=3, max_size=3))
def test_accounts_come_together_in_any_order_to_the_same(clocks: Clocks, told: list[dict[str, Any]]) -> None:
    ends = []
    for first, second, third in itertools.permutations(told):
        ends.append(clocks("joined", clocks("joined", first, second), third))
        ends.append(clocks("joined", first, clocks("joined", second, third)))
    assert all(end == ends[0] for end in ends)
    assert clocks("joined", ends[0], ends[0]) == ends[0]
    for one in told:
        assert clocks("isSound", one) and clocks("joined", one, ends[0]) == ends[0]


def rest(account: dict[str, Any]) -> float:
    """How long it counts as still, in milliseconds."""
    if account["kind"] in ("", "moved"):
        return -1
    return float("inf") if account["kind"] == "unknown" else NOW - account["since"]


@settings(max_examples=60, deadline=None)
@given(accounts(), accounts())
def test_of_two_accounts_given_at_once_the_longer_rest_counts(
    clocks: Clocks, one: dict[str, Any], other: dict[str, Any]
) -> None:
    end = clocks("joined", one, other)
    if one["turn"] == other["turn"]:
        assert rest(end) == max(rest(one), rest(other))
    else:  # what was said last is what somebody has seen last
        assert end == max(one, other, key=lambda account: account["turn"])
    assert rest(clocks("longer", one, other)) == max(rest(one), rest(other))


def test_a_stop_counts_from_its_step_only_where_this_walk_saw_the_balloon_move(clocks: Clocks) -> None:
    said = {"since": NOW - MINUTE, "at": NOW}
    seen = {"walk": "a", "tree": "t", "id": "moves", "at": NOW - 2 * MINUTE}
    moved = {"kind": "moved", "at": NOW, "ended": {"before": {"kind": "told", "since": 1, "at": 1}, "by": seen}}
    for clock in ({"kind": "", "seen": "a"}, moved):
        assert clocks("stopped", clock, said, "a") == {"kind": "stopped", **said}
        assert clocks("stopped", clock, said, "b") == {"kind": "still", **said}
    assert clocks("stopped", {"kind": ""}, said, "a") == {"kind": "still", **said}
    resting = {"kind": "short", "since": 5, "at": 6}
    assert clocks("stopped", resting, said, "a") == resting


def test_the_limit_is_near_some_minutes_before_it_and_never_after(clocks: Clocks) -> None:
    def near(minutes: float, **more: Any) -> bool:
        at = time.time() * 1000
        clock = {"kind": "told", "since": at - minutes * MINUTE, "at": at} | more
        return bool(clocks("reading", clock, 15 * MINUTE, "15 min", 10 * MINUTE)["near"])

    assert [near(minutes) for minutes in (9, 10.1, 14.5, 15.1)] == [False, True, True, False]
    assert near(11, kind="still") and near(11, most=True) and not near(1, kind="unknown")
    # Who said “less” and no more may be anywhere below the limit.
    now = time.time() * 1000
    assert not near(0, kind="short") and near(2, kind="short", at=now - 2 * MINUTE)
    told = clocks("reading", {"kind": "told", "most": True, "since": now - 5 * MINUTE - 500, "at": now}, None, "", None)
    assert told["time"] == "05:00 or less" and not told["near"]
