"""What changes in an article, passage by passage: each paragraph, item and row with its words, under its heading."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from ..model import Article, Map, Passage, Seq, Source
from ..model.finding import Place
from ..reading.articles import ITEM, build_article, heading, unlisted
from ..reading.load import parse
from .alike import Vocabulary
from .change import Change
from .entries import Edit, edits
from .harm import harm
from .kinds import Weight
from .rows import moved, paired

_NAMES = {
    "heading": "a heading",
    "paragraph": "a paragraph",
    "item": "an item",
    "row": "a row of a table",
    "between": "what stands between the passages",
    "question": "a question",
    "head": "its head",
}
_CITED = re.compile(r"\s?\[@[^\[\]\n]*\]")
_FORBIDS = re.compile(r"\b(?:do not|don't|never|nobody|no one|(?:must|may|can) ?not|can't|not to)\b", re.IGNORECASE)
_TARGET = re.compile(r"(\[[^\[\]]*\])\([^()\s]*\)")


@dataclass(frozen=True, slots=True)
class _Part:
    """A passage of an article: its kind, its words on one line, the heading it stands under, where it begins."""

    kind: str
    text: str
    under: str
    place: Place

    @property
    def key(self) -> str:
        """What makes it the same passage: whether it is to be ticked or counted, and its words, whatever its number."""
        sign = ITEM.match(self.text) if self.kind == "item" else None
        shape = "box" if sign and sign["box"] else "number" if sign and sign["number"] else "dot" if sign else ""
        return f"{self.kind} {shape} {unlisted(self.text) if sign else self.text}"


def compare_articles(
    old: Mapping[str, Article], new: Mapping[str, Article], words: Vocabulary, known: frozenset[str]
) -> Iterator[Change]:
    """All changes in the articles of two versions.

    Args:
        old: the articles before, by id.
        new: the articles now.
        words: the words that the library used.
        known: the ids of articles whose files are there now, whether they can be read or not.
    """
    for name, article in old.items():
        if name not in known:
            message = f"the article “{article.title}” is gone"
            yield _change(
                "article-gone", article, message, Place(article.file, 1, 1), before=_whole(article), gone=True
            )
    for name, article in new.items():
        if name not in old:
            message = f"the article “{article.title}” is new"
            yield _change("article-added", article, message, Place(article.file, 1, 1), after=_whole(article))
        else:
            yield from compare_article(old[name], article, words)


def compare_pages(old: Mapping[str, str], new: Mapping[str, str], words: Vocabulary) -> Iterator[Change]:
    """All changes in pages of kb/ that are no articles, by their files; they are compared as articles are."""
    before, now = ({file: _page(file, text) for file, text in pages.items()} for pages in (old, new))
    yield from compare_articles(before, now, words, frozenset(now))


def _page(file: str, text: str) -> Article:
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    front = re.match(r"---[ \t]*\n(.*?\n)---[ \t]*(?:\n|\Z)", text, re.DOTALL)
    raw = parse(f"\n{front[1]}", file, file, "article").data if front else None
    known = raw if raw is not None else Map((1, 1))
    for key, value in (("title", file), ("description", ""), ("part", ""), ("tasks", Seq((1, 1)))):
        known.setdefault(key, value)
    return build_article(Source(file, "article", file, text, known, ()))


def compare_article(old: Article, new: Article, words: Vocabulary) -> Iterator[Change]:
    """All changes in one article; its review apart.

    Linear in its passages but for those that changed, of which a bounded number is held against each other.
    """
    for edit in edits(old.raw, new.raw, frozenset({"review"})):
        yield from _in_head(old, new, edit, words)
    if old.text[old.body_at :] == new.text[new.body_at :]:
        return
    rows = list(_parts(old)), list(_parts(new))
    pairs, gone, come = paired([part.key for part in rows[0]], [part.key for part in rows[1]])
    elsewhere = moved(pairs)
    for i, j in pairs:
        yield from _reworded(new, rows[0][i], rows[1][j], words)
        if j in elsewhere:
            part = rows[1][j]
            yield _of(new, part, "passage-moved", f"{_NAMES[part.kind]} stands in another place", None, part.text)
    for i in gone:
        part = rows[0][i]
        weighs = Weight.ERROR if harm(_sense(part.text), "") else None
        how = f"{_NAMES[part.kind]} is gone{', with a condition or a “not”' if weighs else ''}"
        yield _of(new, part, "passage-gone", how, part.text, None, weighs)
    for j in come:
        part = rows[1][j]
        weighs = Weight.ERROR if _forbids(part.text) else None
        how = (
            f"{_NAMES[part.kind]} is new, and says what is not to be done" if weighs else f"{_NAMES[part.kind]} is new"
        )
        yield _of(new, part, "passage-added", how, None, part.text, weighs)


def _parts(article: Article) -> Iterator[_Part]:
    """The body in passages, and what stands between them: code, and places for traces."""
    under, done = [""], article.body_at
    for passage in article.passages:
        end = passage.start + len(passage.text)
        yield from _between(article, done, passage.start, under[-1])
        raw = article.text[passage.start : end]
        if passage.kind == "heading":
            level, said = heading(Passage("heading", raw, passage.start))
            under = [*under[: max(1, level - 1)], said if level > 1 else ""]
        place = article.place(passage.start + len(raw) - len(raw.lstrip()))
        yield _Part(passage.kind, " ".join(raw.split()), under[-1], place)
        done = end
    yield from _between(article, done, len(article.text), under[-1])


def _between(article: Article, begin: int, end: int, under: str) -> Iterator[_Part]:
    text = article.text[begin:end]
    if text.strip():
        place = article.place(begin + len(text) - len(text.lstrip()))
        yield _Part("between", "\n".join(line.rstrip() for line in text.strip().splitlines()), under, place)


def _reworded(article: Article, a: _Part, b: _Part, words: Vocabulary) -> Iterator[Change]:
    if a.key == b.key:
        return
    name = _NAMES[b.kind]
    kind, what, weighs = _told(a.text, b.text, words)
    how = f"{name} {what}" if kind in ("passage-reworded", "typo", "sources-changed") else f"in {name}, {what}"
    yield _of(article, b, kind, how, a.text, b.text, weighs)


def _told(before: str, after: str, words: Vocabulary) -> tuple[str, str, Weight | None]:
    """The kind of a rewording, what is so, and its weight where that is not the usual one."""
    a, b = _sense(before), _sense(after)
    if a == b:
        if _TARGET.sub(r"\1", before) == _TARGET.sub(r"\1", after) or unlisted(before) == unlisted(after):
            return "passage-reworded", "leads or looks otherwise", Weight.NOTE
        return "sources-changed", "names other sources", None
    if words.is_slip(a, b):
        return "typo", "has a slip mended", None
    if found := harm(a, b):
        kind, what = found
        return kind, f"{what} changed" if kind == "limit-changed" else what, None
    if _forbids(b) and not _forbids(a):
        return "negation-turned", "a “not” has come", None
    return "passage-reworded", "reads otherwise", None


def _sense(text: str) -> str:
    """The words of a passage, without the signs of a list, the sources it cites, and where its links lead."""
    return _TARGET.sub(r"\1", _CITED.sub("", unlisted(text)))


def _forbids(text: str) -> bool:
    return _FORBIDS.search(text.replace("’", "'")) is not None


def _in_head(old: Article, new: Article, edit: Edit, words: Vocabulary) -> Iterator[Change]:
    place = Place((old if edit.gone else new).file, *edit.spot)
    top = edit.path[0]
    where = "Questions" if top == "questions" else "head"
    part = _Part("question" if top == "questions" else "head", "", where, place)
    weighs: Weight | None
    if top in ("title", "description", "questions") and edit.before is not None and edit.after is not None:
        kind, what, weighs = _told(edit.before, edit.after, words)
        name = " › ".join(edit.path[1:]) or f"`{top}`"
        yield _of(new, part, kind, f"{name}: {what}", edit.before, edit.after, weighs)
    elif top == "questions":
        kind = "passage-gone" if edit.gone else "passage-added"
        how = "gone" if edit.gone else "new"
        yield _of(new, part, kind, f"{' › '.join(edit.path[1:])} is {how}", edit.before, edit.after, gone=edit.gone)
    else:
        lost = top in ("cautions", "trees") and set(old.raw.get(top, ())) - set(new.raw.get(top, ()))
        weighs = Weight.WARNING if lost else None
        yield _of(new, part, "article-changed", f"`{top}` changed", edit.before, edit.after, weighs, gone=edit.gone)


def _of(
    article: Article,
    part: _Part,
    kind: str,
    how: str,
    before: str | None,
    after: str | None,
    weighs: Weight | None = None,
    gone: bool = False,
) -> Change:
    under = f", {part.under}" if part.under and part.kind != "heading" else ""
    message = f"“{article.title}”{under}: {how}"
    return _change(kind, article, message, part.place, before, after, gone or after is None, weighs, part.under)


def _change(
    kind: str,
    article: Article,
    message: str,
    place: Place,
    before: str | None = None,
    after: str | None = None,
    gone: bool = False,
    weighs: Weight | None = None,
    under: str = "",
) -> Change:
    entry = f"{article.file}#{under}"
    return Change(kind, None, message, place, gone, before=before, after=after, weighs=weighs, entry=entry)


def _whole(article: Article) -> str:
    """All that an article tells, a passage a line."""
    return "\n".join([article.title, *(part.text for part in _parts(article))])
