"""The command line: a thin door to the package."""

from __future__ import annotations

import argparse
import io
import json
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

from .. import __version__
from ..check.report import FORMATS
from ..check.run import check_library
from ..compare import Weight, compare, read_approved
from ..compare.render import FORMATS as COMPARED
from ..exports import FORMATS as EXPORTED
from ..exports import (
    export,
    help_text,
    open_subject,
)
from ..learning.questions import questions
from ..learning.questions_csv import questions_csv
from ..proof import ownership
from ..reading.find import BrokenTree, find_tree
from ..reading.open import open_library
from ..reading.save import save
from . import advice
from . import walk as walking
from .calculate import calculate, catalogue
from .new import new_tree, to_fill_in
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
    except (BrokenTree, advice.NoAdvice) as fault:
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
    versions = commands.add_parser("compare", help="show whose advice changes between two versions")
    versions.add_argument("base", metavar="BASE", help="the version before: a git revision, or a folder with trees/")
    versions.add_argument("head", nargs="?", metavar="HEAD", help="the version now (default: the library as it lies)")
    versions.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    versions.add_argument("--format", choices=COMPARED, default="text")
    versions.add_argument("--approved", type=Path, metavar="FILE", help="fingerprints of approved changes, one a line")
    versions.add_argument("--strict", action="store_true", help="warnings fail too")
    versions.set_defaults(run=_compare)
    calc = commands.add_parser("calc", help="work a calculator out, or list them all")
    calc.add_argument("calculator", nargs="?", metavar="ID", help="a calculator's id (default: list them)")
    calc.add_argument("entries", nargs="*", metavar="NAME=VALUE", help='an input, with its unit: "pressure=120 bar"')
    calc.add_argument("--json", action="store_true", help="print the whole result as JSON")
    calc.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    calc.set_defaults(run=_calc)
    settings = commands.add_parser("settings", help="list whose the values and numbers are: yours, or invented")
    settings.add_argument("--fictional", action="store_true", help="only those of the invented hospital")
    settings.add_argument("--json", action="store_true", help="print the list as JSON")
    settings.add_argument("--strict", action="store_true", help="exit 1 while anything is the invented hospital's")
    settings.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    settings.set_defaults(run=_settings)
    order = commands.add_parser("order", help="advise on the order of a tree's questions; changes nothing")
    order.add_argument("tree", metavar="TREE", help="a tree's id")
    order.add_argument("--json", action="store_true", help="print the advice as JSON")
    order.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    order.set_defaults(run=_order)
    stamp = commands.add_parser("sign", help="stamp the review of a tree")
    stamp.add_argument("tree", metavar="TREE", help="a tree's id, or a file")
    stamp.add_argument("--by", required=True, metavar="ROLE", help="the role that reviewed it")
    stamp.add_argument("--on", type=_day, default=None, metavar="DATE", help="the day of the review (default: today)")
    stamp.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    stamp.set_defaults(run=_sign)
    begin = commands.add_parser("new", help="begin a tree that passes all checks but for what you must fill in")
    begin.add_argument("id", metavar="ID", help="its id, the name of the file: line-came-off")
    begin.add_argument("--title", metavar="TEXT", help="what is wrong, in plain words")
    begin.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    begin.set_defaults(run=_new)
    asked = commands.add_parser("questions", help="write all questions and answers as a table (CSV)")
    asked.add_argument("--output", type=Path, metavar="FILE", help="where to write it (default: print it)")
    asked.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    asked.set_defaults(run=_questions)
    opened = commands.add_parser(
        "export",
        help="write a tree in an open format",
        epilog=help_text(),
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    opened.add_argument("tree", metavar="TREE", help="a tree's id, or a file")
    opened.add_argument("--to", required=True, choices=EXPORTED, metavar="FORMAT", help=", ".join(EXPORTED))
    opened.add_argument("--output", type=Path, metavar="FILE", help="where to write it (default: print it)")
    opened.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    opened.set_defaults(run=_export)
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


def _order(args: argparse.Namespace) -> int:
    found = advice.advise(args.tree, args.root)
    sys.stdout.write(json.dumps(advice.as_json(found), indent=2) + "\n" if args.json else advice.as_text(found))
    return 0


def _sign(args: argparse.Namespace) -> int:
    named = find_tree(args.tree, args.root)
    library = named.library()
    if library and not library.may_sign(args.by):
        raise ValueError(library.sign_refusal(args.by))
    print(f"{named.path}: signed, content {sign(named.path, args.by, args.on or date.today())[:12]}")
    return 0


def _settings(args: argparse.Namespace) -> int:
    library = open_library(args.root)
    if "settings" in library.broken:
        raise ValueError("kb/settings.yml or kb/settings.local.yml has faults; `alarmtrees check` names them")
    told = ownership.as_json if args.json else ownership.as_text
    sys.stdout.write(told(library, args.fictional))
    return int(args.strict and not ownership.is_own(library))


def _compare(args: argparse.Namespace) -> int:
    approved = read_approved(args.approved) if args.approved else frozenset()
    comparison = compare(args.base, args.head, args.root, approved)
    sys.stdout.write(COMPARED[args.format](comparison))
    fails = (Weight.ERROR, Weight.WARNING) if args.strict else (Weight.ERROR,)
    return int(any(comparison.open(weight) for weight in fails))


def _calc(args: argparse.Namespace) -> int:
    if args.calculator is None:
        sys.stdout.write(catalogue(args.root))
        return 0
    answer = calculate(args.root, args.calculator, args.entries, args.json)
    sys.stdout.write(answer.out)
    sys.stderr.write(answer.err)
    return answer.status


def _new(args: argparse.Namespace) -> int:
    path = new_tree(args.id, args.root, args.title)
    result = check_library(args.root)
    left = replace(result, findings=to_fill_in(result.findings, path))
    print(f"{path}: written. What is left for you, as `alarmtrees check` says it:\n")
    sys.stdout.write(FORMATS["text"](left))
    return 0


def _export(args: argparse.Namespace) -> int:
    text = export(open_subject(args.tree, args.root), args.to)
    if args.output:
        save(args.output, text)
    else:
        sys.stdout.write(text)
    return 0


def _questions(args: argparse.Namespace) -> int:
    result = check_library(args.root)
    if result.errors:
        print("alarmtrees: the library has faults; `alarmtrees check` names them", file=sys.stderr)
        return 1
    table = questions_csv(result.library, questions(result.library))
    if args.output:
        save(args.output, table)
    else:
        # The bytes as they are: a terminal's own line ends and signs would change the file it is sent into.
        sys.stdout.flush()
        sys.stdout.buffer.write(table.encode())
    return 0


def _check(args: argparse.Namespace) -> int:
    result = check_library(args.root, args.today)
    sys.stdout.write(FORMATS[args.format](result))
    return int(bool(result.errors or (args.strict and result.warnings)))


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is no day; write it as 2026-09-14") from None
