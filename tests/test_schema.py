"""The schemas themselves, the editor's line that points to them, and what is said of common mistakes."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator
from jsonschema.validators import validator_for

from alarmtrees.check.run import check_library
from alarmtrees.reading import offered as offering
from alarmtrees.reading.load import parse
from alarmtrees.reading.open import FACTS, LOCAL_SETTINGS
from alarmtrees.reading.schema import problems, schema_folder, schema_of, spot_of
from cases.bundle import REPO, tree_of

SCHEMAS = sorted((REPO / "schema").glob("*.json"))
MODELINE = re.compile(r"# yaml-language-server: \$schema=(\S+)\n")


class Core(yaml.SafeLoader):
    """PyYAML with the core schema of YAML 1.2.2, section 10.3.2."""

    yaml_implicit_resolvers: dict[str, Any] = {}  # noqa: RUF012


for _tag, _shape in {
    "null": r"null|Null|NULL|~|",
    "bool": r"true|True|TRUE|false|False|FALSE",
    "int": r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+",
    "float": r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|[-+]?\.(inf|Inf|INF)|\.(nan|NaN|NAN)",
}.items():
    Core.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(f"^(?:{_shape})$"), None)


def own_yaml() -> list[Path]:
    """Every YAML file that somebody edits by hand: trees, facts, calculators, and the common facts of the cases."""
    folders = [REPO / "trees", REPO / "kb", REPO / "kb" / "calculators", REPO / "tests" / "cases" / "_kb"]
    return [path for folder in folders for path in sorted(folder.glob("*.yml"))]


def parts(schema: Any, path: str = "#") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every place of a schema that describes a property, an entry, or a definition, with its path."""
    if isinstance(schema, dict):
        for word in ("properties", "$defs"):
            for name, part in schema.get(word, {}).items():
                if part is not False:
                    yield f"{path}/{word}/{name}", part
                yield from parts(part, f"{path}/{word}/{name}")
        for word in ("additionalProperties", "items", "if", "then", "else", "not"):
            part = schema.get(word)
            if isinstance(part, dict):
                if word == "additionalProperties":
                    yield f"{path}/{word}", part
                yield from parts(part, f"{path}/{word}")
        for word in ("anyOf", "oneOf", "allOf"):
            for index, part in enumerate(schema.get(word, [])):
                yield from parts(part, f"{path}/{word}/{index}")


def referred(part: dict[str, Any]) -> str:
    """The name of the definition that a part stands for, or nothing."""
    return str(part.get("$ref", "")).removeprefix("#/$defs/")


def is_shape(part: dict[str, Any]) -> bool:
    """Whether a definition is one of the small ones, such as an id or a date, that schemas share."""
    return "title" in part and "description" not in part


def patterns(schema: Any, path: str = "#") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every part of a schema that holds a text against a pattern, with its path."""
    if isinstance(schema, dict):
        if isinstance(schema.get("pattern"), str):
            yield path, schema
        for name, part in schema.items():
            yield from patterns(part, f"{path}/{name}")
    elif isinstance(schema, list):
        for index, part in enumerate(schema):
            yield from patterns(part, f"{path}/{index}")


def test_there_is_one_schema_a_kind() -> None:
    others = {"tree", "article", "calculator", "stories", "approved"}
    assert {path.name.removesuffix(".schema.json") for path in SCHEMAS} == {*others, *FACTS}
    assert schema_folder().resolve() == (REPO / "schema").resolve()


@pytest.mark.parametrize("path", SCHEMAS, ids=lambda path: path.name)
def test_schema_is_valid_against_the_meta_schema(path: Path) -> None:
    # The meta-schema of JSON Schema 2020-12, as shipped by the jsonschema library.
    schema = json.loads(path.read_text("utf-8"))
    assert schema["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    assert validator_for(schema) is Draft202012Validator
    Draft202012Validator.check_schema(schema)
    assert schema["$id"] == f"urn:alarmtrees:schema:{path.name.removesuffix('.schema.json')}"


@pytest.mark.parametrize("path", SCHEMAS, ids=lambda path: path.name)
def test_every_property_is_described(path: Path) -> None:
    schema = json.loads(path.read_text("utf-8"))
    defined = schema.get("$defs", {})
    bare = [
        where
        for where, part in parts(schema)
        # in an `if` a property is a condition; a shape such as an id says by its title what it is
        if "/if/" not in where
        and not is_shape(part)
        and not str({**defined.get(referred(part), {}), **part}.get("description", "")).endswith(".")
    ]
    assert bare == []
    assert schema["title"] and schema["description"]


@pytest.mark.parametrize("path", SCHEMAS, ids=lambda path: path.name)
def test_every_mapping_is_closed_and_every_reference_is_there(path: Path) -> None:
    schema = json.loads(path.read_text("utf-8"))
    for where, part in [("#", schema), *parts(schema)]:
        if "properties" in part and part.get("type") == "object":
            rest = part.get("additionalProperties", True)
            assert rest is False or (isinstance(rest, dict) and rest), where
            assert set(part.get("required", ())) <= set(part["properties"]), where
        if "$ref" in part:
            assert referred(part) in schema["$defs"], where


def test_a_shape_is_the_same_in_all_schemas_and_each_says_what_it_is() -> None:
    """A schema must be whole by itself, for editors; so what several share stands in each, word for word."""
    shapes: dict[str, dict[str, Any]] = {}
    for path in SCHEMAS:
        schema = json.loads(path.read_text("utf-8"))
        text = path.read_text("utf-8")
        for name, part in schema.get("$defs", {}).items():
            assert f'"#/$defs/{name}"' in text, f"{path.name} does not use {name}"
            if is_shape(part):
                assert shapes.setdefault(name, part) == part, f"{name} in {path.name}"
    assert {"id", "ids", "id-or-ids", "name", "date", "time", "number"} <= shapes.keys()


def test_every_pattern_stands_once_and_has_words_for_the_message() -> None:
    homes: dict[str, set[str]] = {}
    for path in SCHEMAS:
        for where, part in patterns(json.loads(path.read_text("utf-8"))):
            assert part.get("title"), f"{path.name} {where}"
            homes.setdefault(part["pattern"], set()).add(where)
    assert len(homes) > 15
    assert [pattern for pattern, places in homes.items() if len(places) > 1] == []


def test_scripts_know_an_id_by_the_same_pattern() -> None:
    wanted = schema_of("tree")["$defs"]["id"]["pattern"].strip("^$")
    found = [
        shape.replace("(?:", "(")
        for path in sorted((REPO / "site_src" / "theme" / "assets").glob("*.js"))
        for shape in re.findall(r"\[a-z0-9\]\+\([^)]*\)\*", path.read_text("utf-8"))
    ]
    assert found and set(found) == {wanted}


def test_a_check_of_properties_would_see_one_that_is_bare() -> None:
    assert [where for where, _ in parts({"properties": {"a": {"items": {"properties": {"b": {}}}}}})] == [
        "#/properties/a",
        "#/properties/a/items/properties/b",
    ]


@pytest.mark.parametrize("path", own_yaml(), ids=lambda path: path.name)
def test_the_editors_line_points_to_the_schema_of_the_kind(path: Path) -> None:
    line = MODELINE.match(path.read_text("utf-8"))
    assert line, "the first line names no schema"
    kind = {"trees": "tree", "calculators": "calculator"}.get(path.parent.name, path.stem)
    offered = kind in offering.KINDS and "cases" not in path.parts
    folder = REPO / offering.FOLDER if offered else REPO / "schema"
    assert (path.parent / line[1]).resolve() == (folder / f"{kind}.schema.json").resolve()
    assert (path.parent / line[1]).is_file()


@pytest.mark.parametrize("path", own_yaml(), ids=lambda path: path.name)
def test_shipped_files_fit_as_an_editor_reads_them(path: Path) -> None:
    """Editors read by YAML 1.2: 15 is a number there, `on` and a day are text. A file must fit either way."""

    kind = {"trees": "tree", "calculators": "calculator"}.get(path.parent.name, path.stem)
    schema = json.loads((REPO / "schema" / f"{kind}.schema.json").read_text("utf-8"))
    document = yaml.load(path.read_text("utf-8"), Core)
    assert [error.message for error in Draft202012Validator(schema).iter_errors(document)] == []


# ---------------------------------------------------------------------- what is said

GOOD = tree_of("unknown-cause/good/all-there")


def said(text: str, kind: str = "tree") -> list[tuple[int, int, str]]:
    source = parse(text, "a.yml", "a", kind)
    assert source.problems == ()
    return [(*problem.spot, problem.message) for problem in problems(source)]


# The lines of GOOD that the mistakes below are made in, so that each place can be looked up.
LINES = """\
 1 id: a
 5 about: gas
10 causes:
11   loose: {say: It is loose, share: 60}
13 start: look
14 nodes:
15   look:
16     ask: What is seen?
17     answers:
18       - {say: It is loose, to: push, when: [loose]}
20   push:
21     do:
23     fixes: [loose]
24     then: again
29       - {say: It is off, to: call-now}
30   done: {end: resolved, say: All is well.}
31   call-now: {end: call, call: specialist-on-call, say: Help is needed., fixes: [worn]}
"""

MISTAKES = {
    "unknown key with a guess": (
        ("    fixes: [loose]", "    fixs: [loose]"),
        (23, 5),
        "`push` of `nodes` has no key `fixs`; allowed: do, then, fixes, pump, call, why, picture, marks, takes, "
        "cautions, sources (did you mean `fixes`?)",
    ),
    "unknown key without a guess": (
        ("    fixes: [loose]", "    zzz: [loose]"),
        (23, 5),
        "`push` of `nodes` has no key `zzz`; allowed: do, then, fixes, pump, call, why, picture, marks, takes, "
        "cautions, sources",
    ),
    "key of another kind of step": (
        ("    fixes: [loose]", "    answers: [loose]"),
        (23, 5),
        "`push` of `nodes` has no key `answers`; allowed: do, then, fixes, pump, call, why, picture, marks, takes, "
        "cautions, sources",
    ),
    "missing key of the tree": (
        ("start: look\n", ""),
        (1, 1),
        "the file lacks `start`: the first step.",
    ),
    "missing answers": (
        ("    answers:\n      - {say: It is on, to: done, when: fixed}\n      - {say: It is off, to: call-now}\n", ""),
        (25, 3),
        "`again` of `nodes` lacks `answers`: two to four answers.",
    ),
    "missing call": (
        ("call: specialist-on-call, ", ""),
        (31, 3),
        "`call-now` of `nodes` lacks `call`: whom to call; a role from kb/settings.yml.",
    ),
    "missing target": (
        ("{say: It is off, to: call-now}", "{say: It is off}"),
        (29, 9),
        "item 2 of `answers` of `again` lacks `to`: the step this leads to.",
    ),
    "wrong word": (
        ("about: gas", "about: gass"),
        (5, 8),
        "`about` is “gass”; allowed: patient, trigger, pressure, gas, power, timing (did you mean `gas`?)",
    ),
    "no such end": (
        ("end: resolved", "end: stop"),
        (30, 15),
        "`end` of `done` of `nodes` is “stop”; allowed: resolved, call, go",
    ),
    "two kinds in one step": (
        ("    do:\n", "    ask: Push it?\n    do:\n"),
        (20, 3),
        "`push` of `nodes` needs exactly one of `ask`, `do`, `end`; it has `ask` and `do`",
    ),
    "no kind": (
        ("    ask: What is seen?\n", ""),
        (15, 3),
        "`look` of `nodes` needs exactly one of `ask`, `do`, `end`; it has none",
    ),
    "takes without a unit": (
        ("    fixes: [loose]", "    takes: 20"),
        (23, 12),
        "“20” is not a time such as `20 s` or `2 min`",
    ),
    "takes in words": (
        ("    fixes: [loose]", "    takes: two minutes"),
        (23, 12),
        "“two minutes” is not a time such as `20 s` or `2 min`",
    ),
    "negative takes": (
        ("    fixes: [loose]", "    takes: -5 s"),
        (23, 12),
        "“-5 s” is not a time such as `20 s` or `2 min`",
    ),
    "twice in a list": (
        ("    fixes: [loose]", "    fixes: [loose, worn, loose]"),
        (23, 26),
        "“loose” stands twice in `fixes` of `push` of `nodes`; once is enough",
    ),
    "empty text": (
        ("say: All is well.", 'say: ""'),
        (30, 30),
        "`say` of `done` of `nodes` is empty; write it, or leave the key out",
    ),
    "empty list": (
        ("    fixes: [loose]", "    fixes: []"),
        (23, 5),
        "`fixes` of `push` of `nodes` is empty; write it, or leave the key out",
    ),
    "text for a list": (
        ("    fixes: [loose]", "    fixes: loose"),
        (23, 12),
        "`fixes` of `push` of `nodes` must be a list, not a text",
    ),
    "mapping for a text": (
        ("    then: again", "    then: {to: again}"),
        (24, 5),
        "`then` of `push` of `nodes` must be a text, not a mapping of keys and values",
    ),
    "mapping for a word or list": (
        ("when: [loose]", "when: {is: loose}"),
        (18, 38),
        "`when` of item 1 of `answers` must be a text or a list, not a mapping of keys and values",
    ),
    "capitals in an id": (
        ("  loose: {say", "  Loose: {say"),
        (11, 3),
        "“Loose” is not an id in small letters and digits, joined by -",
    ),
    "the word fixed as a cause": (
        ("  loose: {say", "  fixed: {say"),
        (11, 3),
        "“fixed” has a meaning of its own here; choose another id",
    ),
    "share in words": (
        ("share: 60", "share: most"),
        (11, 36),
        "“most” is not a number such as 70",
    ),
    "long value cut short": (
        ("about: gas", f"about: {'x' * 60}"),
        (5, 8),
        f"`about` is “{'x' * 39}…”; allowed: patient, trigger, pressure, gas, power, timing",
    ),
    "day written otherwise": (
        ("on: 2026-09-14", "on: 14 September 2026"),
        (34, 24),
        "“14 September 2026” is not a date such as 2026-09-14",
    ),
}


def test_the_places_below_are_those_of_the_text() -> None:
    lines = GOOD.splitlines()
    for row in LINES.splitlines():
        number, text = int(row[:2]), row[3:]
        assert lines[number - 1] == text


@pytest.mark.parametrize(("change", "spot", "message"), MISTAKES.values(), ids=MISTAKES)
def test_common_mistake_is_told_once_at_its_place(change: tuple[str, str], spot: tuple[int, int], message: str) -> None:
    assert change[0] in GOOD
    assert said(GOOD.replace(*change, 1)) == [(*spot, message)]


def test_the_text_without_mistakes_fits() -> None:
    assert said(GOOD) == []


@pytest.mark.parametrize(
    ("kind", "text", "messages"),
    [
        ("marks", "a: {say: A, shows: []}\n", [(1, 13, "`shows` of `a` is empty; write it, or leave the key out")]),
        ("cautions", "a: Look\n", [(1, 4, "`a` must be a mapping of keys and values, not a text")]),
        (
            "sources",
            "a: {kind: web page, title: T, year: about 2001, read: twice}\n",
            [
                (
                    1,
                    11,
                    "`kind` of `a` is “web page”; allowed: journal article, book, chapter, thesis, conference paper, "
                    "report, standard, guideline, safety notice, calculation, not published",
                ),
                (1, 37, "“about 2001” is not a year such as 2007"),
                (
                    1,
                    55,
                    "`read` of `a` is “twice”; allowed: read in the primary, read in a secondary, calculated, "
                    "common practice, from memory",
                ),
            ],
        ),
        (
            "sources",
            "a: {kind: journal article, title: T, read: calculated}\n",
            [(1, 1, "`a` lacks `in`")],
        ),
        (
            "sources",
            "a: {kind: chapter, title: T, in: B, year: 2001, read: calculated}\n",
            [(1, 1, "`a` lacks `author`")],
        ),
        ("words", "a: {say: A}\n", [(1, 1, "`a` lacks `means`: what it means.")]),
        (
            "settings",
            "hospital: {say: A, fictional: maybe}\n",
            [(1, 31, "`fictional` of `hospital` is “maybe”; allowed: yes, no")],
        ),
        (
            "safety",
            "a: {say: A, reason: B, sources: [c], response: {of: x}}\n",
            [(1, 38, "`response` of `a` lacks `by`: marks, any of.")],
        ),
    ],
)
def test_mistakes_in_facts(kind: str, text: str, messages: list[tuple[int, int, str]]) -> None:
    assert said(text, kind) == messages


def test_spot_of_follows_keys_and_indices() -> None:
    data = parse(GOOD, "a.yml", "a", "tree").data
    assert data is not None
    assert spot_of(data, ["nodes", "look", "answers", 0, "to"]) == (18, 32)
    assert spot_of(data, ["nodes", "look"]) == (15, 3)
    assert spot_of(data, []) == (1, 1)


# ---------------------------------------------------------------------- whatever is written

ODD = st.sampled_from(["", "x", "fixed", "20 s", [], {}, ["x", "x"], [["x"]], {"x": "y"}, [{"say": "x"}], "0", "é"])


@given(st.data())
@settings(max_examples=150, deadline=None)
def test_a_document_spoilt_anywhere_is_told_and_never_raises(data: st.DataObject) -> None:
    """Take a good document, put something odd at one place of it: every problem has a place in the text."""
    document = yaml.load(GOOD, yaml.CBaseLoader)
    here: Any = document
    while True:
        key = data.draw(st.sampled_from(list(here) if isinstance(here, dict) else range(len(here))))
        inner = here[key]
        if isinstance(inner, str) or not inner or data.draw(st.booleans()):
            break
        here = inner
    if isinstance(here, dict) and data.draw(st.booleans()):
        here[data.draw(st.sampled_from(["zz", "do", "end", "ask", "go", "x y", "Ä"]))] = data.draw(ODD)
    else:
        here[key] = data.draw(ODD)
    text = yaml.safe_dump(document, sort_keys=False)
    source = parse(text, "a.yml", "a", "tree")
    lines = text.splitlines()
    fits = Draft202012Validator(schema_of("tree")).is_valid(yaml.load(text, yaml.CBaseLoader))
    if not source.problems:
        found = list(problems(source))
        assert bool(found) != fits
        for problem in found:
            assert problem.rule == "schema"
            line, column = problem.spot
            assert lines[line - 1][column - 1 :].strip(), (problem, text)
            assert "Traceback" not in problem.message and "\n" not in problem.message


def test_the_overlay_of_a_hospital_has_the_schema_of_settings(tmp_path: Path) -> None:
    (tmp_path / "trees").mkdir()
    (tmp_path / "kb").mkdir()
    (tmp_path / "kb" / LOCAL_SETTINGS).write_text("valeus: {}\n", "utf-8")
    findings = check_library(tmp_path).findings
    assert [(finding.place.file, finding.message) for finding in findings] == [
        (
            "kb/settings.local.yml",
            "the file has no key `valeus`; allowed: hospital, reviewers, defaults, values, wordings, roles"
            " (did you mean `values`?)",
        )
    ]
