"""The command line: a thin door to the package.

Each command takes from the package only what it needs, and only when it is given: most of the package has nothing to do
with a command, and reading all of it would take longer than the work.
"""

from __future__ import annotations

import argparse
import io
import json
import sys
from collections.abc import Callable
from contextlib import suppress
from dataclasses import replace
from datetime import date
from pathlib import Path

from .. import __version__


def main(argv: list[str] | None = None) -> int:
    """Run one command.

    Returns:
        0 where nothing is wrong, 1 where errors were found, 2 for wrong use.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")  # an old terminal lacks arrows; the findings still count
    words = sys.argv[1:] if argv is None else argv
    args = _parser(words).parse_args(words)
    try:
        status: int = args.run(args)
    except (OSError, ValueError) as fault:
        from ..reading.find import BrokenTree

        if isinstance(fault, BrokenTree):
            print(fault, file=sys.stderr)
            return 1
        print(f"alarmtrees: {fault}", file=sys.stderr)
        return 2
    except (EOFError, KeyboardInterrupt):
        print("\nalarmtrees: stopped before the end", file=sys.stderr)
        return 2
    return status


def _parser(words: list[str]) -> argparse.ArgumentParser:
    """What can be written: all commands, and the arguments of those that are among the words."""
    library = argparse.ArgumentParser(add_help=False)
    library.add_argument("--root", type=Path, default=Path(), metavar="DIR", help="the library (default: here)")
    parser = argparse.ArgumentParser(prog="alarmtrees", description="Alarm decision trees: check them, walk them.")
    parser.add_argument("--version", action="version", version=f"alarmtrees {__version__}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")
    for name, (help_text, takes, run) in _COMMANDS.items():
        command = commands.add_parser(name, help=help_text, parents=[library])
        command.set_defaults(run=run)
        if name in words:
            takes(command)
    return parser


def _check_takes(command: argparse.ArgumentParser) -> None:
    from ..check.report import FORMATS

    command.add_argument("--format", choices=FORMATS, default="text")
    command.add_argument("--strict", action="store_true", help="warnings fail too")
    command.add_argument("--today", type=_day, metavar="DATE", help="judge reviews by this day, as 2026-09-14")


def _check(args: argparse.Namespace) -> int:
    from ..check.report import FORMATS
    from ..check.run import check_library

    result = check_library(args.root, args.today)
    sys.stdout.write(FORMATS[args.format](result))
    return int(bool(result.errors or (args.strict and result.warnings)))


def _walk_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument("tree", metavar="TREE", help="a tree's id, or a file")
    command.add_argument("--answer", action="append", default=[], metavar="TEXT", help="the next answer, as shown")
    command.add_argument("--through", action="store_true", help="go on where the tree hands over to another one")
    command.add_argument("--json", action="store_true", help="print the whole walk as JSON")


def _walk(args: argparse.Namespace) -> int:
    from . import walk as walking

    if args.answer or args.json or not sys.stdin.isatty():
        walk = walking.walk_all(args.tree, args.root, args.answer, args.through)
    else:
        walk = walking.ask_through(walking.begin(args.tree, args.root))
    if args.json:
        print(json.dumps(walking.as_json(walk), indent=2))
    else:
        sys.stdout.write(walking.as_text(walk))
    return 0


def _positive(text: str) -> int:
    if not (text.isascii() and text.isdigit() and int(text)):
        raise argparse.ArgumentTypeError(f"“{text}” is no number from 1 on")
    return int(text)


def _compare_takes(command: argparse.ArgumentParser) -> None:
    from ..compare.render import FORMATS

    command.add_argument("base", metavar="BASE", help="the version before: a git revision, or a folder with trees/")
    command.add_argument("head", nargs="?", metavar="HEAD", help="the version now (default: the library as it lies)")
    command.add_argument("--format", choices=FORMATS, default="text")
    command.add_argument("--approved", type=Path, metavar="FILE", help="a file of approvals, beside two folders")
    command.add_argument("--approved-from", metavar="REF", help="read approved.yml as this git revision has it")
    command.add_argument(
        "--most", type=_positive, metavar="N", help="show no more than N changes (JSON always holds all)"
    )
    command.add_argument("--whole", default="", metavar="WHERE", help="where the whole report stands, if this is cut")
    command.add_argument("--strict", action="store_true", help="warnings fail too")


def _compare(args: argparse.Namespace) -> int:
    from ..compare import Weight, compare
    from ..compare.render import FORMATS

    comparison = compare(args.base, args.head, args.root, args.approved, args.approved_from)
    sys.stdout.write(FORMATS[args.format](comparison, args.most, args.whole))
    fails = (Weight.ERROR, Weight.WARNING) if args.strict else (Weight.ERROR,)
    return int(any(comparison.open(weight) for weight in fails))


def _calc_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument("calculator", nargs="?", metavar="ID", help="a calculator's id (default: list them)")
    command.add_argument("entries", nargs="*", metavar="NAME=VALUE", help='an input, with its unit: "pressure=120 bar"')
    command.add_argument("--json", action="store_true", help="print the whole result as JSON")


def _calc(args: argparse.Namespace) -> int:
    from .calculate import calculate, catalogue

    if args.calculator is None:
        sys.stdout.write(catalogue(args.root))
        return 0
    answer = calculate(args.root, args.calculator, args.entries, args.json)
    sys.stdout.write(answer.out)
    sys.stderr.write(answer.err)
    return answer.status


def _settings_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument("--begin", action="store_true", help="write kb/settings.local.yml for you to fill in")
    command.add_argument("--fictional", action="store_true", help="only those of the invented hospital")
    command.add_argument("--json", action="store_true", help="print the list as JSON")
    command.add_argument("--strict", action="store_true", help="exit 1 while anything is the invented hospital's")


def _settings(args: argparse.Namespace) -> int:
    from ..proof import ownership
    from ..reading.open import open_library

    if args.begin:
        from .begin import begin_settings

        if args.fictional or args.json or args.strict:
            raise ValueError("write --begin by itself: it begins a file, the others look at it")
        print(f"{begin_settings(args.root)}: written. Fill it in; `alarmtrees settings --fictional` says what is left.")
        return 0
    library = open_library(args.root)
    if any(source.problems for source in library.sources_read if source.kind == "settings"):
        raise ValueError("kb/settings.yml or kb/settings.local.yml has faults; `alarmtrees check` names them")
    told = ownership.as_json if args.json else ownership.as_text
    sys.stdout.write(told(library, args.fictional))
    return int(args.strict and not ownership.is_own(library))


def _order_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument("tree", metavar="TREE", help="a tree's id")
    command.add_argument("--json", action="store_true", help="print the advice as JSON")


def _order(args: argparse.Namespace) -> int:
    from . import advice

    found = advice.advise(args.tree, args.root)
    sys.stdout.write(json.dumps(advice.as_json(found), indent=2) + "\n" if args.json else advice.as_text(found))
    return 0


def _sign_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "page", nargs="*", metavar="PAGE", help="the id of a tree, article or calculator, or a file; several are taken"
    )
    command.add_argument("--all", action="store_true", help="all that is due, but for drafts")
    command.add_argument("--by", required=True, metavar="ROLE", help="the role that reviewed it")
    command.add_argument("--on", type=_day, default=None, metavar="DATE", help="the day of the review (default: today)")


def _sign(args: argparse.Namespace) -> int:
    from .sign import sign, sign_all

    if bool(args.page) == args.all:
        raise ValueError("name the pages that were reviewed, or write --all for all that is due")
    on = args.on or date.today()
    # All before the first is written: one that cannot be signed leaves every file as it was.
    found = sign_all(args.root, args.by, on) if args.all else [sign(name, args.root, args.by, on) for name in args.page]
    for one in found:
        one.write()
        print(f"{one.path}: signed, content {one.stamp[:12]}")
    if not found:
        print("Nothing is due.")
    return 0


def _reword_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument("old", metavar="OLD", help="the text as it is, whole")
    command.add_argument("new", metavar="NEW", help="what is to stand in its place")


def _reword(args: argparse.Namespace) -> int:
    from .reword import reword

    # All before the first is written, as with signatures.
    found = reword(args.old, args.new, args.root)
    for one in found:
        one.write()
        print(f"{one.path}: line {', '.join(map(str, one.lines))}")
    places = sum(len(one.lines) for one in found)
    print(f"{places} places in {len(found)} files; have them checked, compared and signed.")
    return 0


def _new_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument("id", metavar="ID", help="its id, the name of the file: line-came-off")
    command.add_argument("--title", metavar="TEXT", help="what is wrong, in plain words")


def _new(args: argparse.Namespace) -> int:
    from ..check.report import FORMATS
    from ..check.run import check_library
    from ..reading.offered import offer
    from .new import new_tree, to_fill_in

    path = new_tree(args.id, args.root, args.title)
    with suppress(ValueError):  # another file has faults, which is no reason to leave this one unwritten
        offer(args.root)
    result = check_library(args.root)
    left = replace(result, findings=to_fill_in(result.findings, path))
    print(f"{path}: written. What is left for you, as `alarmtrees check` says it:\n")
    sys.stdout.write(FORMATS["text"](left))
    print(
        f"\nThen: `alarmtrees order {args.id}`, look at it with `mkdocs serve`, let somebody review and sign it, and "
        "only then write `status: in-use`. All steps: DEVELOPERS.md, “A new tree”."
    )
    return 0


def _schema_takes(command: argparse.ArgumentParser) -> None:
    command.add_argument("--check", action="store_true", help="write nothing; exit 1 where something is to be written")


def _schema(args: argparse.Namespace) -> int:
    from ..reading.offered import offer

    behind = offer(args.root, write=not args.check)
    for path in behind:
        print(f"{path}: {'is behind the library; `alarmtrees schema` writes it' if args.check else 'written'}")
    if not behind:
        print("editors offer all names of the library already")
    return int(args.check and bool(behind))


def _questions_takes(command: argparse.ArgumentParser) -> None:
    forms = "csv: a table; qti: a package in 1EdTech QTI 3.0, a zip (default: csv)"
    command.add_argument("--format", choices=("csv", "qti"), default="csv", help=forms)
    command.add_argument("--output", type=Path, metavar="FILE", help="where to write it (default: print it)")
    command.add_argument(
        "--own", action="store_true", help="with the values of kb/settings.local.yml, for your house alone"
    )


def _questions(args: argparse.Namespace) -> int:
    from ..check.run import check_library
    from ..learning.questions import questions
    from ..learning.questions_csv import questions_csv
    from ..learning.questions_qti import questions_qti
    from ..reading.open import LOCAL_SETTINGS, open_library
    from ..reading.save import save

    result = check_library(args.root)
    if result.errors:
        print("alarmtrees: the library has faults; `alarmtrees check` names them", file=sys.stderr)
        return 1
    # A table leaves the house easily; and with invented values it must not be taught from unseen.
    if not args.own and (args.root / "kb" / LOCAL_SETTINGS).is_file():
        print(f"alarmtrees: with the shipped values; --own writes those of kb/{LOCAL_SETTINGS}", file=sys.stderr)
    library = result.library if args.own else open_library(args.root, private=False)
    asked = questions(library)
    if args.format == "qti" and not args.output and sys.stdout.isatty():
        print("alarmtrees: a package is no text; name a file with --output", file=sys.stderr)
        return 2
    written = questions_qti(library, asked) if args.format == "qti" else questions_csv(library, asked).encode()
    if args.output:
        save(args.output, written)
    else:
        # The bytes as they are: a terminal's own line ends and signs would change the file it is sent into.
        sys.stdout.flush()
        sys.stdout.buffer.write(written)
    return 0


def _export_takes(command: argparse.ArgumentParser) -> None:
    from ..exports import FORMATS, help_text

    command.add_argument("tree", metavar="TREE", help="a tree's id, or a file")
    command.add_argument("--to", required=True, choices=FORMATS, metavar="FORMAT", help=", ".join(FORMATS))
    command.add_argument("--output", type=Path, metavar="FILE", help="where to write it (default: print it)")
    command.epilog = help_text()
    command.formatter_class = argparse.RawDescriptionHelpFormatter


def _export(args: argparse.Namespace) -> int:
    from ..exports import export, open_subject
    from ..reading.save import save

    text = export(open_subject(args.tree, args.root), args.to)
    if args.output:
        save(args.output, text)
    else:
        sys.stdout.write(text)
    return 0


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f"“{text}” is no day; write it as 2026-09-14") from None


_COMMANDS: dict[str, tuple[str, Callable[[argparse.ArgumentParser], None], Callable[[argparse.Namespace], int]]] = {
    "check": ("find all that is wrong in a library", _check_takes, _check),
    "walk": ("walk a tree, in the terminal or with the answers given", _walk_takes, _walk),
    "compare": ("show whose advice changes between two versions", _compare_takes, _compare),
    "calc": ("work a calculator out, or list them all", _calc_takes, _calc),
    "settings": ("list whose the values and numbers are: yours, or invented", _settings_takes, _settings),
    "order": ("advise on the order of a tree's questions; changes nothing", _order_takes, _order),
    "sign": ("stamp the review of a tree, article or calculator, or of all that is due", _sign_takes, _sign),
    "reword": (
        "put a text otherwise wherever trees, stories and looks say it",
        _reword_takes,
        _reword,
    ),
    "new": ("begin a tree that passes all checks but for what you must fill in", _new_takes, _new),
    "schema": ("have editors offer the marks, sources, roles and other names of the library", _schema_takes, _schema),
    "questions": (
        "write all questions and answers, as a table (CSV) or a package (QTI 3.0)",
        _questions_takes,
        _questions,
    ),
    "export": ("write a tree in an open format", _export_takes, _export),
}
"""For each command what it does, in words; what adds its arguments; and what runs it."""
