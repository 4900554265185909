"""Nothing grows faster than what is read: texts, lists and names of any length end soon.

`tests/bench/bench_texts.py` takes the time of every regular expression on texts made to hang it. Here they are looked
at as they are built, and lists are followed by counting.
"""

from __future__ import annotations

import re
import sys
from datetime import date
from pathlib import Path
from re import _constants as op  # type: ignore[attr-defined]
from re import _parser  # type: ignore[attr-defined]
from types import SimpleNamespace
from typing import Any

import pytest

from alarmtrees.check.rules import alias_clash
from alarmtrees.check.run import check_library
from alarmtrees.model import Map, Seq, Source
from alarmtrees.model.quantities import quantities
from alarmtrees.reading import schema
from alarmtrees.reading.articles import Spans
from cases.bundle import CASES, files_of, tree_of, write_library

sys.path.insert(0, str(Path(__file__).parent / "bench"))
from bench_texts import OURS, expressions, is_searched

TODAY = date(2026, 11, 25)
SIGNS = [chr(code) for code in range(128)] + list("é\u00a0–“”’\u2028\u200b\uff1d漢")
MANY = 10

# Each may try a run of signs again from every place in it; why that ends soon all the same.
HELD = {
    "alarmtrees.terminal.sign:_TOKEN": "one line of one file, once, by hand",
}


def signs_of(item: Any, flags: int) -> frozenset[str]:
    """The signs that one part of an expression can take, whatever their number."""
    kind, value = item
    if kind in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
        return frozenset().union(*(signs_of(part, flags) for part in value[2]))
    if kind is op.SUBPATTERN:
        return frozenset().union(*(signs_of(part, flags) for part in value[3]))
    if kind is op.ATOMIC_GROUP:
        return frozenset().union(*(signs_of(part, flags) for part in value))
    if kind is op.BRANCH:
        return frozenset().union(*(signs_of(part, flags) for branch in value[1] for part in branch))
    if kind is op.LITERAL:
        return frozenset(sign for sign in SIGNS if sign == chr(value))
    if kind is op.NOT_LITERAL:
        return frozenset(sign for sign in SIGNS if sign != chr(value))
    if kind is op.ANY:
        return frozenset(SIGNS)
    if kind is op.IN:
        return frozenset(sign for sign in SIGNS if _in(value, sign))
    return frozenset()


_SHAPES = {op.CATEGORY_DIGIT: r"\d", op.CATEGORY_SPACE: r"\s", op.CATEGORY_WORD: r"\w"}
_SHAPES |= {op.CATEGORY_NOT_DIGIT: r"\D", op.CATEGORY_NOT_SPACE: r"\S", op.CATEGORY_NOT_WORD: r"\W"}
CLASSES = {kind: frozenset(sign for sign in SIGNS if re.match(shape, sign)) for kind, shape in _SHAPES.items()}


def _in(parts: Any, sign: str) -> bool:
    hit = False
    for kind, value in parts:
        if kind is op.LITERAL:
            hit |= sign == chr(value)
        elif kind is op.RANGE:
            hit |= value[0] <= ord(sign) <= value[1]
        elif kind is op.CATEGORY:
            hit |= sign in CLASSES[value]
    return hit != (parts[0][0] is op.NEGATE)


def may_be_empty(item: Any) -> bool:
    kind, value = item
    if kind in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
        return bool(value[0] == 0 or all(map(may_be_empty, value[2])))
    if kind is op.SUBPATTERN:
        return all(map(may_be_empty, value[3]))
    if kind is op.ATOMIC_GROUP:
        return all(map(may_be_empty, value))
    if kind is op.BRANCH:
        return any(all(map(may_be_empty, branch)) for branch in value[1])
    return kind in (op.AT, op.ASSERT, op.ASSERT_NOT)


def first_of(row: list[Any], flags: int) -> frozenset[str]:
    """The signs that a row can begin with."""
    found: frozenset[str] = frozenset()
    for item in row:
        rows = inside(item)
        found |= frozenset().union(*(first_of(part, flags) for part in rows)) if rows else signs_of(item, flags)
        if not may_be_empty(item):
            break
    return found


def goes_on_with(item: Any, flags: int) -> frozenset[str]:
    """The signs with which a repetition can go on instead of ending."""
    body = flat(list(item[1][2]))
    return signs_of(body[0], flags) if len(body) == 1 else first_of(body, flags)


def is_long(item: Any) -> bool:
    return item[0] in (op.MAX_REPEAT, op.MIN_REPEAT) and item[1][1] > MANY


def inside(item: Any) -> list[list[Any]]:
    """The rows of parts within a part."""
    kind, value = item
    if kind in (op.MAX_REPEAT, op.MIN_REPEAT, op.POSSESSIVE_REPEAT):
        return [list(value[2])]
    if kind is op.SUBPATTERN:
        return [list(value[3])]
    if kind is op.ATOMIC_GROUP:
        return [list(value)]
    return [list(branch) for branch in value[1]] if kind is op.BRANCH else []


def flat(row: list[Any]) -> list[Any]:
    """A row with plain groups opened."""
    out: list[Any] = []
    for item in row:
        out += flat(list(item[1][3])) if item[0] is op.SUBPATTERN else [item]
    return out


def faults(row: list[Any], flags: int) -> list[str]:
    """Repetitions that touch, so that a row could read the same signs in two ways; also where it follows itself."""
    found = []
    row = flat(row)
    for index, item in enumerate(row):
        found += touching(item, row[index + 1 :], flags)
        if item[0] in (op.MAX_REPEAT, op.MIN_REPEAT) and item[1][1] > 1:
            body = flat(list(item[1][2]))
            for place, part in enumerate(body if len(body) > 1 or is_long(body[0]) else ()):
                found += touching(part, [*body[place + 1 :], *body[: place + 1]], flags)
        for part in inside(item):
            found += faults(part, flags)
    return found


def touching(item: Any, row: list[Any], flags: int) -> list[str]:
    """Where a repetition can give up signs to one that comes after it."""
    if is_long(item):
        for after in row:
            if is_long(after) and goes_on_with(item, flags) & first_of([after], flags):
                return [f"two repetitions of one sign touch: {item} {after}"]
            if not may_be_empty(after):
                break
    return []


EXPRESSIONS = {name: one for name, one in expressions().items() if not name.startswith(OURS)}


def test_there_are_expressions_to_look_at() -> None:
    assert len(EXPRESSIONS) >= 60 and any("schema.json" in name for name in EXPRESSIONS)


@pytest.mark.parametrize("text", [r"a*a*b", r"(?:a+)+b", r"\s*x?\s*y", r"(a|b)*[ab]*c", r"`+.+?`"])
def test_what_is_looked_for_is_found(text: str) -> None:
    assert faults(list(_parser.parse(text)), 0)


@pytest.mark.parametrize("name", EXPRESSIONS)
def test_no_expression_reads_the_same_signs_in_two_ways(name: str) -> None:
    pattern = EXPRESSIONS[name]
    assert faults(list(_parser.parse(pattern.pattern, pattern.flags & ~re.UNICODE)), pattern.flags) == []


@pytest.mark.parametrize("name", [name for name in EXPRESSIONS if is_searched(name)])
def test_no_search_begins_anew_within_a_run(name: str) -> None:
    """`\\s+x` would be tried from every blank of a long row; behind `(?<!\\s)` it begins once."""
    if name.partition(".")[0] in HELD or any(name.startswith(held) for held in HELD):
        return
    pattern = EXPRESSIONS[name]
    rows = [list(_parser.parse(pattern.pattern, pattern.flags & ~re.UNICODE))]
    while rows:
        row = flat(rows.pop())
        if row and row[0][0] is op.BRANCH:
            rows += inside(row[0])
            continue
        begins = bool(row) and is_long(row[0]) and any(not may_be_empty(item) for item in row[1:])
        assert not begins, "looks on from every sign of a run; put (?<!…) before it"


class Counted(str):
    """A text that counts how often it is compared."""

    compared = 0

    def __eq__(self, other: object) -> bool:
        Counted.compared += 1
        return str.__eq__(self, other)

    __hash__ = str.__hash__


@pytest.mark.parametrize("mixed", [False, True])
def test_an_entry_that_stands_twice_is_found_in_one_pass(monkeypatch: pytest.MonkeyPatch, mixed: bool) -> None:
    """Among entries that cannot be sorted as well."""
    size = 3000
    names = [Counted(f"a{number}") for number in range(size)]
    entries: list[Any] = [name if index % 2 or not mixed else _map(name) for index, name in enumerate(names)]
    entries.append(Counted("a1"))
    seq = Seq((1, 1), True)
    seq.extend(entries)
    seq.item_at.extend((1, 1 + index) for index in range(len(entries)))
    data = _map("x")
    data["cautions"], data.key_at["cautions"], data.value_at["cautions"] = seq, (1, 1), (1, 1)
    Counted.compared = 0
    monkeypatch.setattr(schema, "_gate", lambda kind: SimpleNamespace(is_valid=lambda data: False))
    source = Source("trees/a.yml", "tree", "a", "", data, ())
    told = [problem.message for problem in schema.problems(source)]
    assert "“a1” stands twice in `cautions`; once is enough" in told
    assert Counted.compared < 5 * size


def _map(name: str) -> Map:
    made = Map((1, 1))
    made["id"], made.key_at["id"], made.value_at["id"] = name, (1, 1), (1, 1)
    return made


def test_other_names_are_folded_a_few_times_each(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folded, asked = alias_clash.folded, []
    monkeypatch.setattr(alias_clash, "folded", lambda text: asked.append(text) or folded(text))
    names = [f"name {number}" for number in range(1000)]
    tree = tree_of("safety-rule/bad/absence").replace("[a1, a2,", f"[{', '.join(names)}, Name  7, a2,")
    found = check_library(write_library(tmp_path, {"trees/a.yml": tree}), TODAY).findings
    assert [finding.place.line for finding in found if finding.rule == "alias-clash"] == [6]
    assert len(asked) < 3 * len(names)


def test_a_passage_has_an_end(tmp_path: Path) -> None:
    files = files_of((CASES / "missing-section" / "good" / "all-six-and-one-more.txt").read_text("utf-8"))
    files.pop("findings")
    long = files["kb/zeroing.md"].replace("The line tells the truth.", "The line tells\nthe truth. " * 200)
    found = check_library(write_library(tmp_path, {**files, "kb/zeroing.md": long}), TODAY).findings
    assert [finding.message for finding in found if finding.rule == "plain-markdown"] == [
        "not every page shows this; 5,200 signs without an empty line, at most 5,000 can be read: part them"
    ]


def test_a_long_row_of_numbers_is_not_read_anew_from_each() -> None:
    """Of a number only so many parts are read: what stands before them is none."""
    assert list(quantities("1," * 100 + "5 min")) == [("1,1,1,1,1,1,5 min", 188)]
    assert list(quantities("10,20 min, 1,000.5 mL")) == [("10,20 min", 0), ("1,000.5 mL", 11)]


def test_spans_hold_what_lies_in_them() -> None:
    spans = Spans([(3, 5), (5, 6), (9, 12)])
    assert [at for at in range(14) if spans.holds(at)] == [3, 4, 5, 9, 10, 11]
