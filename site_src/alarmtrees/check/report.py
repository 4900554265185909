"""Reports findings: as text for people, and as JSON, SARIF or annotations for machines."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any
from urllib.parse import quote

from .. import __version__
from ..model.finding import Finding, Severity, Step, annotation, told, way_text
from .rules import RULES
from .run import CheckResult

_SHOWN = 160
"""How much of a source line is shown."""


def as_text(result: CheckResult) -> str:
    """Findings as `path:line:col: severity: message [rule]`, each with its source line and a caret."""
    lines = {source.file: source.text.splitlines() for source in result.library.sources_read}
    parts = [_one_text(finding, lines.get(finding.place.file, [])) for finding in told(result.findings)]
    count = f"{len(result.library.known)} trees, {result.errors} errors, {result.warnings} warnings"
    return "\n".join([*parts, count]) + "\n"


def _one_text(finding: Finding, lines: list[str]) -> str:
    place = finding.place
    text = f"{place.file}:{place.line}:{place.column}: {finding.severity}: {finding.message} [{finding.rule}]"
    if 0 < place.line <= len(lines):
        text += "".join(f"\n    {line}" for line in _pointed(lines[place.line - 1], place.column))
    if finding.way:
        text += f"\n    way: {way_text(finding.way)}"
    return text


def _pointed(line: str, column: int) -> tuple[str, str]:
    """A line and below it a caret; of a long line what stands round the place, with … where it goes on.

    >>> _pointed("say: x", 6)
    ('say: x', '     ^')
    """
    begin = max(0, min(column - 1 - _SHOWN // 2, len(line) - _SHOWN))
    before, after = "…" if begin else "", "…" if begin + _SHOWN < len(line) else ""
    shown = line[begin : begin + _SHOWN].expandtabs(1)
    return f"{before}{shown}{after}", " " * (len(before) + min(column - 1 - begin, _SHOWN)) + "^"


def as_json(result: CheckResult) -> str:
    """Findings as one JSON object."""
    return _dump(
        {
            "findings": [_one_json(finding) for finding in told(result.findings)],
            "trees": len(result.library.known),
            "errors": result.errors,
            "warnings": result.warnings,
        }
    )


def _one_json(finding: Finding) -> dict[str, Any]:
    return {
        "rule": finding.rule,
        "severity": str(finding.severity),
        "file": finding.place.file,
        "line": finding.place.line,
        "column": finding.place.column,
        "node": finding.node,
        "message": finding.message,
        "way": None if finding.way is None else [{"node": s.node, "answer": s.answer} for s in finding.way],
    }


def as_github(result: CheckResult) -> str:
    """Findings as workflow commands, which code hosts show beside the changed lines."""
    return "".join(_one_github(finding) for finding in told(result.findings))


def _one_github(finding: Finding) -> str:
    message = finding.message + (f"\nway: {way_text(finding.way)}" if finding.way else "")
    return annotation(str(finding.severity), finding.place, finding.rule, message)


def as_sarif(result: CheckResult) -> str:
    """Findings as a log of SARIF 2.1.0 (OASIS); the shortest way stands as a code flow."""
    rules = [
        {
            "id": rule.id,
            "shortDescription": {"text": rule.doc.strip().splitlines()[0]},
            "help": {"text": rule.doc.strip(), "markdown": rule.doc.strip()},
            "defaultConfiguration": {"level": str(rule.severity)},
            "properties": {"family": rule.family},
        }
        for rule in RULES
    ]
    driver = {"name": "alarmtrees", "version": __version__, "rules": rules}
    run = {
        "tool": {"driver": driver},
        "columnKind": "unicodeCodePoints",
        "originalUriBaseIds": {"ROOT": {"description": {"text": "The library's root folder."}}},
        "results": [_one_sarif(finding, result) for finding in told(result.findings)],
    }
    return _dump({"$schema": "https://json.schemastore.org/sarif-2.1.0.json", "version": "2.1.0", "runs": [run]})


_INDEX = {rule.id: index for index, rule in enumerate(RULES)}


def _one_sarif(finding: Finding, result: CheckResult) -> dict[str, Any]:
    place = finding.place
    entry: dict[str, Any] = {
        "ruleId": finding.rule,
        "ruleIndex": _INDEX[finding.rule],
        "level": "error" if finding.severity is Severity.ERROR else "warning",
        "message": {"text": _literal(finding.message)},
        "locations": [_location(place.file, place.line, place.column, finding.node)],
    }
    if finding.way:
        trees = result.library.trees.values()
        tree = next((t for t in trees if place.file in (t.file, f"kb/stories/{t.id}.yml")), None)
        steps = [_flow_step(step, tree.id if tree else "", result) for step in finding.way]
        entry["codeFlows"] = [{"threadFlows": [{"locations": steps}]}]
    return entry


def _location(file: str, line: int, column: int, node: str | None) -> dict[str, Any]:
    location: dict[str, Any] = {
        "physicalLocation": {
            "artifactLocation": {"uri": quote(file), "uriBaseId": "ROOT"},
            "region": {"startLine": line, "startColumn": column},
        }
    }
    if node:
        location["logicalLocations"] = [{"name": node, "kind": "member"}]
    return location


def _flow_step(step: Step, home: str, result: CheckResult) -> dict[str, Any]:
    tree_id, _, node_id = step.node.rpartition("/")
    tree = result.library.trees.get(tree_id or home)
    node = tree.nodes.get(node_id) if tree else None
    place = node.place if node else None
    location = _location(place.file, place.line, place.column, step.node) if place else {}
    return {"location": {**location, "message": {"text": _literal(step.answer or step.node)}}}


def _literal(text: str) -> str:
    """A message in which a brace begins no placeholder (SARIF 2.1.0, 3.11.5)."""
    return text.replace("{", "{{").replace("}", "}}")


def _dump(value: Any) -> str:
    return json.dumps(value, indent=2) + "\n"


FORMATS: dict[str, Callable[[CheckResult], str]] = {
    "text": as_text,
    "json": as_json,
    "sarif": as_sarif,
    "github": as_github,
}
