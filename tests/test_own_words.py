"""The finder's words, and the titles they lead to, are our own: no screen's message, no brand, no machine's interval.

None of what is barred stands here. Rules of shape hold the promise, and a phrase that was taken out once is known by
its salted hash alone. To bar another: `python tests/test_own_words.py "the phrase" >> tests/finder/not-ours.txt`.
"""

from __future__ import annotations

import hashlib
import re
import sys
from collections.abc import Iterator
from itertools import chain
from pathlib import Path

import pytest
import yaml

REPOSITORY = Path(__file__).parents[1]
LIST = REPOSITORY / "tests" / "finder" / "not-ours.txt"
SALT = "balloon pump, finder"

# Generic words of machines, and of what can be the matter with them.
_PARTS = """augmentation balloon battery cable catheter charge circuit console cylinder device diastolic ecg electrode
    filling gas helium hose lead line machine mains mean monitor peak power pressure pump refill renewal signal supply
    system systolic tank timing trace transducer trigger tube tubing vacuum valve volume"""
_MATTER = """aborted detected disconnected due error exceeded failed fails failure fault high inadequate incomplete
    insufficient interference interrupted invalid limit loss lost low malfunction noisy obstruction occlusion off
    overdue poor quality required restricted restriction slow suspected timeout unavailable weak"""
PARTS, MATTER = frozenset(_PARTS.split()), frozenset(_MATTER.split())
UNIT = r"(second|sec|minute|min|hour|hr|h|day|week|month)s?(ly)?\b"
NUMBER = r"\b(\d+|half|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty|sixty)"
REFILLED = re.compile(r"\b(re-?fill|fill(s|ed)? itself|top(s|ped)? (it )?up|new gas|fresh gas|renew|replenish|refresh)")
LONGEST = 6  # words of a barred phrase


def words(text: str) -> list[str]:
    """The words in small letters and in the singular: near enough for looking up."""
    return [re.sub(r"(?<=[a-z]{3})(?<!s)s$", "", word) for word in re.findall(r"[a-z0-9]+", text.lower())]


def is_message(text: str) -> bool:
    """Whether it is put as a screen puts it: parts and what is the matter with them, and no word between.

    Somebody who speaks puts in a verb or a small word. "No power" and the like are said as well.
    """
    said = re.findall(r"[a-z0-9]+", text.lower())
    kinds = [(word in PARTS or word.removesuffix("s") in PARTS, word in MATTER) for word in said]
    return len(said) > 1 and all(map(any, kinds)) and any(part for part, _ in kinds) and any(bad for _, bad in kinds)


def has_interval(text: str) -> bool:
    """Whether it names a length of time by a number, or any hours where a refill is spoken of."""
    text = text.lower()
    interval = re.search(rf"{NUMBER}[\s-]?{UNIT}", text)
    return bool(interval or (REFILLED.search(text) and re.search(rf"\b({UNIT}|daily\b)", text)))


def hidden(phrase: str) -> str:
    """What a barred phrase is kept as."""
    return hashlib.sha256(f"{SALT}\n{' '.join(words(phrase))}".encode()).hexdigest()


def barred(text: str, hashes: frozenset[str]) -> list[str]:
    """The runs of its words that are on the list."""
    said = words(text)
    runs = (" ".join(said[a:b]) for a in range(len(said)) for b in range(a + 1, min(a + LONGEST, len(said)) + 1))
    return [run for run in runs if hidden(run) in hashes]


def hashes() -> frozenset[str]:
    lines = LIST.read_text(encoding="utf-8").splitlines()
    return frozenset(line for line in lines if line and not line.startswith("#"))


# What is looked at


def _read(path: Path) -> dict[str, object]:
    found: dict[str, object] = yaml.load(path.read_text(encoding="utf-8"), yaml.CBaseLoader)
    return found


SYNONYMS = _read(REPOSITORY / "kb" / "synonyms.yml")
TREES = {path.stem: _read(path) for path in sorted((REPOSITORY / "trees").glob("*.yml"))}
GLOSSARY = _read(REPOSITORY / "kb" / "words.yml")
QUERIES = yaml.load((REPOSITORY / "tests" / "finder" / "queries.yml").read_text(encoding="utf-8"), yaml.CBaseLoader)
JUDGED = [_read(path) for path in sorted((REPOSITORY / "tests" / "finder").glob("judged*.yml"))]


def phrases() -> Iterator[str]:
    """What somebody says or reads as a name."""
    for tree in TREES.values():
        yield from (tree["title"], *tree["aliases"])  # type: ignore[misc]
    yield from chain.from_iterable(SYNONYMS["said"].values())  # type: ignore[attr-defined]
    for said_for in _read(REPOSITORY / "kb" / "phrases.yml").values():
        yield from chain.from_iterable(said_for.values())  # type: ignore[attr-defined]


def rows() -> Iterator[str]:
    """What is known of single words and of rows of them."""
    yield from chain.from_iterable(SYNONYMS["same"].values())  # type: ignore[attr-defined]
    yield from chain(SYNONYMS["elsewhere"], SYNONYMS["fillers"])  # type: ignore[call-overload]


def asked() -> Iterator[str]:
    yield from (query["query"] for query in QUERIES)
    yield from chain.from_iterable(said for judged in JUDGED for said in judged.values())  # type: ignore[misc]


def test_there_is_something_to_look_at() -> None:
    assert len(list(phrases())) > 1000 and len(list(rows())) > 1000 and len(list(asked())) > 900
    assert len(hashes()) > 40 and all(re.fullmatch("[0-9a-f]{64}", line) for line in hashes())


# The shape


def test_nobody_speaks_like_a_screen() -> None:
    assert [text for text in chain(phrases(), asked()) if is_message(text)] == []


def test_no_word_names_an_interval() -> None:
    assert [text for text in chain(phrases(), rows()) if has_interval(text)] == []


def test_no_query_knows_how_often_a_machine_takes_gas() -> None:
    assert [text for text in asked() if REFILLED.search(text.lower()) and has_interval(text)] == []


def test_capitals_are_those_of_words_that_are_known() -> None:
    """A brand would stand out by its capital; and whoever looks for one types small letters."""
    listed = {word for row in rows() for word in row.lstrip("=").split()}
    terms = {word for term in GLOSSARY.values() for word in term["say"].split()}  # type: ignore[index]
    odd = set()
    for name in phrases():
        for place, word in enumerate(re.findall(r"[^\W\d_]+", name)):
            plain = word[0].isupper() and not word[1:].isupper() and word[1:] == word[1:].lower() and place == 0
            known = word in terms or (word.isupper() and (len(word) == 1 or word.lower() in listed))
            if not (word.islower() or known or (plain and name in {tree["title"] for tree in TREES.values()})):
                odd.add(word)
    assert odd == set()


# What was taken out once


def test_nothing_that_was_taken_out_comes_back() -> None:
    known = hashes()
    assert {text: found for text in chain(phrases(), rows(), asked()) if (found := barred(text, known))} == {}


# The rules themselves, on messages and machines that are nobody's


@pytest.mark.parametrize("text", ["Valve error", "low valve supply", "DEVICE FAULT", "hoses disconnected", "lead off"])
def test_message_is_known_by_its_shape(text: str) -> None:
    assert is_message(text)


@pytest.mark.parametrize(
    "text", ["the valve has an error", "valve", "no power", "hose came off", "the lead is off", "low", "something low"]
)
def test_speech_is_no_message(text: str) -> None:
    assert not is_message(text)


@pytest.mark.parametrize("text", ["in 7 minutes", "nine-hourly", "12h", "refill each hour", "new gas daily"])
def test_interval_is_found(text: str) -> None:
    assert has_interval(text)


@pytest.mark.parametrize("text", ["for ages", "off for hours", "10 ml last hour", "fill it again", "one more"])
def test_no_interval_is_found(text: str) -> None:
    assert not has_interval(text)


def test_barred_phrase_is_found_inside_a_text_in_any_form() -> None:
    known = frozenset([hidden("Wobbly sprocket")])
    assert barred("and then the wobbly sprockets!", known) == ["wobbly sprocket"]
    assert barred("sprocket wobbly", known) == barred("wobblysprocket", known) == []


if __name__ == "__main__":
    print("\n".join(map(hidden, sys.argv[1:])))
