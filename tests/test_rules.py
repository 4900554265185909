"""Every rule has its documentation, and good and bad cases with exact findings.

A case is one text file, tests/cases/<rule>/{good,bad}/<name>.txt: first what it shows, then the files of
a small library, each behind a line `-- path --`, and behind `-- findings --` exactly what `check` finds
there. The facts of tests/cases/_kb are there unless the case brings its own file of that name (there are no
safety rules among them). `content: signed` in a review stands for the right stamp of that tree.

After a change that is meant, `UPDATE_CASES=1 pytest tests/test_rules.py` writes the findings anew: read every
difference before you keep it.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from datetime import date
from pathlib import Path

import pytest
import yaml

from alarmtrees.check import rules
from alarmtrees.check.rules import FAMILIES, RULES, Rule
from alarmtrees.check.run import check_library
from alarmtrees.reading.load import parse
from cases.bundle import CASES, case_paths, files_of, rendered, write_library

TODAY = date(2026, 11, 25)
RULES_FOLDER = Path(rules.__file__).parent

_BLOCK = re.compile(r"^```yaml\n(.*?)^```$", re.MULTILINE | re.DOTALL)


@pytest.mark.parametrize("path", case_paths(), ids=lambda path: str(path.relative_to(CASES).with_suffix("")))
def test_case_finds_exactly_what_it_says(path: Path, tmp_path: Path) -> None:
    bundle = path.read_text("utf-8")
    files = files_of(bundle)
    expected = files.pop("findings")
    findings = check_library(write_library(tmp_path, files), TODAY).findings
    found = rendered(findings)
    if os.environ.get("UPDATE_CASES"):
        path.write_text(bundle.partition("-- findings --\n")[0] + "-- findings --\n" + found, "utf-8")
    else:
        assert found == expected
    rule, kind = path.parts[-3:-1]
    hit = any(finding.rule == rule for finding in findings)
    assert hit == (kind == "bad"), f"a {kind} case of {rule}"


def test_one_rule_a_file_named_by_its_id() -> None:
    names = {path.stem.replace("_", "-") for path in RULES_FOLDER.glob("*.py")} - {"--init--", "base"}
    assert [rule.id for rule in RULES] == sorted(names, key=lambda name: (FAMILIES.index(by_id(name).family), name))


def by_id(name: str) -> Rule:
    (found,) = (rule for rule in RULES if rule.id == name)
    return found


def test_a_new_file_is_a_new_rule(tmp_path: Path) -> None:
    """Nothing but the file itself has to be written: a copy of the package with one more holds one rule more."""
    copy = tmp_path / "alarmtrees"
    shutil.copytree(RULES_FOLDER.parents[1], copy, ignore=shutil.ignore_patterns("__pycache__"))
    twin = (copy / "check" / "rules" / "single_answer.py").read_text("utf-8")
    (copy / "check" / "rules" / "only_one.py").write_text(twin, "utf-8")
    code = (
        "from alarmtrees.check.rules import RULES; print(*(r.id for r in RULES if r.id.startswith('only')), len(RULES))"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=tmp_path, env={"PYTHONPATH": str(tmp_path)}, capture_output=True
    )
    assert done.stdout.decode().split() == ["only-one", str(len(RULES) + 1)], done.stderr


def test_no_case_belongs_to_a_rule_that_is_gone() -> None:
    kinds = {path.relative_to(CASES).parts[:2] for path in CASES.rglob("*.txt")}
    ids = {rule.id for rule in RULES}
    assert {rule for rule, kind in kinds if rule != "_kb"} == ids
    assert {kind for rule, kind in kinds if rule != "_kb"} == {"good", "bad"}


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_every_rule_has_a_good_case_and_two_bad_ones(rule) -> None:
    assert list((CASES / rule.id / "good").glob("*.txt"))
    assert len(list((CASES / rule.id / "bad").glob("*.txt"))) >= 2


@pytest.mark.parametrize("path", case_paths(), ids=lambda path: str(path.relative_to(CASES).with_suffix("")))
def test_every_case_says_in_words_what_it_shows(path: Path) -> None:
    words = path.read_text("utf-8").partition("\n-- ")[0].strip()
    assert words.endswith(".")
    assert len(words.split()) > 1 or path.parts[-2] == "bad"


def examples(doc: str) -> tuple[list[str], list[str]]:
    """The YAML of a rule's documentation, good and bad."""
    head, bad = re.split(r"^Bad\b", doc, maxsplit=1, flags=re.MULTILINE)
    good = re.split(r"^Good\b", head, maxsplit=1, flags=re.MULTILINE)[1]
    return _BLOCK.findall(good), _BLOCK.findall(bad)


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_documentation_says_what_and_why_and_shows_both(rule) -> None:
    first = rule.doc.partition("\n")[0]
    assert (first.endswith(".") and first[0].isupper()) or first.startswith("`")
    assert re.search(r"^Good\b.*:$|^Good: ", rule.doc, re.MULTILINE), "no good example"
    assert re.search(r"^Bad\b.*:$|^Bad: ", rule.doc, re.MULTILINE), "no bad example"
    assert examples(rule.doc)[1], "the bad example holds no YAML"
    # What is wrong alone is no documentation: a paragraph before the example, or the first line, says why.
    assert rule.about


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.id)
def test_examples_of_the_documentation_parse(rule) -> None:
    good, bad = examples(rule.doc)
    kind = "stories" if rule.family == "stories" else "tree"
    for text in good:
        assert parse(text, "good", "good", kind).problems == (), text
        assert isinstance(yaml.load(text, yaml.CBaseLoader), list if kind == "stories" else dict)
    read_only = {"yaml", "lost-text", "duplicate-key"}
    for text in bad:
        problems = {problem.rule for problem in parse(text, "bad", "bad", kind).problems}
        assert problems == ({rule.id} if rule.id in read_only else set()), text


def test_files_of_a_bundle() -> None:
    assert files_of("Words.\n-- a.yml --\nx: 1\n-- findings --\n") == {"a.yml": "x: 1\n", "findings": ""}
