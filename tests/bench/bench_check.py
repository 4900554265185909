"""How long `check` takes on a large library, beside PyYAML's C parser reading the same files.

Run on demand (pytest does not collect it):

    python tests/bench/bench_check.py [--trees 1000] [--profile]

Both are timed in turns in one process, in seconds of processor time, and the fastest of the rounds counts:
other work on the machine only ever adds time. The library has no findings, for each costs time too; where the
rules have changed, adapt library.py. Exit status 1 where there are findings all the same, where the ratio is above
`MOST_RATIO`, or where the time per tree grows.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import sys
import tempfile
import time
from collections.abc import Callable
from datetime import date
from pathlib import Path

import yaml

from alarmtrees.check.run import check_library

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
sys.path.insert(0, str(Path(__file__).resolve().parent))
from library import write_library

TODAY = date(2026, 10, 1)
MOST_RATIO = 3.0
MOST_GROWTH = 1.25
"""Time per tree at the full size over that at a quarter of it: 1.0 is linear; the rest is for noise."""


def main() -> int:
    """Time, print, and judge."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--trees", type=int, default=1000)
    parser.add_argument("--rounds", type=int, default=3)
    parser.add_argument("--profile", action="store_true", help="print the top costs as well")
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        sizes = [args.trees // 4, args.trees // 2, args.trees]
        roots = {}
        for size in sizes:
            roots[size] = Path(folder) / str(size)
            write_library(roots[size], size)
        results = {size: _both(roots[size], args.rounds) for size in sizes}
        _print(results)
        if args.profile:
            _profile(roots[args.trees])
    ratio = results[sizes[-1]][1] / results[sizes[-1]][0]
    growth = (results[sizes[-1]][1] / sizes[-1]) / (results[sizes[0]][1] / sizes[0])
    print(f"ratio {ratio:.2f} (at most {MOST_RATIO:g})")
    print(f"time per tree x{growth:.2f} from {sizes[0]} to {sizes[-1]} trees (at most {MOST_GROWTH:g})")
    return int(ratio > MOST_RATIO or growth > MOST_GROWTH or any(found for _, _, found in results.values()))


def _both(root: Path, rounds: int) -> tuple[float, float, int]:
    """Seconds to read with the C parser, seconds to check, and findings."""
    found = len(check_library(root, TODAY).findings)  # warms up: imports, schemas, file cache
    read, check = [], []
    for _ in range(rounds):
        read.append(_timed(lambda: _read(root)))
        check.append(_timed(lambda: check_library(root, TODAY)))
    return min(read), min(check), found


def _read(root: Path) -> int:
    return sum(len(yaml.load(path.read_bytes(), yaml.CSafeLoader)) for path in sorted(root.rglob("*.yml")))


def _timed(action: Callable[[], object]) -> float:
    begin = time.process_time()
    action()
    return time.process_time() - begin


def _print(results: dict[int, tuple[float, float, int]]) -> None:
    print(f"{'trees':>6} {'findings':>9} {'CSafeLoader s':>14} {'check s':>9} {'ratio':>6} {'ms a tree':>10}")
    for size, (read, check, found) in results.items():
        print(f"{size:>6} {found:>9} {read:>14.2f} {check:>9.2f} {check / read:>6.2f} {1000 * check / size:>10.2f}")


def _profile(root: Path) -> None:
    profile = cProfile.Profile()
    profile.runcall(check_library, root, TODAY)
    stats = pstats.Stats(profile)
    stats.sort_stats("tottime").print_stats(25)
    stats.sort_stats("cumulative").print_stats(35)


if __name__ == "__main__":
    sys.exit(main())
