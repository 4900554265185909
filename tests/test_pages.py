"""The pages as text: what stands on them, in which order, and that no text of a library can become mark-up."""

from __future__ import annotations

import os
import posixpath
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from alarmtrees.check.rules import RULES
from alarmtrees.learning.soonest import by_subject
from alarmtrees.model import Library, Map, Tree
from alarmtrees.proof.order import reading_order
from alarmtrees.reading.open import open_library
from alarmtrees.site.bedside.home import home_page
from alarmtrees.site.bedside.tree import tree_page
from alarmtrees.site.build import build_pages, cautions_list
from alarmtrees.site.knowledge.settings import settings_page
from alarmtrees.site.knowledge.sources import sources_page
from alarmtrees.site.knowledge.words import words_page
from alarmtrees.site.markup import address, esc, phone, short_source, source_name
from alarmtrees.site.review.hazards import hazards_page
from alarmtrees.site.review.rules import rule_page, rules_index
from alarmtrees.site.review.safety import safety_page
from lone import open_tree
from small_library import HOSTILE_AS_READ, shipped_library, spoil

GOLDEN = Path(__file__).parent / "golden"
REPOSITORY = Path(__file__).parent.parent


def change(root: Path, file: str, old: str, new: str) -> Library:
    """Change one text of a library, and read it again."""
    path = root / file
    text = path.read_text(encoding="utf-8")
    assert old in text, old
    path.write_text(text.replace(old, new), encoding="utf-8")
    library = open_library(root)
    assert not [source.problems for source in library.sources_read if source.problems]
    return library


def page_of(library: Library, tree_id: str = "line-open") -> str:
    return alone(tree_page(library, library.trees[tree_id]).body)


def alone(body: str) -> str:
    """A page without what has tests of its own: the picture of its tree, and its sheet of paper."""
    return re.sub(r'<(figure id="_picture"|aside class="sheet").*?</(figure|aside)>\n*', "", body, flags=re.DOTALL)


def words_of(html: str) -> str:
    """The text of a page without its tags, white space folded."""
    parts: list[str] = []
    parser = HTMLParser()
    parser.handle_data = parts.append  # type: ignore[method-assign]
    parser.feed(html)
    return " ".join(" ".join(parts).split())


def golden(name: str, text: str) -> None:
    path = GOLDEN / name
    if os.environ.get("WRITE_GOLDEN"):
        path.write_text(text, encoding="utf-8")
    assert path.read_text(encoding="utf-8") == text, f"{name}: look at the change; WRITE_GOLDEN=1 accepts it"


# The whole of a page, as a reader of this repository can look at it


@pytest.mark.parametrize(
    "path",
    [
        *("index", "alarms/line-open/index", "safety/index", "settings/index"),
        *("words/index", "articles/index", "numbers/index", "sources/index"),
    ],
)
def test_page_is_as_accepted(small_library: Path, path: str) -> None:
    library = change(small_library, "kb/settings.yml", "value: 15", "value: 14")
    (small_library / "kb" / "marks.yml").write_text("checked:\n  say: The patient is looked at.\n", encoding="utf-8")
    (small_library / "kb" / "safety.yml").write_text(
        "patient-first:\n  say: The patient comes first.\n  precedence: {first: checked, then: any}\n"
        "  reason: The danger is in the patient.\n  sources: [common-practice]\n",
        encoding="utf-8",
    )
    library = open_library(small_library)
    page = next(page for page in build_pages(library, RULES) if page.path == path)
    text = re.sub(r"Content stamp [0-9a-f]{8}", "Content stamp 01234567", alone(page.body))
    golden(path.replace("/index", "").replace("/", "-") + ".html", text + "\n")


# The order of the steps


def test_every_answer_leads_further_down(small_library: Path) -> None:
    roots = [open_library(small_library), shipped_library()]
    for tree in (tree for library in roots for tree in library.trees.values()):
        order = reading_order(tree)
        place = {node_id: number for number, node_id in enumerate(order)}
        assert order[0] == tree.start and sorted(order) == sorted(tree.nodes)
        for node in tree.nodes.values():
            targets = [answer.to for answer in tree.answers_at(node)] + ([node.then] if node.then else [])
            assert all(place[to] > place[node.id] for to in targets), (tree.id, node.id)


def test_usual_way_reads_down_without_a_gap(small_library: Path) -> None:
    tree = open_library(small_library).trees["line-open"]
    assert reading_order(tree)[:5] == ("look", "plug", "holds", "tell", "done")


def test_order_ends_in_a_loop_and_keeps_what_nobody_reaches(tmp_path: Path) -> None:
    path = tmp_path / "looped.yml"
    path.write_text(
        "id: looped\ntitle: A\nsummary: B\nabout: gas\naliases: [c]\ncondition: technical\n"
        "harm: {severity: minor, onset: delayed}\npump: running\nstart: a\nnodes:\n"
        "  a: {do: [Do it.], then: b}\n  b: {do: [Do it.], then: a}\n  c: {end: resolved, say: D}\n",
        encoding="utf-8",
    )
    text = path.read_text(encoding="utf-8").replace("do: [Do it.]", "ask: E")
    text = text.replace("ask: E, then: b", "ask: E, answers: [{say: F, to: b}]")
    path.write_text(text.replace("ask: E, then: a", "ask: E, answers: [{say: F, to: a}]"), encoding="utf-8")
    _, tree = open_tree(path)
    assert tree is not None and reading_order(tree) == ("a", "b", "c")


# A tree's page


def test_numbers_lead_to_the_steps_they_name(small_library: Path) -> None:
    library = shipped_library()
    for tree in library.trees.values():
        body = page_of(library, tree.id)
        steps = r'<section id="([^"]+)"[^>]*data-node[^>]*>\n<h[23]><span class="number"[^>]*>Step (\d+)<'
        numbers = dict(re.findall(steps, body))
        assert len(numbers) == len(tree.nodes)
        named = re.findall(r'data-to="([^"]+)">.*?(?:go to</i>|→</span>) (\d+)', body)
        assert len(named) == sum(len(tree.answers_at(n)) + bool(n.then) for n in tree.nodes.values())
        assert all(numbers[to] == number for to, number in named)


def test_first_step_stands_before_the_long_cautions_and_behind_the_short_one(small_library: Path) -> None:
    body = page_of(open_library(small_library))
    places = [
        body.index(text) for text in ("<h1", 'class="strip"', 'data-node="look"', 'id="_cautions"', 'data-node="plug"')
    ]
    assert places == sorted(places)


def test_every_caution_is_shown_and_never_folded_away(small_library: Path) -> None:
    library = open_library(small_library)
    body = page_of(library)
    open_part = re.sub(r"<details>.*?</details>", "", body, flags=re.DOTALL)
    assert "Look at the patient first." in open_part and "Look at the patient before the machine." not in open_part
    assert open_part.count("At 15\u00a0min without movement do not restart; call.") == 2  # on the page, and at the step


def test_shares_of_causes_stay_with_the_editors(small_library: Path) -> None:
    text = words_of(page_of(open_library(small_library)))
    assert "The plug has come loose" in text and "70" not in text


def test_anytime_answers_stand_on_every_question_and_step_to_do(small_library: Path) -> None:
    body = page_of(open_library(small_library))
    assert body.count('<div class="anytime"') == 4  # look, plug, holds, tell; no end


def test_each_kind_of_end_says_how_it_ends(small_library: Path) -> None:
    body = page_of(open_library(small_library))
    assert re.findall(r'data-end="(\w+)"', body).count("call") == 2
    assert (
        'data-end="resolved"' in body
        and 'href="../../alarms/supply-low/index.html#look" data-tree="supply-low"' in body
    )


def test_call_on_the_way_shows_whom_and_where(small_library: Path) -> None:
    text = words_of(page_of(open_library(small_library)))
    assert "Tell the doctor what was done. Call: doctor on call 5 0002 (fictional)" in text


def test_withdrawn_page_shows_only_that_and_whom_to_call(small_library: Path) -> None:
    library = change(small_library, "trees/line-open.yml", "status: in-use", "status: withdrawn")
    page = tree_page(library, library.trees["line-open"])
    assert words_of(page.body) == (
        "Line is open Withdrawn. Do not use this page any more. Call: specialist on call 5 0001 (fictional)"
    )
    assert page.tags == ()
    assert 'priority">Withdrawn<' in home_page(library).body


def test_draft_says_what_it_is_and_who_has_read_it(small_library: Path) -> None:
    library = change(small_library, "trees/line-open.yml", "status: in-use", "status: draft")
    words = words_of(page_of(library))
    assert "Draft , read by the lead specialist on 2026-01-02; not yet in use. Not for use at the bedside." in words
    assert "Do not use after" not in words and 'class="sheet"' not in page_of(library)
    library = change(small_library, "trees/line-open.yml", "title: Line is open", "title: Line is quite open")
    assert "Draft , changed since it was read by the lead specialist on 2026-01-02;" in words_of(page_of(library))
    tree = small_library / "trees" / "line-open.yml"
    tree.write_text(re.sub(r"\nreview:.*", "", tree.read_text("utf-8")), "utf-8")
    assert "Draft. Not reviewed; not for use at the bedside." in words_of(page_of(open_library(small_library)))


def test_page_without_review_says_so(small_library: Path) -> None:
    path = small_library / "trees" / "line-open.yml"
    text = path.read_text(encoding="utf-8")
    path.write_text(text[: text.index("review:")], encoding="utf-8")
    assert "Nobody has reviewed this page yet." in page_of(open_library(small_library))


# Phone numbers


def test_fictional_number_is_never_a_link_and_a_real_one_is(small_library: Path) -> None:
    library = open_library(small_library)
    assert all("tel:" not in page.body for page in build_pages(library, RULES))
    (small_library / "kb" / "settings.local.yml").write_text(
        'roles:\n  specialist-on-call: {say: our specialist, phone: "+44 20 7946 0001"}\n', encoding="utf-8"
    )
    role = open_library(small_library).roles["specialist-on-call"]
    assert phone(role) == '<a class="phone" href="tel:+442079460001">+44 20 7946 0001</a>'


def test_number_that_is_not_set_says_so(small_library: Path) -> None:
    library = change(small_library, "kb/settings.yml", 'phone: "5 0001", ', "")
    assert phone(library.roles["specialist-on-call"]) == "number not set here"


# What the walk needs


def test_call_in_reach_on_every_step_dials_only_a_real_number(small_library: Path) -> None:
    dial = re.compile(r'<p class="dial"[^>]*>(.*)</p>')
    written = dial.search(page_of(open_library(small_library)))
    assert written and words_of(written[1]) == "Call: specialist on call 5 0001 (fictional)"
    assert "href" not in written[1]
    local = small_library / "kb" / "settings.local.yml"
    local.write_text('roles:\n  specialist-on-call: {say: ours, phone: "+44 1 2"}\n', encoding="utf-8")
    written = dial.search(page_of(open_library(small_library)))
    assert written and 'href="tel:+4412"' in written[1]
    local.unlink()
    library = change(small_library, "kb/settings.yml", 'phone: "5 0001", ', "")
    written = dial.search(page_of(library))
    assert written and words_of(written[1]) == "Call: specialist on call number not set here"


def test_resting_clock_is_told_limit_pump_and_what_answers_mean(small_library: Path) -> None:
    body = page_of(open_library(small_library))
    assert 'data-walk="line-open" data-pump="stopped" data-limit="900" data-limit-say="15\u00a0min"' in body
    assert re.search(r'id="plug"[^>]* data-pump="starts"', body)
    assert re.findall(r'data-pump="(moves|still)" data-to="(\w+)"', body) == [("moves", "tell"), ("still", "broken")]
    library = change(small_library, "kb/settings.yml", "    value: 15\n", "")
    assert "data-limit" not in page_of(library)


@pytest.mark.parametrize(
    ("marks", "told"),
    [
        ("rested-short", "short"),
        ("rested-too-long", "long"),
        ("rest-unknown", "unknown"),
        ("rested-too-long, rest-unknown", "unknown"),
        ("rested-short, rested-too-long", "long"),
    ],
)
def test_answer_that_means_several_rests_tells_the_worst(small_library: Path, marks: str, told: str) -> None:
    library = change(small_library, "trees/line-open.yml", "to: plug}", f"to: plug, marks: [{marks}]}}")
    assert re.findall(r'data-rest="(\w+)" data-to="plug"', page_of(library)) == [told]


def test_cautions_of_the_first_step_stand_behind_its_answers_and_of_others_before(small_library: Path) -> None:
    old, new = "    cautions: [patient-first]", "    cautions: [rest-is-short]"
    library = change(small_library, "trees/line-open.yml", old, new)
    sections = page_of(library).split("<section ")
    first, plug = (next(part for part in sections if f'id="{node}"' in part) for node in ("look", "plug"))
    assert first.index('class="answers"') < first.index('class="warn"')
    assert plug.index('class="warn"') < plug.index('class="lines"') < plug.index('class="answers"')


# The home page


def test_home_groups_in_the_fixed_order_and_puts_the_urgent_first(small_library: Path) -> None:
    library = change(small_library, "trees/supply-low.yml", "about: gas", "about: patient")
    assert list(by_subject(library)) == ["patient", "gas"]
    library = change(small_library, "trees/supply-low.yml", "about: patient", "about: gas")
    assert [tree.id for tree in by_subject(library)["gas"]] == ["line-open", "supply-low"]


def test_home_puts_what_harms_soonest_first_in_each_group() -> None:
    groups = {about: [tree.id for tree in trees] for about, trees in by_subject(shipped_library().published()).items()}
    assert groups["patient"][0] == "cardiac-arrest" and groups["gas"][0] == "blood-in-gas-line"
    assert groups["power"][:2] == ["smoke-or-fluid", "pump-stopped"] and groups["pressure"][0][:12] == "low-pressure"
    assert groups["patient"][-2:] == ["limb-cold", "urine-low"]


def test_home_shows_priority_as_word_marks_and_colour(small_library: Path) -> None:
    body = home_page(open_library(small_library)).body
    assert re.search(r'priority--high"><span aria-hidden="true">!!!</span> High', body)
    assert re.search(r'priority--low"><span aria-hidden="true">!</span> Low', body)


# The other pages


def test_each_rule_has_a_page_and_a_line_in_the_index() -> None:
    index = rules_index(RULES)
    for rule in RULES:
        page = rule_page(rule)
        assert page.path == f"rules/{rule.id}/index" and rule.doc.strip() in page.body
        assert f'href="../rules/{rule.id}/index.html"' in index.body, rule.id


def test_settings_page_says_value_source_who_and_when(small_library: Path) -> None:
    text = words_of(settings_page(open_library(small_library)).body)
    assert "These values belong to an invented hospital, Testfield General." in text
    assert "15 min The longest rest. Read in the primary ( Doe 2001 ); set by lead (fictional) on 2026-01-02." in text


def test_settings_page_of_a_real_hospital_marks_what_is_still_invented(small_library: Path) -> None:
    own = small_library / "kb" / "settings.local.yml"
    own.write_text(
        'hospital: {say: Ours, fictional: "no"}\nvalues:\n  call_by: {value: 3, by: head, on: 2026-10-01}\n',
        encoding="utf-8",
    )
    text = words_of(settings_page(open_library(small_library)).body)
    assert "6 of these still belong to an invented hospital, Testfield General." in text
    assert "Invented: 15 min" in text and "Invented: 3 min" not in text and "3 min The longest time alone" in text
    own.write_text('hospital: {say: Ours, fictional: "no"}\nvalues:\n  call_by: {value: 3}\n', encoding="utf-8")
    text = words_of(settings_page(open_library(small_library)).body)
    assert "7 of these still belong to an invented hospital, Testfield General, or to nobody." in text
    assert "Set by nobody who is named: 3 min" in text
    all_own = "".join(f"  {key}: {{value: 3, unit: min}}\n" for key in open_library(small_library).settings)
    numbers = '  specialist-on-call: {phone: "1"}\n  doctor-on-call: {phone: "2"}\n'
    who = "{by: head, on: 2026-10-01}"
    whose = f'hospital: {{say: Ours, fictional: "no"}}\ndefaults: {who}\n'
    own.write_text(f"{whose}values:\n{all_own}roles:\n{numbers}", "utf-8")
    text = words_of(settings_page(open_library(small_library)).body)
    assert "nvented" not in text and "Local policy of Ours." in text
    assert "3 pages are not reviewed in this house." in text


def test_sources_page_links_only_to_web_addresses(small_library: Path) -> None:
    library = change(small_library, "kb/sources.yml", "doi: 10.0000/example", "address: javascript:alert(1)")
    assert 'href="javascript' not in sources_page(library).body


def test_safety_page_of_the_library_tells_every_rule_with_its_reason() -> None:
    library = shipped_library()
    text = words_of(safety_page(library).body)
    assert library.safety
    assert all(rule.say in text and rule.reason in text and rule.id in text for rule in library.safety.values())


def test_safety_page_tells_every_act_that_needs_a_mark_once_and_by_group() -> None:
    library = shipped_library()
    body = safety_page(library).body
    text = words_of(body)
    assert all(text.count(act.say) == 1 for act in library.acts.acts.values())
    assert body.count("<details") == len({act.about for act in library.acts.acts.values()})
    assert "pump: starts" in text and "pump-starts" not in text.partition("What needs a mark")[2]


def test_page_of_hazards_tells_every_one_and_leads_to_what_holds_it() -> None:
    library = shipped_library()
    page = hazards_page(library)
    assert page and library.hazards
    text, cells = words_of(page.body), [cell for row in library.hazards.values() for cell in row.cells.values()]
    hazards = [hazard for cell in cells for hazard in cell.hazards]
    for told in (*(cell.none for cell in cells), *(h.say for h in hazards), *(h.words_only for h in hazards)):
        assert told is None or told in text
    assert f"{len(cells)} cells" in text and f"{len(hazards)} hazards, {sum(bool(h.held_by) for h in hazards)}" in text
    linked = set(re.findall(r'href="\.\./(?:safety/index\.html#|rules/)([a-z-]+)', page.body))
    assert linked == {rule for hazard in hazards for rule in hazard.held_by}
    assert re.findall(r'href="#([a-z-]+)"', page.body) == list(library.hazards)


def test_page_of_hazards_is_not_there_without_the_table(small_library: Path) -> None:
    assert hazards_page(open_library(small_library)) is None


def test_safety_page_without_a_table_of_acts_has_no_part_for_it(small_library: Path) -> None:
    assert "What needs a mark" not in safety_page(open_library(small_library)).body


def test_words_are_in_order_and_refer_to_each_other(small_library: Path) -> None:
    body = words_page(open_library(small_library)).body
    assert body.index(">connector<") < body.index(">gas line<") and 'See <a href="#gas-line">gas line</a>' in body


# Links and escaping


def test_every_link_inside_the_pages_has_a_target(shipped_site) -> None:
    library = shipped_library()
    pages = {page.path: page.body for page in shipped_site[0]}
    # What is written in Markdown leads there too; its own links are looked at by the check and by the browser.
    written = dict.fromkeys(library.written, "") | {"about": cautions_list(library, "about")}
    drawn = {key: (REPOSITORY / "kb" / f"{key}.md").read_text("utf-8") for key in library.written}
    traces = {key: re.findall(r"<!-- (trace|steps): ([a-z-]+) -->", text) for key, text in drawn.items()}
    written |= {key: "".join(f' id="{kind}-{one}"' for kind, one in found) for key, found in traces.items() if found}
    written |= dict.fromkeys((file.path.removesuffix(".html") for file in shipped_site[1]), "")
    anchors = {path: set(re.findall(r'\bid="([^"]+)"', body)) for path, body in written.items()} | {
        path: set(re.findall(r'\bid="([^"]+)"', body)) for path, body in pages.items()
    }
    for path, body in pages.items():
        ids = re.findall(r'\bid="([^"]+)"', body)
        assert len(ids) == len(set(ids)), path
        for href in re.findall(r'href="([^"]+)"', body):
            if href.startswith(("https://", "http://", "tel:")):
                continue
            target, _, anchor = href.partition("#")
            there = posixpath.normpath(posixpath.join(path, "..", target.removesuffix(".html"))) if target else path
            assert there in anchors, (path, href)
            assert not anchor or anchor in anchors[there], (path, href)


def test_hostile_text_stays_text_wherever_it_stands(small_library: Path) -> None:
    spoil(small_library)
    library = open_library(small_library)
    assert not [source.problems for source in library.sources_read if source.problems]
    for page in build_pages(library, ()):
        # Data, in which no element can begin.
        own = re.compile(r'<script type="application/json" id="(bench|finder|learning)-data">')
        assert "<script" not in own.sub("", page.body, count=1), page.path
        assert not [line for line in page.body.splitlines() if line and not line.startswith("<")], page.path
    assert words_of(page_of(library)).count(HOSTILE_AS_READ) > 20


def test_small_helpers() -> None:
    assert esc("<&\"'>") == "&lt;&amp;&quot;&#x27;&gt;"
    assert address("index", "alarms/a/index") == "alarms/a/index.html"
    entry = Map((1, 1))
    entry.update(author="Linley GH, Bakker EW", year="2003")
    assert source_name(entry, "key") == "Linley 2003"
    entry.update(author="de Vroege R and others")
    assert source_name(entry, "key") == "de Vroege 2003"


@pytest.mark.parametrize(
    ("author", "short", "name"),
    [
        ("Joint Board", "", "Joint Board 2003"),
        ("Office of Wards and Beds", "", "Office of Wards and Beds 2003"),
        ("Society of Larks and others", "", "Society of Larks 2003"),
        ("Task Force on Larks in Winter of the Society of Larks", "Society of Larks", "Society of Larks 2003"),
        ("Van Horn J and Doe A", "", "Van Horn 2003"),
        ("Müller ÄÖ, Doe A", "", "Müller 2003"),
        ("", "Treatment of larks", "Treatment of larks 2003"),
        ("", "", "A title, with a comma 2003"),
    ],
)
def test_institution_is_named_whole_and_a_person_by_surname(author: str, short: str, name: str) -> None:
    entry = Map((1, 1))
    entry.update(author=author, short=short, title="A title, with a comma", year="2003")
    assert source_name(entry, "key") == name
    assert short_source(entry, "key") == (name if author or short else "A title")


def test_no_source_is_called_by_a_piece_of_an_institution() -> None:
    """Of a name in several words the first alone says nothing: each short name stands whole in what it is made of."""
    for key, entry in shipped_library().sources.items():
        name = source_name(entry, key).removesuffix(f" {entry.get('year', '')}")
        whole = [str(entry.get(field, "")) for field in ("short", "title")]
        author = str(entry.get("author", "")).removesuffix(" and others")
        initials = author.removeprefix(name).lstrip(" ").split(",")[0].split(" ")[0]
        assert name in [*whole, author] or (initials.isupper() and len(initials) <= 4), key
        assert len(short_source(entry, key)) <= 120, key


def test_no_page_knows_the_generator() -> None:
    folder = REPOSITORY / "site_src" / "alarmtrees"
    for path in folder.rglob("*.py"):
        imported = re.findall(r"^\s*(?:from|import) (\w+)", path.read_text(encoding="utf-8"), re.MULTILINE)
        assert ("mkdocs" in imported) == (path.name == "plugin.py"), path


def test_tree_is_left_as_it_was(small_library: Path) -> None:
    library = open_library(small_library)
    before: Tree = library.trees["line-open"]
    build_pages(library, RULES)
    assert open_library(small_library).trees["line-open"] == before


def test_an_end_that_names_another_page_leads_to_it() -> None:
    """Else a reader would have to look it up, with the list of all alarms a screen away."""
    library = shipped_library()
    titles = {tree.title for tree in library.trees.values()}
    named = 0
    for tree in library.trees.values():
        body = tree_page(library, tree).body
        for node in tree.nodes.values():
            said = f"{node.text} {node.meanwhile or ''}" if node.kind == "end" else ""
            assert not re.search(r"\b[Oo]pen the page for\b", said), f"{tree.id}/{node.id}: name it by its title"
            for quoted in re.findall("“([^”]+)”", said):
                if quoted in titles:
                    named += 1
                    assert re.search(rf'“<a href="[^"]+">{re.escape(esc(quoted))}</a>”', body), f"{tree.id}/{node.id}"
    assert named > 8
