"""Builds a library in processes that are killed, each at another moment, and looks at what readers have then.

Run as `python killed.py LIBRARY MOMENTS`. Nothing is timed: the moments are spread evenly over all that a build does
with files, and two more are right before and behind the one in which the new site takes its place. Prints as JSON
what was found: how often the old site was there, how often the new one.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from collections.abc import Callable
from pathlib import Path

from mkdocs.commands.build import build
from mkdocs.config import load_config

from alarmtrees.site import swap
from small_library import contents
from small_library import swap as reword

TOUCHES = {"open", "os.mkdir", "os.rename", "os.remove", "os.rmdir", "os.listdir", "os.scandir"}
ROOT = Path(sys.argv[1])
SITE = ROOT / "site"
WORDS = ("# About", "# About it")


def built(site: Path = SITE) -> None:
    """One build, as the command makes it."""
    build(load_config(config_file=str(ROOT / "mkdocs.yml"), site_dir=str(site)))


def forked(work: Callable[[], None]) -> int:
    """How a process ends that is forked from this one, so that nothing has to be loaded anew."""
    child = os.fork()
    if child == 0:
        try:
            work()
        except BaseException:
            os._exit(1)
        os._exit(0)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def die() -> None:
    """As somebody kills it, or as the power fails."""
    os.kill(os.getpid(), signal.SIGKILL)


def counting(at: int) -> list[str]:
    """Die when files are touched for the n-th time; gives the list of all that was done to them."""
    done: list[str] = []

    def heard(event: str, _: object) -> None:
        if event in TOUCHES:
            done.append(event)
            if len(done) == at:
                die()

    sys.addaudithook(heard)
    return done


def touches() -> int:
    """How often a build touches files."""
    told = ROOT / "told"

    def work() -> None:
        done = counting(0)
        built()
        told.write_text(str(len(done)), encoding="utf-8")

    assert forked(work) == 0
    return int(told.read_text(encoding="utf-8"))


def killed_at(moment: int) -> Callable[[], None]:
    def work() -> None:
        counting(moment)
        built()

    return work


def killed_at_exchange(behind: bool) -> Callable[[], None]:
    exchange = swap._exchange

    def dies(one: Path, other: Path) -> bool:
        if behind:
            exchange(one, other)
        die()
        return True

    def work() -> None:
        swap._exchange = dies
        built()

    return work


def killed_between() -> None:
    """On a system that cannot exchange: the old site is away, the new one not yet in its place."""

    def heard(event: str, given: tuple[object, ...]) -> None:
        if event == "os.rename" and Path(str(given[1])) == SITE and not SITE.exists():
            die()

    swap._exchange = lambda one, other: False
    sys.addaudithook(heard)
    built()


def main() -> None:
    """Kill, look, and tell."""
    assert forked(built) == 0
    old = contents(SITE)
    last = touches()
    reword(ROOT / "kb" / "about.md", *WORDS)
    assert forked(lambda: built(ROOT / "other")) == 0
    new = contents(ROOT / "other")
    moments = int(sys.argv[2])
    works = [killed_at(1 + (last - 1) * number // (moments - 1)) for number in range(moments)]
    told = {"killed": 0, "old": 0, "new": 0, "left": 0}
    for work in [*works, killed_at_exchange(False), killed_at_exchange(True)]:
        told["killed"] += forked(work) == -signal.SIGKILL
        there = contents(SITE)
        told["old"] += there == old
        told["new"] += there == new != old
        told["left"] = max(told["left"], len(left()))
        if there != old:
            reword(ROOT / "kb" / "about.md", *reversed(WORDS))
            assert forked(built) == 0
            reword(ROOT / "kb" / "about.md", *WORDS)
    assert forked(killed_between) == -signal.SIGKILL
    told["away"] = not SITE.exists()
    (ROOT / "trees" / "odd.yml").write_text("a: [\n", encoding="utf-8")
    told["refused"] = forked(built)
    told["back"] = contents(SITE) == old
    (ROOT / "trees" / "odd.yml").unlink()
    told["last"] = forked(built)
    told["whole"] = contents(SITE) == new
    told["cleared"] = left() == []
    print(json.dumps(told))


def left() -> list[Path]:
    """What lies beside the site."""
    return list(ROOT.glob(".site.*"))


if __name__ == "__main__":
    main()
