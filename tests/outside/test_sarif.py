"""SARIF output against the OASIS schema, and against what the standard asks beyond its schema.

Source: Static Analysis Results Interchange Format (SARIF) Version 2.1.0, OASIS Standard, 27 March 2020; its
JSON Schema lies beside this file (where it comes from: sarif-2.1.0.schema.LICENSE.txt). It is a draft-04
schema and is read as such. Section numbers in the comments are those of the standard.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft4Validator
from test_breaking import MAKERS
from tree_text import EVERY, REPOSITORY, TODAY, Bench

from alarmtrees.check.report import FORMATS
from alarmtrees.check.rules import RULES
from alarmtrees.model.finding import told
from alarmtrees.terminal.cli import main

SCHEMA = json.loads((Path(__file__).parent / "sarif-2.1.0.schema.json").read_text(encoding="utf-8"))


@pytest.fixture(scope="module")
def validator() -> Draft4Validator:
    assert SCHEMA["$schema"] == "http://json-schema.org/draft-04/schema#"
    Draft4Validator.check_schema(SCHEMA)
    return Draft4Validator(SCHEMA)


def _faults(validator: Draft4Validator, log: Any) -> list[str]:
    return [f"{list(fault.absolute_path)}: {fault.message}" for fault in validator.iter_errors(log)]


def test_the_schema_finds_faults(validator: Draft4Validator) -> None:
    """The validator is no dummy."""
    assert _faults(validator, {"version": "2.1.0"})
    assert _faults(validator, {"version": "2.0.0", "runs": []})
    assert not _faults(validator, {"version": "2.1.0", "runs": []})


def test_the_shipped_library(validator: Draft4Validator, capsys: pytest.CaptureFixture[str]) -> None:
    """What the program prints for this repository."""
    main(["check", "--root", str(REPOSITORY), "--format", "sarif", "--today", TODAY.isoformat()])
    assert not _faults(validator, json.loads(capsys.readouterr().out))


def test_broken_libraries(validator: Draft4Validator, benches: dict[str, Bench]) -> None:
    """A library broken in many ways: every log is valid, and together they tell most rules, some with ways."""
    seen: set[str] = set()
    flows = 0
    bench = benches["cardiac-arrest"]
    path = bench.root / bench.file
    every = [broken for maker in MAKERS for broken in maker(bench.script, bench)]
    for broken in [*{broken.rule: broken for broken in every}.values(), *every[:: 1 if EVERY else 192]]:
        try:
            path.write_text(broken.text, encoding="utf-8")
            result = bench.check()
        finally:
            path.write_text(bench.script.text, encoding="utf-8")
        log = json.loads(FORMATS["sarif"](result))
        assert not _faults(validator, log), broken.kind
        for entry, finding in zip(log["runs"][0]["results"], told(result.findings), strict=True):
            _beyond_the_schema(log["runs"][0], entry)
            seen.add(entry["ruleId"])
            if finding.way:
                flows += 1
                assert len(entry["codeFlows"][0]["threadFlows"][0]["locations"]) == len(finding.way)
    assert len(seen) >= 30, f"only {len(seen)} rules were told"
    assert flows >= 10


def _beyond_the_schema(run: dict[str, Any], entry: dict[str, Any]) -> None:
    rules = run["tool"]["driver"]["rules"]
    assert rules[entry["ruleIndex"]]["id"] == entry["ruleId"]  # 3.27.6
    assert len({rule["id"] for rule in rules}) == len(rules) == len(RULES)  # 3.49.3
    assert entry["message"]["text"]  # 3.11.8
    flow = entry.get("codeFlows", [{"threadFlows": [{"locations": []}]}])[0]["threadFlows"][0]["locations"]
    for location in [*entry["locations"], *(step["location"] for step in flow)]:
        physical = location["physicalLocation"]
        where = physical["artifactLocation"]
        assert where["uriBaseId"] in run["originalUriBaseIds"]  # 3.4.4
        assert not where["uri"].startswith("/") and "\\" not in where["uri"]  # 3.4.3: relative
        assert physical["region"]["startLine"] >= 1 and physical["region"]["startColumn"] >= 1  # 3.30.5, 3.30.6
