"""`alarmtrees compare`: what each edit means to the reader, in every format, from folders and from git."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from alarmtrees.compare import compare
from alarmtrees.compare.alike import Vocabulary
from alarmtrees.compare.change import Change
from alarmtrees.compare.kinds import KINDS, Weight, weight_of
from alarmtrees.compare.matching import Matching
from alarmtrees.compare.product import Product
from alarmtrees.compare.render import as_github, as_text
from alarmtrees.compare.stops import Stops
from alarmtrees.model.finding import Place
from alarmtrees.terminal.cli import main
from large_tree import compared, large_doc, tree_of
from small_library import edit

HERE = Path(__file__).parent
LINE = "trees/line-open.yml"

MARKS = """\
look-first: {say: The reader looks at the patient.}
clamp: {say: The line is clamped., step_words: [clamp the line]}
"""
SAFETY = """\
look-before-all:
  say: The patient is looked at first.
  precedence: {first: look-first, then: [clamp, pump-starts]}
  reason: The danger is in the patient.
  sources: [common-practice]
calls:
  say: After a clamp somebody is called.
  response: {of: clamp, by: [call, look-first]}
  reason: A clamp is no remedy.
  sources: [common-practice]
"""


@pytest.fixture
def two(tmp_path: Path) -> tuple[Path, Path]:
    """Two folders with the same library: the small one, with marks and safety rules."""
    before, now = tmp_path / "before", tmp_path / "now"
    shutil.copytree(HERE / "small-library", before)
    (before / "kb" / "marks.yml").write_text(MARKS, "utf-8")
    (before / "kb" / "safety.yml").write_text(SAFETY, "utf-8")
    edit(before / LINE, ("    why: The danger is in the patient.\n", "    marks: [look-first]\n"))
    shutil.copytree(before, now)
    return before, now


def line_of(path: Path, text: str) -> int:
    return next(n for n, line in enumerate(path.read_text("utf-8").splitlines(), 1) if text in line)


def changes_of(two: tuple[Path, Path]) -> list[Change]:
    return list(compare(str(two[0]), str(two[1]), two[1]).changes)


# ---------------------------------------------------------------------- what an edit means

EDITS = [
    # file, what is replaced, by what; kind, weight, and a text of the line in the version now that it points at
    (LINE, "to: broken, pump", "to: patient-worse, pump", "other-end", "error", "to: patient-worse, pump"),
    (LINE, "to: broken, pump", "to: elsewhere, pump", "other-end", "error", "to: elsewhere, pump"),
    (LINE, "go: supply-low/look", "go: supply-low/call-now", "other-end", "error", "  elsewhere:"),
    (LINE, "call: specialist-on-call", "call: doctor-on-call", "other-end", "error", "  broken:"),
    (LINE, "      - {say: Has a new alarm, to: elsewhere}\n", "", "answer-gone", "error", "to: plug}"),
    (LINE, "say: As before, to: plug", "say: The same, to: plug", "answer-reworded", "error", "The same"),
    (LINE, "  - {say: Patient worse, to: patient-worse}", "  - {say: Other, to: patient-worse}", "answer-reworded", "error", "Other"),  # noqa: E501
    (LINE, "to: tell, when: fixed", "to: done, when: fixed", "call-gone", "error", "to: done, when"),
    (LINE, "to: tell, when: fixed", "to: done, when: fixed", "step-gone", "warning", "to: done, when"),
    (LINE, "    marks: [look-first]\n", "", "mark-gone", "error", "  look:"),
    (LINE, "    marks: [look-first]\n", "", "safety-gone", "error", "  look:"),
    (LINE, "pump: starts", "pump: stops", "pump", "error", "pump: stops"),
    (LINE, "pump: moves", "pump: still", "pump-seen", "warning", "when: fixed, pump: still"),
    (LINE, "How is the patient?", "What do you see?", "question-reworded", "warning", "What do you see?"),
    (LINE, "Push the plug home until", "Press the plug in until", "step-reworded", "warning", "Press the"),
    (LINE, "within {resting_warning}", "within {call_by}", "limit-changed", "error", "{call_by}"),
    (LINE, "The plug is broken.", "The plug is beyond mending.", "end-reworded", "warning", "beyond mending"),
    (LINE, "Stay with the patient.", "Wait.", "meanwhile-reworded", "warning", "meanwhile: Wait"),
    (LINE, "    cautions: [rest-is-short]\n", "", "caution-gone", "warning", "  plug:"),
    (LINE, "    pump: starts\n", "    pump: starts\n    takes: 3 min\n", "longer", "error", ""),
    (LINE, "harm: {severity: irreversible", "harm: {severity: minor", "harm-changed", "warning", "harm:"),
    (LINE, "title: Line is open", "title: The line leaks", "title-changed", "warning", "title:"),
    (LINE, "status: in-use", "status: withdrawn", "withdrawn", "warning", "status:"),
    (LINE, "A loose plug is the usual cause.", "It mostly is loose.", "why-reworded", "note", "mostly"),
    (LINE, "    sources: [doe-2001]\n", "    sources: [common-practice, doe-2001]\n", "sources-changed", "note", "common-practice, doe"),  # noqa: E501
    (LINE, "hose off, ", "", "aliases-changed", "note", "aliases:"),
    (LINE, "moves, to: tell", "Moves, to: tell", "typo", "note", "Moves"),
    (LINE, "to: elsewhere}\n", "to: elsewhere}\n      - {say: Not there, to: broken}\n", "answer-added", "warning", "Not there"),  # noqa: E501
    (LINE, "plug-broken: {say: The plug is broken, share: 30}", "plug-broken: {say: The plug is broken, share: 40}", "cause-changed", "note", "share: 40"),  # noqa: E501
    ("kb/settings.yml", "    value: 15\n", "    value: 12\n", "setting-changed", "error", "resting_warning:"),
    ("kb/settings.yml", 'phone: "5 0002"', 'phone: "5 0003"', "role-changed", "error", "5 0003"),
    ("kb/settings.yml", "say: The longest rest", "say: The rest", "setting-note", "note", "resting_warning:"),
    ("kb/settings.yml", "    unit: min\n", "    unit: min\n    range: [6, 90]\n    range_from: ours\n", "setting-note", "warning", "resting_warning:"),  # noqa: E501
    ("kb/cautions.yml", "do not restart; call", "do not restart, and call", "caution-reworded", "warning", "rest-is-short:"),  # noqa: E501
    ("kb/sources.yml", "year: 2001", "year: 2002", "sources-changed", "note", ""),
    ("kb/safety.yml", "then: [clamp, pump-starts]", "then: [clamp]", "safety-rule-weakened", "error", "look-before-all:"),  # noqa: E501
    ("kb/safety.yml", "by: [call, look-first]", "by: [call]", "safety-rule-strengthened", "note", "calls:"),
    ("kb/safety.yml", "  reason: A clamp", "  only: gas\n  reason: A clamp", "safety-rule-weakened", "error", "calls:"),
    ("kb/safety.yml", SAFETY[SAFETY.index("calls:") :], "", "safety-rule-gone", "error", ""),
    ("kb/marks.yml", ", step_words: [clamp the line]", "", "mark-weakened", "error", "clamp:"),
    ("kb/marks.yml", ", step_words: [clamp the line]", ", step_words: [clamp the line], keeps: 2 min", "mark-weakened", "error", "clamp:"),  # noqa: E501
]  # fmt: skip


@pytest.mark.parametrize("case", EDITS, ids=lambda case: f"{case[3]}-{EDITS.index(case)}")
def test_what_an_edit_means(two: tuple[Path, Path], case: tuple[str, str, str, str, str, str]) -> None:
    file, old, new, kind, weight, spot = case
    edit(two[1] / file, (old, new))
    found = [change for change in changes_of(two) if change.kind == kind]
    assert found and {str(change.weight) for change in found} == {weight}, changes_of(two)
    if spot:
        assert line_of(two[1] / file, spot) in [c.place.line for c in found if c.place.file == file]


def test_nothing_changes(two: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    assert changes_of(two) == []
    edit(two[1] / LINE, ("id: line-open\n", "# a comment\nid:   line-open\n"), ("plug:\n    do:", "plug:\n\n    do:"))
    assert main(["compare", str(two[0]), str(two[1]), "--strict"]) == 0
    assert "2 trees with all 8 ways the same" in capsys.readouterr().out


def test_ways_are_counted(two: tuple[Path, Path]) -> None:
    """By hand, answer by answer: look 3 (as before, new alarm, worse); then after the plug 3 (moves, still, worse);
    then after the call 2 (done, worse): worse, new alarm, worse; still; done, worse: 6."""
    edit(two[1] / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    counts = compare(str(two[0]), str(two[1]), two[1]).counts
    assert [(c.tree, c.before, c.now, c.same) for c in counts] == [("line-open", 6, 6, 5), ("supply-low", 2, 2, 2)]


def test_the_witness_is_shortest_and_told_as_both_versions_have_it(two: tuple[Path, Path]) -> None:
    edit(two[1] / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    change = next(c for c in changes_of(two) if c.kind == "other-end")
    told = [[(step.node, step.answer) for step in way or ()] for way in (change.way_before, change.way_now)]
    start = [("look", "As before"), ("plug", None), ("holds", "It stands still")]
    assert told == [[*start, ("broken", None)], [*start, ("patient-worse", None)]]
    assert (change.ways, change.node) == (1, "patient-worse")


def test_a_step_under_another_name_is_the_same_step(two: tuple[Path, Path]) -> None:
    text = re.sub(r"\bholds\b", "does-it-hold", (two[1] / LINE).read_text("utf-8"))
    text = text.replace("  broken:", "  plug-gone:").replace("to: broken", "to: plug-gone")
    (two[1] / LINE).write_text(text, "utf-8")
    assert changes_of(two) == []


def test_trees_come_and_go(two: tuple[Path, Path]) -> None:
    edit(two[1] / LINE, ("go: supply-low/look", "go: supply-gone/look"))
    edit(two[1] / "trees" / "supply-low.yml", ("id: supply-low", "id: supply-gone"))
    (two[1] / "trees" / "supply-low.yml").rename(two[1] / "trees" / "supply-gone.yml")
    kinds = {(c.kind, str(c.weight), c.tree, c.gone) for c in changes_of(two)}
    assert {("tree-gone", "error", "supply-low", True), ("tree-added", "error", "supply-gone", False)} <= kinds


@pytest.mark.parametrize(
    ("changes", "version", "kind", "weight"),
    [
        ([("to: done, when", "to: look, when"), ("then: done", "then: look")], 1, "not-comparable", "error"),
        ([("then: done", "then: plug")], 0, "not-comparable", "warning"),
        ([("to: plug}", "to: plugg}")], 1, "not-comparable", "error"),
        ([("start: look", "start: [look")], 1, "not-comparable", "error"),
        ([("start: look", "start: [look")], 0, "not-comparable", "warning"),
    ],
)
def test_a_tree_whose_ways_cannot_be_told(
    two: tuple[Path, Path], changes: list[tuple[str, str]], version: int, kind: str, weight: str
) -> None:
    edit(two[version] / LINE, *[c for c in changes if c[0] in (two[version] / LINE).read_text("utf-8")])
    assert (kind, weight) in [(c.kind, str(c.weight)) for c in changes_of(two)]


def test_a_line_that_a_mark_speaks_of_is_missed_though_the_mark_stays(two: tuple[Path, Path]) -> None:
    step = ("      - Push the plug home", "      - Clamp the line.\n      - Push the plug home")
    marked = ("    pump: starts\n", "    pump: starts\n    marks: [clamp]\n")
    edit(two[0] / LINE, step, marked)
    edit(two[1] / LINE, marked)
    found = [c for c in changes_of(two) if c.kind == "safety-words-gone"]
    assert [(str(c.weight), c.node) for c in found] == [("error", "plug")]


def test_questions_in_another_order_and_ends_that_stay(two: tuple[Path, Path]) -> None:
    """Two questions change places; whoever gives the same answers comes to the same end: no error."""
    both = [
        ("to: plug}", "to: colour}"),
        (
            "  plug:\n    do:",
            "  colour:\n    ask: Which colour?\n    answers: [{say: Red, to: shape}, {say: Blue, to: broken}]\n"
            "  shape:\n    ask: Which shape?\n    answers: [{say: Round, to: plug}, {say: Flat, to: broken}]\n"
            "  plug:\n    do:",
        ),
    ]
    edit(two[0] / LINE, *both)
    edit(two[1] / LINE, *both)
    edit(two[1] / LINE, ("to: colour}", "to: shape}"), ("Red, to: shape", "Red, to: plug"))
    edit(two[1] / LINE, ("Round, to: plug", "Round, to: colour"))
    kinds = {(c.kind, str(c.weight)) for c in changes_of(two)}
    # Whoever says "Blue" was never asked for the shape, and now is; and so with "Flat" and the colour.
    other = {("longer", "error"), ("question-gone", "warning"), ("question-added", "warning")}
    assert kinds == {("question-moved", "warning"), ("leads-elsewhere", "warning"), *other}


# ---------------------------------------------------------------------- slips of the pen

WORDS = Vocabulary(["the", "plug", "loose", "lower", "slower", "valve", "water", "not", "inflate", "deflate"] * 2)


@pytest.mark.parametrize(
    ("before", "after", "is_slip"),
    [
        ("The plug.", "the  plug", True),
        ("The vavle", "The valve", True),
        ("The vlave", "The valve", True),
        ("The plug was looose", "The plug was loose", True),
        ("The slower one", "The lower one", False),
        ("Inflate", "Deflate", False),
        ("Do not", "Do now", False),
        ("The valve", "The vavle", False),
        ("at 15 min", "at 51 min", False),
        ("at 1.5", "at 15", False),
        ("below 5", "below -5", False),
        ("< five", "> five", False),
        ("{call_by}", "{resting_warning}", False),
        ("the plug", "the plug not", False),
        ("vavle watre", "valve water", False),
        ("No pulse felt", "No, pulse felt", False),
        ("Do not restart. Call.", "Do not restart; call.", True),
    ],
)
def test_a_slip_is_told_from_another_meaning(before: str, after: str, is_slip: bool) -> None:
    assert WORDS.is_slip(before, after) is is_slip


# ---------------------------------------------------------------------- fingerprints and approvals


def test_an_approval_outlives_other_edits_and_names_but_not_other_words(two: tuple[Path, Path]) -> None:
    edit(two[1] / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    mark = next(c.fingerprint for c in changes_of(two) if c.kind == "other-end")
    text = (two[1] / LINE).read_text("utf-8")
    (two[1] / LINE).write_text("# one\n# two\n" + re.sub(r"\bholds\b", "does-it-hold", text), "utf-8")
    edit(two[1] / LINE, ("A loose plug is the usual cause.", "It mostly is loose."))
    assert mark in [c.fingerprint for c in changes_of(two)]
    edit(two[1] / LINE, ("say: The patient is worse.", "say: The patient is far worse."))
    assert mark not in [c.fingerprint for c in changes_of(two)]


# ---------------------------------------------------------------------- formats


@pytest.mark.parametrize(
    ("change", "strict", "status"),
    [
        (("to: broken, pump", "to: patient-worse, pump"), False, 1),
        (("How is the patient?", "What do you see?"), False, 0),
        (("How is the patient?", "What do you see?"), True, 1),
        (("hose off, ", ""), True, 0),
    ],
)
@pytest.mark.parametrize("form", ["text", "json", "markdown", "github"])
def test_exit_status_in_every_format(
    two: tuple[Path, Path],
    capsys: pytest.CaptureFixture[str],
    change: tuple[str, str],
    strict: bool,
    status: int,
    form: str,
) -> None:
    edit(two[1] / LINE, change)
    assert main(["compare", str(two[0]), str(two[1]), "--format", form, *["--strict"][: int(strict)]]) == status
    out, err = capsys.readouterr()
    assert err == "" and (form != "json" or json.loads(out)["changes"])


def test_json_holds_all(two: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    edit(two[1] / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    main(["compare", str(two[0]), str(two[1]), "--format", "json"])
    told = json.loads(capsys.readouterr().out)
    assert (told["errors"], told["warnings"], told["notes"]) == (1, 1, 0)
    change = told["changes"][0]
    assert change["severity"] == "error" and change["kind"] == "other-end" and change["version"] == "head"
    assert (change["file"], change["line"]) == (LINE, line_of(two[1] / LINE, "to: patient-worse, pump"))
    assert change["way_now"][-1] == {"node": "patient-worse", "answer": None}
    tree = next(tree for tree in told["trees"] if tree["tree"] == "line-open")
    assert tree["ways_before"] == tree["ways_same"] + tree["ways_changed"]


def test_annotations_stand_at_the_line(two: tuple[Path, Path]) -> None:
    edit(two[1] / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    told = as_github(compare(str(two[0]), str(two[1]), two[1])).splitlines()
    assert told[0].startswith(f"::error file={LINE},line={line_of(two[1] / LINE, 'to: patient-worse, pump')},col=")
    assert "%0Away now:" in told[0]


# ---------------------------------------------------------------------- from git


@pytest.fixture
def repository(two: tuple[Path, Path]) -> Callable[..., str]:
    """A repository around the second library, in a folder of its own below; answers git commands."""
    root = two[1].parent / "repository"
    (root / "deep").mkdir(parents=True)
    shutil.move(str(two[1]), str(root / "deep" / "library"))

    def git(*arguments: str) -> str:
        base = ["git", "-C", str(root), "-c", "user.name=lead", "-c", "user.email=lead@example.org"]
        return subprocess.run([*base, *arguments], check=True, capture_output=True, text=True).stdout

    git("init", "-q", "-b", "main")
    git("add", "-A")
    git("commit", "-q", "-m", "as it was")
    return git


def test_revisions_are_read_without_a_checkout(
    two: tuple[Path, Path], repository: Callable[..., str], capsys: pytest.CaptureFixture[str]
) -> None:
    root = two[1].parent / "repository" / "deep" / "library"
    edit(root / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    repository("commit", "-qam", "another end")
    edit(root / LINE, ("How is the patient?", "What do you see?"))
    (root / "kb" / "settings.local.yml").write_text("values: {resting_warning: {value: 99}}\n", "utf-8")
    before = repository("status", "--porcelain", "--ignored")
    assert main(["compare", "HEAD~1", "HEAD", "--root", str(root)]) == 1
    out = capsys.readouterr().out
    assert "[other-end]" in out and "[question-reworded]" not in out
    assert main(["compare", "HEAD", "--root", str(root)]) == 0
    out = capsys.readouterr().out
    assert "[question-reworded]" in out and "[other-end]" not in out and "99" not in out
    assert main(["compare", str(two[0]), "main", "--root", str(root)]) == 1
    assert "[other-end]" in capsys.readouterr().out
    assert repository("status", "--porcelain", "--ignored") == before


def test_a_hook_of_git_compares_the_library_it_names(
    two: tuple[Path, Path],
    repository: Callable[..., str],
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
    tmp_path: Path,
) -> None:
    """Git tells its hooks with variables which repository they run in, and those would win over the folder."""
    root = two[1].parent / "repository" / "deep" / "library"
    edit(root / LINE, ("to: broken, pump", "to: patient-worse, pump"))
    subprocess.run(["git", "init", "-q", str(tmp_path / "elsewhere")], check=True)
    monkeypatch.setenv("GIT_DIR", str(tmp_path / "elsewhere" / ".git"))
    monkeypatch.setenv("GIT_WORK_TREE", str(tmp_path / "elsewhere"))
    assert main(["compare", "HEAD", "--root", str(root)]) == 1
    assert "[other-end]" in capsys.readouterr().out


@pytest.mark.parametrize("name", ["no-such-branch", "HEAD~9", "--output=x", "HEAD:deep", ""])
def test_no_such_revision(
    two: tuple[Path, Path], repository: Callable[..., str], capsys: pytest.CaptureFixture[str], name: str
) -> None:
    root = two[1].parent / "repository" / "deep" / "library"
    try:
        status = main(["compare", "--root", str(root), "--", name])
    except SystemExit as stop:
        status = stop.code  # type: ignore[assignment]
    out, err = capsys.readouterr()
    assert (status, out) == (2, "") and "Traceback" not in err and err.startswith("alarmtrees: ")


def test_no_repository_and_no_library(two: tuple[Path, Path], capsys: pytest.CaptureFixture[str]) -> None:
    (two[0].parent / "empty").mkdir()
    for arguments in (["HEAD"], [str(two[0].parent / "gone")], [str(two[0]), str(two[0].parent / "empty")]):
        assert main(["compare", *arguments, "--root", str(two[1])]) == 2
        assert capsys.readouterr().err.startswith("alarmtrees: ")


# ---------------------------------------------------------------------- large trees


def test_large_trees_are_compared_in_as_many_states_as_steps() -> None:
    """1,000 steps and over 10^12 ways: what is looked at stays within a few states a step, and counts are exact."""
    old, new = large_doc(1000), large_doc(1000)
    new["nodes"]["s498"]["answers"][0]["to"] = "call-last"
    result = compared(old, new)
    assert result.counts is not None and result.counts.complete
    assert result.counts.before > 10**12 and result.counts.before > result.counts.same > 10**12
    before, now = tree_of(old), tree_of(new)
    matching = Matching(before, now, Vocabulary([]), {})
    product = Product(Stops(before, ["s0"]), Stops(now, ["s0"]), matching, [("s0", "s0")], str.__eq__, 10**9)
    assert len(product.edges) <= 2 * len(old["nodes"])


def test_two_versions_that_have_little_in_common_are_not_put_side_by_side_for_ever(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("alarmtrees.compare.ways.STATES_A_STEP", 0)
    monkeypatch.setattr("alarmtrees.compare.ways.STATES_AT_LEAST", 50)
    old, new = large_doc(200), large_doc(200)
    for number, name in enumerate(list(new["nodes"])[:150]):
        if "ask" in new["nodes"][name]:
            new["nodes"][name]["answers"].reverse()
            new["nodes"][name]["answers"][0]["to"] = f"s{number + 3}"
    result = compared(old, new)
    assert result.counts is not None and not result.counts.complete
    assert ("rewritten", Weight.ERROR) in [(c.kind, c.weight) for c in result.changes]


def test_the_shipped_library_compared_to_itself() -> None:
    root = HERE.parent
    comparison = compare(str(root), None, root)
    assert comparison.changes == () and all(c.before == c.same for c in comparison.counts)
    assert as_text(comparison).endswith("working tree: 0 errors, 0 warnings, 0 notes\n")


# ---------------------------------------------------------------------- the table of kinds


def test_each_kind_of_change_is_told_in_a_sentence_and_weighs_something() -> None:
    for name, kind in KINDS.items():
        assert kind.id == name and kind.say[0].isupper() and kind.say.endswith(".")
        assert weight_of(name, None) is kind.weight
        for other in set(Weight) - {kind.weight}:
            if kind.also and kind.also[0] is other:
                assert weight_of(name, other) is other
            else:
                with pytest.raises(ValueError, match=f"`{name}` is no {other}"):
                    weight_of(name, other)


def test_a_change_of_a_kind_that_nobody_listed_is_refused() -> None:
    with pytest.raises(ValueError, match="there is no kind of change `odd`"):
        _ = Change("odd", "tree", "words", Place("trees/tree.yml", 1, 1)).weight
