"""The command line: a thin door to the package."""

from __future__ import annotations

import argparse
import io
import json
import sys
from datetime import date
from pathlib import Path

from . import __version__, ownership
from . import walk as walking
from .check import check_library
from .library import open_library
from .report import FORMATS
from .sign import sign


def main(argv: list[str] | None = None) -> int:
    """Run one command.

    Returns:
        0 where nothing is wrong, 1 where errors were found, 2 for wrong use.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old terminal lacks arrows; the findings still count
    args = _parser().parse_args(argv)
    try:
        status: int = args.run(args)
    except walking.BrokenTree as fault:
        print(fault, file=sys.stderr)
        return 1
    except (OSError, ValueError) as fault:
        print(f"alarmtrees: {fault}", file=sys.stderr)
        return 2
    except (EOFError, KeyboardInterrupt):
        print("\nalarmtrees: stopped before the end", file=sys.stderr)
        return 2
    return status


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="alarmtrees", description="Alarm decision trees: check them, walk them.")
    parser.add_argument("--version", action="version", version=f"alarmtrees {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    check = commands.add_parser("check", help="find all that is wrong in a library")
    check.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    check.add_argument("--format", choices=FORMATS, default="text")
    check.add_argument("--strict", action="store_true", help="warnings fail too")
    check.add_argument("--today", type=_day, metavar="DATE", help="judge reviews by this day, as 2026-09-14")
    check.set_defaults(run=_check)
    walk = commands.add_parser("walk", help="walk a tree, in the terminal or with the answers given")
    walk.add_argument("tree", metavar="TREE", help="a tree's id, or a file")
    walk.add_argument("--answer", action="append", default=[], metavar="TEXT", help="the next answer, as shown")
    walk.add_argument("--json", action="store_true", help="print the whole walk as JSON")
    walk.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    walk.set_defaults(run=_walk)
    settings = commands.add_parser("settings", help="list whose the values and numbers are: yours, or invented")
    settings.add_argument("--fictional", action="store_true", help="only those of the invented hospital")
    settings.add_argument("--json", action="store_true", help="print the list as JSON")
    settings.add_argument("--strict", action="store_true", help="exit 1 while anything is the invented hospital's")
    settings.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    settings.set_defaults(run=_settings)
    stamp = commands.add_parser("sign", help="stamp the review of a tree")
    stamp.add_argument("tree", metavar="TREE", help="a tree's id, or a file")
    stamp.add_argument("--by", required=True, metavar="ROLE", help="the role that reviewed it")
    stamp.add_argument("--on", type=_day, default=None, metavar="DATE", help="the day of the review (default: today)")
    stamp.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    stamp.set_defaults(run=_sign)
    return parser


def _walk(args: argparse.Namespace) -> int:
    if args.answer or args.json or not sys.stdin.isatty():
        walk = walking.walk_all(args.tree, args.root, args.answer)
    else:
        walk = _ask_through(walking.begin(args.tree, args.root))
    if args.json:
        print(json.dumps(walking.as_json(walk), indent=2))
    else:
        sys.stdout.write(walking.as_text(walk))
    return 0


def _ask_through(walk: walking.Walk) -> walking.Walk:
    """Ask in the terminal until an end is reached; an empty line goes back one answer."""
    before: list[walking.Walk] = []
    shown = 0
    print(f"{walk.tree.title}\nAnswer with the number or the words; an empty line goes back.\n")
    while walk.node.kind == "ask":
        for node, _ in walk.passed[shown:]:
            if node.kind == "do":
                print("\n".join(walking.step_lines(walk, node, "• ")))
        print("\n".join(walking.step_lines(walk, walk.node)))
        for number, answer in enumerate(walk.answers, 1):
            print(f"  {number}  {walk.say(answer.say)}")
        words = input("> ").strip()
        shown = len(walk.passed)
        if not words:
            walk = before.pop() if before else walk
            continue
        if words.isdigit() and 0 < int(words) <= len(walk.answers):
            words = walk.say(walk.answers[int(words) - 1].say)
        try:
            after = walking.give(walk, words)
        except walking.WrongAnswer as fault:
            print(fault)
            continue
        before.append(walk)
        walk = after
    print()
    return walk


def _sign(args: argparse.Namespace) -> int:
    path = Path(args.tree)
    if not path.suffix and "/" not in args.tree:
        path = args.root / "trees" / f"{args.tree}.yml"
    if not path.is_file():
        raise FileNotFoundError(f"there is no tree “{args.tree}”")
    inside = path.resolve().parent == (args.root / "trees").resolve()
    allowed = open_library(args.root).reviewers if inside else ()
    if allowed and args.by not in allowed:
        raise ValueError(f"the {args.by} may not sign; `reviewers` in the settings lists {', '.join(allowed)}")
    print(f"{path}: signed, content {sign(path, args.by, args.on or date.today())[:12]}")
    return 0


def _settings(args: argparse.Namespace) -> int:
    library = open_library(args.root)
    if "settings" in library.broken:
        raise ValueError("kb/settings.yml or kb/settings.local.yml has faults; `alarmtrees check` names them")
    told = ownership.as_json if args.json else ownership.as_text
    sys.stdout.write(told(library, args.fictional))
    return int(args.strict and not ownership.is_own(library))


def _check(args: argparse.Namespace) -> int:
    result = check_library(args.root, args.today)
    sys.stdout.write(FORMATS[args.format](result))
    return int(bool(result.errors or (args.strict and result.warnings)))


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is no day; write it as 2026-09-14") from None
