"""Reads the articles of kb/: a front matter under the rules of every YAML file here, and a body in plain Markdown.

A Markdown file whose front matter has none of an article's keys is a plain page, and is left alone.
"""

from __future__ import annotations

import re
import sys
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from ..model import Article, Choice, Map, Passage, Picture, Problem, SelfCheck, Source
from ..model.addresses import kind_of
from ..model.finding import Place
from ..model.wording import spots
from .drawings import NONE
from .load import forbidden, parse, read_text
from .schema import is_id
from .trees import build_review

SECTIONS = ("Purpose", "Steps", "What you need", "What right looks like", "What goes wrong", "Why")
"""The headings of every article, in this order; others may stand between. On a phone the steps come first."""

PARTS = {
    "start": "Before and at the start",
    "run": "While it runs",
    "change": "Changing gas and console",
    "move": "On the move",
    "end": "Weaning and removal",
    "people": "People",
}
"""The parts of the job that articles belong to, in the order of the work, as readers see them."""

_KEYS = ("part", "tasks", "trees", "cautions", "sources", "review", "sections", "questions")
"""Keys that only an article has: one of them makes a Markdown file an article, so that a mistyped key is seen."""

_FRONT = re.compile(r"---[ \t]*\n(.*?\n)?(?:---|\.\.\.)[ \t]*(?:\n|\Z)", re.DOTALL)
_FENCE = re.compile(r" {0,3}(```+|~~~+)")
_TICKS = re.compile(r"`+")
_HEADING = re.compile(r" {0,3}#{1,6}(?:\s|$)")
ITEM = re.compile(r"\s*(?:[-*+]|(?P<number>\d{1,9})[.)])\s+(?P<box>\[[ xX]\]\s+)?")
"""How an item of a list begins: its sign or number, and its box where it can be ticked."""

_ROW = re.compile(r"\s*\|")
_SIGN = re.compile(r"\S")
_CITED = re.compile(r"\[@([^\[\]\n]*)\]")
_TARGET = re.compile(r"\]\(\s*<?([^)\s>]*)")
_TRACE = re.compile(r"<!--\s*(trace|steps):\s*+(\S*)\s*-->")
_PICTURE = re.compile(r"<!--\s*picture:\s*+(\S*)\s*-->")


@dataclass(frozen=True, slots=True)
class Link:
    """A link in an article: its target as written, and where that begins in the file."""

    target: str
    start: int

    @property
    def leads_to(self) -> tuple[str, str, str]:
        """What kind of page it leads to, which one, and the place on it.

        Kinds: those of `addresses.kind_of`, "here", and "web"; "odd" for all that may not be written.

        >>> Link("alarms/pump-stopped/index.md#look", 0).leads_to
        ('tree', 'pump-stopped', 'look')
        """
        path, _, anchor = self.target.partition("#")
        if not path:
            return "here" if anchor else "odd", "", anchor
        if re.fullmatch(r"https?://[^/\s]+(/\S*)?", self.target):
            return "web", self.target, ""
        stem = path.removesuffix(".md")
        if stem == path:
            return "odd", path, anchor
        return *kind_of(stem), anchor


def read_article(path: Path, root: Path) -> Source | None:
    """Read the front matter of one Markdown file.

    Args:
        path: the file.
        root: the library's root, to name the file by.

    Returns:
        The source, its `text` the whole file; None for a plain page. Nothing raises on bad input: what
        is wrong comes back as problems.
    """
    text, problem = read_text(path)
    return parse_article(text, path.relative_to(root).as_posix(), path.stem, problem)


def parse_article(text: str, file: str, stem: str, problem: Problem | None = None) -> Source | None:
    """Read the front matter in a text, of which something may be known to be wrong; see `read_article`."""
    text = text.replace("\r\n", "\n").replace("\r", "\n")
    front = _FRONT.match(text)
    head = (front.group(1) or "") if front else ""
    problem = problem and (forbidden(text) or problem)  # its place, now that line ends are all alike
    if problem:
        return Source(file, "article", stem, text, None, (problem,))
    if not re.search(rf"^[\"']?(?:{'|'.join(_KEYS)})[\"']?\s*:", head, re.MULTILINE):
        return None
    # The line of the fence is kept as an empty one, so that all places hold for the file.
    source = replace(parse(f"\n{head}", file, stem, "article"), text=text)
    if not is_id(stem):
        message = f"“{stem}” is no id; name the file in small letters and digits, joined by -"
        source = replace(source, problems=(*source.problems, Problem("schema", (1, 1), message)))
    return source


def build_article(source: Source, pictures: Mapping[str, Picture] = NONE) -> Article:
    """The article of a source that fits its schema; `pictures` are all drawings that it may show."""
    raw = source.data
    assert raw is not None
    front = _FRONT.match(source.text)
    body_at = front.end() if front else 0
    plain = _plain(source.text, body_at)
    shown = {name for name, _, _ in pictures_shown(source.text, body_at)}
    return Article(
        id=source.stem,
        title=raw["title"],
        description=raw["description"],
        part=raw["part"],
        tasks=tuple(raw["tasks"]),
        trees=tuple(raw.get("trees", ())),
        cautions=tuple(raw.get("cautions", ())),
        sources=tuple(raw.get("sources", ())),
        free="sections" in raw,
        questions=tuple(_question(one) for one in raw.get("questions", ())),
        review=build_review(raw, source.file),
        passages=tuple(_passages(plain, _plain(source.text, body_at, coded=True), body_at)),
        text=source.text,
        plain=plain,
        body_at=body_at,
        line_starts=(0, *(match.end() for match in re.finditer("\n", source.text))),
        file=source.file,
        raw=raw,
        pictures={name: pictures[name] for name in sorted(shown) if name in pictures},
    )


def _question(raw: Map) -> SelfCheck:
    right = Choice(raw["right"]["say"], True, raw["right"]["why"])
    wrong = (Choice(one["say"], False, one["why"]) for one in raw["wrong"])
    return SelfCheck(raw["ask"], (right, *wrong), raw)


def _blank(text: str) -> str:
    """As many blanks, with the line ends kept."""
    return "".join("\n" if sign == "\n" else " " for sign in text)


def _plain(text: str, body_at: int, coded: bool = False) -> str:
    """The file in its own length, with front matter, comments and code blanked; `coded`: code inside lines stays."""
    body, done = [], body_at
    for begin, end in comments(text, body_at):
        body += [text[done:begin], _blank(text[begin:end])]
        done = end
    return _blank(text[:body_at]) + _without_fences("".join([*body, text[done:]]), coded)


def comments(text: str, start: int) -> Iterator[tuple[int, int]]:
    """Where each comment of a text begins and ends; one that nothing ends is none."""
    while (begin := text.find("<!--", start)) >= 0 and (end := text.find("-->", begin + 4)) >= 0:
        start = end + 3
        yield begin, start


class Spans:
    """Stretches of a text in their order, none within another."""

    def __init__(self, found: Iterable[tuple[int, int]]) -> None:
        self._spans = list(found)

    def holds(self, at: int) -> bool:
        """Whether a place lies in one of them: O(log of their number)."""
        before = bisect_right(self._spans, (at, sys.maxsize)) - 1
        return before >= 0 and at < self._spans[before][1]


def _without_fences(body: str, coded: bool) -> str:
    """A text with the lines between fences blanked, and what stands between ticks unless `coded`."""
    lines, fence = [], ""
    for line in body.split("\n"):
        mark = _FENCE.match(line)
        if fence:
            closes = mark and mark.group(1)[0] == fence[0] and len(mark.group(1)) >= len(fence)
            fence = "" if closes else fence
            lines.append(_blank(line))
        elif mark:
            fence = mark.group(1)
            lines.append(_blank(line))
        else:
            lines.append(line if coded else _without_code(line))
    return "\n".join(lines)


def _without_code(line: str) -> str:
    """A line with what stands between ticks blanked; a tick that nothing closes is a tick."""
    kept, done, opened = [], 0, None
    for run in _TICKS.finditer(line):
        if opened is None:
            opened = run
        elif len(run.group()) == len(opened.group()):
            kept += [line[done : opened.start()], " " * (run.end() - opened.start())]
            done, opened = run.end(), None
    return "".join([*kept, line[done:]])


def _passages(plain: str, coded: str, body_at: int) -> Iterator[Passage]:
    """The body in passages; what belongs to one is never split, and none holds two list items."""
    kind, begin, end, at = "", body_at, body_at, body_at
    for line, with_code in zip(plain[body_at:].split("\n"), coded[body_at:].split("\n"), strict=True):
        starts = _kind(with_code)
        if kind and starts != "more":
            yield Passage(kind, plain[begin:end], begin)
            kind = ""
        if starts == "more" and not kind:
            starts = "paragraph"
        if starts in ("heading", "item", "row", "paragraph"):
            kind, begin = starts, at
        end = at = at + len(line)
        at += 1
        if kind in ("heading", "row"):
            yield Passage(kind, plain[begin:end], begin)
            kind = ""
    if kind:
        yield Passage(kind, plain[begin:end], begin)


def _kind(line: str) -> str:
    if not _SIGN.search(line):
        return "empty"
    for shape, kind in ((_HEADING, "heading"), (_ROW, "row"), (ITEM, "item")):
        if shape.match(line):
            return kind
    return "more"


def unlisted(text: str) -> str:
    """A text without the sign, number and box of an item of a list.

    >>> unlisted("- [ ] Look."), unlisted("Look.")
    ('Look.', 'Look.')
    """
    begun = ITEM.match(text)
    return text[begun.end() :] if begun else text


def heading(passage: Passage) -> tuple[int, str]:
    """The level and the words of a heading.

    >>> heading(Passage("heading", "## What you need", 0))
    (2, 'What you need')
    """
    signs, _, words = passage.text.strip().partition(" ")
    return len(signs), " ".join(words.split()).rstrip("# ")


def cited(text: str) -> Iterator[tuple[str, int, int]]:
    """The source keys that a text cites, and where each citation begins and ends.

    >>> list(cited("So it is. [@weil-2007]"))
    [('weil-2007', 10, 22)]
    """
    for match in _CITED.finditer(text):
        yield match.group(1).strip(), match.start(), match.end()


def links(article: Article) -> Iterator[Link]:
    """All links, whatever stands in their words."""
    for match in _TARGET.finditer(article.plain):
        yield Link(match.group(1), match.start(1))


def settings_in(article: Article) -> Iterator[tuple[str, int, int]]:
    """The settings that the body names, and where; "" for a brace that stands alone."""
    return spots(article.plain)


def asked_in(article: Article) -> Iterator[tuple[tuple[str, Place], ...]]:
    """What the questions of an article say, with its places: each question, and each answer with its reason."""
    for question in article.questions:
        yield ((question.ask, _at(article, question.raw, "ask")),)
        for answer in (question.raw["right"], *question.raw["wrong"]):
            yield tuple((answer[key], _at(article, answer, key)) for key in ("say", "why"))


def _at(article: Article, owner: Map, key: str) -> Place:
    return Place(article.file, *owner.value_at[key])


def sources_cited(article: Article) -> Iterator[tuple[str, Place]]:
    """The source keys that the body and the questions cite, and where."""
    for key, start, _ in cited(article.plain):
        yield key, article.place(start + 2)
    for together in asked_in(article):
        for text, place in together:
            yield from ((key, place) for key, _, _ in cited(text))


def traces_in(article: Article) -> Iterator[tuple[str, str, int, int]]:
    """The places that ask for a pressure trace, or for a row of them: "trace" or "steps", the id, begin and end."""
    for begin, end in comments(article.text, article.body_at):
        if asked := _TRACE.fullmatch(article.text, begin, end):
            yield asked.group(1), asked.group(2), begin, end


def pictures_in(article: Article) -> Iterator[tuple[str, int, int]]:
    """The places of an article that ask for a picture: its id, begin and end."""
    return pictures_shown(article.text, article.body_at)


def pictures_shown(text: str, body_at: int) -> Iterator[tuple[str, int, int]]:
    """The places of a text, from an offset on, that ask for a picture: its id, begin and end."""
    for begin, end in comments(text, body_at):
        if asked := _PICTURE.fullmatch(text, begin, end):
            yield asked.group(1), begin, end
