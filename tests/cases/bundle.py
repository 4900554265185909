"""Small libraries for tests: written out over the common facts of `_kb`, and the text form of a case."""

from __future__ import annotations

import re
from pathlib import Path

from alarmtrees.model.finding import Finding, way_text
from lone import stamp_of

CASES = Path(__file__).parent
REPO = CASES.parents[1]

_SECTION = re.compile(r"^-- (\S+) --\n", re.MULTILINE)


def case_paths() -> list[Path]:
    """All cases: <rule>/{good,bad}/<name>.txt."""
    return sorted(CASES.glob("[a-z]*/*/*.txt"))


def files_of(bundle: str) -> dict[str, str]:
    """The sections of a case, by name; the words before the first are left out."""
    parts = _SECTION.split(bundle)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


def tree_of(case: str) -> str:
    """The tree `a` of a case, named as `<rule>/good/<name>`."""
    return files_of((CASES / f"{case}.txt").read_text("utf-8"))["trees/a.yml"]


def write_library(root: Path, files: dict[str, str]) -> Path:
    """Write files, named by their path below the root, over the common facts; signs what asks for it."""
    common = {f"kb/{path.name}": path.read_text("utf-8") for path in (CASES / "_kb").iterdir()}
    (root / "trees").mkdir(parents=True, exist_ok=True)
    for name, text in {**common, **files}.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="")
        if "content: signed" in text and (stamp := stamp_of(path)):
            path.write_text(text.replace("content: signed", f"content: {stamp}"), "utf-8", newline="")
    return root


def rendered(findings: tuple[Finding, ...]) -> str:
    """Findings as a case holds them: a line each, and the way below."""
    lines = []
    for finding in findings:
        place = finding.place
        lines.append(
            f"{place.file}:{place.line}:{place.column}: {finding.severity}: {finding.message} [{finding.rule}]"
        )
        if finding.way:
            lines.append(f"  way: {way_text(finding.way)}")
    return "".join(f"{line}\n" for line in lines)
