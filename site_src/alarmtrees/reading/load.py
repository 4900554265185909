"""Reads YAML with the position of every key and value; refuses what could hurt or lose words.

All scalars load as text: "Yes", "010" and dates stay what the author wrote. White space folds to one
blank. Anchors, aliases and tags are refused, so no file can grow in memory or run anything.
Nothing here raises on bad input: what is wrong comes back as problems of the source.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import yaml

from ..model import Map, Problem, Seq, Source, Spot

MAX_BYTES = 1024 * 1024
MAX_DEPTH = 24
MAX_TEXT = 10_000
"""Signs of one text; nobody reads a longer one at a bedside, and what looks at every sign of it must end soon."""

TWICE = "\0"
"""Stands in the name under which the second of two entries of one name is kept: no file can hold it."""

PROSE = frozenset(
    {"title", "summary", "say", "ask", "why", "meanwhile", "do", "aliases", "reason", "means", "description"}
)
"""Keys that hold words for readers. A comment right behind such a text is a text cut short."""

# C0 without tab and line ends, DEL and C1 without NEL, byte order marks inside a text, and the signs
# that turn the direction of writing and so can make a file read differently from what it says.
_FORBIDDEN = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x84\x86-\x9f\u202a-\u202e\u2066-\u2069\ufeff]")
_SPACE = re.compile(r"[ \t\r\n]+")  # a no-break space is meant, and stays
_LOADER = getattr(yaml, "CLoader", yaml.Loader)


def read_source(path: Path, root: Path, kind: str) -> Source:
    """Read one YAML file.

    Args:
        path: the file.
        root: the library's root, to name the file by.
        kind: "tree" or the kind of fact file. Stories are a list; it comes back under the key `stories`.

    Returns:
        The source; its `data` is None where no document could be read, and `problems` says why.
    """
    file = path.relative_to(root).as_posix()
    text, problem = read_text(path)
    if problem:
        return Source(file, kind, path.stem, text, None, (problem,))
    return parse(text, file, path.stem, kind)


def read_text(path: Path) -> tuple[str, Problem | None]:
    """The characters of a file, and what is wrong with them: too many, unreadable, or not allowed."""
    try:
        if path.stat().st_size > MAX_BYTES:
            return "", Problem("yaml", (1, 1), "the file is larger than 1 MiB; split it")
        raw = path.read_bytes()
    except OSError as fault:
        return "", Problem("yaml", (1, 1), f"the file cannot be read: {fault.strerror or fault}")
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        spot = (raw.count(b"\n", 0, fault.start) + 1, 1)
        return raw.decode("utf-8", "replace"), Problem("yaml", spot, "the file is not UTF-8; save it as UTF-8")
    return text, forbidden(text)


def forbidden(text: str) -> Problem | None:
    """The first character that no file may hold, as a problem."""
    bad = _FORBIDDEN.search(text)
    if bad is None:
        return None
    message = f"character U+{ord(bad.group()):04X} is not allowed; delete it"
    return Problem("yaml", _spot_of(text, bad.start()), message)


def parse(text: str, file: str, stem: str, kind: str) -> Source:
    """Read one YAML document from a text; see `read_source`.

    A file whose text is as it was the last time is not read anew: a served site is checked at each edit, and a
    comparison reads two versions that differ in little. Nothing may change what is read.
    """
    last = _LAST.get((file, kind))
    if last is None or (last.text, last.stem) != (text, stem):
        last = _LAST[file, kind] = _parsed(text, file, stem, kind)
    return last


_LAST: dict[tuple[str, str], Source] = {}
"""Of each file what was read last."""


def _parsed(text: str, file: str, stem: str, kind: str) -> Source:
    problem = forbidden(text)
    if problem:
        return Source(file, kind, stem, text, None, (problem,))
    builder = _Builder(text)
    data = builder.build(listed="stories" if kind == "stories" else None)
    return Source(file, kind, stem, text, data, tuple(builder.problems))


def _spot_of(text: str, offset: int) -> Spot:
    line_start = text.rfind("\n", 0, offset) + 1
    return text.count("\n", 0, offset) + 1, offset - line_start + 1


class _Stop(Exception):
    """Reading cannot go on."""


class _Builder:
    """Builds Map and Seq from the parser's events, without recursion."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.lines = text.splitlines()
        self.problems: list[Problem] = []

    def build(self, listed: str | None = None) -> Map | None:
        """The document; where it is to be a list, that list under the key `listed`."""
        try:
            loader = _LOADER(self.text)
        except yaml.YAMLError as fault:  # the pure Python reader complains here
            self._unreadable(fault)
            return None
        try:
            root = self._document(loader)
        except yaml.YAMLError as fault:
            self._unreadable(fault)
            return None
        except _Stop:
            return None
        finally:
            loader.dispose()
        if root is None:
            self._problem("yaml", (1, 1), "the file is empty; write a mapping, beginning with `id:`")
        elif listed and isinstance(root, Seq):
            whole = Map(root.at)
            whole[listed], whole.key_at[listed], whole.value_at[listed] = root, root.at, root.at
            return whole
        elif listed:
            self._problem("yaml", (1, 1), "the file must be a list at its top, each item behind a `-`")
            return None
        elif not isinstance(root, Map):
            self._problem("yaml", (1, 1), "the file must be a mapping of keys and values at its top")
        return root if isinstance(root, Map) else None

    def _document(self, loader: Any) -> Map | Seq | str | None:
        root: Map | Seq | str | None = None
        inner: Map | Seq | None = None  # the innermost mapping or list that is open
        key: str | None = None  # where that is a mapping: the key that waits for its value
        under = ""  # the key that it stands under
        outer: list[tuple[Map | Seq | None, str]] = []  # those around it, each with what it stands under
        documents = 0
        while True:
            event = loader.get_event()
            kind = type(event)
            if kind is yaml.ScalarEvent:
                value = self._scalar(event)
                if type(inner) is Map:
                    if key is None:
                        key = self._key(inner, value, event)
                        continue
                    self._check_text(event, inner, key)
                    inner[key] = value
                    inner.value_at[key] = _spot(event)
                    key = None
                elif type(inner) is Seq:
                    self._check_text(event, inner, under)
                    inner.append(value)
                    inner.item_at.append(_spot(event))
                else:
                    root = value
            elif kind is yaml.MappingStartEvent or kind is yaml.SequenceStartEvent:
                item = self._open(event, len(outer), inner, key)
                if type(inner) is Map:
                    assert key is not None
                    inner[key] = item
                    inner.value_at[key] = item.at
                elif type(inner) is Seq:
                    inner.append(item)
                    inner.item_at.append(item.at)
                else:
                    root = item
                outer.append((inner, under))
                inner, under, key = item, key or "", None
            elif kind is yaml.MappingEndEvent or kind is yaml.SequenceEndEvent:
                inner, under = outer.pop()
            elif kind is yaml.AliasEvent:
                self._stop(event, "aliases (*name) are refused; write the text out")
            elif kind is yaml.DocumentStartEvent:
                documents += 1
                if documents > 1:
                    self._stop(event, "a second document (---) begins here; one file holds one")
            elif kind is yaml.StreamEndEvent:
                return root

    def _open(self, event: Any, depth: int, parent: Map | Seq | None, key: str | None) -> Map | Seq:
        self._plain_only(event)
        if isinstance(parent, Map) and key is None:
            self._stop(event, "a key must be a word, not a list or mapping; put the text in quotes")
        if depth >= MAX_DEPTH:
            self._stop(event, f"nested deeper than {MAX_DEPTH} levels")
        flow = bool(event.flow_style)
        if type(event) is yaml.MappingStartEvent:
            return Map(_spot(event), flow)
        if flow and isinstance(parent, Map) and key == "do":
            message = "a list in [ ] under `do` cuts a line at every comma; write one `- line` each"
            self._problem("lost-text", _spot(event), message)
        return Seq(_spot(event), flow)

    def _scalar(self, event: Any) -> str:
        self._plain_only(event)
        value: str = event.value
        if event.style == '"' and (bad := _FORBIDDEN.search(value)):  # escapes; all else was searched
            self._stop(event, f"character U+{ord(bad.group()):04X} is not allowed; delete it")
        if "\n" in value or "  " in value or "\t" in value or value[:1] == " " or value[-1:] == " ":
            value = _SPACE.sub(" ", value).strip(" ")
        if len(value) > MAX_TEXT:
            self._stop(event, f"the text has {len(value):,} signs, at most {MAX_TEXT:,} are read; say it shorter")
        return value

    def _key(self, parent: Map, key: str, event: Any) -> str:
        spot = _spot(event)
        if not key:
            self._problem("lost-text", spot, "a value without a key: a `:` or `,` cut the text; put it in quotes")
        if key in parent:
            first = parent.key_at[key][0]
            message = f"`{key}` stands here a second time (first in line {first}); only one would count"
            self._problem("duplicate-key", spot, message)
            return f"{key}{TWICE}{spot[0]}:{spot[1]}"  # keep the first; the file is not used further
        parent.key_at[key] = spot
        return key

    def _check_text(self, event: Any, parent: Map | Seq, key: str) -> None:
        if key == "phone" and event.end_mark.line > event.start_mark.line:
            message = "`phone` stands on several lines, which would be dialled as one number; write one, on its line"
            self._problem("lost-text", _spot(event), message)
        if event.style or event.implicit != (True, False):
            return  # in quotes nothing is cut
        if not event.value and isinstance(parent, Map) and parent.flow:
            spot = parent.key_at.get(key, _spot(event))
            message = f"`{key}` has no value: a comma cut the text before it; put that text in quotes"
            self._problem("lost-text", spot, message)
        elif key in PROSE and event.value:
            end = event.end_mark
            rest = self.lines[end.line][end.column :].lstrip() if end.line < len(self.lines) else ""
            if rest.startswith("#"):
                message = "the text ends where `#` begins a comment; put it in quotes, or the comment on its own line"
                self._problem("lost-text", _spot(event), message)

    def _plain_only(self, event: Any) -> None:
        if event.tag is not None:
            self._stop(event, f"tag {event.tag} is refused; write the plain value")
        if event.anchor is not None:
            self._stop(event, f"anchor &{event.anchor} is refused; write the text out where it is needed")

    def _problem(self, rule: str, spot: Spot, message: str) -> None:
        self.problems.append(Problem(rule, spot, message))

    def _stop(self, event: yaml.Event, message: str) -> None:
        self._problem("yaml", _spot(event), message)
        raise _Stop

    def _unreadable(self, fault: yaml.YAMLError) -> None:
        mark = getattr(fault, "problem_mark", None) or getattr(fault, "context_mark", None)
        spot = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        what = getattr(fault, "problem", None) or str(fault).splitlines()[0]
        self._problem("yaml", spot, f"not readable as YAML: {what}; a text with : # , or quotes needs quotes")


def _spot(event: Any) -> Spot:
    mark = event.start_mark
    return mark.line + 1, mark.column + 1
