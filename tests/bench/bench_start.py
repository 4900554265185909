"""How long a command takes to start, beside bare Python that imports PyYAML and networkx.

Run on demand (pytest does not collect it):

    python tests/bench/bench_start.py [--rounds 7]

Each is a process of its own, in seconds of processor time, the system's for it included; the fastest of the rounds
counts: other work on the machine only ever adds time. `check` reads the small library of the tests, which has no
calculators; units are read only where there is one. Exit status 1 where a ratio is above what it may be.
"""

from __future__ import annotations

import argparse
import resource
import subprocess
import sys
from pathlib import Path

LIBRARY = Path(__file__).resolve().parents[1] / "small-library"
BARE = "bare"
_RUN = ["-c", "import sys; from alarmtrees.terminal.cli import main; sys.exit(main())"]
MOST = {"--help": 1.0, "check": 2.0}
COMMANDS = {
    BARE: ["-c", "import yaml, networkx"],
    "--help": [*_RUN, "--help"],
    "check": [*_RUN, "check", "--root", str(LIBRARY)],
}


def main() -> int:
    """Time, print, and judge."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rounds", type=int, default=7)
    rounds = parser.parse_args().rounds
    for words in COMMANDS.values():
        _timed(words)  # warms up: compiled modules, file cache
    taken = {name: min(_timed(words) for _ in range(rounds)) for name, words in COMMANDS.items()}
    for name, seconds in taken.items():
        print(f"{name:>8} {seconds:>6.2f} s {seconds / taken[BARE]:>6.2f} x")
    return int(any(taken[name] > most * taken[BARE] for name, most in MOST.items()))


def _timed(words: list[str]) -> float:
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run([sys.executable, *words], stdout=subprocess.DEVNULL, check=True)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


if __name__ == "__main__":
    sys.exit(main())
