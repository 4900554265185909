"""How long learning takes: words counted, at a published speed of reading, with pauses between. Nothing is guessed.

What cannot be counted is left out and said to be: thinking, looking something up, talking about it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import ceil

from networkx import NetworkXUnfeasible

from ..model import FIXED, Article, Library, Node, Stage, Tree
from ..model.wording import fill
from ..reading.articles import cited
from .cases import main_cases
from .data import is_practised
from .path import page_of, path_of
from .questions import Question
from .story import story_of

SPEED = 238
"""Words a minute: the mean of adults who read English that is no fiction, in silence, over 190 studies."""

SPEED_SOURCE = "brysbaert-2019"

WORK = 50
"""Minutes of work after which there is a pause; chosen, without a source."""

PAUSE = 10
"""Minutes of a pause; chosen, without a source."""


@dataclass(frozen=True, slots=True)
class Words:
    """The words that a page of the path gives to read.

    Attributes:
        page: of the page itself, once from its beginning to its end.
        asked: of the questions about it that stand in its stage, with all answers and reasons.
        case: of one of its cases, in the mean; 0 where it cannot be practised.
        cases: how many cases one would play to meet each of its causes once.
    """

    page: int
    asked: int
    case: int
    cases: int

    @property
    def path(self) -> int:
        """All that the path asks for: the page, its questions, and one case."""
        return self.page + self.asked + self.case


@dataclass(frozen=True, slots=True)
class Needed:
    """The minutes of a stage, or of the path: of work, and of the pauses between."""

    work: int
    pauses: int

    @property
    def all(self) -> int:
        """Both together."""
        return self.work + self.pauses


def count(text: str) -> int:
    """The words of a text: what stands between blanks and holds a letter or a digit.

    >>> count("Feel the pulse – 10 s.")
    5
    """
    return sum(any(sign.isalnum() for sign in word) for word in text.split())


def minutes(words: int) -> int:
    """Whole minutes for some words, rounded up; none for none.

    >>> minutes(0), minutes(1), minutes(238), minutes(239)
    (0, 1, 1, 2)
    """
    return ceil(words / SPEED)


def hours(count: int) -> str:
    """Some minutes as hours and minutes.

    >>> hours(905), hours(48)
    ('15 h 5 min', '48 min')
    """
    whole, rest = divmod(count, 60)
    return f"{whole} h {rest} min" if whole else f"{rest} min"


def needed(words: Iterable[int]) -> Needed:
    """The minutes of some stages, each given by its words: nobody goes on from one to the next without a pause.

    >>> needed([238 * 50]), needed([238 * 120, 238 * 30])
    (Needed(work=50, pauses=0), Needed(work=150, pauses=20))
    """
    work = [minutes(one) for one in words]
    return Needed(sum(work), sum(max(0, ceil(one / WORK) - 1) * PAUSE for one in work))


def words_of(library: Library, asked: Sequence[Sequence[Question]]) -> dict[str, Words]:
    """The words of each page of the path, by its id.

    Args:
        library: without errors.
        asked: what `asked_here` gives.
    """
    about: dict[str, int] = {}
    for question in (one for stage in asked for one in stage):
        about[question.about] = about.get(question.about, 0) + question_words(question)
    found = {}
    for name in (name for stage in path_of(library) for name, _ in stage.pages):
        page = page_of(library, name)
        if isinstance(page, Tree):
            practised = is_practised(page)
            case = case_words(library, page) if practised else 0
            found[name] = Words(tree_words(library, page), about.get(name, 0), case, len(page.causes) * practised)
        elif page:
            found[name] = Words(article_words(library, page), about.get(name, 0), 0, 0)
    return found


def stage_words(stage: Stage, words: Mapping[str, Words]) -> int:
    """All words of a stage: pages, questions, and a case of each alarm."""
    return sum(words[name].path for name, _ in stage.pages if name in words)


def question_words(question: Question) -> int:
    """The words of a question with all its answers and their reasons."""
    texts = [question.ask, *(f"{choice.say} {choice.why}" for choice in question.choices)]
    return sum(count(_uncited(text)) for text in texts)


def article_words(library: Library, article: Article) -> int:
    """The words of an article, with its cautions."""
    body = fill(_uncited(article.plain[article.body_at :]), library.settings)
    return count(article.title) + count(article.description) + count(body) + _cautions(library, article.cautions)


def tree_words(library: Library, tree: Tree) -> int:
    """The words of an alarm's page: each step once, with its reason, its cautions and all of its answers."""
    steps = sum(_step(library, node) + count(node.why or "") + _answers(node) for node in tree.nodes.values())
    shown = {key for node in tree.nodes.values() for key in node.cautions}
    return count(tree.title) + count(tree.summary) + steps + _cautions(library, shown)


def case_words(library: Library, tree: Tree) -> int:
    """The words of a case of a tree, the mean over its causes, played as its page goes.

    Its story; at each step the choices, what is found, and at the end the step once more with its reason. Of the three
    choices beside the right one, `play.js` draws one each from where the last question's other answers lead, from later
    steps, and from the questions and remedies off the way: each counts as the mean of those that it is drawn from.
    """
    long = {key: count(fill(node.text, library.settings)) for key, node in tree.nodes.items()}
    try:
        cases = main_cases(tree, library.safety.values()).values()
    except NetworkXUnfeasible:  # a loop, which the check tells: nothing of it is played
        return 0
    if not cases:
        return 0
    total = 0.0
    for case in cases:
        total += sum(map(count, story_of(library, tree, case.id)))
        for turn, name in enumerate(case.way):
            node = tree.nodes[name]
            total += 2 * long[name] + count(node.why or "") + _found(node)
            total += sum(_mean(long, pool) for pool in _pools(tree, case.way, turn))
    return round(total / len(cases))


def _pools(tree: Tree, way: Sequence[str], turn: int) -> tuple[list[str], ...]:
    """From which steps the choices beside the right one are drawn."""
    asked = next((tree.nodes[one] for one in reversed(way[:turn]) if tree.nodes[one].kind == "ask"), None)
    beside = [answer.to for answer in asked.answers if answer.to != way[turn]] if asked else []
    aside = [key for key, node in tree.nodes.items() if key not in way and node.kind != "end"]
    return beside, list(way[turn + 1 :]), aside


def _mean(long: Mapping[str, int], pool: Sequence[str]) -> float:
    """The mean of the words of some steps; of all, where there are none."""
    some = [long[key] for key in pool if key in long] or list(long.values())
    return sum(some) / len(some)


def _step(library: Library, node: Node) -> int:
    return count(fill(f"{node.text} {node.meanwhile or ''}", library.settings))


def _answers(node: Node) -> int:
    return sum(count(answer.say) for answer in node.answers)


def _found(node: Node) -> int:
    """What a question finds, in the mean of its answers."""
    own = [answer for answer in node.answers if not answer.anytime and answer.when != (FIXED,)]
    return round(sum(count(answer.say) for answer in own) / len(own)) if own else 0


def _cautions(library: Library, keys: Iterable[str]) -> int:
    return sum(count(library.cautions[key].say) for key in keys if key in library.cautions)


def _uncited(text: str) -> str:
    for _, begin, end in reversed(list(cited(text))):
        text = text[:begin] + text[end:]
    return text
