"""Slides for teaching: each alarm and each article as a set of its own, and the page that lists them."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from zlib import crc32

from ...learning.cases import Case, main_cases
from ...learning.questions_csv import FILE as QUESTIONS_FILE
from ...learning.questions_csv import Asked
from ...learning.story import story_of
from ...model import ABOUT, Article, Library, Node, Tree, Waveform
from ...model.addresses import SLIDES, tree_path
from ...model.stamp import is_foreign, is_stale
from ...proof.order import by_part, reading_order
from ...proof.reviewed import is_revalued
from ...reading.articles import PARTS
from ..knowledge.traces import MODEL, series_parts, trace_parts
from ..markup import (
    END_WORDS,
    Page,
    SiteFile,
    View,
    block,
    call_line,
    esc,
    first_call,
    items,
    meanwhile_label,
    priority_badge,
    slides_at,
    whole,
)
from ..offline import BUILD
from .deck import Slide, deck, slides_of, whence
from .learn import ASSETS
from .passages import Section, inline, sections
from .pieces import Piece, held, piece, second_title, together

TITLE = "Slides"

_CASE = "A made-up case. Practice, not a permission: times in a case are a story’s, not limits."
_RECKONED = {
    "stopped": "Until somebody has seen the balloon move, the page reckons as if it stood still: the resting time "
    "runs.",
    "running": "The page reckons as if the pump still ran, until a step stops it or somebody has seen the balloon "
    "stand still.",
}
_NUMBERED = "The steps have the numbers of the alarm’s page. Those that end the way stand last: “How it ends”."
_ASKED = (
    "What do you look at first? What comes after that?",
    "What must not be done here, and why?",
    "Whom do you call, when, and what do you say?",
)


def slides_page(library: Library, table: bool = False) -> Page:
    """The list of all slides; `table` says whether the site holds the table of questions too."""
    view = View(library, SLIDES)
    in_use = list(library.in_use.values())
    by_about = {about: [tree for tree in in_use if tree.about == about] for about in ABOUT}
    groups = [_group(view, ABOUT[about], trees) for about, trees in by_about.items() if trees]
    groups += [_group(view, PARTS[part], articles) for part, articles in by_part(library).items()]
    told = (
        "<p>A set of slides for each alarm and each article, made from them, so that both say the same. Arrow keys, "
        "space, Home and End turn them; they print one on each page; each is one file that can be kept.</p>"
    )
    asked = (
        f'<p><a href="../{QUESTIONS_FILE}" download>All questions and answers as a table</a> (CSV, UTF-8).</p>'
        if table
        else ""
    )
    return Page(
        path=SLIDES,
        assets=ASSETS,
        title=TITLE,
        description="Slides for teaching, of each alarm and each article.",
        body=whole([f'<h1 id="_top">{TITLE}</h1>', told, asked, *groups]),
    )


def _group(view: View, title: str, about: Sequence[Tree | Article]) -> str:
    links = (_link(view, one) for one in sorted(about, key=lambda one: one.title.casefold()))
    return block("section", [f"<h2>{title}</h2>", items("ul", links, "links")], class_="group")


def _link(view: View, about: Tree | Article) -> str:
    """A link from one set of slides to another, or from the list."""
    return f'<a href="{view.to(slides_at(view.library, about))}">{view.say(about.title)}</a>'


Make = Callable[[Library, Any], SiteFile]


def slides_files(
    library: Library, asked: Iterable[Asked] = (), kept: Callable[[Tree | Article, Make], SiteFile] | None = None
) -> list[SiteFile]:
    """All sets of slides.

    Args:
        library: without errors.
        asked: questions; those about articles stand at the end of theirs, with the answers behind.
        kept: makes the slides of a tree or an article, or knows them from earlier.
    """
    about: dict[str, list[Asked]] = {}
    for question in asked:
        if question.about_kind == "article":
            about.setdefault(question.about, []).append(question)

    def asked_slides(seen: Library, article: Article) -> SiteFile:
        return article_slides(seen, article, about.get(article.id, ()))

    def made(one: Tree | Article, make: Make) -> SiteFile:
        return kept(one, make) if kept else make(library, one)

    trees = [made(tree, tree_slides) for tree in library.trees.values()]
    return trees + [made(article, asked_slides) for article in library.articles.values()]


# What both have


def _first(view: View, about: Tree | Article, said: Iterable[str]) -> Slide:
    """The slide that names the set: what it is, who reviewed it, and what it was made of."""
    page = tree_path(about.id) if isinstance(about, Tree) else about.id
    links = f'<a href="{view.to(page)}">The page</a> · <a href="{view.to(SLIDES)}">All slides</a>'
    body = [
        *said,
        '<p class="strip"><b>Look at the patient first.</b> Reference and teaching, not a medical device: it diagnoses '
        "nothing and decides nothing.</p>",
        f"<p>{_reviewed(view.library, about)}</p>",
        f"<p>{links}</p>",
        whence(view.library, BUILD),
    ]
    return Slide(view.say(about.title), "\n".join(part for part in body if part), kind="first")


def _reviewed(library: Library, about: Tree | Article) -> str:
    review = about.review
    if review is None:
        return "Nobody has reviewed this yet."
    if is_foreign(library, about):
        return "<b>Not reviewed by anybody of this house.</b> Ask before you use it."
    if is_stale(about):
        return "<b>Changed since it was signed.</b> Ask before you use it."
    if is_revalued(library, about):
        return "<b>A value in it is another one than when it was signed.</b> Ask before you use it."
    return f"Reviewed by the {esc(review.by)} on {esc(review.on)}; ask before you use it after {esc(review.next)}."


def _cautions(view: View, about: Tree | Article) -> Iterator[Slide]:
    yield from slides_of("Cautions", [piece("bullet", view.caution(key)) for key in about.cautions])


def _sources(view: View, about: Tree | Article) -> Iterator[Slide]:
    yield from slides_of("Sources", [piece("bullet", view.sources([key])) for key in about.sources])


def _trace(view: View, waveform: Waveform) -> Iterator[Slide]:
    """A trace beside what is seen in it; then its pressures."""
    drawn, key, tables = trace_parts(view.library, waveform)
    title = view.say(waveform.title)
    seen = items("ul", (view.say(words) for words, _ in waveform.seen))
    yield Slide(title, f"{_figure(drawn, key)}\n<p>{view.say(waveform.say)}</p>\n{seen}", kind="drawn")
    why = [piece("text", view.say(waveform.why))] if waveform.why else []
    figures = [Piece("whole", table, table.count("<tr>") * 1.3) for table in tables]
    yield from slides_of(f"{title}: the figures", [*why, *figures])


def _figure(drawn: str, caption: str) -> str:
    return f"<figure>{drawn}<figcaption>{caption}</figcaption></figure>"


# An article


def article_slides(library: Library, article: Article, asked: Iterable[Asked] = ()) -> SiteFile:
    """An article as slides, with its questions at the end."""
    view = View(library, slides_at(library, article))
    told = [f"<p>{view.say(article.description)}</p>", f'<p class="quiet">{PARTS[article.part]}</p>']
    slides = [_first(view, article, told), *_cautions(view, article)]
    for section in sections(view, article):
        slides += _section(view, section, view.say(article.title))
    for number, question in enumerate(asked, start=1):
        slides += _question(view, question, number)
    serves = [tree for key in article.trees if (tree := library.trees.get(key))]
    slides += slides_of("Alarms this serves", [piece("bullet", _link(view, tree)) for tree in serves])
    return deck(view, article, [*slides, *_sources(view, article)], BUILD, SLIDES)


def _section(view: View, section: Section, article: str) -> Iterator[Slide]:
    """A section's slides; a trace parts them, and stands on slides of its own."""
    title, here = section.title or article, list[Piece]()
    for part in section.parts:
        if isinstance(part, Piece):
            here.append(part)
            continue
        yield from slides_of(title, here)
        here = []
        yield from _asked_for(view, *part)
    yield from slides_of(title, here)


def _asked_for(view: View, kind: str, name: str) -> Iterator[Slide]:
    library = view.library
    if kind == "trace" and name in library.waveforms:
        yield from _trace(view, library.waveforms[name])
    elif kind == "steps" and name in library.waveform_series:
        series = library.waveform_series[name]
        start = view.say(library.waveforms[series.of].title)
        _, key, _ = trace_parts(library, library.waveforms[series.of])
        said = [piece("text", view.say(series.say)), piece("text", f'<span class="quiet">{key}</span>')]
        yield from slides_of(view.say(series.title), said)
        for by, drawn, seen in series_parts(library, series):
            caption = f"Dashed: {start}. {MODEL}"
            yield Slide(by, f"{_figure(drawn, caption)}\n<p>{seen}</p>", view.say(series.title), "drawn")


def _question(view: View, question: Asked, number: int) -> Iterator[Slide]:
    """A question on a slide, and its answers with their reasons on the next."""
    # The right answer is not to be known by its place, and stands at the same one each time.
    choices = sorted(question.choices, key=lambda choice: crc32(f"{question.id}{choice[0]}".encode()))
    asked = [piece("step", inline(view, say), place) for place, (say, _, _) in enumerate(choices, start=1)]
    yield from slides_of(inline(view, question.ask), asked, f"Question {number}")
    told = [_judged(view, place, choice) for place, choice in enumerate(choices, start=1)]
    yield from slides_of("The answer", told, f"Question {number}")


def _judged(view: View, place: int, choice: tuple[str, bool, str]) -> Piece:
    say, right, why = choice
    return piece("step", f"<b>{'Right' if right else 'Wrong'}: {inline(view, say)}</b> {inline(view, why)}", place)


# An alarm


def tree_slides(library: Library, tree: Tree) -> SiteFile:
    """An alarm as slides: what is seen, the way a step a slide, ends, causes, safety rules, two cases to discuss."""
    view = View(library, slides_at(library, tree))
    if tree.is_withdrawn:
        told = ["<p><b>Withdrawn.</b> Do not use these slides any more.</p>", call_line(view, first_call(library))]
        return deck(view, tree, [_first(view, tree, told)], BUILD, SLIDES)
    numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}
    steps = _Steps(view, tree, numbers)
    rank = f'<p>{priority_badge(tree)} <span class="quiet">The console’s priority may differ.</span></p>'
    slides = [
        _first(view, tree, [rank, f"<p>{view.say(tree.summary)}</p>"]),
        *_cautions(view, tree),
        *_seen(view, tree),
        *steps.anytime(),
        *steps.slides(),
        *steps.ends(),
        *_causes(view, tree, numbers),
    ]
    for waveform in library.waveforms.values():
        slides += _trace(view, waveform) if tree.id in waveform.trees else ()
    slides += [*_rules(view, tree), *_cases(view, tree), *_sources(view, tree)]
    return deck(view, tree, slides, BUILD, SLIDES)


def _seen(view: View, tree: Tree) -> Iterator[Slide]:
    names = ", ".join(view.say(alias) for alias in tree.aliases)
    said = [
        piece("text", view.say(tree.summary)),
        piece("text", _RECKONED[tree.pump]),
        *([piece("text", f'<span class="quiet">What people call it: {names}.</span>')] if names else []),
    ]
    yield from slides_of("What is seen and heard", said)


@dataclass(frozen=True, slots=True)
class _Steps:
    """Writes the steps of one tree; `numbers` are those on its page."""

    view: View
    tree: Tree
    numbers: Mapping[str, int]

    def slides(self) -> Iterator[Slide]:
        """All questions and things to do, with their answers and why; ends stand together behind all steps."""
        steps = [node for node_id in self.numbers if (node := self.tree.nodes[node_id]).kind != "end"]
        while steps:
            shown = self._one_slide(steps)
            steps = steps[len(shown) :]
            title, said = self._title(shown[0]), self._said(shown)
            yield from slides_of(title, said, self._kicker(shown[0]), f"s-{shown[0].id}", together)

    def _one_slide(self, steps: Sequence[Node]) -> Sequence[Node]:
        """The steps that begin the list and share a slide: each thing to do in a few words stands with what follows.

        A question ends a slide: what is done upon an answer is not to be read beside it.
        """
        count = 1
        while (
            count < len(steps)
            and _short(last := steps[count - 1])
            and last.then == steps[count].id
            and held(self._said(steps[: count + 1]), self._title(steps[0]))
        ):
            count += 1
        return steps[:count]

    def _said(self, steps: Sequence[Node]) -> list[Piece]:
        """What stands on a slide below its title."""
        said: list[Piece] = []
        for place, node in enumerate(steps):
            if place:
                said.append(second_title(self._kicker(node), self._title(node), f"s-{esc(node.id)}"))
            said += self._step(node, shown=place + 1 < len(steps))
        numbered = [piece("text", f'<span class="quiet">{_NUMBERED}</span>')] if steps[0].id == self.tree.start else []
        return said + numbered

    def _kicker(self, node: Node) -> str:
        first = ": the patient first" if node.id == self.tree.start and "patient-check" in node.marks else ""
        return f"Step {self.numbers[node.id]}{first}"

    def _title(self, node: Node) -> str:
        return self.view.say(node.text) if node.kind == "ask" or len(node.lines) == 1 else "Do, in this order"

    def _step(self, node: Node, shown: bool) -> list[Piece]:
        """A step below its title; `shown` says that the next one stands on the same slide."""
        one = node.kind == "ask" or len(node.lines) == 1
        said = self._cautions(node)
        said += [] if one else [piece("step", self.view.say(line), n) for n, line in enumerate(node.lines, start=1)]
        said += [piece("text", _call(self.view, node))] if node.call else []
        said += [self._goes(self.view.say(answer.say), answer.to) for answer in node.answers]
        said += [self._goes("Then", node.then, one)] if node.then and not shown else []
        return said + ([piece("text", self._why(node))] if node.why else [])

    def ends(self) -> Iterator[Slide]:
        """All ends of the tree, as many on a slide as fit."""
        ends = [self.tree.nodes[node_id] for node_id in self.numbers if self.tree.nodes[node_id].kind == "end"]
        yield from slides_of("How it ends", [piece("text", self._end(node)) for node in ends])

    def anytime(self) -> Iterator[Slide]:
        """What may be answered at every step."""
        yield from slides_of("At any time", [self._goes(self.view.say(one.say), one.to) for one in self.tree.anytime])

    def _end(self, node: Node) -> str:
        kind = node.end or ""
        target = self.view.library.trees.get((node.go or "").partition("/")[0])
        goes = f" Go to: {_link(self.view, target)}." if target else ""
        meanwhile = f" {meanwhile_label(node)} {self.view.say(node.meanwhile)}" if node.meanwhile else ""
        calls = f" {_call(self.view, node)}" if node.call else ""
        cautions = "".join(f" {one.html}" for one in self._cautions(node))
        return (
            f'<b id="s-{esc(node.id)}">Step {self.numbers[node.id]}. {END_WORDS[kind]}.</b> '
            f"{self.view.say(node.text)}{calls}{goes}{meanwhile}{cautions}{self._why(node)}"
        )

    def _why(self, node: Node) -> str:
        return f' <span class="quiet">Why: {self.view.say(node.why)}</span>' if node.why else ""

    def _cautions(self, node: Node) -> list[Piece]:
        """Those of the step alone: the others stand at the beginning."""
        own = [key for key in node.cautions if key not in self.tree.cautions]
        return [piece("text", f"<b>!</b> {self.view.caution(key)}") for key in own]

    def _goes(self, words: str, to: str | None, said: bool = False) -> Piece:
        """The way to a step; `said` says that its own words stand there too."""
        name = to or ""
        step = f'<a class="next" href="#s-{esc(name)}">step {self.numbers.get(name, "?")}</a>'
        more = f": {self._begins(self.tree.nodes[name])}" if said and name in self.tree.nodes else ""
        return piece("bullet", f'{words} <span aria-hidden="true">→</span> {step}{more}')

    def _begins(self, node: Node) -> str:
        """What a step says first; of an end also which kind it is."""
        end = f"{END_WORDS[node.end or '']}. " if node.kind == "end" else ""
        return f"{end}{self.view.say(node.lines[0])}"


def _short(node: Node) -> bool:
    """Whether a step is one thing to do."""
    return node.kind == "do" and len(node.lines) == 1


def _call(view: View, node: Node) -> str:
    """Whom to call. Without the number: slides are kept and passed on, and an old number is dialled in vain."""
    role = view.library.roles.get(node.call or "")
    return f"Call: <b>{view.say(role.say) if role else esc(node.call or '')}</b>."


def _causes(view: View, tree: Tree, numbers: Mapping[str, int]) -> Iterator[Slide]:
    """What may be behind the alarm, each with the steps that remove it or are the way to help."""
    said = []
    for cause in tree.causes.values():
        fixing = [node for node_id in numbers if cause.id in (node := tree.nodes[node_id]).fixes]
        remedies = dict.fromkeys(view.say(" ".join(node.lines)) for node in fixing)
        at = ", ".join(f'<a class="next" href="#s-{esc(node.id)}">step {numbers[node.id]}</a>' for node in fixing)
        said.append(piece("bullet", f"<b>{view.say(cause.say)}.</b> {' '.join(remedies)} {f'({at})' if at else ''}"))
    yield from slides_of("What may be behind it, and what helps", said)


def _rules(view: View, tree: Tree) -> Iterator[Slide]:
    """The safety rules that this tree puts to the test, with what each is for."""
    rules = [rule for rule in view.library.safety.values() if rule.speaks_of(tree)]
    told = [piece("bullet", f"<b>{view.say(rule.say)}</b> {view.say(rule.reason)}") for rule in rules]
    yield from slides_of("What must never go wrong here, and why", told)


def _cases(view: View, tree: Tree) -> Iterator[Slide]:
    """Two cases to discuss, of causes that are found on ways that differ the most; the way on the slides behind."""
    cases = list(main_cases(tree, view.library.safety.values()).values())
    others = sorted(cases[1:], key=lambda case: -len({*case.way} ^ {*cases[0].way}))
    for number, case in enumerate([*cases[:1], *others[:1]], start=1):
        told = [piece("text", esc(" ".join(story_of(view.library, tree, case.id))))]
        told += [piece("bullet", question) for question in _ASKED]
        kicker = f"Case {number}, to discuss"
        yield from slides_of("What do you do?", [*told, piece("text", f'<span class="quiet">{_CASE}</span>')], kicker)
        cause = view.say(tree.causes[case.cause].say)
        yield from slides_of(f"What was behind it: {cause}", list(_way(view, tree, case)), f"Case {number}, the way")


def _way(view: View, tree: Tree, case: Case) -> Iterator[Piece]:
    fixed = False
    for number, node_id in enumerate(case.way, start=1):
        node = tree.nodes[node_id]
        words = view.say(" ".join(node.lines))
        if node.kind == "ask" and node_id in case.world:
            answer = tree.answers_at(node)[case.world[node_id][int(fixed)]]
            words += f" <b>{view.say(answer.say)}.</b>"
        words += f" {_call(view, node)}" if node.call else ""
        fixed = fixed or case.cause in node.fixes
        yield piece("step", words, number)
