"""Stamps the review of a tree into its file; comments and layout stay as they are."""

from __future__ import annotations

import re
from datetime import date, timedelta
from pathlib import Path

from ..model import Map, Source, Tree
from ..model.stamp import content_stamp
from ..reading.load import parse
from ..reading.open import read_checked
from ..reading.save import save
from ..reading.trees import build_tree

_TOKEN = re.compile(r"""'(?:[^']|'')*'|"(?:[^"\\]|\\.)*"|[^,}#\n]*[^,}#\s]""")


def sign(path: Path, by: str, on: date) -> str:
    """Stamp a review.

    Args:
        path: the tree's file.
        by: the role that reviewed it.
        on: the day of the review. The next one is due as long after as it was the last time, a year
            where there was none.

    Returns:
        The content stamp.

    Raises:
        ValueError: the file cannot be signed as it is; nothing has been written.
        OSError: the file cannot be read or written.
    """
    if not by.strip():
        raise ValueError('say who reviewed it, such as --by "lead perfusionist"')
    source = read_checked(path, path.parent, "tree")
    if source.problems:
        first = source.problems[0]
        raise ValueError(f"{path}:{first.spot[0]}:{first.spot[1]}: {first.message}; mend that first")
    tree = build_tree(source)
    stamp = content_stamp(tree)
    values = {"by": by, "on": on.isoformat(), "next": _next(tree, on).isoformat(), "content": stamp}
    text = _replaced(source, values) if tree.review else _appended(source, values)
    _verify(text, path, values, tree)
    save(path, text)
    return stamp


def _next(tree: Tree, on: date) -> date:
    if tree.review:
        try:
            return on + (date.fromisoformat(tree.review.next) - date.fromisoformat(tree.review.on))
        except ValueError:
            pass  # dates that are none are replaced
    return on + timedelta(days=365)


def _replaced(source: Source, values: dict[str, str]) -> str:
    assert source.data is not None
    review: Map = source.data["review"]
    lines = source.text.splitlines(keepends=True)
    # From the back, so that the columns before stay right.
    for key in sorted(values, key=lambda key: review.value_at[key], reverse=True):
        line, column = review.value_at[key]
        before, rest = lines[line - 1][: column - 1], lines[line - 1][column - 1 :]
        lines[line - 1] = before + _TOKEN.sub(lambda _, key=key: _quoted(values[key]), rest, count=1)  # type: ignore[misc]
    return "".join(lines)


def _appended(source: Source, values: dict[str, str]) -> str:
    text = source.text if source.text.endswith("\n") else source.text + "\n"
    inner = ", ".join(f"{key}: {_quoted(value)}" for key, value in values.items())
    return f"{text}review: {{{inner}}}\n"


def _quoted(value: str) -> str:
    if re.fullmatch(r"[\w][\w .-]*", value) and not value.isdigit():
        return value
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _verify(text: str, path: Path, values: dict[str, str], tree: Tree) -> None:
    again = parse(text, path.name, path.stem, "tree")
    data = again.data
    same = data is not None and not again.problems and dict(data["review"]) == values
    if not same or {k: v for k, v in data.items() if k != "review"} != {  # type: ignore[union-attr]
        k: v for k, v in tree.raw.items() if k != "review"
    }:
        raise ValueError(
            f"{path}: the review cannot be stamped in this layout; write it as `review: {{by: …}}` on one line"
        )
