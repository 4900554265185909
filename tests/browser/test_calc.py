"""Calculators in a real browser: the same numbers as in Python, clear words, nothing needed but the folder."""

from __future__ import annotations

import json
import math
import random
import re
from collections.abc import Callable
from typing import Any

import pytest

from alarmtrees.calc.compute import compute
from alarmtrees.calc.entry import WORDS, shown
from alarmtrees.calc.javascript import function
from alarmtrees.calc.mathml import units
from browser.until import until
from calculators import random_entries, shipped, value, worked

ALL = sorted(shipped())
FILLED: dict[str, dict[str, str]] = {key: dict(formula.examples) for key, formula in shipped().items()}
COUNT = 1000


def page_of(key: str) -> str:
    return f"calculators/{key}/index.html"


def close(ours: float, theirs: Any) -> bool:
    """Within 1e-9 of each other, or no number on both sides (JSON has none)."""
    if theirs is None:
        return not math.isfinite(ours)
    return math.isclose(ours, theirs, rel_tol=1e-9, abs_tol=1e-12)


def test_javascript_and_python_agree_on_a_thousand_random_inputs_each(browser) -> None:
    """One page, one call: each function as the site carries it, on inputs from all over the ranges; of each tenth
    some are missing."""
    inputs = {key: random_entries(formula, seed, COUNT) for seed, (key, formula) in enumerate(shipped().items())}
    dice = random.Random(0)
    for entries in inputs.values():
        entries[::10] = [{key: one for key, one in told.items() if dice.random() < 0.7} for told in entries[::10]]
    source = ",\n".join(f"{json.dumps(key)}: {function(formula)}" for key, formula in shipped().items())
    page = browser.new_page()
    try:
        found = page.evaluate(
            f"""(inputs) => {{
                const functions = {{{source}}};
                const found = {{}};
                for (const key of Object.keys(inputs)) found[key] = JSON.stringify(inputs[key].map(functions[key]));
                return found;
            }}""",
            inputs,
        )
    finally:
        page.close()
    for key, formula in shipped().items():
        answers = json.loads(found[key])
        assert len(answers) == COUNT
        for entered, theirs in zip(inputs[key], answers, strict=True):
            ours = compute(formula, entered)
            where = (key, entered)
            if entered.keys() >= set(formula.asked):
                assert all(close(ours.values[name], theirs["values"][name]) for name in formula.steps), where
            assert (ours.sound, list(ours.refuse), list(ours.warn), list(ours.reads)) == tuple(
                theirs[name] for name in ("sound", "refuse", "warn", "reads")
            ), where
            assert [row[0] for row in ours.plan] == [row[0] for row in theirs["plan"]], where
            assert all(
                close(one, other) if one is not None else other is None
                for mine, their in zip(ours.plan, theirs["plan"], strict=True)
                for one, other in zip(mine[1:], their[1:], strict=True)
            ), where


def fill(page: Any, key: str, values: dict[str, str]) -> None:
    for name, text in values.items():
        if shipped()[key].fields[name].choices:
            page.check(f'[data-field="{name}"] input[value="{text}"]')
        else:
            page.fill(f"#in-{name}", text)


@pytest.mark.parametrize("scheme", ["http", "file"])
def test_results_stand_on_the_page_as_python_gives_them(visit, site, scheme: str) -> None:
    tried = visit(site.address(scheme, "calculators/index.html"))
    for key in ALL:
        page = tried.page
        page.goto(site.address(scheme, page_of(key)))
        assert page.get_attribute("[data-calc]", "data-state") == "waiting"
        fill(page, key, FILLED[key])
        result, formula = worked(key), shipped()[key]
        assert page.get_attribute("[data-calc]", "data-state") == "worked", key
        found = page.locator("[data-output]").evaluate_all(
            "all => all.map(one => [one.dataset.output, one.textContent])"
        )
        there = [step for step in formula.outputs if math.isfinite(result.values[step.id])]
        assert found == [[step.id, units(shown(step, result.values[step.id]))] for step in there], key
        assert "decides nothing" in page.inner_text(".strip")
    assert tried.faults == [] and tried.foreign(site) == []


BAD = {
    "": "empty",
    "1,5": "comma",
    "-7": "negative",
    "-77777777": "negative",
    "999999999": "above",
    "99999999999999999999": "number",
    "1e3": "number",
    "abc": "number",
    "1.2.3": "number",
    "Infinity": "number",
    "<img src=x onerror=alert(1)>": "number",
}


def test_an_entry_that_is_no_number_gets_clear_words_and_no_result(visit, site) -> None:
    tried = visit(site.address("file", page_of("gas-left")))
    page = tried.page
    fill(page, "gas-left", FILLED["gas-left"])
    for name, field in shipped()["gas-left"].fields.items():
        for text, word in BAD.items() if name == "pressure" else list(BAD.items())[:3]:
            page.fill(f"#in-{name}", text)
            page.locator(f"#in-{name}").blur()
            fault = page.inner_text(f"#fault-{name}")
            assert fault.startswith(WORDS[word].partition(" Write {wanted}")[0].partition("{wanted}")[0][:20]), (
                name,
                text,
            )
            assert field.units[0].label == "" or units(field.units[0].label) in fault or word == "nothing"
            assert page.locator("[data-output]").count() == 0
            assert page.get_attribute(f"#in-{name}", "aria-invalid") == "true"
            assert field.say in page.inner_text("[data-result]")
        page.fill(f"#in-{name}", FILLED["gas-left"][name])
        assert page.locator("[data-output]").count() and page.get_attribute(f"#in-{name}", "aria-invalid") == "false"
    assert tried.faults == []


def test_another_unit_gives_the_same_result_and_another_range(visit, site) -> None:
    page = visit(site.address("file", page_of("altitude"))).page
    fill(page, "altitude", FILLED["altitude"])
    metres = page.inner_text('[data-output="swollen"]')
    page.select_option('[data-field="cabin"] select', "1")
    assert page.inner_text('[data-field="cabin"] [data-range]') == "From −1312 to 16404 ft."
    page.fill("#in-cabin", "8000")
    assert page.inner_text('[data-output="swollen"]') == metres == "53.9\u00a0mL"


def test_a_refusal_shows_its_reason_and_no_number(visit, site) -> None:
    page = visit(site.address("file", page_of("alarm-limit"))).page
    fill(page, "alarm-limit", {**FILLED["alarm-limit"], "sounding": "no", "worse": "no"})
    assert page.inner_text('[data-output="limit"]') == "100\u00a0mmHg"
    for name, words in (("sounding", "An alarm sounds"), ("worse", "The patient is worse")):
        page.check(f'[data-field="{name}"] input[value="yes"]')
        told = page.inner_text("[data-result]")
        assert words in told and page.locator("[data-output]").count() == 0 and "100" not in told
        page.check(f'[data-field="{name}"] input[value="no"]')
    page.fill("#in-now", "90")
    assert "already at or below" in page.inner_text("[data-result]") and page.locator("[data-output]").count() == 0


PLANS = {
    "weaning-plan-volume": ({"start": "2230", "full": "34"}, "17.0\u00a0mL"),
    "weaning-plan-ratio": ({"start": "8:30", "third": "no"}, "Set the ratio"),
}


@pytest.mark.parametrize("media", ["screen", "print"])
@pytest.mark.parametrize("key", PLANS)
def test_no_plan_on_screen_or_paper_before_all_is_filled_in(visit, site, key: str, media: str) -> None:
    """A plan of values that nobody typed would be carried to a patient: it says what is missing instead."""
    page = visit(site.address("file", page_of(key)), width=1000).page
    page.emulate_media(media=media)
    filled, told = PLANS[key]
    last = list(filled)[-1]

    def no_plan(missing: str) -> None:
        words = page.inner_text(".plan")
        assert page.inner_text("[data-plan-wait]").startswith("No plan here yet.") and missing in words
        assert page.locator("[data-plan] tr").count() == 0 and not page.locator(".plan table").is_visible()
        assert not page.locator(".plot").is_visible() and " mL" not in words.replace("\u00a0", " ")

    def fill_all(values: dict[str, str]) -> None:
        page.emulate_media(media="screen")
        fill(page, key, values)
        page.emulate_media(media=media)

    no_plan(shipped()[key].fields["start"].say)
    fill_all({name: text for name, text in filled.items() if name != last})
    no_plan(shipped()[key].fields[last].say)
    fill_all(filled)
    assert page.locator("[data-plan] tr").count() > 2 and page.locator(".plan table").is_visible()
    assert told in page.inner_text(".plan") and not page.locator("[data-plan-wait]").is_visible()
    assert "40.0" not in page.inner_text(".plan") and "EXAMPLE" not in page.inner_text("main")
    fill_all({"start": ""})
    no_plan(shipped()[key].fields["start"].say)


@pytest.mark.parametrize("key", PLANS)
def test_without_scripts_the_example_of_a_plan_says_so_and_stays_off_paper(visit, site, key: str) -> None:
    page = visit(site.address("file", page_of(key)), java_script_enabled=False).page
    assert page.locator(".plan table").is_visible()
    for part in (".plan", ".plan__made:has(.plot)"):
        assert "EXAMPLE" in page.inner_text(part)
    page.emulate_media(media="print")
    assert not page.locator(".plan table").is_visible() and not page.locator(".plot").is_visible()
    assert "No plan here yet." in page.inner_text(".plan")


def test_a_call_does_not_wait_for_the_last_entry(visit, site) -> None:
    page = visit(site.address("file", page_of("alarm-limit"))).page
    fill(page, "alarm-limit", {"worse": "yes"})
    assert "call the doctor now" in page.inner_text("[data-result]")
    assert page.inner_text(".result .call") == "Call: doctor on call for this patient 5 5502 (fictional)"
    assert page.locator(".result .call a").count() == 0
    fill(page, "alarm-limit", {"worse": "no"})
    assert "No result yet" in page.inner_text("[data-result]") and page.locator(".result .call").count() == 0
    page.goto(site.address("file", page_of("five-pressures")))
    fill(page, "five-pressures", {"begins": "before"})
    told = page.inner_text("[data-result]")
    assert told.index("Call the specialist now") < told.index("No result yet")
    assert "Five numbers clear no timing" not in told and page.locator("[data-output]").count() == 0


SHORT = """() => {
    const seen = (one) => {
        const box = one.getBoundingClientRect(), style = getComputedStyle(one);
        return style.visibility === "visible" && box.top >= 0 && box.bottom <= innerHeight + 1;
    };
    return [document.querySelector("[data-bar]"), document.querySelector("[data-result] dd")].map(seen);
}"""


@pytest.mark.parametrize("key", ["gas-use", "five-pressures"])
def test_the_result_is_in_sight_wherever_the_form_stands(visit, site, key: str) -> None:
    page = visit(site.address("file", page_of(key)), width=360, height=640).page
    fill(page, key, FILLED[key])
    page.evaluate("scrollTo(0, 300)")
    until(page, f"({SHORT})()[0]")
    value = page.inner_text("[data-result] dd >> nth=0").split("\n")[0]
    assert value.split(" and ")[0] in page.inner_text("[data-bar]")
    page.evaluate("document.querySelector('[data-result]').scrollIntoView()")
    until(page, f"JSON.stringify(({SHORT})()) === '[false,true]'")


def test_a_deadline_of_the_page_is_rounded_down(visit, site) -> None:
    """12.9 min behind 14:20 are 14:32:54."""
    page = visit(site.address("file", page_of("planned-hold"))).page
    fill(page, "planned-hold", {"start": "14:20", "length": "12.9"})
    rows = page.locator("[data-plan] tr td:first-child").all_inner_texts()
    assert rows == ["14:20", "14:25", "14:32", "14:35"]


def test_a_gauge_in_another_unit_is_answered_in_it(visit, site) -> None:
    """1 psi is 6,894.757 Pa: 20 bar are 290 psi."""
    page = visit(site.address("file", page_of("gas-left"))).page
    page.select_option('[data-field="pressure"] select', "1")
    page.fill("#in-pressure", "200")
    assert "20\u00a0bar (290\u00a0psi)" in page.inner_text("[data-result]")


def test_a_plan_gets_times_of_day_and_loses_them_again(visit, site) -> None:
    page = visit(site.address("file", page_of("weaning-plan-volume"))).page
    page.fill("#in-start", "22:30")
    page.fill("#in-full", "40")
    rows = page.locator("[data-plan] tr td:first-child").all_inner_texts()
    assert rows[0] == "22:30" and rows[-1] == "03:30 (day 2)" and len(rows) == 21
    for typed in ("22:3x", "8", "830"):
        page.fill("#in-start", typed)
        assert page.locator("[data-plan] tr").count() == 0
        assert page.inner_text("#fault-start") == WORDS["clock"]


SHOWN = """() => ({
    cells: [...document.querySelectorAll("[data-cell]")].map(cell => cell.textContent),
    lines: [...document.querySelectorAll(".plot > svg path")].map(path => path.getAttribute("d")),
    words: [...document.querySelectorAll(".plot > svg text, .plot figcaption li, [data-held]")]
        .map(one => one.textContent.split(/\\s+/).join(" ").trim()),
})"""


def test_table_and_plot_begin_as_python_draws_them(visit, site) -> None:
    plain = visit(site.address("file", "calculators/index.html"), java_script_enabled=False).page
    page = visit(site.address("file", "calculators/index.html")).page
    for key in ALL:
        for one in (plain, page):
            one.goto(site.address("file", page_of(key)))
        ours, theirs = plain.evaluate(SHOWN), page.evaluate(SHOWN)
        assert (ours["cells"], ours["words"]) == (theirs["cells"], theirs["words"]), key
        # The last place may be rounded another way.
        places = [[float(text) for line in one["lines"] for text in NUMBERS.findall(line)] for one in (ours, theirs)]
        assert places[0] == pytest.approx(places[1], abs=0.11) and bool(shipped()[key].plot) == (len(places[0]) > 10), (
            key
        )


NUMBERS = re.compile(r"[0-9.]+")


def test_table_and_plot_follow_what_is_entered(visit, site) -> None:
    page = visit(site.address("file", page_of("timing"))).page
    before = page.evaluate(SHOWN)["cells"]
    page.check('[data-field="sex"] input[value="woman"]')
    rates = [case.given["rate"] for case in shipped()["timing"].table.rows]
    expected = [value("timing", "closure", rate=rate, sex="woman") for rate in rates]
    cells = page.locator("[data-cell]:nth-child(3)").all_inner_texts()
    assert [float(cell.partition("\u00a0")[0]) for cell in cells] == pytest.approx(expected, abs=0.51)
    assert before != page.evaluate(SHOWN)["cells"] and "Women" in page.locator("[data-held]").all_inner_texts()
    page.fill("#in-rate", "92")
    assert page.locator(".plot__entered").text_content() == "92\u00a0/min" and page.locator(".plot__here").count() == 1
    page.fill("#in-rate", "30")
    assert page.locator(".plot__entered").count() == 0


CUT = """() => [...document.querySelectorAll(".wide")]
    .filter(one => one.scrollWidth > one.clientWidth + 1).map(one => [one.tabIndex, one.role])"""


@pytest.mark.shown_in("wide")
def test_nothing_is_cut_at_360_px_and_what_is_wider_is_reached_by_keys(visit, site) -> None:
    page = visit(site.address("file", "calculators/index.html"), width=360).page
    for key in ALL:
        page.goto(site.address("file", page_of(key)))
        fill(page, key, FILLED[key])
        assert page.evaluate(CUT) == [], key
        assert page.evaluate("document.documentElement.scrollWidth") <= 360, key
    page.set_viewport_size({"width": 200, "height": 600})
    page.wait_for_function("() => !document.querySelector('[data-hint]').hidden")
    wide = page.evaluate(CUT)
    assert wide and all(one == [0, "region"] for one in wide)


def test_one_gauge_one_unit_for_fields_results_table_and_plot(visit, site) -> None:
    """1 psi is 6,894.757 Pa: 150 bar are 2,176 psi. Only fields that are still empty follow."""
    page = visit(site.address("file", page_of("gas-use"))).page
    page.select_option('[data-field="first"] select', "1")
    for name in ("second", "mark"):
        assert page.input_value(f'[data-field="{name}"] select') == "1"
    typed = {"first": "2175", "first_at": "22:10", "second": "1740", "second_at": "0240", "mark": "50", "ahead": "6"}
    fill(page, "gas-use", typed)
    assert page.inner_text('[data-output="fast"]') == "108\u00a0psi/h"  # (435 + 50) / 4.5
    assert page.inner_text("[data-cell] >> nth=0") == "1607" and "psi" in page.inner_text(
        "table:has([data-cell]) thead"
    )
    assert page.inner_text(".grid__entered th") == "6\u00a0h (entered)"
    assert page.text_content(".plot__unit >> nth=0") == "psi" and "in psi" in page.inner_text(".plot figcaption")
    page.select_option('[data-field="first"] select', "0")
    assert page.input_value('[data-field="second"] select') == "1"


def test_what_lies_between_two_rows_has_a_row_of_its_own(visit, site) -> None:
    page = visit(site.address("file", page_of("altitude"))).page
    page.select_option('[data-field="cabin"] select', "1")
    page.fill("#in-cabin", "7000")
    names = page.locator("tbody th").all_inner_texts()
    assert names.index("7000\u00a0ft (entered)") == 1 + names.index("6562\u00a0ft")
    page.fill("#in-cabin", "8000")
    assert "8000\u00a0ft (entered)" in page.locator("tbody th").all_inner_texts()
    assert page.locator("[data-entered]").count() == 0 and page.locator(".grid__entered").count() == 1


def test_the_last_reading_stands_beside_this_one_where_it_is_given(visit, site) -> None:
    page = visit(site.address("file", page_of("five-pressures"))).page
    fill(page, "five-pressures", FILLED["five-pressures"])
    assert page.locator(".result__then").count() == 0 and page.locator(".plot__then").count() == 0
    page.click(".fold summary")
    fill(page, "five-pressures", {"last_own_low": "62", "last_helped_low": "49"})
    assert page.locator(".result__then").all_inner_texts() == ["last reading 13\u00a0mmHg"]
    assert page.locator(".plot__then").count() == 2 and "falls less" in page.inner_text("[data-result]")
    page.fill("#in-last_own_low", "62,5")
    assert page.get_attribute("[data-calc]", "data-state") == "waiting"


def test_a_planned_hold_starts_the_clock_of_all_pages_and_ends_it(visit, site) -> None:
    page = visit(site.address("http", page_of("planned-hold"))).page
    page.click("text=It stands still now")
    assert page.locator(".shift__clock").inner_text().startswith("Balloon resting")
    page.goto(site.address("http", page_of("gas-use")))
    assert page.locator(".shift__clock").is_visible()
    page.goto(site.address("http", page_of("planned-hold")))
    page.click("text=It moves with every beat")
    assert not page.locator(".shift__clock").is_visible() and page.locator("text=It stands still now").is_visible()


def test_without_scripts_formula_table_and_plot_stand_there(visit, site) -> None:
    tried = visit(site.address("file", "calculators/index.html"), java_script_enabled=False)
    page = tried.page
    for key in ALL:
        page.goto(site.address("file", page_of(key)))
        assert not page.locator(".calc__form").is_visible() and page.locator(".calc__off").is_visible(), key
        plots = [".plot svg >> nth=0"] if shipped()[key].plot else []
        for part in ("math >> nth=0", "table >> nth=0", *plots, "#_limits"):
            assert page.locator(part).is_visible(), (key, part)
        box = page.locator("math >> nth=0").bounding_box()
        # `s = 2·r` is as low as its letters.
        size = page.locator("math >> nth=0").evaluate("one => parseFloat(getComputedStyle(one).fontSize)")
        assert box and box["width"] > 20 and box["height"] >= 10 and size >= 12, key
    assert tried.faults == []


def test_they_are_in_reach_from_home(visit, site) -> None:
    page = visit(site.address("file", "index.html"), java_script_enabled=False).page
    page.click('a.article-link[href="calculators/index.html"]')
    assert page.locator("[data-calculator]").count() == len(ALL)
    page.click('[data-calculator="timing"]')
    assert page.inner_text("h1") == shipped()["timing"].calculator.title


def test_it_is_worked_by_keyboard_alone(visit, site) -> None:
    page = visit(site.address("file", page_of("timing"))).page
    page.focus("#in-rate")
    page.keyboard.type("72")
    page.keyboard.press("Enter")  # must not load the page anew
    page.keyboard.press("Tab")
    page.keyboard.press("Space")
    assert page.input_value("#in-rate") == "72" and page.locator("[data-output]").count()


def test_paper_has_the_result_and_its_limits(visit, site) -> None:
    page = visit(site.address("file", page_of("gas-left")), width=1000).page
    fill(page, "gas-left", FILLED["gas-left"])
    page.emulate_media(media="print")
    for part in ("[data-result]", "#_limits", ".formula", "table >> nth=0", ".plot svg >> nth=0", ".until"):
        assert page.locator(part).is_visible(), part


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_fields_and_result_are_accessible(visit, site, axe: str, scheme: str) -> None:
    page = visit(site.address("file", page_of("gas-left")), color_scheme=scheme).page
    check: Callable[[], list[Any]] = lambda: page.evaluate(  # noqa: E731
        "async () => (await axe.run({resultTypes: ['violations']})).violations.map(one => [one.id, one.nodes[0].html])"
    )
    page.evaluate(axe)
    fill(page, "gas-left", FILLED["gas-left"])
    page.fill("#in-extra", "1,5")
    assert check() == []
    if scheme == "dark":
        return
    page.goto(site.address("file", page_of("alarm-limit")))
    page.evaluate(axe)
    assert check() == []
