"""Articles, calculators and shared files are compared by their passages and entries, each with its words."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from alarmtrees.compare import compare
from alarmtrees.compare.alike import Vocabulary
from alarmtrees.compare.articles import compare_article
from alarmtrees.compare.change import Change
from alarmtrees.compare.entries import edits
from alarmtrees.compare.files import compare_files
from alarmtrees.compare.rows import moved, paired
from alarmtrees.model import Article, Library, Map, Source
from alarmtrees.reading.articles import build_article
from alarmtrees.reading.load import parse
from small_library import shipped_library

HERE = Path(__file__).parent
WORDS = Vocabulary([])


def article(text: str, name: str = "removal") -> Article:
    """An article of a text, read as from a file; the schema is not asked."""
    front = re.match(r"---\n(.*?\n)---\n", text, re.DOTALL)
    assert front
    source = parse(f"\n{front[1]}", f"kb/{name}.md", name, "article")
    assert source.data is not None, source.problems
    return build_article(replace(source, text=text))


@cache
def texts() -> dict[str, str]:
    return {name: one.text for name, one in shipped_library().articles.items()}


def told(before: str, after: str) -> list[Change]:
    return list(compare_article(article(before), article(after), WORDS))


HEAD = """\
---
title: Taking it out
description: The order of events.
part: end
tasks: [remove]
trees: [limb-cold, cardiac-arrest]
cautions: [patient-first, policy-first]
sources: [weil-2007]
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14}
questions:
  - ask: When is the pump stopped?
    right: {say: On the operator's word., why: The balloon then comes out at once.}
    wrong:
      - {say: Before the call., why: "Stopped too early, it rests."}
      - {say: With the thinner., why: The thinner comes first.}
---
"""
BODY = """\
# Taking it out

The balloon leaves the artery without clot. [@weil-2007]

## Pressing

1. Press for {removal_press} at least.
2. Keep the hand there; nobody lifts it to look.
3. Feel the foot every 5 min.

See [the round](hourly-round.md) for more.

<!-- trace: late-deflation -->

| Sign | What to do |
|---|---|
| Pale foot | Tell the operator at once. |
| Warm foot | Go on. |

```
a drawing
```

## After

- [ ] Look at both feet.
- Only if no blood was seen: wash the line.
"""

EDITS: list[tuple[str, str, str, str, str]] = [
    # what is replaced, by what; kind, weight, and what the message says
    ("1. Press for", "1. Do not press for", "negation-turned", "error", "Pressing: in an item, a “not” has come"),
    ("nobody lifts it", "somebody lifts it", "negation-turned", "error", "Pressing: in an item"),
    ("every 5 min", "every 50 min", "limit-changed", "error", "Pressing: in an item, a number or setting changed"),
    ("{removal_press}", "{call_by}", "limit-changed", "error", "Pressing: in an item"),
    ("leaves the artery without clot", "leaves the artery with clot", "negation-turned", "error", "in a paragraph"),
    ("Pale foot | Tell", "Pale foot | Never tell", "negation-turned", "error", "in a row of a table"),
    ("Only if no blood was seen: wash", "Wash", "guard-gone", "error", "After: in an item"),
    ("Keep the hand there", "The hand stays there", "passage-reworded", "warning", "an item reads otherwise"),
    ("Warm foot | Go on.", "Warm foot | Carry on.", "passage-reworded", "warning", "a row of a table reads otherwise"),
    ("## After\n", "## Afterwards\n", "passage-reworded", "warning", "a heading reads otherwise"),
    ("a drawing", "another drawing", "passage-reworded", "warning", "what stands between the passages reads"),
    ("trace: late-deflation", "trace: early-deflation", "direction-turned", "error", "in what stands between"),
    ("[@weil-2007]", "[@doe-2001]", "sources-changed", "note", "a paragraph names other sources"),
    ("(hourly-round.md)", "(whole-job.md)", "passage-reworded", "note", "a paragraph leads or looks otherwise"),
    ("- [ ] Look at", "- Look at", "passage-reworded", "note", "an item leads or looks otherwise"),
    ("3. Feel the foot every 5 min.\n", "", "passage-gone", "error", "Pressing: an item is gone"),
    ("| Warm foot | Go on. |\n", "", "passage-gone", "warning", "a row of a table is gone"),
    ("- Only if no blood was seen: wash the line.\n", "", "passage-gone", "error", "After: an item is gone"),
    ("## After\n", "Stay at the bed.\n\n## After\n", "passage-added", "warning", "Pressing: a paragraph is new"),
    ("3. Feel", "3. Do not press when it is pale.\n4. Feel", "passage-added", "error", "Pressing: an item is new"),
    ("title: Taking it out", "title: The end of it", "passage-reworded", "warning", "`title`"),
    ("title: Taking it out", "title: Never take it out", "negation-turned", "error", "`title`"),
    ("trees: [limb-cold, cardiac-arrest]", "trees: [limb-cold]", "article-changed", "warning", "`trees` changed"),
    ("cautions: [patient-first, policy-first]", "cautions: [policy-first]", "article-changed", "warning", "`cautions`"),
    ("tasks: [remove]", "tasks: [remove, look]", "article-changed", "note", "`tasks` changed"),
    ("say: Before the call.", "say: After the call.", "direction-turned", "error", "When is the pump stopped?"),
    ("The balloon then comes", "Then the balloon comes", "passage-reworded", "warning", "Questions"),
    ("      - {say: With the thinner., why: The thinner comes first.}\n", "", "passage-gone", "warning", "With the thinner."),  # noqa: E501
]  # fmt: skip


@pytest.mark.parametrize("case", EDITS, ids=lambda case: f"{case[2]}-{EDITS.index(case)}")
def test_what_an_edit_of_an_article_means(case: tuple[str, str, str, str, str]) -> None:
    old, new, kind, weight, says = case
    whole = HEAD + BODY
    assert old in whole
    changes = told(whole, whole.replace(old, new, 1))
    assert [(c.kind, str(c.weight)) for c in changes] == [(kind, weight)], changes
    (change,) = changes
    assert says in change.message and change.message.startswith("“")
    assert change.entry and change.entry.startswith("kb/removal.md#")
    assert change.place.line > 1 and change.place.file == "kb/removal.md"


def test_passages_that_change_places_are_told_as_moved_and_numbers_of_a_list_do_not_count() -> None:
    whole = HEAD + BODY
    one, two = "1. Press for {removal_press} at least.\n", "2. Keep the hand there; nobody lifts it to look.\n"
    swapped = whole.replace(one + two, two.replace("2.", "1.") + one.replace("1.", "2."))
    changes = told(whole, swapped)
    assert [(c.kind, str(c.weight)) for c in changes] == [("passage-moved", "warning")]
    assert (
        told(whole, whole.replace("2. Keep", "3. Keep").replace("The balloon leaves the", "The balloon\nleaves  the"))
        == []
    )
    assert told(whole, whole.replace("on: 2026-09-14", "on: 2026-10-14")) == []


@given(st.data())
@settings(deadline=None)
def test_any_change_of_one_passage_is_named_with_it(data: st.DataObject) -> None:
    """In any article that is shipped: other words in any passage, or none, or new ones behind it."""
    name = data.draw(st.sampled_from(sorted(texts())))
    text = texts()[name]
    before = article(text, name)
    passage = data.draw(st.sampled_from(before.passages))
    end = passage.start + len(passage.text)
    raw = text[passage.start : end]
    spots = [found.span() for found in re.finditer(r"[A-Za-z]{2,}", raw)]
    if not spots:
        return  # the line under the head of a table
    begin, stop = data.draw(st.sampled_from(spots))
    other = data.draw(st.sampled_from(["qqq", "not", raw[begin:stop] + " not", "later", "17 min"]))
    after = text[: passage.start] + raw[:begin] + other + raw[stop:] + text[end:]
    changes = list(compare_article(before, article(after, name), WORDS))
    if raw[begin:stop] == other:
        assert changes == []
        return
    assert changes
    line = " ".join(raw.split())
    assert any(line in (change.before or "") for change in changes), (line, changes)
    lines = range(before.place(passage.start).line, before.place(end).line + 2)
    assert any(change.place.line in lines for change in changes)


# ---------------------------------------------------------------------- rows and entries


@given(st.lists(st.sampled_from("abcde"), max_size=7), st.lists(st.sampled_from("abcde"), max_size=7))
def test_every_item_is_paired_gone_or_new(old: list[str], new: list[str]) -> None:
    pairs, gone, come = paired(old, new)
    assert sorted([i for i, _ in pairs] + gone) == list(range(len(old)))
    assert sorted([j for _, j in pairs] + come) == list(range(len(new)))
    same = sum(min(old.count(sign), new.count(sign)) for sign in "abcde")
    assert sum(old[i] == new[j] for i, j in pairs) == same
    stays = [i for i, j in pairs if j not in moved(pairs)]
    assert stays == sorted(stays)


def test_two_rows_of_thousands_alike_do_not_take_for_ever() -> None:
    pairs, gone, come = paired(["x"] * 20_000 + ["y"], ["z"] + ["x"] * 20_000)
    assert len(pairs) + len(gone) == 20_001 and len(pairs) + len(come) == 20_001


def document(text: str) -> Map:
    source = parse(text, "kb/x.yml", "x", "x")
    assert source.data is not None, source.problems
    return source.data


_LEAVES = st.text("abc", min_size=1, max_size=3)
_DOCUMENTS = st.dictionaries(
    _LEAVES,
    st.recursive(
        _LEAVES,
        lambda inner: st.one_of(
            st.lists(inner, min_size=1, max_size=4), st.dictionaries(_LEAVES, inner, min_size=1, max_size=3)
        ),
        max_leaves=8,
    ),
    min_size=1,
    max_size=3,
)


def as_yaml(value: Any) -> str:
    if isinstance(value, dict):
        return "{" + ", ".join(f'"{key}": {as_yaml(entry)}' for key, entry in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(as_yaml, value)) + "]"
    return f'"{value}"'


@given(_DOCUMENTS, _DOCUMENTS)
def test_files_that_differ_have_an_edit_and_those_that_do_not_have_none(
    old: dict[str, Any], new: dict[str, Any]
) -> None:
    a, b = document(as_yaml(old)), document(as_yaml(new))
    found = list(edits(a, b))
    assert bool(found) == (a != b)
    for edit in found:
        assert edit.path and (edit.before is not None or edit.after is not None) and edit.spot[0] == 1


# ---------------------------------------------------------------------- calculators and shared files, shipped

GAS = "calculators/gas-left.yml"
SHIPPED = [
    # file, what is replaced, by what; kind, weight, and what the message says
    (GAS, "(amount - amount_kept) / one", "amount / one", "formula-changed", "error", "outputs › refills › is"),
    (GAS, "range: [0, 200]\n    example: 120", "range: [0, 2000]\n    example: 120", "formula-changed", "error", "inputs › pressure › range"),  # noqa: E501
    (GAS, "pressure <= reserve", "pressure < reserve", "formula-changed", "error", "refuse › "),
    (GAS, "value: 11.87", "value: 11.88", "formula-changed", "error", "constants › virial › value"),
    (GAS, "gives: {refills: 9, hours: 9}", "gives: {refills: 9}", "formula-changed", "error", "checks › "),
    (GAS, "far sooner, and", "far later, and", "direction-turned", "error", "breaks › "),
    (GAS, "Change it; there is", "Change the cylinder; there is", "calculator-reworded", "warning", "refuse › "),
    (GAS, "sign: p_gauge", "sign: p_g", "calculator-changed", "note", "inputs › pressure › sign"),
    (GAS, "cautions: [patient-first, ", "cautions: [", "caution-gone", "warning", "cautions"),
    ("words.yml", "It never holds blood unless", "It holds blood unless", "words-changed", "warning", "the glossary, gas-line › means: a “not” is gone"),  # noqa: E501
    ("words.yml", "means: Where two parts", "means: The place where two parts", "words-changed", "note", "the glossary, connector › means"),  # noqa: E501
    ("sources.yml", "year: 2007", "year: 2008", "sources-changed", "note", "the sources, weil-2007 › year"),
    ("synonyms.yml", "  off: [off]\n", "  off: [off, detached]\n", "synonyms-changed", "note", "same › off"),
    ("learning.yml", "when: First day", "when: First week", "learning-changed", "note", "stages › dangers › when"),
    ("changes.yml", "alarm-not-listed:\n", "alarm-not-listed:\n  - {on: 2026-11-26, say: Other.}\n", "changes-changed", "note", "alarm-not-listed › Other."),  # noqa: E501
    ("practice.yml", "since an operation on her heart", "before an operation on her heart", "practice-changed", "note", "patients › "),  # noqa: E501
    ("waveforms.yml", "The rise begins in the notch.", "The rise begins before the notch.", "waveforms-changed", "note", "well-timed-each › seen"),  # noqa: E501
]  # fmt: skip


@cache
def source(file: str, text: str | None = None) -> Source:
    """A shared file of this repository, or what it is after an edit."""
    text = (HERE.parent / "kb" / file).read_text("utf-8") if text is None else text
    stem = Path(file).stem
    return parse(text, f"kb/{file}", stem, "calculator" if "/" in file else stem)


def library(*sources: Source) -> Library:
    return Library("", sources, {}, frozenset())


@pytest.mark.parametrize("case", SHIPPED, ids=lambda case: f"{case[3]}-{SHIPPED.index(case)}")
def test_what_an_edit_of_a_shared_file_means(case: tuple[str, str, str, str, str, str]) -> None:
    file, old, new, kind, weight, says = case
    before = source(file)
    assert old in before.text
    changes = list(compare_files(library(before), library(source(file, before.text.replace(old, new, 1))), WORDS))
    assert [(c.kind, str(c.weight)) for c in changes] == [(kind, weight)], changes
    (change,) = changes
    assert says in change.message
    assert before.text.splitlines()[change.place.line - 1] or change.gone
    for text in (change.before, change.after):
        assert text is None or not re.search(r"\b[0-9a-f]{12}\b", text)


def test_files_that_come_go_or_cannot_be_read() -> None:
    gas = source(GAS)
    broken = source(GAS, "id: [")
    stray = Source("kb/other.yml", "stray", "other", "", None, ())
    found = {
        name: [(c.kind, str(c.weight), c.gone) for c in compare_files(library(*old), library(*new), WORDS)]
        for name, old, new in (
            ("new", (), (gas,)),
            ("gone", (gas,), ()),
            ("broken", (gas,), (broken,)),
            ("mended", (broken,), (gas,)),
            ("stray", (), (stray,)),
            ("same", (gas,), (gas,)),
        )
    }
    assert found == {
        "new": [("calculator-added", "error", False)],
        "gone": [("calculator-gone", "warning", True)],
        "broken": [("not-comparable", "error", False)],
        "mended": [("not-comparable", "warning", False)],
        "stray": [("stray-changed", "note", False)],
        "same": [],
    }


def test_an_article_comes_goes_and_breaks(tmp_path: Path) -> None:
    folders = tmp_path / "before", tmp_path / "now"
    for folder in folders:
        shutil.copytree(HERE / "small-library", folder)
    path = folders[1] / "kb" / "taking-out.md"
    path.write_text(HEAD + BODY, "utf-8")
    for old, new, kind, gone in ((0, 1, "article-added", False), (1, 0, "article-gone", True)):
        (change,) = compare(str(folders[old]), str(folders[new]), folders[new]).changes
        assert (change.kind, change.gone) == (kind, gone)
        assert "Press for {removal_press} at least." in (change.before or change.after or "")
    shutil.copyfile(path, folders[0] / "kb" / "taking-out.md")
    path.write_text((HEAD + BODY).replace("title: ", "titel: "), "utf-8")
    assert [c.kind for c in compare(str(folders[0]), str(folders[1]), tmp_path).changes] == ["not-comparable"]


def test_pages_that_are_no_articles_are_compared_as_well(tmp_path: Path) -> None:
    folders = tmp_path / "before", tmp_path / "now"
    for folder in folders:
        shutil.copytree(HERE / "small-library", folder)
    about = folders[1] / "kb" / "about.md"
    about.write_text(about.read_text("utf-8") + "\n## More\n\nDo not press.\n", "utf-8")
    changes = compare(str(folders[0]), str(folders[1]), folders[1]).changes
    assert [(c.kind, str(c.weight), c.after) for c in changes] == [
        ("passage-added", "error", "Do not press."),
        ("passage-added", "warning", "## More"),
    ]
    assert {c.place.file for c in changes} == {"kb/about.md"}
    about.unlink()
    assert [c.kind for c in compare(str(folders[0]), str(folders[1]), folders[1]).changes] == ["article-gone"]
