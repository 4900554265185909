"""The loader against PyYAML's own pure Python loader, and against files that mean harm.

PyYAML is read twice as an outside check: `BaseLoader` for the data (all text, as ours) and `yaml.compose` for
the places (its start marks). Both are pure Python; the package reads with the C parser.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from alarmtrees.model import Source
from alarmtrees.reading.load import MAX_BYTES, MAX_DEPTH, parse, read_source
from alarmtrees.reading.open import read_checked
from cases.bundle import case_paths, files_of, tree_of


def read(text: str) -> Source:
    return parse(text, "a.yml", "a", "tree")


def problems(text: str) -> list[tuple[str, tuple[int, int], str]]:
    return [(problem.rule, problem.spot, problem.message) for problem in read(text).problems]


def folded(value: Any) -> Any:
    """PyYAML's data with white space folded, as the loader promises."""
    if isinstance(value, dict):
        return {folded(key): folded(item) for key, item in value.items()}
    return [folded(item) for item in value] if isinstance(value, list) else " ".join(value.split())


def marks(node: yaml.Node, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], tuple[int, int]]]:
    """Path and place of every key and value below a node, by PyYAML's start marks."""
    pairs = node.value if isinstance(node, yaml.MappingNode) else list(enumerate(node.value))
    for key, value in pairs:
        name = folded(key.value) if isinstance(key, yaml.Node) else key
        if isinstance(key, yaml.Node):
            yield (*path, "key of", name), (key.start_mark.line + 1, key.start_mark.column + 1)
        yield (*path, name), (value.start_mark.line + 1, value.start_mark.column + 1)
        if not isinstance(value, yaml.ScalarNode):
            yield from marks(value, (*path, name))


def spots(value: Any, path: tuple[Any, ...] = ()) -> Iterator[tuple[tuple[Any, ...], tuple[int, int]]]:
    """The same from our own document."""
    if isinstance(value, dict):
        for key, item in value.items():
            yield (*path, "key of", key), value.key_at[key]  # type: ignore[attr-defined]
            yield (*path, key), value.value_at[key]  # type: ignore[attr-defined]
            yield from spots(item, (*path, key))
    elif isinstance(value, list):
        for index, item in enumerate(value):
            yield (*path, index), value.item_at[index]  # type: ignore[attr-defined]
            yield from spots(item, (*path, index))


class Plain(yaml.SafeDumper):
    """A writer that puts nothing in quotes that can stand without: Yes, 010 and days are written bare."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012

    def ignore_aliases(self, data: Any) -> bool:
        return True


# No white space but blanks, line ends and tabs (how others fold is the reader's own affair), and none of the
# signs that the loader refuses.
CHARS = st.characters(
    codec="utf-8",
    exclude_categories=("Cs", "Cc", "Zl", "Zp", "Zs", "Cf", "Cn", "Co"),
    include_characters=" \n\t",
)
TEXT = st.one_of(
    st.text(CHARS, max_size=12),
    st.sampled_from(["Yes", "no", "on", "010", "0x1f", "1_000", "2026-09-14", "1.0e3", "null", "~", "=", "<<", "- a"]),
    st.text("ab# :,[]{}&*!|>'\"%@`?-\n", max_size=12),
)
KEYS = st.one_of(st.text("abcdefgh", min_size=1, max_size=4), TEXT.map(folded)).filter(
    lambda key: key not in ("", "do", "=") and len(key) < 100
)
DOCUMENTS = st.dictionaries(
    KEYS,
    st.recursive(
        TEXT, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4), max_leaves=12
    ),
    min_size=1,
    max_size=6,
)


@given(
    DOCUMENTS,
    st.sampled_from([True, False, None]),
    st.sampled_from([None, '"', "'", "|", ">"]),
    st.sampled_from([10, 40, 10_000]),
    st.booleans(),
    st.sampled_from([Plain, yaml.SafeDumper]),
)
@settings(max_examples=150, deadline=None)
def test_data_and_places_are_those_of_pyyaml(document, flow, style, width, unicode, dumper) -> None:
    text = yaml.dump(
        document,
        Dumper=dumper,
        default_flow_style=flow,
        default_style=style,
        width=width,
        allow_unicode=unicode,
        sort_keys=False,
    )
    source = read(text)
    # An empty text is written bare in places; in a flow mapping that is a text lost, and told so.
    if any(problem.rule == "lost-text" for problem in source.problems):
        assert "''" not in text and flow is not False
        return
    assert source.problems == ()
    assert source.data == folded(yaml.load(text, yaml.CBaseLoader))
    assert dict(spots(source.data)) == dict(marks(yaml.compose(text, yaml.Loader)))


@pytest.mark.parametrize("path", case_paths()[::4], ids=lambda path: path.stem)
def test_places_in_files_written_by_hand(path: Path) -> None:
    for name, text in files_of(path.read_text("utf-8")).items():
        source = read(text)
        if name.endswith(".yml") and not source.problems:
            assert dict(spots(source.data)) == dict(marks(yaml.compose(text, yaml.Loader)))


def test_places_in_the_shipped_library() -> None:
    repo = Path(__file__).parents[1]
    every = sorted([*(repo / "trees").glob("*.yml"), *(repo / "kb").glob("*.yml")])
    for path in every[:: 1 if os.environ.get("EVERY") else 6]:
        text = path.read_text("utf-8")
        assert dict(spots(read(text).data)) == dict(marks(yaml.compose(text, yaml.Loader))), path.name
        assert read(text).data == folded(yaml.load(text, yaml.CBaseLoader)), path.name


@pytest.mark.parametrize(
    "written",
    ["Yes", "no", "on", "OFF", "true", "null", "~", "010", "0x1f", "1e3", "1_000", ".5", "12:30:45", "2026-09-14", "="],
)
def test_what_yaml_takes_for_something_else_stays_text(written: str) -> None:
    source = read(f"a: {written}\n{written}: b\nc: [{written}]\n")
    assert source.data == {"a": written, written: "b", "c": [written]}
    assert source.problems == ()


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("a: one  two\tthree\n", "one two three"),
        ("a: one\n  two\n\n  three\n", "one two three"),
        ("a: |\n  one\n   two\n", "one two"),
        ("a: >\n  one\n  two\n", "one two"),
        ("a: '  one '\n", "one"),
        ('a: "one\\n\\ttwo"\n', "one two"),
        ("a: one\r\n  two\r\n", "one two"),
        ("a: 15\u00a0min\n", "15\u00a0min"),
    ],
)
def test_white_space_folds_to_one_blank(text: str, value: str) -> None:
    assert read(text).data == {"a": value}


@pytest.mark.parametrize("style", ["", "|", ">"])
def test_a_no_break_space_is_kept_however_the_text_is_written(style: str) -> None:
    assert read(f"a: {style}\n  15\u00a0min\n  at  most\n").data == {"a": "15\u00a0min at most"}


def test_line_ends_of_other_systems_move_no_place() -> None:
    text = tree_of("yaml/good/quoted-and-plain")
    unix = read(text)
    for end in ("\r\n", "\r"):
        other = read(text.replace("\n", end))
        assert other.data == unix.data
        assert list(spots(other.data)) == list(spots(unix.data))


def test_a_byte_order_mark_and_comments_move_no_place(tmp_path: Path) -> None:
    path = tmp_path / "a.yml"
    path.write_bytes(b"\xef\xbb\xbf# first\na: b # behind\n# last\n")
    source = read_source(path, tmp_path, "words")
    assert (source.data, source.problems, source.file) == ({"a": "b"}, (), "a.yml")
    assert source.data.key_at == {"a": (2, 1)} and source.data.value_at == {"a": (2, 4)}


def test_columns_count_characters_not_bytes() -> None:
    source = read("ä\u0301😀: [ü, é]\n")
    assert source.data is not None
    assert source.data["ä\u0301😀"].item_at == [(1, 7), (1, 10)]


def test_keys_stay_as_first_written_where_one_comes_twice() -> None:
    source = read("a: 1\nb: {c: 2, c: 3}\na: 4\n")
    assert source.data is not None and source.data["a"] == "1" and source.data["b"]["c"] == "2"
    assert problems("a: 1\na: 4\n") == [
        ("duplicate-key", (2, 1), "`a` stands here a second time (first in line 1); only one would count")
    ]


# ---------------------------------------------------------------------- files that mean harm, or are broken

BOMB = "a: &a [x]\n" + "".join(f"{chr(98 + i)}: &{chr(98 + i)} [{f'*{chr(97 + i)}, ' * 9}]\n" for i in range(9))

HOSTILE = {
    "anchor": ("a: &x b\n", (1, 4), "anchor &x is refused; write the text out where it is needed"),
    "anchor on a key": ("&x a: b\n", (1, 1), "anchor &x is refused; write the text out where it is needed"),
    "alias": ("a: b\nc: *x\n", (2, 4), "aliases (*name) are refused; write the text out"),
    "alias as key": ("a: b\n*x : c\n", (2, 1), "aliases (*name) are refused; write the text out"),
    "alias bomb": (BOMB, (1, 4), "anchor &a is refused; write the text out where it is needed"),
    "merge key": ("a: b\n<<: *x\n", (2, 5), "aliases (*name) are refused; write the text out"),
    "python object": (
        "a: !!python/object/apply:os.system [ls]\n",
        (1, 4),
        "tag tag:yaml.org,2002:python/object/apply:os.system is refused; write the plain value",
    ),
    "local tag": ("a: !env HOME\n", (1, 4), "tag !env is refused; write the plain value"),
    "tag on the file": ("!!map\na: b\n", (1, 1), "tag tag:yaml.org,2002:map is refused; write the plain value"),
    "no-specific tag": ("a: ! b\n", (1, 4), "tag ! is refused; write the plain value"),
    "control character": ("a: b\nc: d\x07e\n", (2, 5), "character U+0007 is not allowed; delete it"),
    "null": ("a: b\x00c\n", (1, 5), "character U+0000 is not allowed; delete it"),
    "escape sequence": ("a: \x1b[31mred\n", (1, 4), "character U+001B is not allowed; delete it"),
    "turned writing": ("a: x\u202eyz\n", (1, 5), "character U+202E is not allowed; delete it"),
    "isolate": ("# c \u2066 d\na: b\n", (1, 5), "character U+2066 is not allowed; delete it"),
    "turned by an escape": ('a: "x\\u202Ey"\n', (1, 4), "character U+202E is not allowed; delete it"),
    "null by an escape": ('a: "x\\0y"\n', (1, 4), "character U+0000 is not allowed; delete it"),
    "mark inside": ("a: b\nc: \ufeffd\n", (2, 4), "character U+FEFF is not allowed; delete it"),
    "second document": ("a: b\n---\nc: d\n", (2, 1), "a second document (---) begins here; one file holds one"),
    "list as key": ("? [a, b]\n: c\n", (1, 3), "a key must be a word, not a list or mapping; put the text in quotes"),
    "too deep": ("[" * (MAX_DEPTH + 1), (1, 25), "nested deeper than 24 levels"),
    "much too deep": ("{a: " * 100_000, (1, 97), "nested deeper than 24 levels"),
    "deep by indentation": (
        "".join(f"{' ' * i}a:\n" for i in range(40)),
        (25, 25),
        "nested deeper than 24 levels",
    ),
    "long text": (f"a: {'x' * 10_001}\n", (1, 4), "the text has 10,001 signs, at most 10,000 are read; say it shorter"),
    "long text in lines": (
        "a: b\nc: >\n" + "  x\n" * 5_001,
        (2, 4),
        "the text has 10,001 signs, at most 10,000 are read; say it shorter",
    ),
    "long key": (f"? {'k' * 10_001}\n", (1, 3), "the text has 10,001 signs, at most 10,000 are read; say it shorter"),
    "empty": ("", (1, 1), "the file is empty; write a mapping, beginning with `id:`"),
    "comments only": ("# a\n\n# b\n", (1, 1), "the file is empty; write a mapping, beginning with `id:`"),
    "word": ("hello\n", (1, 1), "the file must be a mapping of keys and values at its top"),
    "list": ("- a\n", (1, 1), "the file must be a mapping of keys and values at its top"),
    "open quote": (
        'a: "b\n',
        (2, 1),
        "not readable as YAML: found unexpected end of stream; a text with : # , or quotes needs quotes",
    ),
    "two colons": (
        "a: b: c\n",
        (1, 5),
        "not readable as YAML: mapping values are not allowed in this context; "
        "a text with : # , or quotes needs quotes",
    ),
    "unknown escape": (
        'a: "\\q"\n',
        (1, 5),
        "not readable as YAML: found unknown escape character; a text with : # , or quotes needs quotes",
    ),
    "other version": (
        "%YAML 3.0\n---\na: b\n",
        (1, 1),
        "not readable as YAML: found incompatible YAML document; a text with : # , or quotes needs quotes",
    ),
}


@pytest.mark.parametrize(("text", "spot", "message"), HOSTILE.values(), ids=HOSTILE)
def test_hostile_text_is_one_finding(text: str, spot: tuple[int, int], message: str) -> None:
    assert problems(text) == [("yaml", spot, message)]
    assert read(text).data is None


def test_hostile_bytes_are_one_finding(tmp_path: Path) -> None:
    path = tmp_path / "a.yml"
    line = b"aliases: " + b"x" * 100 + b"\n"
    for raw, spot, message in (
        (b"a: b\nc: \xff\n", (2, 1), "the file is not UTF-8; save it as UTF-8"),
        ("a: b\n".encode("utf-16"), (1, 1), "the file is not UTF-8; save it as UTF-8"),
        (b"\x00\x01\x02", (1, 1), "character U+0000 is not allowed; delete it"),
        (line * (MAX_BYTES // len(line) + 1), (1, 1), "the file is larger than 1 MiB; split it"),
    ):
        path.write_bytes(raw)
        source = read_source(path, tmp_path, "tree")
        assert [(p.rule, p.spot, p.message) for p in source.problems] == [("yaml", spot, message)]
        assert source.data is None


def test_a_file_as_large_as_allowed_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.yml"
    path.write_bytes(b"# " + b"x" * (MAX_BYTES - 8) + b"\na: b\n")
    assert read_source(path, tmp_path, "words").problems == ()


def test_a_file_that_cannot_be_opened_is_a_finding(tmp_path: Path) -> None:
    source = read_source(tmp_path / "gone.yml", tmp_path, "tree")
    assert [(p.rule, p.spot, p.message) for p in source.problems] == [
        ("yaml", (1, 1), "the file cannot be read: No such file or directory")
    ]


def test_nested_as_deep_as_allowed_is_read() -> None:
    assert read("{a: " * MAX_DEPTH + "b" + "}" * MAX_DEPTH).problems == ()


LOST = {
    "comma": ("a: {say: Cold, pale leg, to: b}\n", (1, 16), "`pale leg` has no value"),
    "key alone": ("a: {say: Cold, to}\n", (1, 16), "`to` has no value"),
    "no key": ('a: {"": b}\n', (1, 5), "a value without a key"),
    "hash": ("say: Push #2 in\n", (1, 6), "the text ends where `#` begins a comment"),
    "hash in a flow": ("a: {ask: Is it #2?\n}\n", (1, 10), "the text ends where `#` begins a comment"),
    "hash behind a tab": ("why: It is\t# so\n", (1, 6), "the text ends where `#` begins a comment"),
    "hash in a line to do": ("do:\n  - Push #2 in\n", (2, 5), "the text ends where `#` begins a comment"),
    "hash in the second line": ("do:\n- a\n- b # c\n", (3, 3), "the text ends where `#` begins a comment"),
    "hash in another name": ("aliases:\n- a # b\n", (2, 3), "the text ends where `#` begins a comment"),
    "do in brackets": ("do: [Push it, then wait]\n", (1, 5), "a list in [ ] under `do` cuts a line at every comma"),
}


@pytest.mark.parametrize(("text", "spot", "words"), LOST.values(), ids=LOST)
def test_lost_text_is_told_where_it_was_lost(text: str, spot: tuple[int, int], words: str) -> None:
    found = problems(text)
    assert [(rule, where) for rule, where, _ in found] == [("lost-text", spot)]
    assert found[0][2].startswith(words)


@pytest.mark.parametrize(
    "text",
    [
        'say: "Push #2 in" # a comment\n',
        "say: Push#2 in\n",
        "say: |\n  Push #2 in\n",
        "id: a # no words for readers\n",
        "a: {say: b} # behind a bracket\n",
        "do: # before the lines\n- Push it in\n# between\n- Pull it out\n",
        'a: {say: ""}\n',
        "a:\n",
        "aliases: [hose off, line out]\n",
    ],
)
def test_nothing_lost_is_no_finding(text: str) -> None:
    assert problems(text) == []


# ---------------------------------------------------------------------- whatever comes

PIECES = st.lists(
    st.sampled_from(
        [
            *["a", ": ", "- ", "\n", "  ", "[", "]", "{", "}", ", ", "#", "&x ", "*x ", "!t ", '"', "'", "|", ">", "?"],
            *["%", "---", "...", "\t", "do", "say", "id", "\u202e", "\\u202e", "\r", "\x85", "\u2028", "ä", "😀", "~"],
        ]
    ),
    max_size=40,
).map(lambda pieces: "".join(pieces).encode())


@given(st.one_of(st.binary(max_size=200), PIECES, st.text(max_size=100).map(lambda t: t.encode("utf-8", "replace"))))
@settings(max_examples=500, deadline=None)
def test_no_bytes_raise(raw: bytes) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "a.yml")
        path.write_bytes(raw)
        for kind in ("tree", "safety"):
            source = read_checked(path, path.parent, kind)
            assert source.problems or kind == "safety"  # no tree comes about by chance
            lines = source.text.splitlines() or [""]
            for problem in source.problems:
                line, column = problem.spot
                assert 1 <= line <= len(lines) + 1
                assert column >= 1
                assert "\n" not in problem.message
