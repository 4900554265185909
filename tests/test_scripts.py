"""All scripts speak one JavaScript, and what several of them need stands in `page.js` alone."""

from __future__ import annotations

import json
import re
import shutil
import subprocess

import pytest

from alarmtrees.calc.javascript import function
from alarmtrees.site import minified
from alarmtrees.site.minified import short_script, short_style
from calculators import shipped
from small_library import REPOSITORY
from tools import missing

SOURCE = REPOSITORY / "site_src"
ASSETS = SOURCE / "theme" / "assets"
LINTER = REPOSITORY / "tests" / "node_modules" / "eslint"
FILES = [
    *sorted(ASSETS.glob("*.js")),
    SOURCE / "theme" / "worker-unsealed.js",
    *sorted((SOURCE / "alarmtrees").rglob("*.js")),
]
TEMPLATES = sorted((SOURCE / "theme").rglob("*.html"))


def scripts() -> dict[str, str]:
    """Every script that a page gets: files, those inside templates, and the formulas of the calculators."""
    found = {path.name: path.read_text(encoding="utf-8") for path in FILES}
    for path in TEMPLATES:
        inside = re.findall(r"<script>(.*?)</script>", path.read_text(encoding="utf-8"), re.DOTALL)
        for number, text in enumerate(text for text in inside if "{" not in text[:2] and "{%" not in text):
            found[f"{path.name}-{number}.js"] = re.sub(r"\{\{.*?\}\}", "", text)
    for name, formula in shipped().items():
        found[f"formula-{name}.js"] = f"window.formula = {function(formula)};\n"
    return found


def shared() -> set[str]:
    """The names that `page.js` gives to the others."""
    given = re.search(
        r"window\.alarmtrees = Object\.assign\(.*?\{\n(.*?)\}\)", (ASSETS / "page.js").read_text(), re.DOTALL
    )
    assert given
    return set(re.findall(r"\w+", given[1]))


FOUND = {
    "var at = 0;\nwindow.at = at;": "no-var",
    "let at = 0;\nwindow.at = at;": "prefer-const",
    "window.at = 1 == 2;": "eqeqeq",
    "window.at = nowhere;": "no-undef",
    "const at = 0;": "no-unused-vars",
    "window.at ||= 0;": "null",
    "[1].map(function (one) { return one; });": "prefer-arrow-callback",
    "window.at = `${1}` + window.is;": "prefer-template",
}


@pytest.fixture(scope="module")
def faults() -> dict[str, list[str]]:
    """What the linter says, by name of a script; of all there are, and of some that are made to be found."""
    node = shutil.which("node")
    if node is None or not LINTER.is_dir():
        missing("eslint is missing: run `npm ci` in tests/")
    assert node
    told = scripts() | {text: f'(() => {{\n"use strict";\n{text}\n}})();\n' for text in FOUND}
    told["sloppy"] = "(() => { window.at = 1; })();"
    asked = [{"name": name, "text": text, "sent": short_script(text)} for name, text in told.items()]
    asked.append({"name": "changed", "text": told["due.js"], "sent": told["ticks.js"]})
    done = subprocess.run(
        [node, str(REPOSITORY / "tests" / "lint.mjs")],
        input=json.dumps(asked),
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    found: dict[str, list[str]] = json.loads(done.stdout)
    return found


def test_all_scripts_speak_one_dialect(faults: dict[str, list[str]]) -> None:
    assert {name: told for name in scripts() if (told := faults[name])} == {}


@pytest.mark.parametrize("text", FOUND)
def test_linter_finds(faults: dict[str, list[str]], text: str) -> None:
    assert any(f"[{FOUND[text]}]" in fault for fault in faults[text])


def test_sloppy_mode_and_a_meaning_that_changes_on_the_way_are_found(faults: dict[str, list[str]]) -> None:
    assert any("[strict]" in fault for fault in faults["sloppy"])
    assert any(fault.startswith("changed on the way: ") for fault in faults["changed"])


def defined_again(text: str) -> set[str]:
    """Names of the shared functions that a script makes anew."""
    names = "|".join(sorted(shared()))
    made = rf"\bfunction ({names})\(|\b(?:const|let|var) ({names}) = (?:async )?(?:function\b|\(?[\w, {{}}=.\"]*\)? =>)"
    return {name for found in re.findall(made, text) for name in found if name}


def test_no_script_has_a_copy_of_what_is_shared() -> None:
    assert {"el", "two", "copied", "session"} <= shared()
    copies = {name: defined_again(text) for name, text in scripts().items() if name != "page.js"}
    assert {name: found for name, found in copies.items() if found} == {}


def test_copy_of_a_shared_function_is_found() -> None:
    assert defined_again(
        "  function el(name) {}\n  const two = (number) => number;\n  const many = function () {};"
    ) == {*("el", "two", "many")}
    assert defined_again("const { el, two } = window.alarmtrees; const all = [];") == set()


def test_what_is_sent_has_no_notes_and_each_name_that_others_ask_for() -> None:
    sent = short_script((ASSETS / "page.js").read_text(encoding="utf-8"))
    assert "/**" not in sent and all(re.search(rf"\b{name}\b", sent) for name in shared())
    assert short_style('/* So. */ a,\n.b { color: red; content: "; "; }') == 'a,.b{color:red;content:"; "}'


def test_without_a_minifier_pages_have_the_sources(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(minified, "minify", None)
    assert short_script("// So.\nat();\n") == "// So.\nat();\n" and short_style("/* So. */\n") == "/* So. */\n"
