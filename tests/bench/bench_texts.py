"""Does a text twice as long take twice the time? Every regular expression of the program, on texts made to hang it.

    python tests/bench/bench_texts.py [--most SECONDS]

For each expression texts are made from its own parts: what leads to a repetition, the repetition's own signs many
times, and then a sign that fits nowhere; and from what articles, trees and settings are made of. Time is that to find
all matches. A ratio near 2 is linear, near 4 quadratic; the exit status says whether any is above 3.
"""

from __future__ import annotations

import argparse
import ast
import importlib
import itertools
import json
import pkgutil
import re
import sys
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from re import _constants as op
from re import _parser  # type: ignore[attr-defined]
from typing import Any

REPOSITORY = Path(__file__).parents[2]
CODE = REPOSITORY / "site_src"
OURS = (
    *("alarmtrees/site/binder.py", "alarmtrees.site.markup:_TAG", "alarmtrees.site.knowledge.glossary:_TAG"),
    *(
        "alarmtrees.site.teaching.deck:_WAYSIDE",
        "alarmtrees.reading.articles:_ROW",
        "alarmtrees.site.plugin:_UNSEARCHED",
    ),
)
"""These read pages, styles and scripts of our own making, where whatever is opened is closed; or a line's beginning."""

WORTH_A_LOOK = 0.002
"""Seconds; shorter times are the clock's own noise."""

TOKENS = (
    *(*"a1 A\n\t`~*_-#.,:|\\/=+'\"<>[](){}!&é\u00a0", "a ", "A ", "1,", "1 ", "1-", "- ", "**a", "*a", "_a", "`a"),
    *("[a](", "](", "[@", "<!--", "-->", "<a ", "<b", "{a", "{{", "|-", "| a", "a.\n", "a. ", "---\n", "```\n"),
    *("by: a ", "//", "/*", " a\n", "\n\n", "1. ", "one ", "one to ", "1 to ", "&a;", "<style>", "<h1>", "a-", "a'"),
    *("half an ", "-  ", "a, ", "''", '\\"', "a_", "}a", "1}"),
)


def expressions() -> dict[str, re.Pattern[str]]:
    """All expressions: those that modules keep, those written where they are used, and those of the schemas."""
    found: dict[str, re.Pattern[str]] = {}
    for package in ("alarmtrees", "circulation"):
        for module in pkgutil.walk_packages([str(CODE / package)], f"{package}."):
            kept = vars(importlib.import_module(module.name)) if "__main__" not in module.name else {}
            for name, value in kept.items():
                for number, one in enumerate(_patterns(value)):
                    found.setdefault(one.pattern + str(one.flags), (f"{module.name}:{name}.{number}", one))  # type: ignore
    for path in CODE.rglob("*.py"):
        for text, line in _written(path):
            found.setdefault(text, (f"{path.relative_to(CODE)}:{line}", re.compile(text, re.DOTALL)))  # type: ignore
    for path in sorted((REPOSITORY / "schema").glob("*.json")):
        for text in _of_schema(json.loads(path.read_text("utf-8"))):
            found.setdefault(text, (path.name, re.compile(text)))  # type: ignore
    return dict(found.values())  # type: ignore


def _patterns(value: Any) -> Iterator[re.Pattern[str]]:
    if isinstance(value, re.Pattern) and isinstance(value.pattern, str):
        yield value
    elif isinstance(value, tuple | list):
        for part in value:
            yield from _patterns(part)


def _written(path: Path) -> Iterator[tuple[str, int]]:
    for node in ast.walk(ast.parse(path.read_text("utf-8"))):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute) and node.args):
            continue
        called = node.func.value
        if isinstance(called, ast.Name) and called.id == "re" and node.func.attr not in ("compile", "escape"):
            text = node.args[0]
            if isinstance(text, ast.Constant) and isinstance(text.value, str):
                yield text.value, node.lineno


def _of_schema(part: Any) -> Iterator[str]:
    if isinstance(part, dict):
        for key, value in part.items():
            if key == "pattern" and isinstance(value, str):
                yield value
            else:
                yield from _of_schema(value)
    elif isinstance(part, list):
        for value in part:
            yield from _of_schema(value)


def texts(pattern: re.Pattern[str]) -> Iterator[tuple[str, str, str]]:
    """What might hang an expression: what stands first, what is repeated, what stands last."""
    own = list(_pumps(_parser.parse(pattern.pattern, pattern.flags & ~re.UNICODE), ""))
    for (head, pump), tail in itertools.product(own, ("", "\u0001", "\n", "\u0001\u0001")):
        yield head, pump, tail
    heads = sorted({head for head, _ in own} | {""}, key=len)[:3]
    for head, pump, tail in itertools.product(heads, TOKENS, ("", "\u0001")):
        yield head, pump, tail


def _pumps(tree: Any, head: str) -> Iterator[tuple[str, str]]:
    """For each repetition an example of what leads to it, and of what it repeats."""
    for kind, value in tree:
        if kind in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
            _, most, inner = value
            if most > 9:
                yield head, _example(inner) or "a"
            yield from _pumps(inner, head)
        elif kind is op.BRANCH:
            for branch in value[1]:
                yield from _pumps(branch, head)
        elif kind is op.SUBPATTERN:
            yield from _pumps(value[3], head)
        elif kind is op.ATOMIC_GROUP:
            yield from _pumps(value, head)
        head += _example([(kind, value)])


def _example(tree: Any) -> str:
    out = ""
    for kind, value in tree:
        if kind is op.LITERAL:
            out += chr(value)
        elif kind is op.NOT_LITERAL:
            out += "a" if value != ord("a") else "b"
        elif kind is op.ANY:
            out += "a"
        elif kind is op.IN:
            out += _one_of(value)
        elif kind in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
            out += _example(value[2]) * max(1 if value[0] == 0 else value[0], 1)
        elif kind is op.BRANCH:
            out += _example(value[1][0])
        elif kind is op.SUBPATTERN:
            out += _example(value[3])
        elif kind is op.ATOMIC_GROUP:
            out += _example(value)
    return out


def _one_of(signs: Any) -> str:
    kinds = {op.CATEGORY_DIGIT: "1", op.CATEGORY_SPACE: " ", op.CATEGORY_WORD: "a"}
    if signs[0][0] is op.NEGATE:
        taken = re.compile("[" + "".join(re.escape(chr(v)) for k, v in signs if k is op.LITERAL) + "]" or "(?!)")
        return next(sign for sign in "a1 .é-" if not (any(k is op.LITERAL for k, _ in signs) and taken.match(sign)))
    for kind, value in signs:
        if kind is op.LITERAL:
            return chr(value)
        if kind is op.RANGE:
            return chr(value[0])
        if kind is op.CATEGORY and value in kinds:
            return kinds[value]
    return "a"


@cache
def _uses() -> frozenset[tuple[str, str]]:
    """Each name that the code calls a method of an expression on, and the method."""
    asked = r"\b(\w+)\.(match|fullmatch|search|finditer|findall|sub|subn|split)\("
    return frozenset(use for path in CODE.rglob("*.py") for use in re.findall(asked, path.read_text("utf-8")))


def is_searched(name: str) -> bool:
    """Whether an expression is looked for anywhere in a text, not only at its beginning."""
    name = name.partition(":")[2].partition(".")[0]
    uses = {method for one, method in _uses() if one == name}
    return not uses or bool(uses - {"match", "fullmatch"})


def seconds(pattern: re.Pattern[str], text: str, most: float, searches: bool) -> float:
    """The shortest of three times to find all matches; of one where it is long."""
    best = float("inf")
    for _ in range(3):
        begin = time.process_time()
        if searches:
            for _ in pattern.finditer(text):
                pass
        pattern.match(text)
        best = min(best, time.process_time() - begin)
        if best > most / 10:
            break
    return best


def main() -> int:
    """Print the slowest text of each expression that takes long, and how it grows."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=float, default=2.0, metavar="SECONDS", help="do not double what takes longer")
    most = parser.parse_args().most
    bad = 0
    found = expressions()
    for name, pattern in sorted(found.items()):
        if name.startswith(OURS):
            continue
        searches = is_searched(name)
        worst = (0.0, 0.0, 0, ("", "", ""))
        for head, pump, tail in texts(pattern):
            count, took = 250, 0.0
            while True:
                text = head + pump * count + tail
                before, took = took, seconds(pattern, text, most, searches)
                ratio = took / before if before > WORTH_A_LOOK else 0.0
                if ratio > worst[0]:
                    worst = (ratio, took, len(text), (head, pump, tail))
                # Where the first text costs next to nothing a longer one shows it: quadratic is 256 times as long.
                if took > most or ratio > 3.3 or count >= 4_000:
                    break
                count *= 2 if took > WORTH_A_LOOK or count >= 2_000 else 8
            if worst[0] > 3.3:
                break
        if worst[0] > 3:
            bad += 1
            print(f"{worst[0]:5.1f} x  {worst[1]:7.3f} s  {worst[2]:>7} signs  {name}  {worst[3]!r}")
    print(f"{len(found)} expressions, {bad} grow faster than their text")
    return int(bool(bad))


if __name__ == "__main__":
    sys.exit(main())
