"""Opening a library: a hospital's own values over the shipped ones; files that are missing, odd, or out of place."""

from __future__ import annotations

import hashlib
import json
from datetime import date
from pathlib import Path

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from alarmtrees.check.run import check_library
from alarmtrees.model import Library, Priority, Source, Tree
from alarmtrees.model.stamp import content_stamp
from alarmtrees.model.wording import seconds
from alarmtrees.reading.load import parse
from alarmtrees.reading.open import FACTS, open_library
from alarmtrees.reading.trees import build_tree
from cases.bundle import CASES, files_of, rendered, tree_of, write_library
from lone import open_tree

TODAY = date(2026, 11, 25)
GOOD = tree_of("unset/good/set")
LOCAL = "kb/settings.local.yml"

SHIPPED = """\
hospital: {say: Larkmoor General, fictional: "yes"}
values:
  leak_watch:
    {say: How long to watch, value: 10, unit: min,
     status: common practice, source: common-practice, by: lead, on: 2026-09-14}
  bed_angle: {say: How far the bed is raised, unit: degrees}
roles:
  specialist-on-call: {say: specialist on call, phone: "5 5501", fictional: "yes"}
  night-desk: {say: night desk}
"""


def opened(root: Path, local: str) -> Library:
    return open_library(write_library(root, {"kb/settings.yml": SHIPPED, LOCAL: local, "trees/a.yml": GOOD}))


def found(root: Path, files: dict[str, str]) -> str:
    return rendered(check_library(write_library(root, files), TODAY).findings)


# ---------------------------------------------------------------------- settings.local.yml


def test_without_an_overlay_the_shipped_values_hold(tmp_path: Path) -> None:
    library = open_library(write_library(tmp_path, {"kb/settings.yml": SHIPPED}))
    watch = library.settings["leak_watch"]
    assert (watch.value, watch.unit, watch.status, watch.source, watch.by, watch.on) == (
        "10",
        "min",
        "common practice",
        "common-practice",
        "lead",
        "2026-09-14",
    )
    assert watch.shown == "10\u00a0min"
    assert library.settings["bed_angle"].shown == "not set here"
    assert (library.hospital, library.fictional) == ("Larkmoor General", True)
    assert (library.roles["specialist-on-call"].phone, library.roles["specialist-on-call"].fictional) == (
        "5 5501",
        True,
    )
    assert library.roles["night-desk"].phone is None
    assert watch.place.file == "kb/settings.yml" and watch.place.line == 3


def test_the_overlay_overrides_value_status_source_by_and_on(tmp_path: Path) -> None:
    """It overrides value, status, source, by and on; it need not repeat the rest."""
    library = opened(
        tmp_path,
        "values:\n  leak_watch:\n"
        "    {value: 20, status: local policy, source: textbook-2001, by: head nurse, on: 2026-10-01}\n",
    )
    watch = library.settings["leak_watch"]
    assert [source.problems for source in library.sources_read if source.file == LOCAL] == [()]
    assert (watch.value, watch.status, watch.source, watch.by, watch.on) == (
        "20",
        "local policy",
        "textbook-2001",
        "head nurse",
        "2026-10-01",
    )
    assert (watch.say, watch.unit, watch.shown) == ("How long to watch", "min", "20\u00a0min")
    assert (watch.place.file, watch.place.line) == (LOCAL, 2)


def test_the_overlay_may_repeat_the_words(tmp_path: Path) -> None:
    library = opened(tmp_path, "values:\n  leak_watch: {say: How long we watch, value: 20}\n")
    assert library.settings["leak_watch"].value == "20"


def test_a_value_of_the_hospitals_own_is_not_shown_as_taken_from_the_shipped_source(tmp_path: Path) -> None:
    """the house style: local numbers are shown "as the hospital's, with who set them and when"."""
    watch = opened(tmp_path, "values:\n  leak_watch: {say: How long we watch, value: 20}\n").settings["leak_watch"]
    assert (watch.value, watch.source, watch.by, watch.on) == ("20", None, None, None)


def test_the_overlay_sets_what_was_not_set(tmp_path: Path) -> None:
    library = opened(
        tmp_path,
        "values:\n  bed_angle: {say: How far the bed is raised, value: 30}\n"
        "roles:\n  night-desk: {say: ward clerk, phone: 1 234}\n",
    )
    assert library.settings["bed_angle"].shown == "30\u00a0degrees"
    desk = library.roles["night-desk"]
    assert (desk.say, desk.phone, desk.fictional) == ("ward clerk", "1 234", False)


def test_a_number_of_the_hospitals_own_is_not_fictional(tmp_path: Path) -> None:
    local = "roles:\n  specialist-on-call: {say: on call, phone: 1 234}\nhospital: {say: Our House}\n"
    library = opened(tmp_path, local)
    assert (library.roles["specialist-on-call"].phone, library.roles["specialist-on-call"].fictional) == (
        "1 234",
        False,
    )


def test_another_name_for_a_role_keeps_its_number_and_that_it_is_invented(tmp_path: Path) -> None:
    role = opened(tmp_path, "roles:\n  specialist-on-call: {say: on call}\n").roles["specialist-on-call"]
    assert (role.say, role.phone, role.fictional) == ("on call", "5 5501", True)


@pytest.mark.parametrize(
    ("local", "name", "fictional"),
    [
        ('hospital: {say: Our House, fictional: "no"}\n', "Our House", False),
        ("hospital: {say: Our House}\n", "Our House", False),
    ],
)
def test_the_overlay_names_the_hospital_which_is_then_a_real_one(
    tmp_path: Path, local: str, name: str, fictional: bool
) -> None:
    library = opened(tmp_path, local)
    assert (library.hospital, library.fictional) == (name, fictional)


def test_values_of_the_overlay_are_what_check_judges_by(tmp_path: Path) -> None:
    resting = files_of((CASES / "resting-limit/good/just-in-time.txt").read_text("utf-8"))["trees/a.yml"]
    assert found(tmp_path, {"trees/a.yml": resting}) == ""
    local = "values:\n  call_by: {say: Longest time alone, value: 299, unit: s}\n"
    assert "longer than `call_by` (299\u00a0s)" in found(tmp_path, {LOCAL: local})


@pytest.mark.parametrize("odd", ["{say: A rest, value: soon, unit: min}", "{say: A rest, value: 15, unit: minutes}"])
def test_a_limit_that_is_no_time_does_not_silence_the_check(tmp_path: Path, odd: str) -> None:
    """A limit nobody can compare with must be told: otherwise the longest rest is no longer looked at."""
    resting = files_of((CASES / "resting-limit/bad/error.txt").read_text("utf-8"))["trees/a.yml"]
    text = found(tmp_path, {"trees/a.yml": resting, LOCAL: f"values:\n  resting_warning: {odd}\n"})
    assert "resting_warning" in text


@pytest.mark.parametrize(
    "local", ["values:\n  resting_warnig: {value: 10}\n", 'roles:\n  specialist-on-cal: {phone: "1 234"}\n']
)
def test_a_mistyped_name_in_the_overlay_is_told(tmp_path: Path, local: str) -> None:
    """Without `say` it can only mean a shipped one; silently left aside, the hospital's number would not count."""
    told = found(tmp_path, {"trees/a.yml": GOOD, LOCAL: local})
    assert told.startswith(f"{LOCAL}:2:")


def test_a_broken_overlay_is_told_and_the_shipped_values_hold(tmp_path: Path) -> None:
    root = write_library(tmp_path, {"trees/a.yml": GOOD, LOCAL: "values: [\n"})
    result = check_library(root, TODAY)
    assert [(f.rule, f.place.file, f.place.line) for f in result.findings] == [("yaml", LOCAL, 2)]
    assert result.library.settings["leak_watch"].value == "10"


# ---------------------------------------------------------------------- files that are missing


def test_missing_facts_count_as_empty(tmp_path: Path) -> None:
    (tmp_path / "trees").mkdir()
    library = open_library(tmp_path)
    assert library.trees == {} and library.known == frozenset() and library.sources_read == ()
    assert (library.hospital, library.fictional) == ("", False)
    for part in (library.settings, library.roles, library.marks, library.safety, library.cautions, library.sources):
        assert part == {}
    assert check_library(tmp_path, TODAY).findings == ()


@pytest.mark.parametrize("kind", FACTS)
def test_one_missing_fact_file_takes_nothing_else_away(tmp_path: Path, kind: str) -> None:
    root = write_library(tmp_path, {"trees/a.yml": tree_of("yaml/good/quoted-and-plain")})
    (root / "kb" / f"{kind}.yml").unlink(missing_ok=True)
    rules = {finding.rule for finding in check_library(root, TODAY).findings}
    named = {"cautions": {"unknown-caution"}, "sources": {"unknown-source"}, "settings": {"unknown-role"}}
    if kind == "settings":
        named["settings"] = {"unknown-role", "unknown-setting"}  # the caution of _kb names a setting
    assert rules == named.get(kind, set())


def test_a_folder_without_trees_is_no_library(tmp_path: Path) -> None:
    (tmp_path / "kb").mkdir()
    with pytest.raises(FileNotFoundError, match="no folder trees/ here"):
        open_library(tmp_path)


# ---------------------------------------------------------------------- files in odd places


@pytest.mark.parametrize("name", ["trees/gas/a.yml", "trees/a.yaml", "trees/a.YML", "trees/a.b.yml"])
def test_a_file_in_the_wrong_place_is_a_finding_and_no_tree(tmp_path: Path, name: str) -> None:
    """Nothing that looks like a tree is silently left out."""
    root = write_library(tmp_path, {name: GOOD})
    result = check_library(root, TODAY)
    assert [(f.rule, f.place.file, f.place.line) for f in result.findings][:1] == [("id-mismatch", name, 1)]


def test_what_is_no_yaml_is_left_alone(tmp_path: Path) -> None:
    root = write_library(tmp_path, {"trees/notes.md": "# notes\n", "trees/a.yml~": "x", "trees/a.yml": GOOD})
    (root / "trees" / "folder").mkdir()
    assert check_library(root, TODAY).findings == ()


def test_a_broken_tree_is_known_by_its_name(tmp_path: Path) -> None:
    library = open_library(
        write_library(tmp_path, {"trees/a.yml": "id: [", "trees/b.yml": GOOD.replace("id: a", "id: b")})
    )
    assert library.known == {"a", "b"} and list(library.trees) == ["b"]


def test_a_tree_of_another_id_goes_by_its_files_name(tmp_path: Path) -> None:
    library = open_library(write_library(tmp_path, {"trees/b.yml": GOOD}))
    assert [(key, tree.id) for key, tree in library.trees.items()] == [("b", "b")]


def test_trees_come_in_the_order_of_their_names_and_findings_in_that_of_their_places(tmp_path: Path) -> None:
    files = {f"trees/{key}.yml": GOOD.replace("id: a", f"id: {key}").replace("a1", "x") for key in ("c", "a", "b")}
    result = check_library(write_library(tmp_path, files), TODAY)
    assert list(result.library.trees) == ["a", "b", "c"]
    assert result.findings == tuple(sorted(result.findings, key=lambda finding: finding.sort_key))
    assert result.findings and result.errors and result.warnings
    assert result.errors + result.warnings == len(result.findings)


def test_articles_are_the_markdown_files_of_kb(tmp_path: Path) -> None:
    library = open_library(write_library(tmp_path, {"kb/weaning.md": "# Weaning\n", "kb/sub/other.md": "# Other\n"}))
    assert library.written == {"starting-up", "weaning"} and not library.articles


# ---------------------------------------------------------------------- a tree


def test_all_of_a_tree_is_in_the_model() -> None:
    source, tree = open_tree_text("schema/good/all-that-is-allowed")
    assert tree is not None and source.problems == ()
    look, push, over = tree.nodes["look"], tree.nodes["push"], tree.nodes["over-there"]
    assert (look.kind, look.text, look.takes, look.pump) == ("ask", "Is the lamp on?", 90.0, None)
    assert [(a.say, a.to, a.when, a.pump, a.anytime) for a in look.answers] == [
        ("It is on", "push", ("loose",), "moves", False),
        ("It is off", "call-now", None, "still", False),
    ]
    assert look.marks == {"blood-check"} and look.answers[0].marks == {"blood-clear"}
    assert push.marks == {"pump-stops", "call"} and push.fixes == ("loose",) and push.then == "again"
    assert tree.nodes["again"].answers[0].when == ("fixed",)
    assert tree.nodes["done"].marks == {"end-resolved", "resolved"} and tree.nodes["done"].meanwhile == "Stay."
    assert tree.nodes["call-now"].marks == {"call"} and tree.nodes["call-now"].fixes == ("worn",)
    assert (over.go, over.takes) == ("b/done", 3600.0)
    assert {key: (cause.say, cause.share) for key, cause in tree.causes.items()} == {
        "loose": ("It is loose", 70.0),
        "worn": ("It is worn", 29.5),
    }
    assert tree.harm.priority is Priority.LOW
    assert tree.review is not None and tree.review.next == "2027-09-14"
    # at any time: on every step but the one it leads to, never on an end
    assert [a.to for a in tree.answers_at(push)] == ["over", "over-there"]
    assert tree.answers_at(over) == ()


def open_tree_text(case: str) -> tuple[Source, Tree]:
    source = parse(tree_of(case), "trees/a.yml", "a", "tree")
    return source, build_tree(source)


def test_an_answer_at_any_time_is_not_offered_on_the_step_it_leads_to() -> None:
    _, tree = open_tree_text("cycle/bad/anytime-leads-back")
    assert [a.to for a in tree.answers_at(tree.nodes["look"])] == ["done", "push"]
    assert [a.to for a in tree.answers_at(tree.nodes["push"])] == ["look"]


@pytest.mark.parametrize(("text", "value"), [("20 s", 20), ("1.5 min", 90), ("2 h", 7200), ("0 s", 0)])
def test_times_in_seconds(text: str, value: float) -> None:
    assert seconds(text) == value


def test_a_tree_outside_any_library(tmp_path: Path) -> None:
    path = tmp_path / "some-name.yml"
    path.write_text(GOOD, "utf-8")
    source, tree = open_tree(path)
    assert tree is not None and tree.id == "a" and source.file == "some-name.yml"
    path.write_text("id: [", "utf-8")
    assert open_tree(path)[1] is None


# ---------------------------------------------------------------------- the stamp of the content


def stamped(text: str) -> str:
    return content_stamp(build_tree(parse(text, "a.yml", "a", "tree")))


def test_the_stamp_is_the_sha_256_of_canonical_json() -> None:
    """By hand: the tree as PyYAML's BaseLoader reads it, keys sorted, no blanks, UTF-8."""
    text = tree_of("unknown-setting/good/all-there").replace("Alarm a", "Älarm a")
    content = {
        key: value
        for key, value in yaml.load(text, yaml.CBaseLoader).items()
        if key not in ("review", "status", "aliases", "related")
    }
    canonical = json.dumps(content, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    assert stamped(text) == hashlib.sha256(canonical.encode("utf-8")).hexdigest()


@pytest.mark.parametrize(
    ("old", "new", "same"),
    [
        ("status: in-use", "status: withdrawn", True),
        ("aliases: [a1,", "aliases: [other,", True),
        ("by: lead,", "by: somebody,", True),
        ("summary: The alarm a sounds.", "summary:   'The alarm\n  a sounds.' # so", True),
        ("title: Alarm a", "# a comment\ntitle: Alarm a", True),
        ("say: It is on, to: done", "to: done, say: It is on", True),
        ("title: Alarm a", "title: Alarm A", False),
        ("to: call-now}", "to: done}", False),
        ("cautions: [patient-first]", "cautions: [balloon-must-not-rest]", False),
        ("severity: minor", "severity: reversible", False),
    ],
)
def test_what_changes_the_stamp(old: str, new: str, same: bool) -> None:
    assert old in GOOD
    assert (stamped(GOOD.replace(old, new)) == stamped(GOOD)) == same


# ---------------------------------------------------------------------- whatever lies in the folder


@given(
    st.sampled_from([*FACTS, "settings.local"]),
    st.one_of(st.binary(max_size=60), st.sampled_from([b"a: {}\n", b"- x\n", b"a: b\n"])),
)
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_no_fact_file_makes_check_raise_or_hides_the_trees(tmp_path: Path, kind: str, raw: bytes) -> None:
    bad = GOOD.replace("to: done}", "to: don}")
    root = write_library(tmp_path, {"trees/a.yml": bad, "kb/settings.local.yml": "values: {}\n"})
    (root / "kb" / f"{kind}.yml").write_bytes(raw)
    rules = [finding.rule for finding in check_library(root, TODAY).findings]
    assert "unknown-target" in rules
