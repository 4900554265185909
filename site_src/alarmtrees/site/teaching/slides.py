"""Slides for teaching: each alarm and each article as a set of its own, and the page that lists them.

A set is what is told in one sitting, at most `MOST` slides: it leads to the page, which holds all. An article's set
keeps its lists of things to do whole, and of long paragraphs the first sentence.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from math import ceil
from typing import Any

from ...learning.cases import main_cases
from ...learning.questions_csv import FILE as QUESTIONS_FILE
from ...learning.questions_csv import Asked
from ...model import ABOUT, FIXED, Answer, Article, Library, Node, Picture, SafetyRule, Tree, Waveform
from ...model.addresses import SLIDES, tree_path
from ...model.stamp import is_foreign, is_stale
from ...model.wording import sentences_of
from ...proof.order import by_part, reading_order
from ...proof.reviewed import is_revalued
from ...reading.articles import PARTS
from ..drawn import embedded
from ..knowledge.traces import MODEL, series_parts, trace_parts
from ..markup import (
    END_WORDS,
    SAID,
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
from .pieces import BESIDE, ROOM, Piece, dealt, letters, piece, title_lines, written

TITLE = "Slides"

MOST = 12
"""How many slides a set has, at the most; an article whose things to do need more has more."""

DECISIONS = 3
QUESTIONS = 3

_RIGHT = "What right looks like"
_UPON = 6
_BOX_LETTERS, _BOX_GAP, _BOX_LINES = 15, 0.75, 66
_SEVERITY = {
    "irreversible": "harm that does not heal, or death",
    "reversible": "harm that heals",
    "minor": "minor harm",
}
_ONSET = {"immediate": "at once", "prompt": "soon", "delayed": "later"}


def slides_page(library: Library, table: bool = False) -> Page:
    """The list of all slides; `table` says whether the site holds the table of questions too."""
    view = View(library, SLIDES)
    in_use = list(library.in_use.values())
    by_about = {about: [tree for tree in in_use if tree.about == about] for about in ABOUT}
    groups = [_group(view, ABOUT[about], trees) for about, trees in by_about.items() if trees]
    groups += [_group(view, PARTS[part], articles) for part, articles in by_part(library).items()]
    told = (
        f"<p>A set of slides for each alarm and each article, made from them, so that both say the same: for an alarm "
        f"at most {MOST}, with its main way, three decisions, whom to call and three questions. Arrow keys, "
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
        asked: questions; three of those about an alarm or article stand at the end of its set.
        kept: makes the slides of a tree or an article, or knows them from earlier.
    """
    about: dict[tuple[str, str], list[Asked]] = {}
    for question in asked:
        about.setdefault((question.about_kind, question.about), []).append(question)

    def asked_slides(seen: Library, article: Article) -> SiteFile:
        return article_slides(seen, article, about.get(("article", article.id), ()))

    def alarm_slides(seen: Library, tree: Tree) -> SiteFile:
        return tree_slides(seen, tree, about.get(("tree", tree.id), ()))

    def made(one: Tree | Article, make: Make) -> SiteFile:
        return kept(one, make) if kept else make(library, one)

    trees = [made(tree, alarm_slides) for tree in library.trees.values()]
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


def _cautions(view: View, about: Tree | Article, page: str, title: str = "Cautions") -> Iterator[Slide]:
    """The cautions but those that the first slide says."""
    yield from _one(title, [piece("bullet", view.caution(key)) for key in about.cautions if key not in SAID], more=page)


def _trace(view: View, waveform: Waveform) -> Slide:
    """A trace beside what is seen in it."""
    drawn, key, _ = trace_parts(view.library, waveform)
    seen = items("ul", (view.say(words) for words, _ in waveform.seen))
    body = f"{_figure(drawn, key)}\n<p>{view.say(waveform.say)}</p>\n{seen}"
    return Slide(view.say(waveform.title), body, kind="drawn")


def _figure(drawn: str, caption: str) -> str:
    return f"<figure>{drawn}<figcaption>{caption}</figcaption></figure>"


def _picture(picture: Picture, kicker: str) -> Slide:
    """A drawing beside what it says in words: read out, it is the talk to this slide."""
    said = f"<p>{esc(picture.description)}</p>"
    return Slide(esc(picture.title), f"<figure>{embedded(picture, picture.title)}</figure>\n{said}", kicker, "drawn")


def _one(title: str, pieces: Sequence[Piece], kicker: str = "", more: str = "") -> Iterator[Slide]:
    """One slide with as many pieces as it holds, none where there are none; `more` says where the rest stands."""
    if not pieces:
        return
    lost = title_lines(title) - title_lines("") + (1 if kicker else 0)
    fit = dealt(pieces, ROOM - lost)[0]
    if len(fit) < len(pieces):
        fit = dealt(pieces, ROOM - lost - 1)[0]
        fit.append(piece("text", f'<span class="quiet">{len(pieces) - len(fit)} more on {more}.</span>'))
    yield Slide(title, written(fit), kicker, pieces=tuple(fit))


def _beside(slide: Slide, picture: Picture) -> Slide | None:
    """A slide with a drawing at its side; nothing where its words would not fit into what is left."""
    narrow = [piece(one.kind, one.html, one.number, BESIDE) for one in slide.pieces]
    lost = title_lines(slide.title) - title_lines("") + (1 if slide.kicker else 0)
    if len(dealt(narrow, ROOM - lost)) > 1:
        return None
    figure = _figure(embedded(picture, picture.title), esc(picture.title))
    return Slide(slide.title, f"{figure}\n<div>{slide.body}</div>", slide.kicker, "beside")


def _asked(view: View, asked: Sequence[Asked]) -> Iterator[Slide]:
    """Three questions on one slide, the answer of each with its reason folded up; on paper they are a sheet to fill."""
    told = [piece("whole", "".join(_question(view, *one) for one in enumerate(asked[:QUESTIONS], start=1)))]
    if asked:
        yield Slide("Ask yourself", written(told), "To close")


def _question(view: View, number: int, question: Asked) -> str:
    tree = view.library.trees.get(question.about) if question.about_kind == "tree" else None
    ask = inline(view, question.ask.removeprefix(f"{tree.title}: ") if tree else question.ask)
    say, why = next((say, why) for say, right, why in question.choices if right)
    return (
        f"<details><summary>{number}. {_upper(ask)}</summary>"
        f"<p><b>{inline(view, say)}</b> {inline(view, why)}</p></details>"
    )


# An article


def article_slides(library: Library, article: Article, asked: Iterable[Asked] = ()) -> SiteFile:
    """An article as slides: a section a slide, traces beside what is seen in them, three questions at the end.

    Lists of things to do are never cut short: a section that holds a longer one takes more slides.
    """
    view = View(library, slides_at(library, article))
    told = [f"<p>{view.say(article.description)}</p>", f'<p class="quiet">{PARTS[article.part]}</p>']
    page = f'<a href="{view.to(article.id)}">the page</a>'
    front = [_first(view, article, told), *_cautions(view, article, page)]
    asking = list(_asked(view, list(asked)))
    most = MOST - len(front) - len(asking)
    parts = _joined(sections(view, article))
    told_parts = [list(_section(view, one, view.say(article.title), page)) for one in parts]
    if sum(map(len, told_parts)) > most:
        told_parts = [list(_section(view, one, view.say(article.title), page, True)) for one in parts]
    room = most - sum(map(len, told_parts))
    shown: list[Slide] = []
    for slides, section in zip(told_parts, parts, strict=True):
        traces = _asked_for(view, section)[: max(room, 0)]
        room -= len(traces)
        shown += [*slides, *traces]
    return deck(view, article, [*front, *shown, *asking], BUILD, SLIDES)


def _joined(found: Sequence[Section]) -> list[Section]:
    """Sections that are short share a slide with the next."""
    joined: list[Section] = []
    for section in found:
        last = joined[-1] if joined else None
        both = [*last.parts, piece("heading", section.title), *section.parts] if last else []
        pieces = [one for one in both if isinstance(one, Piece)]
        if last and last.title and section.title and len(pieces) == len(both) and len(dealt(pieces, ROOM)) == 1:
            joined[-1] = Section(last.title, both)
        else:
            joined.append(section)
    return joined


def _section(view: View, section: Section, article: str, page: str, lean: bool = False) -> Iterator[Slide]:
    """A section without its traces: whole where one slide holds it, else in short.

    Where things to do need more than a slide, `lean` leaves out the paragraphs between them that lead to none.
    """
    title = section.title or article
    pieces = [part for part in section.parts if isinstance(part, Piece)]
    if len(dealt(pieces, ROOM)) > 1:
        pieces = [_in_short(one) for one in pieces]
    kinds = {one.kind for one in pieces}
    if kinds & {"step", "box", "code"}:
        is_long = lean and len(dealt(pieces, ROOM)) > 1
        yield from slides_of(title, [one for one in pieces if one.kind != "text" or one.leads_on or not is_long])
    else:
        yield from _one(title, pieces, more=page)


def _in_short(one: Piece) -> Piece:
    """A paragraph as its first sentence, which says what it is about; all else as it is."""
    if one.kind != "text" or "<" in one.html:
        return one
    return piece("text", next(iter(sentences_of(one.html)), one.html))


def _asked_for(view: View, section: Section) -> list[Slide]:
    """The drawings and traces of a section, each on a slide; of a row of traces its first and its last step."""
    library = view.library
    found: list[Slide] = []
    for kind, name in (part for part in section.parts if not isinstance(part, Piece)):
        if kind == "picture" and name in library.pictures:
            found.append(_picture(library.pictures[name], section.title))
        elif kind == "trace" and name in library.waveforms:
            found.append(_trace(view, library.waveforms[name]))
        elif kind == "steps" and name in library.waveform_series:
            series = library.waveform_series[name]
            caption = f"Dashed: {view.say(library.waveforms[series.of].title)}. {MODEL}"
            steps = list(series_parts(library, series))
            for by, drawn, seen in [*steps[:1], *steps[1:][-1:]]:
                body = f"{_figure(drawn, caption)}\n<p>{seen}</p>"
                found.append(Slide(by, body, view.say(series.title), "drawn"))
    return found


# An alarm


def tree_slides(library: Library, tree: Tree, asked: Iterable[Asked] = ()) -> SiteFile:
    """An alarm as slides: its dangers, its main way, the first act, three decisions, whom to call, what not to do."""
    view = View(library, slides_at(library, tree))
    if tree.is_withdrawn:
        told = ["<p><b>Withdrawn.</b> Do not use these slides any more.</p>", call_line(view, first_call(library))]
        return deck(view, tree, [_first(view, tree, told)], BUILD, SLIDES)
    rank = f'<p>{priority_badge(tree)} <span class="quiet">The console’s priority may differ.</span></p>'
    chosen = decisions(tree, library.safety.values())
    say = _Told(view, tree, f'<a href="{view.to(tree_path(tree.id))}">the page</a>')
    acts = [
        *say.question(tree.nodes[tree.start], "The first act"),
        *_one("At any time", say.anytime(), "Whatever the page says"),
    ]
    for number, node in enumerate(chosen, start=1):
        acts += say.question(node, f"Decision {number} of {len(chosen)}")
    acts += [
        *([_trace(view, waveform)] if (waveform := _main_trace(library, tree)) else []),
        *say.calls(),
        *_cautions(view, tree, say.page, "What not to do"),
        *say.right(),
        *_asked(view, _closing(list(asked), [node.id for node in chosen])),
    ]
    acts = say.drawn(acts, chosen)
    front = _first(view, tree, [rank, f"<p>{view.say(tree.summary)} {say.danger()}</p>"])
    slides = [front, *say.way(MOST - 1 - len(acts)), *acts]
    return deck(view, tree, slides, BUILD, SLIDES)


def decisions(tree: Tree, rules: Iterable[SafetyRule]) -> list[Node]:
    """The questions of a tree at which most is lost by a wrong answer, at most `DECISIONS`, as readers meet them.

    The rule: of all questions but the first look, those whose answers bring the most safety rules to bear. A rule
    counts where some answers wake it, or keep it, and others do not: whoever takes one for the other goes on without
    it. Of as many, first the question of which more answers lead right to a call or to another page; then the one that
    parts more causes; then the earlier one. Of questions in the same words, or with the same rules at stake,
    the others come only where too few are left: a second look at the same thing is no other decision.

    Args:
        tree: whose references hold.
        rules: all safety rules.
    """
    rules = [rule for rule in rules if rule.speaks_of(tree)]
    place = {node_id: number for number, node_id in enumerate(reading_order(tree))}
    asks = [node for node_id in place if (node := tree.nodes[node_id]).kind == "ask" and node_id != tree.start]
    asks.sort(key=lambda node: _loss(tree, rules, node), reverse=True)
    first: dict[str, Node] = {}
    for node in asks:
        if not any(node.text == one.text for one in first.values()):
            first.setdefault(" ".join(sorted(_at_stake(rules, node))) or node.id, node)
    others = [node for node in asks if node not in first.values()]
    return sorted([*first.values(), *others][:DECISIONS], key=lambda node: place[node.id])


def _at_stake(rules: Iterable[SafetyRule], node: Node) -> set[str]:
    """The rules that some answers of a question bring to bear, and others do not."""
    by_answer = [{rule.id for rule in rules if _wakes(rule, answer.marks)} for answer in node.answers]
    return {rule for some in by_answer for rule in some if not all(rule in others for others in by_answer)}


def _loss(tree: Tree, rules: Iterable[SafetyRule], node: Node) -> tuple[int, int, int]:
    """What a wrong answer may cost: rules that answers differ in, answers that lead right to help, causes parted."""
    targets = [tree.nodes[answer.to] for answer in node.answers if answer.to in tree.nodes]
    helped = sum(1 for target in targets if target.call or target.end in ("call", "go"))
    causes = {cause for answer in node.answers for cause in answer.when or () if cause != FIXED}
    return len(_at_stake(rules, node)), helped, len(causes)


def _wakes(rule: SafetyRule, marks: frozenset[str]) -> bool:
    """Whether what is seen asks for something, forbids it, or is what a rule wants seen before."""
    return any(rule.meets(place, marks) for place in ("of", "after", "first"))


def _main_trace(library: Library, tree: Tree) -> Waveform | None:
    """The trace that shows one of its causes; else one that belongs to it."""
    waveforms = library.waveforms.values()
    shows = (one for one in waveforms if any(cause.partition("/")[0] == tree.id for cause in one.causes))
    return next(shows, None) or next((one for one in waveforms if tree.id in one.trees), None)


def _closing(asked: Sequence[Asked], chosen: Sequence[str]) -> list[Asked]:
    """One question a step, those at the decisions first; where there are too few, more of the same step."""
    by_step: dict[str, Asked] = {}
    for question in asked:
        by_step.setdefault(question.id.split("/")[1], question)
    first = [by_step[step] for step in chosen if step in by_step]
    return list({one.id: one for one in (*first, *by_step.values(), *asked)}.values())[:QUESTIONS]


@dataclass(frozen=True, slots=True)
class _Told:
    """Writes the slides of one tree; `page` is the link to all that they leave out."""

    view: View
    tree: Tree
    page: str

    def danger(self) -> str:
        harm = self.tree.harm
        return f"If nobody reacts: <b>{_SEVERITY[harm.severity]}, {_ONSET[harm.onset]}</b>."

    def way(self, room: int) -> Iterator[Slide]:
        """The way of the likeliest cause as a row of boxes: what is asked and answered, what is done, how it ends.

        A long one stands on two slides, where `room` says that there may be two.
        """
        cases = main_cases(self.tree, self.view.library.safety.values())
        if not cases:
            return
        likeliest = max(cases, key=lambda cause: self.tree.causes[cause].share or 0)
        case = cases[likeliest]
        fixed, boxes = False, list[str]()
        for number, node_id in enumerate(case.way, start=1):
            node = self.tree.nodes[node_id]
            found = ""
            if node.kind == "ask" and node_id in case.world:
                answer = self.tree.answers_at(node)[case.world[node_id][int(fixed)]]
                found = f" <b>→ {self.view.say(answer.say)}</b>"
            fixed = fixed or likeliest in node.fixes
            boxes.append(f'<li class="box box--{node.kind}"><b>{number}</b> {self._words(node)}{found}</li>')
        behind = self.view.say(self.tree.causes[likeliest].say)
        said = f'<p class="quiet">Behind it: {behind}. All ways: {self.page}.</p>'
        is_long = sum(map(_box_lines, boxes)) > _BOX_LINES and room > 1
        half = (len(boxes) + 1) // 2 if is_long else len(boxes)
        for place, some in enumerate(filter(None, (boxes[:half], boxes[half:]))):
            more = ' <span class="quiet">(continued)</span>' if place else ""
            last = said if some[-1] is boxes[-1] else ""
            yield Slide(f"The main way{more}", f'<ol class="way">{"".join(some)}</ol>\n{last}')

    def _words(self, node: Node) -> str:
        """A step in short: an end as how it ends, a list by its first line."""
        if node.kind == "end":
            return f"{END_WORDS[node.end or '']}{f': {self._whom(node)}' if node.call else ''}"
        more = f" + {len(node.lines) - 1} more" if len(node.lines) > 1 else ""
        return f"{self.view.say(node.lines[0])}{more}"

    def question(self, node: Node, kicker: str, is_lean: bool = False) -> Iterator[Slide]:
        """A step with all its answers and where each leads; why it is asked, unless it is to be lean."""
        said = [piece("bullet", self._goes(answer)) for answer in node.answers]
        if node.kind != "ask":
            said = [piece("step", self.view.say(line), n) for n, line in enumerate(node.lines, start=1)]
        if node.why and not is_lean:
            said.append(piece("text", f'<span class="quiet">Why: {self.view.say(node.why)}</span>'))
        yield from _one(self._title(node), said, kicker, self.page)

    def drawn(self, slides: list[Slide], chosen: Sequence[Node]) -> list[Slide]:
        """The slides with one drawing: that of the first act or of a decision, else the first that a step has.

        A set with room has it on a slide of its own, behind the first act. In a full one it stands beside the words
        of its step, without the reason where all would not fit there; else beside what right looks like, which a
        remedy brings about.
        """
        steps = [self.tree.nodes[self.tree.start], *chosen]
        others = [self.tree.nodes[node_id] for node_id in reading_order(self.tree)]
        found = [(node, picture) for node in (*steps, *others) if (picture := self.tree.picture_at(node))]
        if not found:
            return slides
        if len(slides) + 2 < MOST:
            return [slides[0], _picture(found[0][1], "At a step"), *slides[1:]]
        places = [*((node, picture) for node, picture in found if node in steps), (None, found[0][1])]
        for node, picture in places:
            title = self._title(node) if node else _RIGHT
            for place, slide in enumerate(slides):
                if slide.title == title:
                    lean = self.question(node, slide.kicker, is_lean=True) if node else ()
                    beside = [made for one in (slide, *lean) if (made := _beside(one, picture))]
                    if beside:
                        return [*slides[:place], beside[0], *slides[place + 1 :]]
        return slides

    def _title(self, node: Node) -> str:
        return self.view.say(node.text) if node.kind == "ask" else "Do, in this order"

    def anytime(self) -> list[Piece]:
        return [piece("bullet", self._goes(answer)) for answer in self.tree.anytime]

    def _goes(self, answer: Answer) -> str:
        target = self.tree.nodes.get(answer.to)
        arrow = '<span aria-hidden="true">→</span>'
        return f"<b>{self.view.say(answer.say)}</b> {arrow} {self._next(target) if target else '?'}"

    def _next(self, node: Node) -> str:
        words = self.view.say(node.lines[0])
        if node.end == "go":
            entered = self.view.library.trees.get((node.go or "").partition("/")[0])
            return f"{_link(self.view, entered) if entered else esc(node.go or '')}. {words}"
        called = f" Call: <b>{self._whom(node)}.</b>" if node.call else ""
        return f"{END_WORDS[node.end or '']}. {words}{called}" if node.kind == "end" else f"{words}{called}"

    def _whom(self, node: Node) -> str:
        """Whom to call. Without the number: slides are kept and passed on, and an old number is dialled in vain."""
        role = self.view.library.roles.get(node.call or "")
        return self.view.say(role.say) if role else esc(node.call or "")

    def calls(self) -> Iterator[Slide]:
        """Whom the steps call, and what is seen then; who is called most often first."""
        seen: dict[str, list[str]] = {}
        for answers in (self.tree.anytime, *(node.answers for node in self.tree.nodes.values())):
            for answer in answers:
                seen.setdefault(answer.to, []).append(f"“{self.view.say(answer.say)}”")
        by_role: dict[str, list[str]] = {}
        for node_id in reading_order(self.tree):
            node = self.tree.nodes[node_id]
            if node.call:
                upon = seen.get(node_id) or [self.view.say(next(iter(sentences_of(node.lines[0])), node.lines[0]))]
                by_role.setdefault(self._whom(node), []).extend(upon)
        ordered = sorted(by_role.items(), key=lambda one: -len(one[1]))
        told = [piece("bullet", f"<b>{_upper(whom)}:</b> {_some(list(dict.fromkeys(upon)))}") for whom, upon in ordered]
        yield from _one("Whom to call, and upon what", told, more=self.page)

    def right(self) -> Iterator[Slide]:
        """What is seen once a remedy has held, and what to watch then; where nothing ends so, what to do until help."""
        held = [
            f"{self.view.say(node.text)} <b>{self.view.say(answer.say)}.</b>"
            for node in self.tree.nodes.values()
            for answer in node.answers
            if FIXED in (answer.when or ())
        ]
        ends = [node for node in self.tree.nodes.values() if node.end == "resolved"]
        said = [piece("bullet", say) for say in dict.fromkeys(held)]
        said += [piece("text", self._end(node)) for node in ends]
        if not said:
            calls = [node for node in self.tree.nodes.values() if node.end == "call" and node.meanwhile]
            said = [piece("text", "No step here ends with all well: a call does. Until help is there:")]
            said += [piece("bullet", self.view.say(node.meanwhile or "")) for node in calls]
        yield from _one(_RIGHT, said, more=self.page)

    def _end(self, node: Node) -> str:
        meanwhile = f" {meanwhile_label(node)} {self.view.say(node.meanwhile)}" if node.meanwhile else ""
        return f"{self.view.say(node.text)}{meanwhile}"


def _box_lines(box: str) -> float:
    return ceil(len(letters(box)) / _BOX_LETTERS) + _BOX_GAP


def _some(seen: Sequence[str]) -> str:
    """The first of what is seen, and how many more there are."""
    more = f", and {len(seen) - _UPON} more" if len(seen) > _UPON else ""
    return f"{', '.join(seen[:_UPON])}{more}."


def _upper(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
