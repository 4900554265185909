"""How long a comparison of two versions of one large tree takes, and how that grows with its size.

Run on demand (pytest does not collect it):

    python tests/bench/bench_compare.py [--steps 2000]

The tree is a long row of questions whose answers lead to one of the next steps, so that it has far more ways
than could be listed. Printed are seconds of processor time for single edits and for many at once, the states
looked at, and the ratio of time to half the size: 2 is linear. Exit status 1 where one edit takes over 2 s.
"""

from __future__ import annotations

import argparse
import copy
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from large_tree import compared, large_doc

MOST_SECONDS = 2.0
AT_ONCE = ("one step in 20", "other times everywhere")
"""Some hundred edits at once: printed, and not judged."""


def main() -> int:
    """Time, print, and judge."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--steps", type=int, default=2000)
    args = parser.parse_args()
    print(f"{'edit':<28} {'steps':>6} {'seconds':>8} {'ratio':>6} {'changes':>8} {'digits of ways':>15}")
    slowest = 0.0
    for name, edit in EDITS.items():
        half, _, _ = _timed(args.steps // 2, edit)
        seconds, changes, ways = _timed(args.steps, edit)
        print(f"{name:<28} {args.steps:>6} {seconds:>8.2f} {seconds / half:>6.1f} {changes:>8} {len(str(ways)):>15}")
        slowest = slowest if name in AT_ONCE else max(slowest, seconds)
    return int(slowest > MOST_SECONDS)


def _timed(steps: int, edit: Callable[[dict[str, Any]], None]) -> tuple[float, int, int]:
    old = large_doc(steps)
    new = copy.deepcopy(old)
    edit(new)
    begin = time.process_time()
    result = compared(old, new)
    return time.process_time() - begin, len(result.changes), result.counts.before if result.counts else 0


def _middle(doc: dict[str, Any], kind: str, part: float = 0.5) -> str:
    names = [name for name, node in doc["nodes"].items() if kind in node]
    return names[int(len(names) * part)]


def _nothing(doc: dict[str, Any]) -> None:
    doc["nodes"][_middle(doc, "ask")]["why"] = "Another reason."


def _reword(doc: dict[str, Any]) -> None:
    doc["nodes"][_middle(doc, "ask")]["ask"] = "Another question?"


def _redirect_near(doc: dict[str, Any]) -> None:
    node = doc["nodes"][_middle(doc, "ask")]
    node["answers"][0]["to"] = node["answers"][1]["to"]


def _redirect_far(doc: dict[str, Any]) -> None:
    doc["nodes"][_middle(doc, "ask", 0.01)]["answers"][0]["to"] = _middle(doc, "ask", 0.99)


def _to_an_end(doc: dict[str, Any]) -> None:
    doc["nodes"][_middle(doc, "ask", 0.01)]["answers"][0]["to"] = "call-last"


def _insert(doc: dict[str, Any]) -> None:
    name = _middle(doc, "ask")
    answers = [{"say": "New one", "to": name}, {"say": "New two", "to": name}]
    doc["nodes"]["inserted"] = {"ask": "A new question?", "answers": answers}
    for node in doc["nodes"].values():
        for answer in node.get("answers", ()):
            if answer["to"] == name and answer not in answers:
                answer["to"] = "inserted"


def _take_out(doc: dict[str, Any]) -> None:
    name = _middle(doc, "do")
    doc["nodes"][name]["do"] = ["Something else altogether."]
    doc["nodes"][name].pop("marks", None)


def _many(doc: dict[str, Any]) -> None:
    for number, node in enumerate(doc["nodes"].values()):
        if number % 20 == 0 and "ask" in node:
            node["ask"] = f"Question {number} anew?"
            node["answers"][0]["to"] = node["answers"][-1]["to"]


def _slower(doc: dict[str, Any]) -> None:
    for number, node in enumerate(doc["nodes"].values()):
        if "ask" in node:
            node["takes"] = f"{10 + number % 7} s"


EDITS: dict[str, Callable[[dict[str, Any]], None]] = {
    "a reason": _nothing,
    "a question reworded": _reword,
    "an answer leads elsewhere": _redirect_near,
    "an answer skips nearly all": _redirect_far,
    "an answer ends": _to_an_end,
    "a question inserted": _insert,
    "a step replaced": _take_out,
    "one step in 20": _many,
    "other times everywhere": _slower,
}

if __name__ == "__main__":
    sys.exit(main())
