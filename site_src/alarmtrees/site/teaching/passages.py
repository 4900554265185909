"""The text of an article as pieces for slides. Reads the plain Markdown that articles are held to, and no more."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field

from ...model import Article, Passage
from ...model.addresses import calculator_path, rule_path, tree_path
from ...model.wording import sentences_of
from ...reading.articles import ITEM, Link, Spans, comments, heading, pictures_in, traces_in
from ..markup import View, esc, short_source
from .pieces import LETTERS, ROOM, Piece, letters, piece, row

_MARK = re.compile(
    r"(?<!`)(?P<ticks>`++)(?P<code>.+?)(?<!`)(?P=ticks)(?!`)"
    r"|(?P<comment><!--.*?-->)|(?P<unended><!--.*)"
    r"|\[@(?P<cited>[^\[\]\n]*)\]"
    r"|!?\[(?P<words>[^\[\]]*)\]\(\s*+<?+(?P<target>[^)\s>\[]*+)>?+[^)\[]*+\)"
    r"|(?P<brace>\{\{)"
    r"|\{(?P<setting>[^{}]*)\}"
    r"|\\(?P<sign>[!-/:-@\[-`{-~])"
    r"|(?P<strong>\*\*|__)(?=\S)(?P<loud>(?:(?!(?P=strong))[^`\\]|\\.|`++[^`]*+`++)+)(?<=\S)(?P=strong)"
    r"|(?<!\w)(?P<stress>[*_])(?=\S)(?P<soft>[^*_]+?)(?<=\S)(?P=stress)(?!\w)",
    re.DOTALL,
)
_FENCED = re.compile(r"^ {0,3}(```++|~~~++)[^\n]*\n(.*?)^ {0,3}\1[`~]*[ \t]*$", re.DOTALL | re.MULTILINE)
_RULED = re.compile(r"\s*+\|?\s*+:?-{3,}")
_CELL = re.compile(r"(?<!\\)\|")
_BLANKS = re.compile(r"[ \t\n]+")


@dataclass(slots=True)
class Section:
    """A section of an article: its heading as HTML, and what stands below it, drawings to be put in by their names.

    `parts` holds pieces, and ("trace", "steps" or "picture", name) where one is asked for.
    """

    title: str
    parts: list[Piece | tuple[str, str]] = field(default_factory=list)


def sections(view: View, article: Article) -> list[Section]:
    """The sections of an article in their order; what stands before the first of them has no title."""
    found = [Section("")]
    table: list[str] | None = None
    for _, part in sorted(_parts(article), key=lambda one: one[0]):
        if isinstance(part, Passage) and part.kind == "row":
            cells = _split(view, _raw(article, part))
            if table is None:
                table = cells
            elif not _RULED.match(part.text):
                found[-1].parts.append(row(cells, table))
            continue
        table = None
        if not isinstance(part, Passage):
            found[-1].parts.append(part)
        elif part.kind == "heading":
            level, words = heading(Passage("heading", _raw(article, part), part.start))
            if level == 2:
                found.append(Section(inline(view, words)))
            elif level > 2:
                found[-1].parts.append(piece("heading", inline(view, words)))
        else:
            found[-1].parts += _pieces(view, part.kind, _raw(article, part))
    return [section for section in found if section.parts]


def _parts(article: Article) -> Iterator[tuple[int, Passage | Piece | tuple[str, str]]]:
    """All that stands in the body, with where it begins: passages, code between fences, places for drawings."""
    for passage in article.passages:
        yield passage.start, passage
    for kind, name, begin, _ in traces_in(article):
        yield begin, (kind, name)
    for name, begin, _ in pictures_in(article):
        yield begin, ("picture", name)
    hidden = Spans(comments(article.text, article.body_at))
    for fenced in _FENCED.finditer(article.text, article.body_at):
        if not hidden.holds(fenced.start()):
            lines = fenced.group(2).rstrip("\n").split("\n")
            for place in range(0, len(lines), int(ROOM) - 2):
                some = lines[place : place + int(ROOM) - 2]
                high = sum(1 + len(line) // LETTERS for line in some)
                yield fenced.start() + place, Piece("code", esc("\n".join(some)), high + 0.5)


def _raw(article: Article, passage: Passage) -> str:
    """A passage as written, with the code that `Passage.text` leaves out."""
    return article.text[passage.start : passage.start + len(passage.text)]


def _pieces(view: View, kind: str, text: str) -> Iterator[Piece]:
    if kind == "item" and (bullet := ITEM.match(text)):
        words = inline(view, text[bullet.end() :])
        if bullet.group("box"):
            yield piece("box", words)
        elif bullet.group("number"):
            yield piece("step", words, int(bullet.group("number")))
        else:
            yield piece("bullet", words)
        return
    for some in _paragraphs(text):
        if words := inline(view, some):
            yield piece("text", words)


def _paragraphs(text: str) -> Iterator[str]:
    """A long paragraph as several, parted between sentences: a slide is read from afar."""
    here = ""
    for sentence in sentences_of(text):
        if here and len(here) + len(sentence) > 4 * LETTERS:
            yield here
            here = ""
        here = f"{here} {sentence}" if here else sentence
    yield here


def _split(view: View, line: str) -> list[str]:
    """The cells of a row of a table."""
    inner = line.strip().removeprefix("|")
    inner = inner[:-1] if inner.endswith("|") and not inner.endswith("\\|") else inner
    return [inline(view, cell.replace("\\|", "|")) for cell in _CELL.split(inner)]


def inline(view: View, text: str) -> str:
    """A text of an article as HTML on one line: values filled in, sources and links named, all else escaped."""
    text = _BLANKS.sub(" ", text.strip())
    kept, done = [], 0
    for mark in _MARK.finditer(text):
        kept += [esc(text[done : mark.start()]), _marked(view, mark)]
        done = mark.end()
    return "".join([*kept, esc(text[done:])])


def _marked(view: View, mark: re.Match[str]) -> str:
    if mark["code"] is not None:
        return f"<code>{esc(mark['code'].strip())}</code>"
    if mark["cited"] is not None:
        key = mark["cited"].strip()
        entry = view.library.sources.get(key)
        return f'<span class="quiet">({esc(short_source(entry, key) if entry else key)})</span>'
    if mark["words"] is not None:
        return _link(view, inline(view, mark["words"]), mark["target"])
    if mark["unended"] is not None:
        return esc(mark["unended"])
    if mark["brace"]:
        return "{"
    if mark["setting"] is not None:
        setting = view.library.settings.get(mark["setting"])
        return esc(setting.shown if setting else mark.group())
    if mark["sign"]:
        return esc(mark["sign"])
    if mark["loud"] is not None:
        return f"<b>{inline(view, mark['loud'])}</b>"
    return f"<em>{inline(view, mark['soft'])}</em>" if mark["soft"] is not None else ""


def _link(view: View, words: str, target: str) -> str:
    """A link to another page of the site or of the web; of a place on the same page, only its words."""
    kind, name, anchor = Link(target, 0).leads_to
    if kind == "web":
        return f'<a href="{esc(name)}">{words}</a>'
    paths = {"tree": tree_path(name), "calculator": calculator_path(name), "rule": rule_path(name)}
    paths |= {"made": name, "article": name}
    if kind not in paths or (kind == "article" and name not in view.library.written):
        return words
    return f'<a href="{view.to(paths[kind], anchor)}">{words}</a>' if letters(words) else ""
