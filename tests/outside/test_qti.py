"""The package of questions, held to what 1EdTech QTI 3.0 demands of the elements used, type by type.

No registry has the standard's schemas, and whether their licence lets a program pass them on was not cleared. What each
type demands was read in classes that a generator made from `imsqti_asiv3p0_v1p0.xsd`, as published in May 2022; of the
manifest, in what others write. So this is no validation by the schema. `tests/browser/test_qti_played.py` lets a
player from outside play the items.
"""

from __future__ import annotations

import io
import re
from functools import cache
from types import SimpleNamespace
from xml.etree import ElementTree
from zipfile import ZipFile

import pytest

from alarmtrees.learning.questions import Question, questions
from alarmtrees.learning.questions_csv import plain
from alarmtrees.learning.questions_qti import ITEMS, PACKAGE, questions_qti
from alarmtrees.model import Choice
from alarmtrees.terminal.cli import main
from small_library import shipped_library

LIBRARY = shipped_library()
ASKED = questions(LIBRARY)
Q, P = f"{{{ITEMS}}}qti-", f"{{{PACKAGE}}}"

_RULES = "(response-condition |response-processing-fragment |set-outcome-value |exit-response |lookup-outcome-value )"
_SAID = ""  # words alone, though the standard lets in more

# Each element used: its type in the schema (its own name, where that was not to be read), the attributes that it must
# have, those of others that it has here, and the pattern of its children, in the order of the schema.
ELEMENTS = {
    "assessment-item": (
        "AssessmentItemDType",
        {"identifier", "title", "time-dependent"},
        {"adaptive"},
        "(context-declaration )*(response-declaration )*(outcome-declaration )*(template-declaration )*"
        "(template-processing )?(assessment-stimulus-ref )*(companion-materials-info )?(stylesheet )*(item-body )?"
        "(catalog-info )?(response-processing )?(modal-feedback )*",
    ),
    "response-declaration": (
        "ResponseDeclarationDType",
        {"identifier", "cardinality"},
        {"base-type"},
        "(default-value )?(correct-response )?(mapping )?(area-mapping )?",
    ),
    "correct-response": ("CorrectResponseDType", set(), set(), "(value )+"),
    "value": ("ValueDType", set(), set(), _SAID),
    "outcome-declaration": (
        "OutcomeDeclarationDType",
        {"identifier", "cardinality"},
        {"base-type", "normal-maximum", "normal-minimum"},
        "(default-value )?(match-table |interpolation-table )?",
    ),
    "default-value": ("DefaultValueDType", set(), set(), "(value )+"),
    "item-body": ("ItemBodyDType", set(), set(), "(choice-interaction |p )+"),
    "choice-interaction": (
        "ChoiceInteractionDType",
        {"response-identifier"},
        {"shuffle", "max-choices"},
        "(prompt )?(simple-choice )+",
    ),
    "prompt": ("prompt", set(), set(), _SAID),
    "simple-choice": ("SimpleChoiceDType", {"identifier"}, set(), _SAID),
    "response-processing": ("ResponseProcessingDType", set(), set(), f"{_RULES}*"),
    "response-condition": (
        "ResponseConditionDType",
        set(),
        set(),
        "response-if (response-else-if )*(response-else )?",
    ),
    "response-if": ("ResponseIfDType", set(), set(), f"match {_RULES}*"),
    "response-else": ("ResponseElseDType", set(), set(), f"{_RULES}*"),
    "match": ("match", set(), set(), "(variable |correct |base-value ){2}"),
    "set-outcome-value": ("SetValueDType", {"identifier"}, set(), "(base-value |variable )"),
    "base-value": ("BaseValueDType", {"base-type"}, set(), _SAID),
    "variable": ("VariableDType", {"identifier"}, set(), _SAID),
    "correct": ("CorrectDType", {"identifier"}, set(), _SAID),
    "modal-feedback": (
        "ModalFeedbackDType",
        {"outcome-identifier", "identifier", "show-hide"},
        set(),
        "(stylesheet )*(content-body )?(catalog-info )?",
    ),
    "content-body": ("FeedbackFlowContentBodyDType", set(), set(), "(p )*"),
    "p": ("p", set(), set(), _SAID),
}
# What may stand in an attribute.
WORDS = {
    "cardinality": "multiple|ordered|record|single",
    "base-type": "boolean|directedPair|duration|file|float|identifier|integer|pair|point|string|uri",
    "adaptive": "true|false",
    "time-dependent": "true|false",
    "shuffle": "true|false",
    "max-choices": "[0-9]+",
    "show-hide": "show|hide",
}
IDENTIFIER = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*")
_REFERENCES = {
    "choice-interaction": ("response-identifier",),
    "modal-feedback": ("outcome-identifier",),
    "set-outcome-value": ("identifier",),
    "variable": ("identifier",),
    "correct": ("identifier",),
}
LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"


@cache
def package() -> dict[str, ElementTree.Element]:
    with ZipFile(io.BytesIO(questions_qti(LIBRARY, ASKED))) as held:
        return {name: ElementTree.fromstring(held.read(name)) for name in held.namelist()}


def named(element: ElementTree.Element) -> str:
    return element.tag.removeprefix(Q).removeprefix(f"{{{ITEMS}}}")


def faults(root: ElementTree.Element) -> list[str]:
    """What the schema's types do not allow in an item, and what an item of ours owes to its answers."""
    found = [] if root.tag == f"{Q}assessment-item" else ["no item"]
    for element in root.iter():
        name = named(element)
        if name not in ELEMENTS:
            found.append(f"unknown {element.tag}")
            continue
        kind, needs, may, children = ELEMENTS[name]
        given = set(element.attrib) - {LANGUAGE}
        if not needs <= given <= needs | may:
            found.append(f"{kind}: {sorted(element.attrib)}")
        inside = "".join(f"{named(child)} " for child in element)
        if not re.fullmatch(children, inside):
            found.append(f"{kind} holds {inside}")
        if not len(element) and name in ("prompt", "simple-choice", "p", "value") and not (element.text or "").strip():
            found.append(f"{kind} is empty")
        shapes = {key: IDENTIFIER.pattern if "identifier" in key else WORDS.get(key) for key in given}
        found += [
            f"{kind}: {key} is {element.get(key)}"
            for key, shape in shapes.items()
            if shape and not re.fullmatch(shape, element.get(key, ""))
        ]
    declared = {one.get("identifier") for one in root if "declaration" in one.tag}
    used = {value for one in root.iter() for key, value in one.attrib.items() if key in _REFERENCES.get(named(one), ())}
    found += [f"{name} is declared nowhere" for name in sorted(used - declared)]
    choices = [one.get("identifier") for one in root.iter(f"{Q}simple-choice")]
    right = next((one.text for one in root.iterfind(f".//{Q}correct-response/{Q}value")), None)
    if len(set(choices)) != len(choices) or right not in choices:
        found.append(f"right is {right} of {choices}")
    if sorted(one.get("identifier") for one in root.iter(f"{Q}modal-feedback")) != sorted(choices):
        found.append("a choice without its feedback")
    return found


def answered(root: ElementTree.Element, chosen: str) -> tuple[float, str]:
    """The score of an answer and the feedback shown, by the item's own response processing."""
    condition, feedback = root.find(f"{Q}response-processing")
    right = root.find(f"{Q}response-declaration/{Q}correct-response/{Q}value").text
    branch = condition[0] if chosen == right else condition[1]
    assert feedback.get("identifier") == "FEEDBACK" and feedback[0].get("identifier") == "RESPONSE"
    shown = [one for one in root.findall(f"{Q}modal-feedback") if one.get("identifier") == chosen]
    return float(branch[-1][0].text), "".join(shown[0].itertext()).strip()


def test_every_item_is_as_the_types_of_the_standard_have_it() -> None:
    items = {name: root for name, root in package().items() if name != "imsmanifest.xml"}
    assert len(items) == len(ASKED) > 300
    assert {name: faults(root) for name, root in items.items() if faults(root)} == {}


def test_a_slip_in_an_item_is_seen() -> None:
    with ZipFile(io.BytesIO(questions_qti(LIBRARY, ASKED[:1]))) as held:
        text = held.read(held.namelist()[1]).decode()
    for before, after in (
        ("qti-prompt", "qti-ask"),
        (' response-identifier="RESPONSE"', ""),
        ('identifier="SCORE" cardinality="single"', 'identifier="SCORE" cardinality="one"'),
        ('outcome-identifier="FEEDBACK"', 'outcome-identifier="TOLD"'),
        ("</qti-item-body>", "</qti-item-body><qti-stylesheet/>"),
        ("<qti-value>A", "<qti-value>B"),
        ('identifier="A2" show-hide', 'identifier="A9" show-hide'),
        ('identifier="q-', 'identifier="1-'),
    ):
        assert before in text and faults(ElementTree.fromstring(text.replace(before, after))), before


def test_every_answer_scores_and_is_told_why_as_the_question_has_it() -> None:
    for question, root in zip(ASKED, list(package().values())[1:], strict=True):
        shown = {one.text: one.get("identifier") for one in root.iter(f"{Q}simple-choice")}
        assert root.find(f".//{Q}prompt").text == plain(LIBRARY, question.ask)
        assert len(shown) == len(question.choices)
        most = root.find(f"{Q}outcome-declaration[@identifier='MAXSCORE']/{Q}default-value/{Q}value")
        assert most is not None and float(most.text) == 1
        for say, right, why in question.choices:
            score, told = answered(root, shown[plain(LIBRARY, say)])
            reason = told.partition(" ")[2].removeprefix("so. ")
            assert (score, reason) == (float(right), plain(LIBRARY, why))
            assert told.startswith("Right. " if right else "Not so. ")
    rights = {root.find(f".//{Q}correct-response/{Q}value").text for root in list(package().values())[1:]}
    assert len(rights) > 2  # not always the first


def test_the_manifest_names_each_file_once_and_no_other() -> None:
    root = package()["imsmanifest.xml"]
    assert root.tag == f"{P}manifest" and [one.tag.removeprefix(P) for one in root] == [
        "metadata",
        "organizations",
        "resources",
    ]
    assert [one.text for one in root[0]] == ["QTI Package", "3.0.0"]
    resources = list(root[2])
    assert {one.get("type") for one in resources} == {"imsqti_item_xmlv3p0"}
    assert [one.get("href") for one in resources] == [one[0].get("href") for one in resources] == list(package())[1:]
    assert len({one.get("identifier") for one in resources}) == len(resources)
    assert [one.get("identifier") for one in resources] == [
        item.get("identifier") for item in list(package().values())[1:]
    ]


def test_signs_of_markup_and_signs_that_xml_does_not_know_are_kept_out() -> None:
    odd = Question(
        "a/1", "article", "a", "Is 1 < 2 & “3” > \x07 2?", (Choice("<b>", True, "]]>"), Choice("&amp;", False, "'\""))
    )
    with ZipFile(io.BytesIO(questions_qti(LIBRARY, [odd]))) as held:
        root = ElementTree.fromstring(held.read("items/q-a.1.xml"))
    assert faults(root) == [] and root.find(f".//{Q}prompt").text == "Is 1 < 2 & “3” >  2?"
    assert {one.text for one in root.iter(f"{Q}simple-choice")} == {"<b>", "&amp;"}


def test_the_command_writes_the_same_file_each_time(tmp_path, monkeypatch: pytest.MonkeyPatch, capsys) -> None:
    monkeypatch.setattr("alarmtrees.check.run.check_library", lambda root: SimpleNamespace(errors=[], library=LIBRARY))
    monkeypatch.setattr("alarmtrees.reading.open.open_library", lambda root, private: LIBRARY)
    assert main(["questions", "--format", "qti", "--output", str(tmp_path / "q.zip")]) == 0
    assert (tmp_path / "q.zip").read_bytes() == questions_qti(LIBRARY, ASKED)
