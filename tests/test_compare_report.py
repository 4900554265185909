"""What a comparison tells, and how: the sentence that matters most, the comment, what is cut, words that stay words."""

from __future__ import annotations

import re
import shutil
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from alarmtrees.compare import compare
from alarmtrees.compare.change import Change, Comparison, Counts
from alarmtrees.compare.kinds import KINDS
from alarmtrees.compare.markdown import JOINER, MOST_SIGNS, as_markdown, escaped
from alarmtrees.compare.render import as_text
from alarmtrees.compare.telling import BESIDE, verdict
from alarmtrees.model.finding import Place, Step
from alarmtrees.terminal.cli import main
from small_library import HOSTILE, edit, spoil

HERE = Path(__file__).parent
LINE = "trees/line-open.yml"


@pytest.fixture
def two(tmp_path: Path) -> tuple[Path, Path]:
    """Two folders with the same small library."""
    folders = tmp_path / "before", tmp_path / "now"
    for folder in folders:
        shutil.copytree(HERE / "small-library", folder)
    return folders


def compared(two: tuple[Path, Path]) -> Comparison:
    return compare(str(two[0]), str(two[1]), two[1])


def made(*changes: Change, counts: tuple[Counts, ...] = (), **more: object) -> Comparison:
    return Comparison("a", "b", changes, counts, versions={"trees/tree.yml": "0" * 16}, **more)  # type: ignore[arg-type]


def one(kind: str, message: str = "words", number: int = 1, **more: object) -> Change:
    return Change(kind, "tree", message, Place("trees/tree.yml", number, 1), **more)  # type: ignore[arg-type]


# ---------------------------------------------------------------------- the sentence that matters most

SAME, TORN = Counts("tree", 8, 8, 8), Counts("tree", 8, 8, 7)


@pytest.mark.parametrize(
    ("comparison", "says"),
    [
        (made(), "Nothing changes: both versions say the same."),
        (made(counts=(SAME,)), "Nothing changes: both versions say the same."),
        (made(counts=(TORN,)), "Ways changed in tree, and no change says why: read it anew."),
        (made(counts=(TORN,), names={"tree": "L"}), "Ways changed in L, and no change says why: read it anew."),
        (made(one("typo"), one("sources-changed"), counts=(SAME,)), "Only words changed that nobody acts on at a bed."),
        (made(one("typo"), counts=(TORN,)), "tree: words."),
        (made(one("answers-reordered"), one("typo"), counts=(SAME,)), "tree: words."),
        (made(one("other-end", "it ends"), one("typo"), counts=(TORN,)), "tree: it ends."),
        (made(one("call", "calls `lead`"), names={"lead": "the lead", "tree": "Line"}), "Line: calls the lead."),
    ],
)  # fmt: skip
def test_the_sentence_that_matters_most_is_true(comparison: Comparison, says: str) -> None:
    assert verdict(comparison) == says
    assert as_text(comparison).startswith(f"{says}\n")
    assert f"**{says}**" in as_markdown(comparison)


def test_what_nobody_acts_on_is_in_the_table_of_kinds() -> None:
    """A note on steps, answers, ends, calls, marks or the pump never counts as words that nobody acts on."""
    assert KINDS.keys() >= BESIDE
    acted = re.compile("answer|step|end-|call|question|mark|pump|setting-changed|setting-gone|role|safety-rule-gone")
    assert not [kind for kind in BESIDE if acted.search(kind)]


def test_what_reaches_furthest_comes_first() -> None:
    files = ("kb/removal.md", "kb/safety.yml", "kb/words.yml", "kb/settings.yml")
    shared = [Change("limit-changed", None, file, Place(file, 1, 1), entry=file) for file in files]
    comparison = made(*shared, one("other-end", "in a tree"), one("typo"))
    told = re.findall(r"^\d\. error: (.*)", as_text(comparison), re.MULTILINE)
    assert told == ["Kb/safety.yml", "Kb/settings.yml", "tree: in a tree", "Kb/removal.md", "Kb/words.yml"]
    assert verdict(comparison) == "Kb/safety.yml."


def test_what_is_approved_matters_no_longer(two: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    edit(two[1] / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    main(["compare", str(two[0]), str(two[1])])
    lines = re.findall(r"^  - \{change.*", capsys.readouterr().out, re.MULTILINE)
    approved = two[1] / "approved.yml"
    filled = (line.replace('by: "", on: "", why: ""', "by: lead, on: 2026-11-25, why: Meant.") for line in lines)
    approved.write_text("\n".join(["approved:", *filled]), "utf-8")
    assert main(["compare", str(two[0]), str(two[1]), "--approved", str(approved)]) == 0
    assert not capsys.readouterr().out.startswith("Line is open: ")


# ---------------------------------------------------------------------- a small change, told in full

TEXT = """\
Line is open: in the question, a “not” has come.

1. error: Line is open: in the question, a “not” has come
   - Does the balloon move?
   + Does the balloon not move?
     trees/line-open.yml:37:10, step holds [negation-turned]
     way: look “As before” → plug → holds
     met on 4 ways
     fingerprint 0

To approve what is meant, put into approved.yml of the branch it is for:
  - {change: 0, version: 0, by: "", on: "", why: ""}

Line is open: 6 ways before, 6 now; 2 stay the same, 4 do not
1 tree with all 2 ways the same
before -> now: 1 error, 0 warnings, 0 notes
"""

COMMENT = """\
## Whose advice changes: `before` → `now`

**Line is open: in the question, a “not” has come.**

1 error, 0 warnings, 0 notes. Compared by the answers a reader gives.

### To approve by name

**1. Line is open: in the question, a “not” has come**

```diff
- Does the balloon move?
+ Does the balloon not move?
```

<details><summary>place, ways, fingerprint</summary>

```text
trees/line-open.yml:37:10, step holds [negation-turned]
way: look “As before” → plug → holds
met on 4 ways
fingerprint 0
```

To approve it, in `approved.yml` of the branch that it is for:

```yaml
  - {change: 0, version: 0, by: "", on: "", why: ""}
```

</details>

### Ways

| Alarm | Before | Now | The same | Changed |
|---|--:|--:|--:|--:|
| Line is open | 6 | 6 | 2 | 4 |
"""


def test_a_small_change_is_told_in_full(
    two: tuple[Path, Path], capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    edit(two[1] / LINE, ("Does the balloon move?", "Does the balloon not move?"))
    monkeypatch.chdir(two[0].parent)
    for form, wanted in (("text", TEXT), ("markdown", COMMENT)):
        assert main(["compare", "before", "now", "--format", form]) == 1
        assert re.sub(r"\b[0-9a-f]{16}\b", "0", capsys.readouterr().out) == wanted


def test_a_comment_begins_with_a_small_picture_of_what_moved(two: tuple[Path, Path]) -> None:
    edit(two[1] / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    told = as_markdown(compared(two))
    picture = told[told.index("```mermaid\n") : told.index("```", told.index("```mermaid\n") + 3)]
    assert '-. "before: It stands still" .->' in picture and '== "now: It stands still" ==>' in picture
    assert picture.count("[[") == 0 and "flowchart TD" in picture
    assert told.index("```mermaid") < told.index("### To approve by name")
    assert "mermaid" not in as_markdown(made(one("typo")))


def test_what_follows_is_folded_under_its_headline_and_the_gravest_is_named_beside_it() -> None:
    head = one("question-moved", "a question moved")
    ways = (Step("a", "x"), Step("b", None))
    followers = [
        one("step-added", "a step is new", 2, follows=head.fingerprint),
        one("longer", "it takes longer", 3, follows=head.fingerprint),
        one("safety-gone", "a safety step is gone", 4, follows=head.fingerprint, way_before=ways),
        one("safety-gone", "another safety step is gone", 5, follows=head.fingerprint, way_before=ways, before="b"),
        one("other-end", "another end", 6, follows=head.fingerprint),
        one("call-gone", "a call is gone", 7, follows=head.fingerprint),
    ]
    told = as_markdown(made(head, *followers))
    open_part, _, folded = told.partition("<details>")
    assert told.count("<details>") == 1 and "### To approve by name" in told and "### To read" not in told
    assert "With it:\n\n- another end\n- a call is gone\n- a safety step is gone\n- and 2 errors more\n" in open_part
    assert "6 more that follow from it" in folded and "a step is new" in folded and "a step is new" not in open_part
    assert told.count("way before: a “x” → b") == 1
    assert folded.count("{change: ") == 5
    text = as_text(made(head, *followers))
    assert text.count("so also: error") == 5 and "\n2. " not in text


# ---------------------------------------------------------------------- what is cut


def many(number: int) -> Comparison:
    kinds = ("other-end", "step-reworded", "typo")
    changes = [one(kind, f"words {i} " * 30, i, before="é" * 200 + str(i)) for kind in kinds for i in range(number)]
    return made(*changes, pictures={"tree": "flowchart TD\n" + "x" * 900 + "\n"})


def test_a_comment_is_never_too_long_and_says_what_it_leaves_out() -> None:
    told = as_markdown(many(100))
    shown = len(re.findall(r"^\*\*\d+\. ", told, re.MULTILINE))
    assert 60 < shown < 100 and len(told.encode()) <= MOST_SIGNS
    rest = f"**… and {300 - shown} changes more ({100 - shown} errors, 100 warnings, 100 notes)**"
    assert f"{rest}: `alarmtrees compare a b` tells them all." in told
    assert "mermaid" in told and "### To approve by name" in told and "### To read" not in told
    assert len(as_markdown(many(100), whole="https://code.example/run/1").encode()) <= MOST_SIGNS


def test_of_a_text_of_many_lines_the_first_are_shown_and_the_rest_is_counted() -> None:
    told = as_markdown(made(one("tree-added", after="\n".join(f"line {i}" for i in range(100)))))
    assert "\n+ line 0\n" in told and "\n+ line 59\n+ … and 40 lines more\n" in told and "line 60" not in told


def test_names_without_end_do_not_make_it_longer() -> None:
    names = {"tree": "long " * 100_000}
    huge = Comparison("b" * 100_000, "h", (one("other-end", "m" * 100_000, node="n" * 100_000),), (TORN,), names=names)
    assert len(as_markdown(huge).encode()) <= MOST_SIGNS


@pytest.mark.parametrize("form", ["text", "markdown"])
def test_no_more_changes_are_shown_than_asked_for(
    two: tuple[Path, Path], capsys: pytest.CaptureFixture[str], form: str
) -> None:
    edit(two[1] / LINE, ("Does the balloon move?", "Does the balloon not move?"), ("loose plug, ", ""))
    edit(two[1] / LINE, ("The plug is broken.", "The plug cannot be mended."))
    arguments = ["compare", str(two[0]), str(two[1]), "--format", form, "--most", "1"]
    assert main([*arguments, "--whole", "https://code.example/run/1"]) == 1
    out = capsys.readouterr().out
    where = "[the whole report](https://code.example/run/1)" if form == "markdown" else "https://code.example/run/1"
    assert "… and 2 changes more (1 error, 1 note)" in out and where in out and "loose plug" not in out
    assert main([*arguments, "--whole", "@all [x](y)"]) == 1
    assert form == "text" or "@all" not in capsys.readouterr().out


@pytest.mark.parametrize("number", ["0", "-1", "many", "1.5", "²"])
def test_so_many_changes_cannot_be_shown(number: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit, match="2"):
        main(["compare", "x", f"--most={number}"])
    assert f"“{number}” is no number from 1 on" in capsys.readouterr().err


# ---------------------------------------------------------------------- words stay words

_HOST = MarkdownIt("commonmark", {"linkify": False}).enable("table").enable("strikethrough")
_CALLS = re.compile(
    r"[@#!$%~&]\w|\bgh-\d|://|\bwww\.|\bmailto:\w|\b[0-9a-f]{7,40}\b", re.IGNORECASE
)  # what hosts look for in the text of a page, after its mark-up was read
_OURS = re.compile(r"</?(?:details|summary|ul|li|h[1-6]|p|strong|table|thead|tbody|tr|t[hd]|hr|code|pre|em)\b[^<>]*>")


def texts_outside_code(html: str) -> str:
    html = re.sub(r"<pre>.*?</pre>|<code>.*?</code>", "", html, flags=re.DOTALL)
    return re.sub(r"<[^>]*>", "\n", html)


def unescaped(text: str) -> str:
    return text.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", '"').replace("&amp;", "&")


TRICKS = [
    "@everyone", "a@b.example", "#1", "owner/name#1", "GH-1", "!5", "https://a.example", "www.a.example", "&#64;all",
    "[x](http://y)", "[x]: http://y", "![x](y)", "<b>", "<!-- x", "**a**", "`@all`", "``` @all", "~~a~~", "a | b",
    "0123456789abcdef0123456789abcdef01234567", "mailto:a@b.c", "\\@all", "\\", "`", "a_b_c", "- [ ] x", "1. x", "> x",
    "<details>", "</details>", "@\u2060all", "`a b` @c `d`", "&64", "$a$",
]  # fmt: skip


@given(st.lists(st.one_of(st.sampled_from(TRICKS), st.text(st.characters(exclude_categories=["C", "Z"]))), max_size=6))
@example(["`@all`"])
@example(["0123456789abcdef0123456789abcdef01234567"])
def test_a_text_in_a_comment_calls_nobody_and_becomes_no_link(parts: list[str]) -> None:
    text = " ".join(" ".join(parts).split())
    html = _HOST.render(f"**1. {escaped(text)}.**\n")
    assert "<a" not in html and "<img" not in html and not re.sub(_OURS, "", html).count("<")
    shown = unescaped(texts_outside_code(html))
    assert not _CALLS.search(shown), shown
    whole = unescaped(re.sub(r"<[^>]*>", "", html)).replace(JOINER, "").strip()
    ticks = re.compile("`")
    assert ticks.sub("", " ".join(whole.split())) == ticks.sub("", f"1. {text.replace(JOINER, '')}.")


def test_no_text_ends_the_fence_it_stands_in() -> None:
    fences = made(one("step-reworded", before="a\n````\n```\n@all", after="b\n````\n```\n@all"))
    html = _HOST.render(as_markdown(fences))
    assert not _CALLS.search(unescaped(texts_outside_code(html))) and html.count("<pre>") == 2


def test_hostile_words_stay_words(two: tuple[Path, Path]) -> None:
    for root in two:
        spoil(root)
        assert HOSTILE[:20] in (root / LINE).read_text("utf-8")
    path = two[1] / LINE
    edit(
        path,
        ("plug home", "plug @everyone o/x#1 ``` home"),
        ("How is", "Where is"),
        ("to: broken\n", "to: patient-worse\n"),
    )
    comparison = compared(two)
    assert comparison.changes and comparison.pictures
    html = _HOST.render(as_markdown(comparison))
    assert not re.sub(_OURS, "", html).count("<") and "<a" not in html
    assert not _CALLS.search(unescaped(texts_outside_code(html)))
    assert "plug @everyone o/x#1 ``` home" in unescaped(html)
    for line in comparison.pictures.get("line-open", "").splitlines():
        assert line.count('"') in (0, 2, 4)


def test_one_weight_stands_above_another() -> None:
    told = as_markdown(made(one("typo"), one("question-reworded"), one("other-end")))
    headings = re.findall("### (.*)", told)
    assert headings == ["To approve by name", "To read", "To glance over"]
