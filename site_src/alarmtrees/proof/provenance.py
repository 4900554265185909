"""What rests on what: where each local value and each source is used, and every number that a text cites."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ..calc.formula import counted
from ..model import Article, Calculator, Library, Map, Passage, Seq, Tree
from ..model.quantities import quantities
from ..model.wording import fill, names
from ..reading.articles import asked_in, cited, settings_in, sources_cited, unlisted
from ..reading.texts import Text, texts
from .resting import COUNTED
from .reviewed import CLOCK

RESTS = "resting-limit"
"""The rule that counts with those of the values that are counted with for the balloon's rest."""

HELP = "late-remedy"
"""The rule that holds each page against how soon its first help has to come."""


@dataclass(frozen=True, slots=True)
class Use:
    """A place that uses something.

    Attributes:
        kind: "tree", "article", "calculator", "setting", "caution", "safety", "word"; "rule" of the check, or "clock".
        id: which one.
        node: the step of a tree; None for all else.
    """

    kind: str
    id: str
    node: str | None = None


@dataclass(frozen=True, slots=True)
class Cited:
    """A number with a unit that stands in a text, with what it rests on.

    Attributes:
        number: as written.
        sentence: plain text around it, settings filled in.
        sources: keys of the sources named beside it.
        use: where it stands.
    """

    number: str
    sentence: str
    sources: tuple[str, ...]
    use: Use


Uses = dict[str, tuple[Use, ...]]
"""By key, the places that use it, each once, in the order of the library."""


def uses_of_settings(library: Library) -> Uses:
    """Where each local value is shown."""
    return _gathered(_shown(library))


def uses_of_sources(library: Library) -> Uses:
    """What each source supports."""
    return _gathered(_supported(library))


def _gathered(pairs: Iterable[tuple[str, Use]]) -> Uses:
    uses: dict[str, list[Use]] = {}
    for key, use in dict.fromkeys(pairs):
        uses.setdefault(key, []).append(use)
    return {key: tuple(found) for key, found in uses.items()}


def _shown(library: Library) -> Iterator[tuple[str, Use]]:
    for tree in library.trees.values():
        for text in _texts(library, tree):
            yield from ((name, Use("tree", tree.id, text.node)) for name in names(text.text))
    for article in library.articles.values():
        yield from ((name, Use("article", article.id)) for name, _, _ in settings_in(article))
        asked = (text for together in asked_in(article) for text, _ in together)
        yield from ((name, Use("article", article.id)) for text in asked for name in names(text))
    for calculator in library.calculators.values():
        use = Use("calculator", calculator.id)
        yield from ((name, use) for _, name in counted(calculator))
        yield from ((name, use) for text in _texts(library, calculator) for name in names(text.text))
    for use, words, _ in _facts(library):
        yield from ((name, use) for name in names(words))
    yield from ((name, Use("rule", RESTS)) for name in COUNTED if name in library.settings)
    onsets = dict.fromkeys(f"help_{tree.harm.onset}" for tree in library.trees.values())
    yield from ((name, Use("rule", HELP)) for name in onsets if name in library.settings)
    if CLOCK in library.settings:
        yield CLOCK, Use("clock", CLOCK)


def _supported(library: Library) -> Iterator[tuple[str, Use]]:
    for setting in library.settings.values():
        keys = [setting.source] if setting.source else []
        yield from ((key, Use("setting", setting.id)) for key in (*keys, *setting.range_sources))
    for use, _, sources in _facts(library):
        yield from ((key, use) for key in sources)
    for tree in library.trees.values():
        yield from ((key, Use("tree", tree.id)) for key in tree.sources)
        for node in tree.nodes.values():
            yield from ((key, Use("tree", tree.id, node.id)) for key in node.sources)
    for article in library.articles.values():
        keys = [*article.sources, *(key for key, _ in sources_cited(article))]
        yield from ((key, Use("article", article.id)) for key in keys)
    for calculator in library.calculators.values():
        yield from ((key, Use("calculator", calculator.id)) for key in _sources_in(calculator.raw))


def cited_numbers(library: Library) -> list[Cited]:
    """Every number with a unit that stands in a text and is no setting, page by page."""
    found: list[Cited] = []
    for tree in library.trees.values():
        for text in _texts(library, tree):
            node = tree.nodes.get(text.node or "")
            sources = (node.sources if node else ()) or tree.sources
            found += _in_text(library, text.text, sources, Use("tree", tree.id, text.node))
    for article in library.articles.values():
        for passage in article.passages:
            found += _in_passage(library, article, passage)
        for together in asked_in(article):
            found += _in_question(library, article, [text for text, _ in together])
    for use, words, keys in _facts(library):
        found += _in_text(library, words, keys, use)
    return found


def _sources_in(owner: Map) -> Iterator[str]:
    """Every source that a calculator names, however deep."""
    for key, value in owner.items():
        for part in value if isinstance(value, Seq) else (value,):
            if isinstance(part, Map):
                yield from _sources_in(part)
            elif key == "sources":
                yield part


def _texts(library: Library, page: Tree | Calculator) -> Iterator[Text]:
    """What a reader acts on: other names are only typed."""
    source = next(source for source in library.sources_read if source.file == page.file)
    return (text for text in texts(source) if text.role != "aliases")


def _facts(library: Library) -> Iterator[tuple[Use, str, tuple[str, ...]]]:
    """The texts of cautions, safety rules and words, with what each rests on."""
    for caution in library.cautions.values():
        yield Use("caution", caution.id), f"{caution.say} {caution.why or ''}", caution.sources
    for rule in library.safety.values():
        yield Use("safety", rule.id), f"{rule.say} {rule.reason}", rule.sources
    for key, word in library.words.items():
        yield Use("word", key), word["means"], tuple(word.get("sources", ()))


def _in_text(library: Library, text: str, sources: tuple[str, ...], use: Use) -> Iterator[Cited]:
    for number, start in quantities(text):
        yield Cited(number, _sentence(library, text, start), sources, use)


def _in_passage(library: Library, article: Article, passage: Passage) -> Iterator[Cited]:
    if passage.kind != "heading":
        keys = tuple(dict.fromkeys(key for key, _, _ in cited(passage.text)))
        yield from _in_text(library, passage.text, keys, Use("article", article.id))


def _in_question(library: Library, article: Article, together: list[str]) -> Iterator[Cited]:
    keys = tuple(dict.fromkeys(key for text in together for key, _, _ in cited(text)))
    for text in together:
        yield from _in_text(library, text, keys, Use("article", article.id))


_SENTENCE_END = re.compile(r"(?<=[.!?])\s+(?!\[@)|(?<!\s)\s+\|\s*|\|\s*")
_SPACE = re.compile(r"[ \t\n]+")  # a no-break space is meant, and stays
_MARKS = (
    (re.compile(r"\[@[^\[\]]*\]"), ""),
    (re.compile(r"\[([^\[\]]*)\]\([^()]*\)"), r"\1"),
    (re.compile(r"\*\*|__|(?<!\w)\*|\*(?!\w)"), ""),
)


def _sentence(library: Library, text: str, at: int) -> str:
    """The sentence of a text that a place lies in, without mark-up."""
    begin, end = 0, len(text)
    for match in _SENTENCE_END.finditer(text):
        if match.end() <= at:
            begin = match.end()
        elif match.start() >= at:
            end = match.start()
            break
    sentence = unlisted(text[begin:end])
    for shape, kept in _MARKS:
        sentence = shape.sub(kept, sentence)
    return _SPACE.sub(" ", fill(sentence, library.settings)).strip()
