"""What an editor offers, explains and underlines in the files that authors write, and where its names come from.

The editor is the language server for YAML that many editors ask; its answers are those of its own program.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path

import jsonschema_rs
import pytest
import yaml
from jsonschema import Draft202012Validator

from alarmtrees.model import FIXED
from alarmtrees.reading.offered import FOLDER, KINDS, offer
from alarmtrees.reading.schema import schema_of
from alarmtrees.terminal.cli import main
from editor import CURSOR, Editor
from small_library import REPOSITORY, make, shipped_library, swap
from test_schema import GOOD, MISTAKES

LIBRARY = shipped_library()
CAUSES = LIBRARY.trees["trigger-lost"].causes.keys()
MARKS = LIBRARY.marks.keys()
TREE = REPOSITORY / "trees" / "written-by-a-test.yml"  # never on the disk: an editor sends the text
LOCAL = TREE.parents[1] / "kb" / "settings.local.yml"

# Half a tree, as somebody is about to write it. Each ‹place› is cut out in turn and the editor is asked there.
DRAFT = """\
# yaml-language-server: $schema=../schema/offered/tree.schema.json
id: trigger-lost
title: Line came off
causes:
  lead-off: {say: It is loose}
anytime:
  - {say: Patient worse, to: worse, ‹anytime: m›}
  - {say: Blood, to: worse, marks: [‹anytime, marks: ›]}
start: look
nodes:
  look:
    ask: Is it loose?
    ‹question: ›
    picture: ‹question, picture: ›
    answers:
      - {say: It is loose, to: push, ‹answer: w›}
      - {say: It is here, to: push, when: ‹answer, when: ›}
      - {say: It is there, to: push, when: [lead-off, ‹answer, more when: ›]}
      - {say: It is off, to: push, marks: [‹answer, marks: pat›]}
      - say: It is gone
        ‹answer in lines: ›
  push:
    do:
      - Push it in.
    ‹step: ›
    marks: [console-step, ‹step, marks: ›]
    cautions: [‹step, cautions: ›]
    sources:
      - ‹step, sources: com›
    call: ‹step, call: ›
    fixes: [‹causes: ›]
    then: ‹steps: ›
  begun:
    ‹new step: ›
  worse:
    end: call
    ‹end: ›
    call: ‹end, call: doc›
    say: In {‹setting in a text: ›} the patient is worse.
  elsewhere:
    end: go
    go: ‹another tree: ›
    say: There it goes on.
  over: {end: ‹how it ends: ›}
sources: [weil-2007, ‹sources: ›]
related: [‹articles: ›]
"""

OFFERED = {
    "anytime": {"marks", "pump", "when"},
    "anytime, marks": MARKS,
    "question": {"why", "marks", "takes", "cautions", "sources"},
    "question, picture": LIBRARY.pictures.keys(),
    "answer": {"marks", "pump", "when"},
    "answer, marks": MARKS,
    "answer in lines": {"to", "marks", "pump", "when"},
    "step": {"pump", "why", "takes", "picture"},
    "step, marks": MARKS,
    "step, cautions": LIBRARY.cautions.keys(),
    "step, sources": LIBRARY.sources.keys(),
    "step, call": LIBRARY.roles.keys(),
    "new step": {"ask", "do", "end"},
    "end": {"meanwhile", "fixes", "why", "marks", "takes", "cautions", "sources"},
    "end, call": LIBRARY.roles.keys(),
    "another tree": LIBRARY.trees.keys(),
    "how it ends": {"resolved", "call", "go"},
    "sources": LIBRARY.sources.keys(),
    "articles": LIBRARY.articles.keys(),
    "causes": CAUSES,
    "answer, when": {*CAUSES, FIXED},
    "answer, more when": CAUSES,
    # What a schema cannot know; an editor's own completion offers words that stand in the file.
    "steps": set(),
    "setting in a text": set(),
}


def asked_at(wanted: str, draft: str = DRAFT) -> str:
    """The draft with the cursor at one place, behind what is typed there; the other places are left out."""
    lines, found = [], 0
    for line in draft.splitlines():
        before, opened, rest = line.partition("‹")
        if not opened:
            lines.append(line)
            continue
        place, _, after = rest.partition("›")
        name, _, typed = place.partition(": ")
        if name == wanted:
            found += 1
            lines.append(f"{before}{typed}{CURSOR}{after}")
        elif (before + after).strip():
            lines.append((before + after).replace(", }", "}").replace(", ]", "]"))
    assert found == 1
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def editor() -> Iterator[Editor]:
    opened = Editor()
    yield opened
    opened.close()


@pytest.mark.parametrize("place", OFFERED)
def test_words_that_fit_are_offered_where_they_are_written(editor: Editor, place: str) -> None:
    offered = editor.offered(TREE, asked_at(place))
    assert len(set(offered)) == len(offered)
    # Beside its keys an editor may offer a whole object under a name of its own, such as `answer`.
    assert set(offered) - {"answer", "end-call"} == set(OFFERED[place])


def test_causes_are_those_of_the_tree(editor: Editor) -> None:
    draft = asked_at("causes")
    assert set(editor.offered(TREE, draft.replace("id: trigger-lost", "id: pump-idle"))) == set(
        LIBRARY.trees["pump-idle"].causes
    )
    assert editor.offered(TREE, draft.replace("id: trigger-lost", "id: written-by-a-test")) == []


def test_a_hospitals_own_file_is_offered_the_settings_roles_and_trees(editor: Editor) -> None:
    text = "# yaml-language-server: $schema=../schema/offered/settings.schema.json\n"
    assert LIBRARY.settings.keys() <= set(editor.offered(LOCAL, f"{text}values:\n  {CURSOR}\n"))
    assert LIBRARY.roles.keys() <= set(editor.offered(LOCAL, f"{text}roles:\n  {CURSOR}\n"))
    assert LIBRARY.trees.keys() <= set(editor.offered(LOCAL, f"{text}wordings:\n  {CURSOR}\n"))
    assert {"value", "by", "on", "status"} <= set(editor.offered(LOCAL, f"{text}values:\n  call_by:\n    {CURSOR}\n"))


def test_a_calculator_is_offered_the_settings(editor: Editor) -> None:
    path = REPOSITORY / "kb" / "calculators" / "gas-left.yml"
    before, _, after = path.read_text("utf-8").partition("setting: ")
    offered = editor.offered(path, f"{before}setting: {CURSOR}{after[after.index(chr(10)) :]}")
    assert set(offered) == LIBRARY.settings.keys()


@pytest.mark.parametrize(
    ("word", "words"),
    [
        ("marks: [console-step", LIBRARY.marks["console-step"].say),
        ("fixes", "The causes that this step removes"),
        ("weil-2007", LIBRARY.sources["weil-2007"]["title"]),
    ],
)
def test_a_word_is_explained_where_it_stands(editor: Editor, word: str, words: str) -> None:
    text = asked_at("causes").replace(CURSOR, "")
    at = text.index(word) + len(word) - 1
    told = editor.told(TREE, text[:at] + CURSOR + text[at:])
    # Where a list of names is known, the one that is pointed at comes first.
    listed = [line for line in told.splitlines() if line.startswith("* ")]
    assert words in (listed or [told])[0]


def test_a_slip_is_underlined_and_a_name_newer_than_the_list_is_not(editor: Editor) -> None:
    path = REPOSITORY / "trees" / "pump-idle.yml"
    text = path.read_text("utf-8")
    (found,) = editor.faults({path: text.replace("    takes:", "    taks:", 1)}).values()
    assert len(found) == 1 and found[0].endswith("Property taks is not allowed.")
    assert editor.faults({path: text.replace("sources: [", "sources: [newer-2031, ")}) == {}


def test_nothing_shipped_is_underlined(editor: Editor) -> None:
    paths = [*(REPOSITORY / "trees").glob("*.yml"), *(REPOSITORY / "kb").rglob("*.yml")]
    paths = [path for path in paths if path != LOCAL]
    assert len(paths) >= 52
    assert editor.faults({path: path.read_text("utf-8") for path in paths}) == {}


# ---------------------------------------------------------------------- the schemas for editors


def test_the_names_are_those_of_the_library() -> None:
    assert offer(REPOSITORY, write=False) == (), "run `alarmtrees schema`"


@pytest.mark.parametrize("kind", KINDS)
def test_they_are_schemas_that_any_validator_reads(kind: str) -> None:
    schema = json.loads((REPOSITORY / FOLDER / f"{kind}.schema.json").read_text("utf-8"))
    Draft202012Validator.check_schema(schema)
    assert schema["$id"] != schema_of(kind)["$id"]


def test_they_let_pass_what_the_plain_ones_do_and_nothing_else() -> None:
    text = (REPOSITORY / FOLDER / "tree.schema.json").read_text("utf-8")
    offered = jsonschema_rs.Draft202012Validator(json.loads(text))
    assert offered.is_valid(yaml.load(GOOD, yaml.CBaseLoader))
    for change, _, _ in MISTAKES.values():
        assert not offered.is_valid(yaml.load(GOOD.replace(*change, 1), yaml.CBaseLoader)), change


def test_the_command_writes_what_is_behind_and_only_that(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = make(tmp_path / "library")
    files = [str(root / FOLDER / f"{kind}.schema.json") for kind in KINDS]
    assert main(["schema", "--root", str(root), "--check"]) == 1
    assert [line.split(": ")[0] for line in capsys.readouterr().out.splitlines()] == files
    assert not (root / FOLDER).exists()
    assert main(["schema", "--root", str(root)]) == 0
    assert capsys.readouterr().out.splitlines() == [f"{file}: written" for file in files]
    (root / "kb" / "settings.local.yml").write_text("roles: {secret-role: {say: A role of this house}}\n", "utf-8")
    assert main(["schema", "--root", str(root), "--check"]) == 0
    assert "already" in capsys.readouterr().out
    with (root / "kb" / "sources.yml").open("a", encoding="utf-8") as sources:
        sources.write("new-source: {kind: not published, title: A new one, read: from memory}\n")
    assert main(["schema", "--root", str(root)]) == 0
    tree = (root / FOLDER / "tree.schema.json").read_text("utf-8")
    assert '"new-source"' in tree and "A new one" in tree and "secret-role" not in tree


def test_a_fault_in_the_library_costs_no_names(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    root = make(tmp_path / "library")
    offer(root)
    before = {path: path.read_text("utf-8") for path in (root / FOLDER).iterdir()}
    swap(root / "kb" / "sources.yml", "kind: ", "kin: ")
    assert main(["schema", "--root", str(root)]) == 2
    assert capsys.readouterr().err.startswith("alarmtrees: a file of the library has faults")
    assert main(["new", "line-came-off", "--root", str(root)]) == 0
    assert {path: path.read_text("utf-8") for path in (root / FOLDER).iterdir()} == before


def test_a_new_tree_names_a_schema_that_is_there_and_knows_it(tmp_path: Path) -> None:
    root = make(tmp_path / "library")
    assert main(["new", "line-came-off", "--root", str(root), "--title", "Line came off"]) == 0
    first = (root / "trees" / "line-came-off.yml").read_text("utf-8").splitlines()[0]
    schema = root / "trees" / first.removeprefix("# yaml-language-server: $schema=")
    assert '"line-came-off"' in schema.read_text("utf-8")
