"""Resting times of three small trees beside sums worked out by hand in the comments.

No source outside: what counts as rest is laid down by this project's design (a rest begins with the alarm
that stopped the pump, with a step that stops it, or with the question at which it is seen still; it ends
when the balloon is seen to move, when somebody is called, or with `resolved`; asking and doing count in full).
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from alarmtrees.proof.graph import Graph
from alarmtrees.proof.resting import Resting, Times
from alarmtrees.reading.open import open_library
from alarmtrees.terminal.cli import main

SETTINGS = """
hospital: {say: Nowhere General, fictional: "yes"}
values:
  before_page: {say: x, value: 60, unit: s}
  ask_takes: {say: x, value: 15, unit: s}
  do_takes: {say: x, value: 20, unit: s}
roles:
  who: {say: somebody, phone: "1", fictional: "yes"}
"""

HEAD = """
title: {id}
summary: A tree for sums.
about: gas
aliases: [{id}]
condition: technical
harm: {{severity: minor, onset: delayed}}
"""

# Stopped by the alarm: 60 s until the page is read.
#   look 20, fix 40, again 15 (no `takes`: a question takes 15), call        60+20+40+15     = 135  <- longest
#   look 20, it moves                                                        60+20           =  80
#   look 20, fix 40, again 15, it moves: the restart itself ended nothing    60+20+40+15     = 135
STOPPED = """
pump: stopped
start: look
nodes:
  look:
    ask: Does it move?
    takes: 20 s
    answers:
      - {say: It moves, to: fine, pump: moves}
      - {say: It stands still, to: fix, pump: still}
  fix:
    do:
      - Restart.
    pump: starts
    takes: 40 s
    then: again
  again:
    ask: Does it move now?
    answers:
      - {say: It moves, to: fine, pump: moves}
      - {say: It stands still, to: call, pump: still}
  fine: {end: resolved, say: Fine.}
  call: {end: call, call: who, say: Call.}
"""

# Runs at the alarm; the reader stops it.
#   stop (two lines, no `takes`: 20 each) 40, tell 30 and called             40+30           =  70  <- until the call
#   ... go on 20, look 15, it moves: until the balloon moves                 40+30+20+15     = 105  <- until it moves
#   ... go on 20, look 15, still, end with a call                            40+30+20+15     = 105
#   leave it: no rest                                                                        =   0
STOPS = """
pump: running
start: ask
nodes:
  ask:
    ask: Stop it?
    takes: 100 s
    answers:
      - {say: Stop, to: stop}
      - {say: Leave it, to: fine}
  stop:
    do:
      - Stop the pump.
      - Look at it.
    pump: stops
    then: tell
  tell:
    do:
      - Tell.
    call: who
    takes: 30 s
    then: go-on
  go-on:
    do:
      - Restart.
    pump: starts
    takes: 20 s
    then: look
  look:
    ask: Does it move?
    answers:
      - {say: It moves, to: fine, pump: moves}
      - {say: It stands still, to: call, pump: still}
  fine: {end: resolved, say: Fine.}
  call: {end: call, call: who, say: Call.}
"""

# Runs at the alarm, is found still, and hands over with the rest going on.
#   look 10 (it counts, for it is seen still there), pull 60, over to the first tree at `fix`:
#   fix 40, again 15, call                                                   10+60+40+15     = 125  <- longest
#   look 10, it moves, rest 0; stop 30, second look 15, it moves             30+15           =  45
#   look 10, it moves, rest 0; stop 30, second look 15, still, resolved 5    30+15+5         =  50
FOUND = """
pump: running
start: look
nodes:
  look:
    ask: Does it move?
    takes: 10 s
    answers:
      - {say: It moves, to: stop, pump: moves}
      - {say: It stands still, to: pull, pump: still}
  pull:
    do:
      - Pull.
    takes: 1 min
    then: over
  over: {end: go, go: stopped/fix, say: Go on there.}
  stop:
    do:
      - Stop.
    pump: stops
    takes: 30 s
    then: second
  second:
    ask: Does it move?
    answers:
      - {say: It moves, to: fine, pump: moves}
      - {say: It stands still, to: fine, pump: still}
  fine: {end: resolved, say: Fine., takes: 5 s}
"""


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """The three trees, with the settings above."""
    (tmp_path / "trees").mkdir()
    (tmp_path / "kb").mkdir()
    (tmp_path / "kb" / "settings.yml").write_text(SETTINGS, encoding="utf-8")
    for name, text in {"stopped": STOPPED, "stops": STOPS, "found": FOUND}.items():
        text = f"id: {name}{HEAD.format(id=name)}{text}"
        (tmp_path / "trees" / f"{name}.yml").write_text(text, encoding="utf-8")
    return tmp_path


LONGEST = [("stopped", True, 135), ("stops", True, 70), ("found", True, 125)]
UNTIL_IT_MOVES = [("stopped", False, 135), ("stops", False, 105), ("found", False, 125)]


@pytest.mark.parametrize(("tree", "call_ends", "by_hand"), LONGEST + UNTIL_IT_MOVES)
def test_longest_rest(library: Path, tree: str, call_ends: bool, by_hand: int) -> None:
    """The longest rest on any way, until the call or the movement, and until the movement alone."""
    opened = open_library(library)
    resting = Resting(Graph(opened.trees), Times.of(opened.settings), call_ends)
    assert resting.longest(opened.trees[tree]) == by_hand
    assert resting.witness(opened.trees[tree]).seconds == by_hand


@pytest.mark.parametrize(
    ("tree", "answers", "rested", "elapsed"),
    [
        # elapsed: from the first step on, without the time before the page
        ("stopped", ["It moves"], 60 + 20, 20),
        ("stopped", ["It stands still", "It moves"], 60 + 20 + 40 + 15, 20 + 40 + 15),
        ("stopped", ["It stands still", "It stands still"], 60 + 20 + 40 + 15, 20 + 40 + 15),
        ("stops", ["Leave it"], 0, 100),
        ("stops", ["Stop", "It moves"], 40 + 30, 100 + 40 + 30 + 20 + 15),
        ("found", ["It moves", "It moves"], 30 + 15, 10 + 30 + 15 + 5),
        ("found", ["It moves", "It stands still"], 30 + 15 + 5, 10 + 30 + 15 + 5),
        ("found", ["It stands still"], 10 + 60, 10 + 60),  # the walk stops at `go`
    ],
)
def test_walked(
    library: Path, tree: str, answers: list[str], rested: int, elapsed: int, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same sums on single walks, as the program prints them."""
    given = [part for answer in answers for part in ("--answer", answer)]
    assert main(["walk", tree, "--root", str(library), "--json", *given]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["resting_s"] == rested
    assert told["elapsed_s"] == elapsed
