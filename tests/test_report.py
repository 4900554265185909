"""The four ways in which findings are told: text with a caret, JSON, annotations, SARIF.

That SARIF output validates against the schema of OASIS is shown among the outside checks; here its content.
"""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from urllib.parse import unquote, urlsplit

import pytest
from hypothesis import given
from hypothesis import strategies as st

from alarmtrees import __version__
from alarmtrees.check.report import FORMATS, as_github, as_json, as_sarif, as_text
from alarmtrees.check.rules import RULES
from alarmtrees.check.run import CheckResult, check_library
from alarmtrees.model import Source
from alarmtrees.model.finding import Finding, Place, Severity, Step, cut_way, way_text
from alarmtrees.proof.analysis import Analysis
from cases.bundle import CASES, files_of, tree_of, write_library

TODAY = date(2026, 11, 25)


def checked(root: Path, case: str) -> CheckResult:
    files = files_of((CASES / f"{case}.txt").read_text("utf-8"))
    files.pop("findings")
    return check_library(write_library(root, files), TODAY)


def with_findings(root: Path, text: str, *findings: Finding) -> CheckResult:
    """A result of one file with findings made up for the test."""
    library = check_library(write_library(root, {}), TODAY).library
    source = Source("trees/a b.yml", "tree", "a b", text, None, ())
    library = replace(library, sources_read=(source,))
    return CheckResult(library, findings, Analysis(library))


def at(line: int, column: int, message: str = "it is wrong", file: str = "trees/a b.yml") -> Finding:
    return Finding("yaml", Severity.ERROR, Place(file, line, column), message)


# ---------------------------------------------------------------------- text


def test_text_shows_the_line_and_a_caret_under_the_place(tmp_path: Path) -> None:
    text = as_text(checked(tmp_path, "unknown-tree/bad/with-a-step"))
    assert text == (
        "trees/a.yml:18:27: error: there is no tree `zz` [unknown-tree]\n"
        "      call-now: {end: go, go: zz/look, say: See there.}\n"
        "                              ^\n"
        "1 trees, 1 errors, 0 warnings\n"
    )


def test_text_shows_the_way(tmp_path: Path) -> None:
    lines = as_text(checked(tmp_path, "wrong-remedy/bad/not-asked")).splitlines()
    assert lines[-2:] == ["    way: look “It hangs” → push → done", "1 trees, 1 errors, 0 warnings"]


def test_text_without_findings_is_the_count(tmp_path: Path) -> None:
    assert as_text(checked(tmp_path, "yaml/good/quoted-and-plain")) == "1 trees, 0 errors, 0 warnings\n"


@pytest.mark.parametrize(
    ("line", "column"),
    [
        ("say:\tvalue", 6),
        ("\t\tsay: value", 8),
        ("ä\u00fc: “value”", 5),
        ("😀: value", 4),
        ("plain: value", 8),
    ],
)
def test_the_caret_stands_under_its_character_after_tabs_and_other_letters(
    tmp_path: Path, line: str, column: int
) -> None:
    told = as_text(with_findings(tmp_path, f"first\n{line}\nlast\n", at(2, column))).splitlines()
    assert told[0] == f"trees/a b.yml:2:{column}: error: it is wrong [yaml]"
    assert "\t" not in told[1]
    # Both lines are printed with one cell a character: what is above the caret is the character meant.
    assert told[1][told[2].index("^")] == line[column - 1]
    assert told[2].strip() == "^"


@pytest.mark.parametrize("place", [(3, 1), (9, 1), (1, 40)])
def test_a_place_behind_the_end_is_no_trouble(tmp_path: Path, place: tuple[int, int]) -> None:
    told = as_text(with_findings(tmp_path, "first\nlast\n", at(*place)))
    assert told.startswith(f"trees/a b.yml:{place[0]}:{place[1]}: error: it is wrong [yaml]\n")


def test_a_file_that_could_not_be_read_has_no_line_to_show(tmp_path: Path) -> None:
    told = as_text(with_findings(tmp_path, "", at(1, 1), at(1, 1, file="kb/gone.yml")))
    assert "^" not in told and told.count("[yaml]") == 2


def test_files_with_the_line_ends_of_other_systems_show_the_right_line(tmp_path: Path) -> None:
    files = {"trees/a.yml": tree_of("unknown-tree/bad/with-a-step").replace("\n", "\r\n")}
    text = as_text(check_library(write_library(tmp_path, files), TODAY))
    assert "    " + "  call-now: {end: go, go: zz/look, say: See there.}\n" in text and "\r" not in text


def test_way_text() -> None:
    assert way_text((Step("a", "Yes"), Step("b", None), Step("c/d", None))) == "a “Yes” → b → c/d"


# ---------------------------------------------------------------------- JSON


def test_json_is_the_object_of_the_design(tmp_path: Path) -> None:
    """The object that other programs rely on, word by word."""
    told = json.loads(as_json(checked(tmp_path, "missing-status/bad/new-file")))
    assert list(told) == ["findings", "trees", "errors", "warnings"]
    assert (told["trees"], told["errors"], told["warnings"]) == (2, 2, 2)
    assert told["findings"][1] == {
        "rule": "missing-review",
        "severity": "error",
        "file": "trees/a.yml",
        "line": 1,
        "column": 5,
        "node": None,
        "message": "the tree has no `review`; have it reviewed, then run `alarmtrees sign`",
        "way": None,
    }


def test_json_carries_step_and_way(tmp_path: Path) -> None:
    (finding,) = json.loads(as_json(checked(tmp_path, "wrong-remedy/bad/not-asked")))["findings"]
    assert finding["node"] == "done"
    assert finding["way"] == [
        {"node": "look", "answer": "It hangs"},
        {"node": "push", "answer": None},
        {"node": "done", "answer": None},
    ]


def test_json_counts_broken_trees_too(tmp_path: Path) -> None:
    told = json.loads(as_json(checked(tmp_path, "yaml/bad/broken-hides-nothing")))
    assert (told["trees"], told["errors"], told["warnings"]) == (3, 3, 0)
    assert all(
        set(f) == {"rule", "severity", "file", "line", "column", "node", "message", "way"} for f in told["findings"]
    )


def test_json_gives_every_letter_back(tmp_path: Path) -> None:
    text = as_json(with_findings(tmp_path, "", at(1, 1, 'Größe “x” "y"\n\u2028')))
    assert json.loads(text)["findings"][0]["message"] == 'Größe “x” "y"\n\u2028'


# ---------------------------------------------------------------------- annotations


def test_github_lines_are_escaped_as_its_toolkit_does(tmp_path: Path) -> None:
    """The escapes of the `actions/toolkit` command module: % CR LF in the message, : and , too in a property."""
    finding = Finding(
        "yaml",
        Severity.WARNING,
        Place("trees/a,b:c%.yml", 3, 4),
        "50%: one,\r\ntwo",
        way=(Step("a", "x\ny"), Step("b", None)),
    )
    assert as_github(with_findings(tmp_path, "", finding)) == (
        "::warning file=trees/a%2Cb%3Ac%25.yml,line=3,col=4,title=yaml::50%25: one,%0D%0Atwo%0Away: a “x%0Ay” → b\n"
    )


def test_github_says_nothing_where_nothing_is_wrong(tmp_path: Path) -> None:
    assert as_github(checked(tmp_path, "yaml/good/quoted-and-plain")) == ""


@given(st.text(max_size=30), st.text(max_size=30))
def test_github_is_one_line_a_finding_and_can_be_read_back(message: str, file: str) -> None:
    finding = Finding("schema", Severity.ERROR, Place(file, 1, 2), message)
    line = FORMATS["github"](CheckResult(None, (finding,), None))  # type: ignore[arg-type]
    assert line.endswith("\n") and "\n" not in line[:-1] and "\r" not in line
    match = re.fullmatch(r"::error file=([^:,]*),line=1,col=2,title=schema::(.*)\n", line, re.DOTALL)
    assert match

    def back(text: str) -> str:
        for code, sign in (("%3A", ":"), ("%2C", ","), ("%0A", "\n"), ("%0D", "\r"), ("%25", "%")):
            text = text.replace(code, sign)
        return text

    assert (back(match[1]), back(match[2])) == (file, message)


# ---------------------------------------------------------------------- SARIF


def sarif(result: CheckResult) -> dict:
    told = json.loads(as_sarif(result))
    assert told["version"] == "2.1.0" and told["$schema"].endswith("sarif-2.1.0.json")
    (run,) = told["runs"]
    return run


def test_sarif_lists_every_rule_and_points_into_the_list(tmp_path: Path) -> None:
    run = sarif(checked(tmp_path, "missing-status/bad/new-file"))
    driver = run["tool"]["driver"]
    assert (driver["name"], driver["version"]) == ("alarmtrees", __version__)
    assert [rule["id"] for rule in driver["rules"]] == [rule.id for rule in RULES]
    for rule in driver["rules"]:
        assert rule["shortDescription"]["text"].endswith(".")
        assert "Bad" in rule["help"]["markdown"]
        assert rule["defaultConfiguration"]["level"] in ("error", "warning")
    assert len(run["results"]) == 4
    for result in run["results"]:
        assert driver["rules"][result["ruleIndex"]]["id"] == result["ruleId"]
    assert [result["level"] for result in run["results"]] == ["warning", "error", "warning", "error"]


def test_sarif_places_are_relative_to_the_root_and_count_characters(tmp_path: Path) -> None:
    run = sarif(checked(tmp_path, "unknown-tree/bad/with-a-step"))
    assert run["columnKind"] == "unicodeCodePoints"
    (result,) = run["results"]
    (location,) = result["locations"]
    assert location["physicalLocation"] == {
        "artifactLocation": {"uri": "trees/a.yml", "uriBaseId": "ROOT"},
        "region": {"startLine": 18, "startColumn": 27},
    }
    assert list(run["originalUriBaseIds"]) == ["ROOT"]
    assert location["logicalLocations"] == [{"name": "call-now", "kind": "member"}]
    assert result["message"]["text"] == "there is no tree `zz`"


@pytest.mark.parametrize("name", ["a b.yml", "a%20b.yml", "ä#b?.yml"])
def test_sarif_addresses_of_odd_file_names_lead_back_to_the_file(tmp_path: Path, name: str) -> None:
    """RFC 3986: a path in an address is percent-encoded, the percent sign as well."""
    run = sarif(with_findings(tmp_path, "", at(1, 1, file=f"trees/{name}")))
    uri = run["results"][0]["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    parts = urlsplit(uri)
    assert uri.isascii() and (parts.query, parts.fragment) == ("", "")
    assert unquote(parts.path) == f"trees/{name}"


def test_sarif_tells_the_way_as_a_code_flow_through_both_trees(tmp_path: Path) -> None:
    run = sarif(checked(tmp_path, "safety-rule/bad/carried-over"))
    flow = run["results"][0]["codeFlows"][0]["threadFlows"][0]["locations"]
    told = [
        (
            step["location"]["physicalLocation"]["artifactLocation"]["uri"],
            step["location"]["physicalLocation"]["region"]["startLine"],
            step["location"]["message"]["text"],
        )
        for step in flow
    ]
    assert told == [("trees/a.yml", 12, "Blood"), ("trees/a.yml", 24, "over"), ("trees/b.yml", 18, "b/renew")]


def test_sarif_has_no_flow_where_there_is_no_way(tmp_path: Path) -> None:
    run = sarif(checked(tmp_path, "yaml/bad/anchor"))
    assert "codeFlows" not in run["results"][0]
    assert "logicalLocations" not in run["results"][0]["locations"][0]


def test_sarif_doubles_braces_for_they_mean_placeholders_there(tmp_path: Path) -> None:
    """SARIF 2.1.0, 3.11.5: a brace that begins no placeholder is written twice."""
    (result, _) = sarif(checked(tmp_path, "unknown-setting/bad/lone-brace"))["results"]
    assert result["message"]["text"] == "a brace stands alone; write {{{{ for a brace, or {{name}} for a setting"


# ---------------------------------------------------------------------- much at once


@pytest.mark.parametrize("column", [1, 80, 81, 500, 920, 921, 1000])
def test_a_long_line_is_shown_round_its_caret(tmp_path: Path, column: int) -> None:
    line = "".join(chr(0x4E00 + number) for number in range(1000))
    told = as_text(with_findings(tmp_path, f"{line}\n", at(1, column))).splitlines()
    assert len(told[1]) <= 4 + 160 + 2
    assert told[1][told[2].index("^")] == line[column - 1]
    assert (told[1][4] == "…") == (column > 81) and (told[1][-1] == "…") == (column < 921)


LONG = tuple(Step(f"n{number}", "Yes") for number in range(5000))


def crowd(count: int) -> list[Finding]:
    return [replace(at(1, 1 + number), way=cut_way(LONG)) for number in range(count)]


@pytest.mark.parametrize("name", FORMATS)
def test_thousands_of_one_kind_are_told_as_the_first_and_how_many_more(tmp_path: Path, name: str) -> None:
    """One line of many faults, each with a long way: what is told does not grow with them."""
    line = "x" * 5000 + "\n"
    told = FORMATS[name](with_findings(tmp_path, line, *crowd(5000), at(1, 1, file="kb/other.yml")))
    assert told.count("it is wrong") == 21
    assert told.count("and 4,980 more of this kind in this file; mend those above first") == 1
    assert told.count(" 4,941 more ") == 20
    fewer = FORMATS[name](with_findings(tmp_path, line, *crowd(500), at(1, 1, file="kb/other.yml")))
    assert abs(len(told) - len(fewer)) < 20


def test_the_last_one_is_told_rather_than_counted(tmp_path: Path) -> None:
    assert as_text(with_findings(tmp_path, "x\n", *crowd(21))).count("it is wrong") == 21


def test_all_are_counted_and_only_those_told_carry_their_way(tmp_path: Path) -> None:
    steps = "".join(f"  n{n}:\n    do:\n      - Push.\n    marks: [cold]\n    then: n{n + 1}\n" for n in range(300))
    tree = tree_of("safety-rule/bad/absence").partition("start:")[0]
    end = "  n300: {end: call, call: specialist-on-call, say: Help is needed.}\n"
    end += "cautions: [patient-first]\nsources: [common-practice]\n"
    rule = "never: {say: Never., absence: {of: cold}, reason: It hurts., sources: [common-practice]}\n"
    rule += "then: {say: Help., response: {of: cold, by: warm}, reason: It hurts., sources: [common-practice]}\n"
    marks = (CASES / "_kb" / "marks.yml").read_text("utf-8") + "cold: {say: cold}\nwarm: {say: warm}\n"
    files = {"trees/a.yml": f"{tree}start: n0\nnodes:\n{steps}{end}", "kb/safety.yml": rule, "kb/marks.yml": marks}
    result = check_library(write_library(tmp_path, files), TODAY)
    broken = [finding for finding in result.findings if finding.rule == "safety-rule"]
    assert len(broken) == 600 and json.loads(as_json(result))["errors"] == result.errors
    assert [bool(finding.way) for finding in broken] == [True] * 21 + [False] * 579
    assert max(len(finding.way or ()) for finding in broken) == 60


def test_a_message_with_a_name_of_any_length_is_cut(tmp_path: Path) -> None:
    tree = tree_of("unknown-tree/bad/with-a-step").replace("zz/", f"{'z' * 9_000}/")
    (finding,) = check_library(write_library(tmp_path, {"trees/a.yml": tree}), TODAY).findings
    assert finding.message.startswith("there is no tree `zzz") and len(finding.message) < 1000


def test_every_format_is_offered() -> None:
    assert list(FORMATS) == ["text", "json", "sarif", "github"]
    assert FORMATS["text"] is as_text
