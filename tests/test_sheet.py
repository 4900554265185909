"""The sheet of a tree as text: what stands on it, in which order, and how it is kept short."""

from __future__ import annotations

import re
from dataclasses import replace
from html import unescape
from pathlib import Path

import pytest

from alarmtrees.model import Library, Setting, Tree
from alarmtrees.model.wording import fill
from alarmtrees.proof.order import reading_order
from alarmtrees.reading.open import open_library
from alarmtrees.site import binder
from alarmtrees.site.bedside.paper import FORMS, Paper
from alarmtrees.site.bedside.sheet import Imprint, css_string, page_address, sheet
from small_library import HOSTILE, shipped_library, spoil

LIBRARY = shipped_library()
TREES = list(LIBRARY.trees.values())
HERE = Imprint("https://here.example/", "0123456789ab")


def words(html: str) -> str:
    """The text without its tags and styles, white space folded."""
    text = re.sub(r"<style>.*?</style>|<svg.*?</svg>|<[^>]*>", " ", html, flags=re.DOTALL)
    return " ".join(unescape(text).split())


def said(text: str, library: Library = LIBRARY) -> str:
    return " ".join(fill(text, library.settings).split())


def changed(root: Path, old: str, new: str) -> Tree:
    path = root / "trees" / "line-open.yml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    return open_library(root).trees["line-open"]


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_steps_stand_in_the_order_of_their_numbers(tree: Tree) -> None:
    text = words(sheet(LIBRARY, tree, HERE))
    at = 0
    for number, node_id in enumerate(reading_order(tree), start=1):
        node = tree.nodes[node_id]
        at = text.index(f" {number} ", at)
        for line in node.lines:
            at = text.index(said(line), at)


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_every_answer_names_the_step_that_it_leads_to(tree: Tree) -> None:
    text = words(sheet(LIBRARY, tree, HERE))
    numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}
    for node in tree.nodes.values():
        for answer in node.answers:
            assert f"{said(answer.say)} go to {numbers[answer.to]} " in f"{text} "
        if node.then:
            assert f"Then go to {numbers[node.then]}" in text
    for answer in tree.anytime:
        assert text.count(f"{said(answer.say)}: go to {numbers[answer.to]}") == 1


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_every_caution_and_every_number_to_call_stands_on_it(tree: Tree) -> None:
    text = words(sheet(LIBRARY, tree, HERE))
    for key in {*tree.cautions, *(key for node in tree.nodes.values() for key in node.cautions)}:
        assert said(LIBRARY.cautions[key].say) in text, key
    for node in tree.nodes.values():
        role = LIBRARY.roles.get(node.call or "")
        assert role is None or f"{role.say} {role.phone} (fictional)" in text


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_reasons_and_sources_stay_on_the_screen(tree: Tree) -> None:
    text = words(sheet(LIBRARY, tree, HERE))
    assert not [node.id for node in tree.nodes.values() if node.why and said(node.why) in text]
    assert "Rests on" not in text


def test_sheet_says_until_when_it_holds_and_which_build_it_is(small_library: Path) -> None:
    library = open_library(small_library)
    text = words(sheet(library, library.trees["line-open"], HERE))
    assert "Do not use after 2099-01-02" in text and "reviewed 2026-01-02" in text and "build 0123456789ab" in text


def test_sheet_that_nobody_reviewed_says_so(small_library: Path) -> None:
    library = open_library(small_library)
    tree = replace(library.trees["line-open"], review=None)
    assert "Not reviewed, do not use at the bedside" in words(sheet(library, tree, HERE))


def test_withdrawn_sheet_holds_only_that_and_whom_to_call(small_library: Path) -> None:
    tree = changed(small_library, "status: in-use", "status: withdrawn")
    text = words(sheet(open_library(small_library), tree, HERE))
    assert text == (
        "Line is open Withdrawn. Do not use this sheet any more. Call: specialist on call 5\u00a00001\u00a0(fictional)"
    ).replace("\u00a0", " ")


def test_handing_over_names_the_sheet_and_the_step(small_library: Path) -> None:
    library = open_library(small_library)
    assert "Go to the sheet “Supply is low”, step 1." in words(sheet(library, library.trees["line-open"], HERE))


# The address


def test_address_is_the_hospitals_own_before_that_of_the_configuration(small_library: Path) -> None:
    library = open_library(small_library)
    assert page_address(library, "line-open") == ""
    assert page_address(library, "line-open", "https://a.example/b") == "https://a.example/b/alarms/line-open/"
    (small_library / "kb" / "settings.local.yml").write_text(
        "values:\n  site_address: {say: A, value: 'https://own.example'}\n", encoding="utf-8"
    )
    library = open_library(small_library)
    assert page_address(library, "line-open", "https://a.example/b") == "https://own.example/alarms/line-open/"


def test_address_that_is_none_is_refused(small_library: Path) -> None:
    (small_library / "kb" / "settings.local.yml").write_text(
        "values:\n  site_address: {say: A, value: 'javascript:alert(1)'}\n", encoding="utf-8"
    )
    local = next(s for s in open_library(small_library).sources_read if s.file.endswith("settings.local.yml"))
    assert [problem.rule for problem in local.problems] == ["schema"]


def test_without_an_address_there_is_no_code_and_the_sheet_says_why(small_library: Path) -> None:
    library = open_library(small_library)
    html = sheet(library, library.trees["line-open"], Imprint())
    assert "sheet__code" not in html and "site_address is not set in kb/settings.local.yml" in html
    html = sheet(library, library.trees["line-open"], HERE)
    assert html.count('class="sheet__code"') == 1 and "https://here.example/alarms/line-open/" in html


# What may not become mark-up


def test_hostile_text_stays_text(small_library: Path) -> None:
    spoil(small_library)
    library = open_library(small_library)
    for tree in library.trees.values():
        html = sheet(library, tree, HERE)
        assert "<script" not in html and "<img" not in html and html.count("</style>") == 1
        assert html.count("</aside>") == 1


@pytest.mark.parametrize("text", [HOSTILE, '"}', "</style>", "a\\22 b", "\n@page{", "é!!! “x”"])
def test_string_of_css_cannot_be_left(text: str) -> None:
    written = css_string(text)
    assert re.fullmatch(r'"[^"<>{}@\n]*"', written)
    assert re.sub(r"\\([0-9a-f]+) ", lambda match: chr(int(match[1], 16)), written[1:-1]) == text


# How much fits


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_form_is_the_best_one_that_fits(tree: Tree) -> None:
    paper = Paper(LIBRARY, tree, reading_order(tree), map_height=200)
    best = paper.best_form()
    assert best in FORMS
    better = FORMS[: FORMS.index(best)]
    assert all(paper.pages(form) > 2 for form in better) or paper.pages(best) == 1


def test_small_tree_takes_one_page_and_says_cautions_where_they_belong(small_library: Path) -> None:
    library = open_library(small_library)
    tree = library.trees["line-open"]
    paper = Paper(library, tree, reading_order(tree), map_height=120)
    assert paper.best_form() == FORMS[0] and paper.pages(FORMS[0]) == 1
    assert paper.top_cautions(FORMS[0]) == [] and paper.top_cautions(FORMS[2]) == ["patient-first", "rest-is-short"]


def test_tree_with_many_cautions_says_them_once_by_letters(monkeypatch: pytest.MonkeyPatch) -> None:
    tree = max(TREES, key=lambda tree: sum(len(node.cautions) for node in tree.nodes.values()))
    monkeypatch.setattr(Paper, "best_form", lambda _: FORMS[3])
    html = sheet(LIBRARY, tree, HERE)
    top = dict(re.findall(r"<li><b>! ([A-Z]\d?)</b> ([^<]*)</li>", html))
    told = re.findall(r"! Caution ([A-Z0-9, ]+)</b>, top of sheet", html)
    carried = [node for node in tree.nodes.values() if set(node.cautions) - {"patient-first"}]
    assert len(told) == len(carried) > 1
    for letters in told:
        assert all(letter in top for letter in letters.split(", "))
    assert all(words(text) == words(said(unescape(text))) for text in top.values())


# The binder, as far as no browser is needed


def test_binder_without_a_site_says_what_to_do(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert binder.main(["--site", str(tmp_path), "--out", str(tmp_path / "out.pdf")]) == 1
    assert capsys.readouterr().err == f"{tmp_path}: no built site here; run `mkdocs build` first\n"


def test_binder_without_a_browser_says_so_in_one_line(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CHROMIUM", "no-such-program")
    with pytest.raises(binder.BinderError, match="CHROMIUM names no-such-program, which cannot be run"):
        binder.browser()
    monkeypatch.delenv("CHROMIUM")
    monkeypatch.setenv("PATH", "")
    with pytest.raises(binder.BinderError, match=r"Chromium is not installed: .* set CHROMIUM to its path"):
        binder.browser()


def test_setting_is_known_to_readers() -> None:
    setting = LIBRARY.settings["site_address"]
    assert isinstance(setting, Setting) and setting.value is not None and ".example/" in setting.value
