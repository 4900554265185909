"""All questions and answers as one table, for programs that ask them elsewhere: CSV by RFC 4180, in UTF-8.

A cell that a spreadsheet would take for a formula begins with an apostrophe, so that nothing in it is ever run.
"""

from __future__ import annotations

import csv
import hashlib
import io
from collections.abc import Iterable, Sequence
from typing import Protocol
from unicodedata import category, normalize

from ..model import Library
from ..model.stamp import content_stamp
from ..model.wording import fill
from ..reading.articles import cited

FILE = "questions.csv"
"""The name of the table in the site."""

WRONG = 3
"""How many wrong answers a row has room for."""

COLUMNS = (
    *("id", "about", "kind", "question", "right", "reason"),
    *(f"{what} {number}" for number in range(1, WRONG + 1) for what in ("wrong", "reason")),
    *("source page", "version"),
)

_BEGINS = "=+-@\u2212"
# Letters and signs by their class, but nobody sees them.
_UNSEEN = "\u115f\u1160\u2800\u3164\uffa0"
_DIGITS = 12


class Asked(Protocol):
    """A question, whoever made it: about which article or tree, and its choices as words, right or not, and why."""

    @property
    def id(self) -> str: ...
    @property
    def about_kind(self) -> str: ...
    @property
    def about(self) -> str: ...
    @property
    def ask(self) -> str: ...
    @property
    def choices(self) -> Sequence[tuple[str, bool, str]]: ...


def questions_csv(library: Library, asked: Iterable[Asked]) -> str:
    """The table of questions, the first row naming the columns.

    Each text holds the values of this library's settings. `version` is the content stamp of what a question is
    about: the same version, the same question.

    Args:
        library: without errors.
        asked: its questions, in the order of the rows.
    """
    written = io.StringIO(newline="")
    table = csv.writer(written, lineterminator="\r\n")
    table.writerow(COLUMNS)
    for question in asked:
        table.writerow([cell(plain(library, text)) for text in row(library, question)])
    return written.getvalue()


def plain(library: Library, text: str) -> str:
    """A text as it is read, on one line: values filled in, and a source that it cites named by its key.

    >>> from alarmtrees.model import Library
    >>> plain(Library("", (), {}, frozenset()), "It clots. [@weil-2007]")
    'It clots. (weil 2007)'
    """
    for key, begin, end in reversed(list(cited(text))):
        text = f"{text[:begin]}({key.replace('-', ' ')}){text[end:]}"
    return fill(text.replace("\n", " "), library.settings)


def cell(text: str) -> str:
    """A text that no spreadsheet takes for a formula.

    >>> cell("=1+1"), cell(" +1"), cell("a = b")
    ("'=1+1", "' +1", 'a = b')
    """
    # What nobody sees before a sign, or another shape of the sign, keeps no spreadsheet from running it.
    seen = [at for at, sign in enumerate(text) if category(sign)[0] not in "CZ" and sign not in _UNSEEN]
    begin = seen[0] if seen else len(text)
    runs = bool(seen) and normalize("NFKC", text[begin])[0] in _BEGINS
    return f"'{text}" if runs or "\t" in text[:begin] or "\r" in text[:begin] else text


def row(library: Library, question: Asked) -> list[str]:
    """One question as the texts of its row, as written."""
    right = next((say, why) for say, is_right, why in question.choices if is_right)
    wrong = [(say, why) for say, is_right, why in question.choices if not is_right][:WRONG]
    wrong += [("", "")] * (WRONG - len(wrong))
    told = [text for pair in (right, *wrong) for text in pair]
    return [question.id, question.about, question.about_kind, question.ask, *told, *_whence(library, question)]


def _whence(library: Library, question: Asked) -> Sequence[str]:
    """The page that a question is about, as a path below the site, and the stamp of its content."""
    if tree := library.trees.get(question.about) if question.about_kind == "tree" else None:
        return f"alarms/{tree.id}/index.html", content_stamp(tree)[:_DIGITS]
    article = library.articles.get(question.about)
    text = article.text if article else ""
    return f"{question.about}.html", hashlib.sha256(text.encode()).hexdigest()[:_DIGITS]
