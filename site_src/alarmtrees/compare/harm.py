"""Whether other words may do harm: a condition gone, a "not" turned, another direction, another number.

Nothing is understood here; words are counted and put side by side. So what is found may be harmless, and waits
for somebody to say so; a plain rewording, with none of this, need not wait.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Iterator

from ..model.wording import folded, sentences_of
from .alike import negates, numbers, without_numbers, words_of

LITTLE_IN_COMMON = 1 / 3
"""Two things to do that share fewer of their words than this are two things, not one in other words."""


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


_GUARD = re.compile(r"\b(?:only|if|unless|until|while|when|as long as|except|as ordered)\b", re.IGNORECASE)
_STOPS = re.compile(r"[:;,.!?]")

_TURNS = (
    ("early earlier earliest soon sooner", "late later latest"),
    ("before", "after"),
    ("open opens opened opening reopen", "close closes closed closing shut shuts"),
    ("on", "off"),
    ("in into inside", "out outside"),
    ("up upward upwards", "down downward downwards"),
    ("more most", "less least fewer"),
    ("start starts started starting restart restarts restarted begin", "stop stops stopped stopping hold pause paused"),
    ("end ends ended", "begin begins start starts"),
    ("raise raises raised raising increase increases", "lower lowers lowered lowering decrease decreases reduce"),
    ("high higher highest above over upper", "low lower lowest below under"),
    ("clamp clamps clamped clamping", "unclamp unclamps unclamped release releases"),
    ("inflate inflates inflation fill fills filling", "deflate deflates deflation empty empties emptying"),
    ("connect connects connected join attach attached", "disconnect disconnects disconnected part detach detached"),
    ("plug plugs plugged", "unplug unplugs unplugged"),
    ("push pushes", "pull pulls draw"),
    ("advance advances", "withdraw withdraws retract"),
    ("tighten tight", "loosen loose"),
    ("lock locks", "unlock unlocks"),
    ("left", "right"),
    ("first", "last"),
    ("fast faster quick quickly", "slow slower slowly"),
    ("long longer", "short shorter"),
    ("large larger great greater big bigger", "small smaller little"),
    ("warm warmer hot", "cold cool cooler"),
    ("dry", "wet"),
    ("same", "other another different"),
    ("and", "or"),
    ("must", "may"),
    ("all every each", "some any"),
    ("keep leave", "remove take"),
    ("towards", "away"),
    ("within", "beyond"),
    ("systolic", "diastolic"),
    ("vein venous", "artery arterial"),
    ("patient patient's", "console console's", "transducer", "monitor monitor's"),
    ("doctor", "specialist", "nurse", "engineer", "leader"),
    ("ecg", "pressure", "spikes", "fixed"),
    ("blood", "water", "air"),
)
"""Words of which one turns what the other says. Each row holds two or more senses, each in its forms."""

_SENSES: dict[str, list[tuple[int, int]]] = {}
for _row, _of_row in enumerate(_TURNS):
    for _sense, _forms in enumerate(_of_row):
        for _word in _forms.split():
            _SENSES.setdefault(_word, []).append((_row, _sense))

_EMPTY = _set(
    "a an the it its this that these those is are be been was to of at for with by from as has have do does you your "
    "he she they them there here then so too very ever"
)
"""Words that carry no sense of their own."""


def harm(before: str, after: str, is_act: bool = False) -> tuple[str, str] | None:
    """What may do harm where a text reads otherwise; None where it is no more than other words.

    Args:
        before: the text as it was.
        after: the text as it is.
        is_act: whether it tells what to do, so that words with little in common are another act.

    Returns:
        The id of the kind of change, and what is so in words that follow "in the step"; the gravest alone.
    """
    if folded(without_numbers(before)) == folded(without_numbers(after)):
        return ("limit-changed", "a number or setting") if numbers(before) != numbers(after) else None
    left, right = _unlike(before, after)
    guards = _guards(left), _guards(right)
    lost, come = guards[0] - guards[1], guards[1] - guards[0]
    if lost:
        told = _listed(lost)
        return ("guard-changed", f"{told} reads {_listed(come)}") if come else ("guard-gone", f"{told} is gone")
    words = [word for text in left for word in words_of(text)], [word for text in right for word in words_of(text)]
    if left and (turned := _negation(words, (_negated(left), _negated(right)))):
        return "negation-turned", turned
    if turned := _turned(*words):
        return "direction-turned", turned
    if _counted(before) != _counted(after):
        return "limit-changed", "a number or setting"
    if is_act and left and right and _shared(*words) < LITTLE_IN_COMMON:
        return "exchanged", "something else is to be done"
    return None


def _unlike(before: str, after: str) -> tuple[list[str], list[str]]:
    """The sentences that stand in one of two texts only."""
    old, new = ([s for line in text.splitlines() for s in sentences_of(line)] for text in (before, after))
    return _without(old, new), _without(new, old)


def _without(some: list[str], others: list[str]) -> list[str]:
    left = Counter(map(folded, others))
    found = []
    for sentence in some:
        if left[folded(sentence)]:
            left[folded(sentence)] -= 1
        else:
            found.append(sentence)
    return found


def _guards(sentences: Iterable[str]) -> Counter[str]:
    """The conditions that sentences name: what stands before a colon, or from such a word to the next stop."""
    return Counter(guard for sentence in sentences for guard in _guards_in(sentence))


def _guards_in(sentence: str) -> Iterator[str]:
    head, colon, rest = sentence.partition(":")
    if colon and _GUARD.search(head):
        yield folded(head)
        sentence = rest
    at = 0
    while match := _GUARD.search(sentence, at):
        end = _STOPS.search(sentence, match.end())
        at = end.start() if end else len(sentence)
        yield folded(sentence[match.start() : at])


def _listed(guards: Counter[str]) -> str:
    return " and ".join(f"“{guard}”" for guard in guards)


def _negation(words: tuple[list[str], list[str]], negated: tuple[set[str], set[str]]) -> str | None:
    """What a "not" was taken from, or given to."""
    left, right = words
    before, now = sum(map(negates, left)), sum(map(negates, right))
    if before > now:
        return "a “not” is gone"
    if before < now:
        return "a “not” has come"
    for here, there, others in ((negated[0], negated[1], right), (negated[1], negated[0], left)):
        turned = next((word for word in sorted(here - there) if word in others), None)
        if turned:
            return f"“{turned}” is negated in one version only"
    return None


def _negated(sentences: list[str]) -> set[str]:
    """The word of sense behind each negation, before the next stop."""
    found: set[str] = set()
    for clause in (clause for sentence in sentences for clause in _STOPS.split(sentence)):
        words = words_of(clause)
        for i, word in enumerate(words):
            if negates(word):
                found.update([w for w in words[i + 1 :] if w not in _EMPTY and not negates(w)][:1])
    return found


def _turned(left: list[str], right: list[str]) -> str | None:
    """Two words of which one stands where the other stood, and turns the sense."""
    before, now = _senses(left), _senses(right)
    for row in sorted(before.keys() & now.keys()):
        old, new = before[row], now[row]
        lost = Counter(sense for sense, _ in old) - Counter(sense for sense, _ in new)
        come = Counter(sense for sense, _ in new) - Counter(sense for sense, _ in old)
        if lost and come:
            was = next(word for sense, word in old if sense in lost)
            is_now = next(word for sense, word in new if sense in come)
            return f"“{was}” was, “{is_now}” is"
        if not lost and not come and [sense for sense, _ in old] != [sense for sense, _ in new]:
            return f"“{old[0][1]}” and “{new[0][1]}” have changed places"
    return None


def _senses(words: list[str]) -> dict[int, list[tuple[int, str]]]:
    """For each row of the table the senses that a text has of it, in order, with their words."""
    found: dict[int, list[tuple[int, str]]] = {}
    for word in words:
        for row, sense in _SENSES.get(word, ()):
            found.setdefault(row, []).append((sense, word))
    return found


_COUNTS = _set("once twice half two three four five six seven eight nine ten twelve")
_COMPARES = frozenset("<>≤≥±+=%")


def _counted(text: str) -> list[str]:
    """The numbers and settings of a text, those in letters too, and the signs that go with them."""
    words = [word for word in words_of(text) if word in _COUNTS]
    return [*numbers(text), *words, *(sign for sign in text if sign in _COMPARES)]


def have_little_in_common(before: str, after: str) -> bool:
    """Whether two texts share less than half of their words."""
    return _shared(words_of(before), words_of(after)) < 1 / 2


def _shared(left: list[str], right: list[str]) -> float:
    """How much of their words two texts share: 0 nothing, 1 all."""
    a, b = ({word for word in words if word not in _EMPTY} for words in (left, right))
    return 2 * len(a & b) / (len(a) + len(b)) if a or b else 1.0
