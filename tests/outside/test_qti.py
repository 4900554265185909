"""The package of questions, held to what 1EdTech QTI 3.0 says of the few elements used; from memory.

The published schemas were found in no package of a registry, and their licence was not cleared. So this is no
validation: it holds the files to the elements as they are remembered, and plays each item by response processing.
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

# Each element used, the attributes that it must have, and the pattern of its children: in the order of the standard.
ELEMENTS = {
    "assessment-item": (
        {"identifier", "title", "adaptive", "time-dependent"},
        "response-declaration( outcome-declaration){2} item-body response-processing( modal-feedback)+",
    ),
    "response-declaration": ({"identifier", "cardinality", "base-type"}, "correct-response"),
    "correct-response": (set(), "value"),
    "value": (set(), ""),
    "outcome-declaration": ({"identifier", "cardinality", "base-type"}, "(default-value)?"),
    "default-value": (set(), "value"),
    "item-body": (set(), "choice-interaction"),
    "choice-interaction": ({"response-identifier", "shuffle", "max-choices"}, "prompt( simple-choice){2,}"),
    "prompt": (set(), ""),
    "simple-choice": ({"identifier"}, ""),
    "response-processing": (set(), "response-condition set-outcome-value"),
    "response-condition": (set(), "response-if response-else"),
    "response-if": (set(), "match set-outcome-value"),
    "response-else": (set(), "set-outcome-value"),
    "match": (set(), "variable correct"),
    "set-outcome-value": ({"identifier"}, "base-value|variable"),
    "base-value": ({"base-type"}, ""),
    "variable": ({"identifier"}, ""),
    "correct": ({"identifier"}, ""),
    "modal-feedback": ({"outcome-identifier", "identifier", "show-hide"}, "content-body"),
    "content-body": (set(), "p"),
    "p": (set(), ""),
}
IDENTIFIER = re.compile(r"[A-Za-z_][A-Za-z0-9_.-]*")
LANGUAGE = "{http://www.w3.org/XML/1998/namespace}lang"


@cache
def package() -> dict[str, ElementTree.Element]:
    with ZipFile(io.BytesIO(questions_qti(LIBRARY, ASKED))) as held:
        return {name: ElementTree.fromstring(held.read(name)) for name in held.namelist()}


def named(element: ElementTree.Element) -> str:
    return element.tag.removeprefix(Q).removeprefix(f"{{{ITEMS}}}")


def faults(root: ElementTree.Element) -> list[str]:
    """What the standard does not allow in an item, as it is remembered."""
    found = [] if root.tag == f"{Q}assessment-item" else ["no item"]
    for element in root.iter():
        needs, children = ELEMENTS.get(named(element), (None, None))
        if needs is None:
            found.append(f"unknown {element.tag}")
            continue
        if set(element.attrib) - {LANGUAGE} != needs:
            found.append(f"{named(element)}: {sorted(element.attrib)}")
        inside = " ".join(named(child) for child in element)
        if not re.fullmatch(children, inside):
            found.append(f"{named(element)} holds {inside}")
        if not len(element) and children == "" and needs == set() and not (element.text or "").strip():
            found.append(f"{named(element)} is empty")
        found += [
            f"no identifier: {text}"
            for key, text in element.attrib.items()
            if "identifier" in key and not IDENTIFIER.fullmatch(text)
        ]
    choices = [one.get("identifier") for one in root.iter(f"{Q}simple-choice")]
    right = next(one.text for one in root.iter(f"{Q}value"))
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


def test_every_item_is_as_the_text_of_the_standard_has_it() -> None:
    items = {name: root for name, root in package().items() if name != "imsmanifest.xml"}
    assert len(items) == len(ASKED) > 300
    assert {name: faults(root) for name, root in items.items() if faults(root)} == {}


def test_a_slip_in_an_item_is_seen() -> None:
    with ZipFile(io.BytesIO(questions_qti(LIBRARY, ASKED[:1]))) as held:
        text = held.read(held.namelist()[1]).decode()
    for before, after in (
        ("qti-prompt", "qti-ask"),
        (' shuffle="true"', ""),
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
