"""Stamps the reviews of trees, articles and calculators into their files; comments and layout stay as they are."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

from ..model import Article, Calculator, Library, Map, Review, Tree
from ..model.stamp import content_stamp, house_stamp, is_foreign, is_stale, is_unstamped
from ..proof.reviewed import is_revalued, values_stamp
from ..reading.articles import parse_article
from ..reading.find import Named, find_page
from ..reading.load import parse
from ..reading.open import open_library
from ..reading.save import save

Page = Tree | Article | Calculator

_TOKEN = re.compile(r"""'(?:[^']|'')*'|"(?:[^"\\]|\\.)*"|[^,}#\r\n]*[^,}#\s]""")
_LINES = re.compile(r"(?<=\n)|(?<=\r)(?!\n)")


@dataclass(frozen=True, slots=True)
class Signed:
    """A page with its review stamped, not yet written.

    Attributes:
        path: its file.
        text: what the file is to hold.
        was: what it holds.
        stamp: the content stamp.
    """

    path: Path
    text: str
    was: bytes
    stamp: str

    def write(self) -> None:
        """Write it.

        Raises:
            ValueError: somebody else has changed the file meanwhile; it stays as it is.
            OSError: it cannot be written; it stays as it is.
        """
        save(self.path.resolve(), self.text, was=self.was)


def sign(name: str, root: Path, by: str, on: date) -> Signed:
    """Stamp the review of one page; nothing is written yet.

    Args:
        name: the id of a tree, article or calculator of the library at `root`, or a file.
        root: the library's folder.
        by: the role that reviewed it.
        on: the day of the review. The next one is due as long after as it was the last time, a year
            where there was none.

    Raises:
        FileNotFoundError: there is no such page.
        ValueError: the role may not sign, or the file cannot be signed as it is.
        OSError: the file cannot be read.
    """
    named = find_page(name, root)
    library = named.library()
    return _signed(named, library, _role(by, library), on)


def sign_all(root: Path, by: str, on: date) -> list[Signed]:
    """Stamp the reviews of all pages of a library that are due; nothing is written yet.

    Raises:
        As `sign`, where one of them cannot be signed.
    """
    library = open_library(root)
    by = _role(by, library)
    return [_signed(find_page(str(root / page.file), root), library, by, on) for page in due(library, on)]


def _signed(named: Named, library: Library | None, by: str, on: date) -> Signed:
    was = named.path.read_bytes()
    page, text = named.page(), was.decode("utf-8")
    if _alike(text) != _alike(named.source.text):
        raise ValueError(f"{named.path}: somebody is writing to it just now; sign again")
    stamp = content_stamp(page)
    values = {"by": by, "on": on.isoformat(), "next": _next(page.review, on).isoformat(), "content": stamp}
    values |= _shown_where(library, page)
    text = _replaced(text, page.review, values) if page.review else _appended(text, page, values)
    _verify(text, named, page, values)
    return Signed(named.path, text, was, stamp)


def _shown_where(library: Library | None, page: Page) -> dict[str, str]:
    """With which values a page was reviewed, and in which house; outside any library as it was."""
    if library is None:
        return {key: page.review.raw[key] for key in ("values", "house") if page.review and key in page.review.raw}
    house = {"house": house_stamp(library.hospital)} if library.hospital else {}
    return {"values": values_stamp(library, page)} | house


def _role(by: str, library: Library | None) -> str:
    """The role that signs, white space folded as in every text of a library.

    Raises:
        ValueError: there is none, or it may not sign.
    """
    role = " ".join(by.split())
    if not role:
        raise ValueError('say who reviewed it, such as --by "lead perfusionist"')
    if library and not library.may_sign(role):
        raise ValueError(library.sign_refusal(role))
    return role


def _alike(text: str) -> str:
    """A text whatever its line ends, and without the sign that some editors put before all."""
    return text.removeprefix("\ufeff").replace("\r\n", "\n").replace("\r", "\n")


def due(library: Library, today: date) -> Sequence[Page]:
    """The pages that somebody has to sign.

    They are in use, and nobody has signed them, or nobody of this house who may; or what they say, or a value that they
    show, has changed since, or cannot be told to be the same; or the day of the next review has passed. A draft is
    signed by its name alone: it is not for `all` to say that somebody has read what is being written.
    """
    pages: list[Page] = [*library.in_use.values(), *library.articles.values(), *library.calculators.values()]
    return [page for page in pages if _is_due(library, page, today)]


def _is_due(library: Library, page: Page, today: date) -> bool:
    review = page.review
    if review is None or is_foreign(library, page) or is_stale(page) or is_unstamped(page):
        return True
    if is_revalued(library, page):
        return True
    try:
        return date.fromisoformat(review.next) < today
    except ValueError:
        return True  # a day that is none is replaced


def _next(review: Review | None, on: date) -> date:
    """The day of the next review.

    Raises:
        ValueError: the calendar ends before it.
    """
    try:
        if review:
            return on + (date.fromisoformat(review.next) - date.fromisoformat(review.on))
    except (ValueError, OverflowError):
        pass  # dates that are none, or that lie beyond all use, are replaced
    try:
        return on + timedelta(days=365)
    except OverflowError:
        raise ValueError(f"a year after {on} the calendar has ended; write the day of the review") from None


def _replaced(text: str, review: Review, values: dict[str, str]) -> str:
    """The text with the review's values in place of those that stand there; what has none there comes behind them."""
    lines = _LINES.split(text)
    raw: Map = review.raw
    there = sorted((key for key in values if key in raw), key=lambda key: raw.value_at[key])
    added = [f"{key}: {_quoted(value)}" for key, value in values.items() if key not in raw]
    # From the back, so that the columns before stay right.
    for key in reversed(there):
        line, column = raw.value_at[key]
        before, rest = lines[line - 1][: column - 1], lines[line - 1][column - 1 :]
        new = _quoted(values[key])
        if added and raw.flow and key == there[-1]:
            new = ", ".join([new, *added])
        lines[line - 1] = before + _TOKEN.sub(lambda _, new=new: new, rest, count=1)
        if added and not raw.flow and key == there[-1]:
            indent, end = " " * (raw.key_at[key][1] - 1), _line_end(text)
            lines.insert(line, "".join(f"{indent}{entry}{end}" for entry in added))
    return "".join(lines)


def _appended(text: str, page: Page, values: dict[str, str]) -> str:
    """The text with a review behind all other keys."""
    end = _line_end(text)
    entry = f"review: {{{', '.join(f'{key}: {_quoted(value)}' for key, value in values.items())}}}{end}"
    if not isinstance(page, Article):
        return (text if text.endswith(("\n", "\r")) else text + end) + entry
    lines = _LINES.split(text)
    fence = page.text[: page.body_at].rstrip("\n").count("\n")  # the line that ends the front matter
    return "".join([*lines[:fence], entry, *lines[fence:]])


def _line_end(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _quoted(value: str) -> str:
    # Digits alone, or around an "e" as some stamps have it, are a number to other readers of YAML.
    if re.fullmatch(r"[\w][\w .-]*", value) and not re.fullmatch(r"\d+(e\d+)?", value):
        return value
    return '"' + value.replace("\\", "\\\\").replace('"', '\\"') + '"'


def _verify(text: str, named: Named, page: Page, values: dict[str, str]) -> None:
    """Read the text again: it must hold this review, and all else as before.

    Raises:
        ValueError: it does not.
    """
    source, read = named.source, text.removeprefix("\ufeff")
    if source.kind == "article":
        again = parse_article(read, source.file, source.stem)
    else:
        again = parse(read, source.file, source.stem, source.kind)
    data = again.data if again and not again.problems else None
    if (
        again is None
        or data is None
        or dict(data.get("review", {})) != values
        or {**data, "review": None} != {**page.raw, "review": None}
        or content_stamp(named.built(again)) != values["content"]
    ):
        raise ValueError(
            f"{named.path}: the review cannot be stamped in this layout; write it as `review: {{by: …}}` on one line"
        )
