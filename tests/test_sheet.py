"""The sheet of a tree as text: what stands on it, in which order, and how it is kept to one page."""

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
from alarmtrees.site.bedside.forms import MOST_LOOKS, forms_pages
from alarmtrees.site.bedside.paper import FORMS, PREAMBLE, Paper
from alarmtrees.site.bedside.sheet import Imprint, css_string, page_address, sheet
from alarmtrees.site.markup import SAID, until_said
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


def ends_of_any_time(tree: Tree) -> set[str]:
    """Ends to which something seen at any time leads: they stand above the steps."""
    return {answer.to for answer in tree.anytime if tree.nodes[answer.to].kind == "end"}


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_steps_stand_in_the_order_of_their_numbers_and_each_once(tree: Tree) -> None:
    html = sheet(LIBRARY, tree, HERE)
    above, below = html.split('class="sheet__steps"')
    order, top = reading_order(tree), ends_of_any_time(tree)
    numbers = [str(number) for number, node_id in enumerate(order, start=1) if node_id not in top]
    assert re.findall(r'card__number">(\d+)<', below) == numbers
    assert {order[int(number) - 1] for number in re.findall(r'card__number">(\d+)<', above)} == top
    text, at = words(f'<p class="{below}'), 0
    for node_id in (one for one in order if one not in top):
        for line in tree.nodes[node_id].lines:
            at = text.index(said(line), at)


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_every_answer_names_the_step_that_it_leads_to(tree: Tree) -> None:
    html = sheet(LIBRARY, tree, HERE)
    text = words(html)
    numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}
    for node in tree.nodes.values():
        for answer in node.answers:
            assert f"{said(answer.say)} → {numbers[answer.to]} " in f"{text} "
        if node.then:
            assert re.search(rf"{re.escape(said(node.lines[-1]))}( Call: [^→]+)? → {numbers[node.then]} ", text), (
                node.id
            )
    above = words(html.split('class="sheet__steps"')[0])
    for answer in tree.anytime:
        ends = answer.to in ends_of_any_time(tree)
        say, number = re.escape(said(answer.say)), numbers[answer.to]
        assert re.search(rf" {number} ([^:]* · )?{say}( · [^:]*)?: " if ends else rf"{say}.* → {number}\b", above), (
            answer
        )


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_every_caution_and_every_number_to_call_stands_on_it_once(tree: Tree) -> None:
    text = words(sheet(LIBRARY, tree, HERE))
    for key in {*tree.cautions, *(key for node in tree.nodes.values() for key in node.cautions)} - SAID:
        assert text.count(said(LIBRARY.cautions[key].say)) == 1, key
    assert "Look at the patient first." in text and "policy and the maker’s instructions come first" in text
    assert PREAMBLE in text
    for node in tree.nodes.values():
        role = LIBRARY.roles.get(node.call or "")
        assert role is None or f"{role.say} {role.phone} (fictional)" in text
        if role and node.kind == "end":
            assert f"Call now: {role.say.partition(' on call')[0]} {role.phone} ." in text


@pytest.mark.parametrize("tree", TREES, ids=lambda tree: tree.id)
def test_reasons_and_sources_stay_on_the_screen(tree: Tree) -> None:
    html = sheet(LIBRARY, tree, HERE)
    text = words(re.sub(r'<p class="sheet__cautions">.*?</p>', "", html))  # a reason may say what a caution says
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
    paper = Paper(LIBRARY, tree, reading_order(tree))
    best = paper.form()
    better = FORMS[: FORMS.index(best)]
    assert all(paper.pages(form) > paper.pages(best) for form in better)
    assert paper.pages(best) == min(map(paper.pages, FORMS))


def test_main_words_are_never_set_smaller_than_eight_points() -> None:
    assert min(form.size for form in FORMS) == 8


def test_small_tree_is_set_in_the_largest_type(small_library: Path) -> None:
    library = open_library(small_library)
    tree = library.trees["line-open"]
    paper = Paper(library, tree, reading_order(tree))
    assert paper.form() == FORMS[0] and paper.pages(FORMS[0]) == 1
    assert list(paper.letters) == ["rest-is-short"]
    assert "font-size:10pt" in sheet(library, tree, HERE)


def test_steps_name_their_cautions_by_letters() -> None:
    tree = max(TREES, key=lambda tree: sum(len(node.cautions) for node in tree.nodes.values()))
    html = sheet(LIBRARY, tree, HERE).replace("\u00a0", " ")
    above = html[html.index('"sheet__cautions"') :]
    letters = {
        key: letter
        for letter, key in re.findall(r"<b>! ([A-Z]\d?)</b> ([^<]*?) (?=<b>!|Teaching|[A-Z][^<]*</p>)", above)
    }
    carried = [set(node.cautions) - SAID for node in tree.nodes.values() if set(node.cautions) - SAID]
    told = re.findall(r'card__cautions">! ([A-Z0-9 ]+)</b>', html)
    assert len(told) == len(carried) > 1
    named = {letter for some in told for letter in some.split()}
    assert named == set(re.findall(r"<b>! ([A-Z]\d?)</b>", html)) and letters


# Sheets to write on

FORMS_OF = {page.path.split("/")[1]: page for page in forms_pages(LIBRARY, HERE)}


def test_the_round_the_handover_and_every_plan_have_a_sheet() -> None:
    assert set(FORMS_OF) == {"hourly-round", "handing-over", "weaning-plan-ratio", "weaning-plan-volume"}
    for page in FORMS_OF.values():
        text = words(page.body)
        about = {**LIBRARY.articles, **LIBRARY.calculators}[page.path.split("/")[1]]
        assert until_said(LIBRARY, about) in text and "Patient’s label" in text and "Look at the patient first." in text
        assert PREAMBLE in text and page.boost == 0


@pytest.mark.parametrize(("name", "columns"), [("hourly-round", 12), ("handing-over", 2)])
def test_every_box_of_the_steps_is_a_row_to_write_in(name: str, columns: int) -> None:
    steps = LIBRARY.articles[name].text.split("\n## Steps\n")[1].split("\n## ")[0]
    asked = re.findall(r"^- \[ \] (.*)$", steps, re.MULTILINE)
    rows = re.findall(r'<tr[^>]*><th scope="row">([^<]*)</th>((?:<td></td>)+)</tr>', FORMS_OF[name].body)
    told = [words(said(re.sub(r"\[@[^\]]*\]|\]\([^)]*\)|\[", "", one))).replace(" .", ".") for one in asked]
    assert [words(text) for text, _ in rows if words(text) in told] == told and len(told) > 20
    assert {blanks.count("<td>") for _, blanks in rows} == {columns}


def test_values_at_full_volume_come_before_the_first_step_down() -> None:
    text = words(FORMS_OF["weaning-plan-volume"].body)
    assert text.index("Write down all values at full volume") < text.index("90% of the full")
    rows = re.findall(r"<tr.*?</tr>", FORMS_OF["weaning-plan-volume"].body)
    first = next(at for at, row in enumerate(rows) if "all values at full volume" in row)
    assert "<td>0:00</td>" in rows[first + 1] and "90% of the full" in rows[first + 2]


@pytest.mark.parametrize("name", ["weaning-plan-ratio", "weaning-plan-volume"])
def test_pressures_are_asked_for_once_a_step_and_numbers_come_from_settings(name: str) -> None:
    body = FORMS_OF[name].body
    changes = [row for row in re.findall(r"<tr.*?</tr>", body) if "form__step" in row]
    looks = re.findall(r"<tr><td></td><td>(\d+:\d\d)</td>", body)
    assert body.count("Augmented peak<i>") == len({re.search(r"<b>(\d+:\d\d)", row)[1] for row in changes})  # type: ignore[index]
    assert looks[0] == "0:00" and looks[1] == "0:15" and len(looks) == 21
    text = words(body)
    for key in ("wean_stop_pressure", "wean_stop_index", "wean_look_every"):
        assert words(LIBRARY.settings[key].shown) in text
    assert "Mean below" in text and "by this patient’s order" in text


def test_plan_with_too_many_looks_has_blank_rows_and_says_to_take_another_sheet() -> None:
    look = replace(LIBRARY.settings["wean_look_every"], value="5")
    library = replace(LIBRARY, settings={**LIBRARY.settings, "wean_look_every": look})
    body = next(page.body for page in forms_pages(library, HERE) if "weaning-plan-ratio" in page.path)
    assert "When this sheet is full, take another." in body
    assert body.count("<tr><td></td>") <= MOST_LOOKS + 2


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
