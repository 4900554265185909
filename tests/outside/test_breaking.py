"""Every shipped tree broken in many ways, one at a time: each is found, in its file and line, under its rule.

Each tree meets one break in thirty-two, and each kind of break several trees; `EVERY=1` makes all of them in all trees.

The breaks are made in the text, line by line, so that the line of the fault is known without asking the
package what it found. Where a fault shows at another place than the break (a mark taken away shows at
the step that it guarded), the break says at which lines it may show.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import pytest
import yaml
from tree_text import SOME, Bench, Script, share

from alarmtrees.model import Map

FEWEST_KINDS = 40


@dataclass(frozen=True)
class Break:
    """One way to break a tree: the new text, and under which rule and at which lines that must be found.

    `says` must stand in the message; `file` is another file than the tree's own.
    """

    kind: str
    text: str
    rule: str
    lines: frozenset[int]
    says: str = ""
    file: str | None = None


Maker = Callable[[Script, Bench], Iterator[Break]]
MAKERS: list[Maker] = []


def breaks(maker: Maker) -> Maker:
    MAKERS.append(maker)
    return maker


def _at(*lines: int) -> frozenset[int]:
    return frozenset(lines)


@pytest.mark.parametrize("stem", SOME)
def test_every_break_is_found(stem: str, benches: dict[str, Bench], capsys: pytest.CaptureFixture[str]) -> None:
    """Each kind of break in one tree."""
    bench = benches[stem]
    made = [broken for maker in MAKERS for broken in maker(bench.script, bench)]
    missed = [told for broken in share(stem, made, 16) if (told := _missed(bench, broken))]
    assert not missed, "\n".join(missed)
    kinds = {broken.kind for broken in made}
    assert len(kinds) == len(made), "two breaks have one name"
    assert len(kinds) >= FEWEST_KINDS
    with capsys.disabled():
        print(f" {stem}: {len(share(stem, made, 16))} of {len(kinds)} breaks made and found", end="")


def _missed(bench: Bench, broken: Break) -> str | None:
    """What was found instead; None where the break was found as it must be."""
    assert broken.text != bench.script.text, f"{broken.kind} changes nothing"
    file = broken.file or bench.file
    found = [f for f in bench.findings(broken.text) if (f.rule, f.place.file, f.place.line) not in bench.before]
    for finding in found:
        place = finding.place
        here = finding.rule == broken.rule and place.file == file and place.line in broken.lines
        if here and broken.says in finding.message:
            return None
    told = ", ".join(f"{f.rule}@{f.place.file}:{f.place.line}" for f in found[:6]) or "nothing"
    return f"{broken.kind}: wanted {broken.rule}@{file}:{sorted(broken.lines)} {broken.says}; found {told}"


# ------------------------------------------------------------------ reading


@breaks
def _lost_text(s: Script, _: Bench) -> Iterator[Break]:
    _, node = next((n, x) for n, x in s.nodes("why") if s.is_simple(x, "why") and s.token(x, "why")[0] not in "\"'")
    line = node.value_at["why"][0]
    yield Break("text behind #", s.with_line(line, f"{s.lines[line - 1]} # and more"), "lost-text", _at(line))
    _, node = s.nodes("do")[0]
    first, last = s.block(node, "do")
    flow = s.with_lines(first, last, [f"{s.lines[first - 1]} [Look along the line, and at both ends]"])
    yield Break("flow list under do", flow, "lost-text", _at(first))
    _, answer = s.answers()[0]
    line = answer.value_at["say"][0]
    yield Break("comma in an answer", s.replace(answer, "say", "Weaker, or lower"), "lost-text", _at(line))
    yield Break("comma and colon in an answer", s.replace(answer, "say", "Weaker, : lower"), "yaml", _at(line))


@breaks
def _duplicate_keys(s: Script, _: Bench) -> Iterator[Break]:
    line = s.raw.key_at["title"][0]
    again = s.with_lines(line + 1, line, [s.lines[line - 1]])
    yield Break("key twice at the top", again, "duplicate-key", _at(line + 1))
    name, node = s.nodes("takes")[0]
    line = node.key_at["takes"][0]
    again = s.with_lines(line + 1, line, [s.lines[line - 1]])
    yield Break("key twice in a step", again, "duplicate-key", _at(line + 1))
    first, last = s.block(s.raw["nodes"], name)
    again = s.with_lines(last + 1, last, s.lines[first - 1 : last])
    yield Break("step twice", again, "duplicate-key", _at(last + 1))


@breaks
def _yaml(s: Script, _: Bench) -> Iterator[Break]:
    line, column = s.raw.value_at["title"]
    head, tail = s.lines[line - 1][: column - 1], s.lines[line - 1][column - 1 :]
    for kind, written in {
        "anchor": f"&name {tail}",
        "alias": "*name",
        "tag": f"!!str {tail}",
        "code tag": "!!python/object/apply:os.getcwd []",
        "control character": f"{tail}\x07",
        "escaped control character": '"a \\x1b[2J b"',
        "direction of writing": f"{tail} \u202e",
        "two colons": "Line: open: now",
        "brace not closed": "{say: open",
    }.items():
        at = _at(line, line + 1) if kind == "brace not closed" else _at(line)
        yield Break(kind, s.with_line(line, head + written), "yaml", at)
    count = len(s.lines)
    yield Break("second document", s.text + "---\nid: other\n", "yaml", _at(count + 1))
    yield Break("too deep", s.text + "deep: " + "[" * 40 + "]" * 40 + "\n", "yaml", _at(count + 1))
    _, node = s.nodes("takes")[0]
    line = node.key_at["takes"][0]
    yield Break("tab for blanks", s.with_line(line, "\t" + s.lines[line - 1].lstrip()), "yaml", _at(line))


@breaks
def _missing_keys(s: Script, _: Bench) -> Iterator[Break]:
    for key in ("title", "summary", "about", "aliases", "condition", "harm", "pump", "start", "nodes", "id"):
        yield Break(f"no {key}", s.remove(s.raw, key), "schema", _at(1), f"`{key}`")


@breaks
def _missing_keys_of_steps(s: Script, _: Bench) -> Iterator[Break]:
    nodes = s.raw["nodes"]
    name, node = s.nodes("answers")[0]
    yield Break("no answers", s.remove(node, "answers"), "schema", _at(nodes.key_at[name][0]), "`answers`")
    name, node = next((n, x) for n, x in s.nodes("call") if "end" in x)
    yield Break("nobody to call", s.remove(node, "call"), "schema", _at(nodes.key_at[name][0]), "`call`")
    yield Break("end says nothing", s.remove(node, "say"), "schema", _at(nodes.key_at[name][0]), "`say`")
    _, answer = s.answers("to")[0]
    yield Break("answer leads nowhere", s.remove(answer, "to"), "schema", _at(answer.at[0]), "`to`")
    yield Break("answer says nothing", s.remove(answer, "say"), "schema", _at(answer.at[0]), "`say`")
    for name, node in s.nodes("go")[:1]:
        yield Break("go nowhere", s.remove(node, "go"), "schema", _at(nodes.key_at[name][0]), "`go`")


@breaks
def _unknown_keys(s: Script, _: Bench) -> Iterator[Break]:
    text, line = s.insert_into(s.raw, "titel: Something else")
    yield Break("unknown key at the top", text, "schema", _at(line), "titel")
    _, node = s.nodes("takes")[0]
    line, column = node.key_at["takes"]
    text = s.with_line(line, " " * (column - 1) + "tekes: 20 s")
    yield Break("unknown key in a step", text, "schema", _at(line), "tekes")
    _, answer = s.answers("to")[0]
    line, column = answer.key_at["to"]
    old = s.lines[line - 1]
    text = s.with_line(line, old[: column - 1] + "too" + old[column + 1 :])
    yield Break("unknown key in an answer", text, "schema", _at(line), "too")
    _, node = s.nodes("answers")[0]
    text, line = s.insert_into(node, "then: somewhere")
    yield Break("then at a question", text, "schema", _at(line), "then")
    name, node = s.nodes("answers")[0]
    text, _ = s.insert_into(node, "do: Look.")
    yield Break("question and step in one", text, "schema", _at(s.raw["nodes"].key_at[name][0]))


@breaks
def _wrong_values(s: Script, _: Bench) -> Iterator[Break]:
    for key in ("about", "condition", "pump", "status"):
        yield Break(f"wrong {key}", s.replace(s.raw, key, "helium"), "schema", _at(s.raw.value_at[key][0]), "helium")
    harm = s.raw["harm"]
    for key in ("severity", "onset"):
        yield Break(f"wrong {key}", s.replace(harm, key, "soon"), "schema", _at(harm.value_at[key][0]), "soon")
    _, node = s.nodes("end")[0]
    yield Break("wrong end", s.replace(node, "end", "stop"), "schema", _at(node.value_at["end"][0]))
    _, node = s.nodes("takes")[0]
    yield Break("wrong time", s.replace(node, "takes", "20 seconds"), "schema", _at(node.value_at["takes"][0]))
    _, node = next((n, x) for n, x in s.nodes("why") if s.is_simple(x, "why"))
    yield Break("empty why", s.replace(node, "why", '""'), "schema", _at(node.value_at["why"][0]))
    review = s.raw["review"]
    yield Break("wrong date", s.replace(review, "on", "14.9.2026"), "schema", _at(review.value_at["on"][0]))
    yield Break("capital in an id", s.replace(s.raw, "start", "Look"), "schema", _at(s.raw.value_at["start"][0]))
    token = s.token(s.raw, "cautions")
    first = s.raw["cautions"][0]
    twice = s.replace(s.raw, "cautions", token[:-1] + f", {first}]")
    yield Break("caution twice", twice, "schema", _at(s.raw.value_at["cautions"][0]), "twice")
    for entry in list(s.raw.get("causes", {}).values())[:1]:
        yield Break("wrong share", s.replace(entry, "share", "many"), "schema", _at(entry.value_at["share"][0]))


@breaks
def _id(s: Script, _: Bench) -> Iterator[Break]:
    yield Break("id of another file", s.replace(s.raw, "id", "another"), "id-mismatch", _at(s.raw.value_at["id"][0]))


# ------------------------------------------------------------------ references


@breaks
def _targets(s: Script, bench: Bench) -> Iterator[Break]:
    def typo(kind: str, owner: Map, key: str) -> Break:
        return Break(kind, s.replace(owner, key, f"{owner[key]}x"), "unknown-target", _at(owner.value_at[key][0]))

    yield typo("typo in start", s.raw, "start")
    yield typo("typo in to", s.answers("to")[0][1], "to")
    yield typo("typo in the last to", s.answers("to")[-1][1], "to")
    yield typo("typo in an answer at any time", s.raw["anytime"][0], "to")
    if done := s.nodes("then"):
        yield typo("typo in then", done[0][1], "then")
    if gone := s.nodes("go"):
        go = gone[0][1]
        line = _at(go.value_at["go"][0])
        tree = go["go"].partition("/")[0]
        yield Break("typo in the tree of go", s.replace(go, "go", f"{tree}x"), "unknown-tree", line)
        yield Break("typo in the step of go", s.replace(go, "go", f"{tree}/nowhere"), "unknown-target", line)


@breaks
def _causes_named(s: Script, _: Bench) -> Iterator[Break]:
    if fixing := s.nodes("fixes"):
        node = fixing[0][1]
        token = s.token(node, "fixes")
        text = s.replace(node, "fixes", f"{token[:-1]}x]")
        yield Break("typo in fixes", text, "unknown-cause", _at(node.value_at["fixes"][0]))
    if told := [a for _, a in s.answers("when") if s.token(a, "when").startswith("[")]:
        token = s.token(told[0], "when")
        text = s.replace(told[0], "when", f"{token[:-1]}x]")
        yield Break("typo in when", text, "unknown-cause", _at(told[0].value_at["when"][0]))


@breaks
def _names_of_facts(s: Script, _: Bench) -> Iterator[Break]:
    def typo(kind: str, owner: Map, key: str, rule: str) -> Break:
        token = s.token(owner, key)
        new = f"{token[:-1]}x]" if token.startswith("[") else f"{token}x"
        return Break(kind, s.replace(owner, key, new), rule, _at(owner.value_at[key][0]))

    marked = [(n, x) for n, x in s.nodes("marks")]
    yield typo("typo in a step's mark", marked[0][1], "marks", "unknown-mark")
    yield typo("typo in an answer's mark", s.answers("marks")[0][1], "marks", "unknown-mark")
    yield typo("typo in a mark at any time", s.raw["anytime"][0], "marks", "unknown-mark")
    derived = s.replace(marked[0][1], "marks", "[resolved]")
    line = marked[0][1].value_at["marks"][0]
    yield Break("derived mark written", derived, "unknown-mark", _at(line), "never written")
    yield typo("typo in the tree's caution", s.raw, "cautions", "unknown-caution")
    if cautious := s.nodes("cautions"):
        yield typo("typo in a step's caution", cautious[0][1], "cautions", "unknown-caution")
    yield typo("typo in the tree's source", s.raw, "sources", "unknown-source")
    yield typo("typo in a step's source", s.nodes("sources")[0][1], "sources", "unknown-source")
    yield typo("typo in a role", s.nodes("call")[0][1], "call", "unknown-role")
    if "related" in s.raw:
        text, line = s.replace(s.raw, "related", "[no-such-article]"), s.raw.key_at["related"][0]
    else:
        text, line = s.insert_into(s.raw, "related: [no-such-article]")
    yield Break("unknown article", text, "unknown-article", _at(line))
    _, node = next((n, x) for n, x in s.nodes("why") if s.is_simple(x, "why"))
    line = node.value_at["why"][0]
    yield Break("unknown setting", s.replace(node, "why", '"After {rest_warning} call."'), "unknown-setting", _at(line))
    yield Break("lone brace", s.replace(node, "why", '"After { call."'), "unknown-setting", _at(line), "brace")


# ------------------------------------------------------------------ shape


@breaks
def _shape(s: Script, _: Bench) -> Iterator[Break]:
    nodes, start = s.raw["nodes"], s.raw["start"]
    text, line = s.add_step(["left-over:", "  end: resolved", "  say: Nobody comes here."])
    yield Break("step nobody comes to", text, "unreachable", _at(line))
    if done := s.nodes("then"):
        name, node = done[0]
        here = nodes.key_at[name][0]
        yield Break("step that leads to itself", s.replace(node, "then", name), "cycle", _at(here))
        # A loop is told from the first of its steps in the file; from the start on that is one of these.
        first = _at(*(spot[0] for spot in nodes.key_at.values() if nodes.key_at[start] <= spot <= nodes.key_at[name]))
        yield Break("loop to the start", s.replace(node, "then", start), "cycle", first)
        yield Break("nothing behind a step", s.remove(node, "then"), "dead-end", _at(here))
    if gone := s.nodes("go"):
        go = gone[0][1]
        yield Break("go in a circle", s.replace(go, "go", s.stem), "cross-tree-cycle", _at(go.value_at["go"][0]))
    name, node = next((n, x) for n, x in s.nodes("answers") if len({a["to"] for a in x["answers"]}) > 1)
    here = nodes.key_at[name][0]
    answers = node["answers"]
    lines = [spot[0] for spot in answers.item_at]
    only = s.with_lines(lines[1], lines[-1], [])
    yield Break("one answer only", only, "single-answer", _at(here))
    again = s.replace(answers[1], "say", s.token(answers[0], "say"))
    yield Break("answer twice", again, "duplicate-answer", _at(lines[1]))
    any_time = s.replace(answers[1], "say", s.token(s.raw["anytime"][0], "say"))
    yield Break("answer that stands at any time", any_time, "duplicate-answer", _at(lines[1]))
    text = s.text
    for i in range(1, len(answers)):
        changed = Script(text, s.stem)
        text = changed.replace(changed.raw["nodes"][name]["answers"][i], "to", answers[0]["to"])
    yield Break("all answers to one step", text, "same-way-twice", _at(here))


# ------------------------------------------------------------------ library, words, review


@breaks
def _library(s: Script, bench: Bench) -> Iterator[Break]:
    present = [stem for stem in sorted(bench.scripts) if (bench.root / f"trees/{stem}.yml").exists()]
    items = [spot[0] for spot in s.raw["aliases"].item_at]
    few = s.with_lines(items[7], items[-1], [])
    yield Break("seven other names", few, "too-few-aliases", _at(items[0], s.raw.key_at["aliases"][0]))
    other = next((bench.scripts[stem] for stem in present if stem != s.stem), None)
    if other is None:  # it hands over to nobody
        return
    later = max(s.stem, other.stem)
    file, script = f"trees/{later}.yml", s if later == s.stem else other
    title = s.replace(s.raw, "title", other.token(other.raw, "title"))
    yield Break("title of another tree", title, "duplicate-title", _at(script.raw.value_at["title"][0]), file=file)
    line = s.raw["aliases"].item_at[0][0]
    indent = s.lines[line - 1].partition("-")[0]
    taken = s.with_line(line, f'{indent}- "{other.raw["title"]}"')
    yield Break("other name that is a title", taken, "alias-clash", _at(line))
    shared = s.with_line(line, f'{indent}- "{other.raw["aliases"][0]}"')
    at = line if later == s.stem else other.raw["aliases"].item_at[0][0]
    yield Break("other name of another tree", shared, "alias-clash", _at(at), file=file)


@breaks
def _words(s: Script, _: Bench) -> Iterator[Break]:
    here = s.raw.value_at["id"][0]
    # One line less above the id would move it; what is removed stands below.
    for key, rule in {
        "cautions": "missing-caution",
        "sources": "missing-source",
        "status": "missing-status",
        "review": "missing-review",
    }.items():
        assert s.raw.key_at[key][0] > here
        yield Break(f"no {key}", s.remove(s.raw, key), rule, _at(here))
    _, node = next((n, x) for n, x in s.nodes("answers") if s.is_simple(x, "ask"))
    line = node.value_at["ask"][0]
    yield Break("long question", s.replace(node, "ask", "word " * 14 + "word?"), "long-text", _at(line))
    _, node = s.nodes("do")[0]
    spot = node["do"].item_at[0]
    old = s.lines[spot[0] - 1]
    yield Break("long step", s.with_line(spot[0], old[: spot[1] - 1] + "word " * 15), "long-text", _at(spot[0]))
    _, node = next((n, x) for n, x in s.nodes("why") if s.is_simple(x, "why"))
    line = node.value_at["why"][0]
    yield Break("long sentence", s.replace(node, "why", "word " * 26), "long-text", _at(line))
    review = s.raw["review"]
    stamp = _at(review.value_at["content"][0])
    yield Break("changed after the review", s.replace(node, "why", "Because."), "review-stale", stamp)
    line = review.value_at["next"][0]
    yield Break("review overdue", s.replace(review, "next", "2026-09-30"), "review-overdue", _at(line))
    yield Break("no day of the calendar", s.replace(review, "next", "2027-02-30"), "review-overdue", _at(line))


# ------------------------------------------------------------------ causes


@breaks
def _causes(s: Script, _: Bench) -> Iterator[Break]:
    causes = s.raw.get("causes")
    if not causes:
        return
    nodes, start = s.raw["nodes"], s.raw["start"]
    for cause in causes:
        text = _without_remedy(s, cause)
        yield Break(f"no remedy for {cause}", text, "cause-unfixed", _at(causes.key_at[cause][0]), f"`{cause}`")
    text, line = s.add_step(
        [
            "early:",
            "  ask: Is it so?",
            "  answers:",
            f'    - {{say: "It is so", to: {start}, when: [{next(iter(causes))}]}}',
            f'    - {{say: "It is not so", to: early-call, when: [{next(iter(causes))}]}}',
            "early-call: {end: call, call: specialist-on-call, say: Call.}",
        ]
    )
    text = _started_at(text, s.stem, "early")
    if len(causes) > 1:
        yield Break("question without an answer", text, "cause-stuck", _at(line))
    text, line = s.add_step(
        [
            "early:",
            "  ask: Is it so?",
            "  answers:",
            f'    - {{say: "It is so", to: {start}}}',
            '    - {say: "It is not so", to: early-call, when: fixed}',
            "early-call: {end: call, call: specialist-on-call, say: Call.}",
        ]
    )
    yield Break("fixed before any remedy", _started_at(text, s.stem, "early"), "never-answered", _at(line + 4))
    text, line = s.add_step(
        [
            "early:",
            "  ask: Is it so?",
            "  answers:",
            f'    - {{say: "It is so", to: {start}}}',
            '    - {say: "It is not so", to: early-end}',
            "early-end: {end: resolved, say: Done.}",
        ]
    )
    yield Break("resolved before any remedy", _started_at(text, s.stem, "early"), "wrong-remedy", _at(line + 5))
    done = frozenset(nodes.key_at[name][0] for name, node in s.nodes("end") if node["end"] == "resolved")
    for name, answer in s.answers("when"):
        # Where every cause arrives fixed, the question is a second look; only the remedy is asked for.
        if "fixed" in _words_of(answer["when"]) and _alone_guards_resolved(s, name) and _met_unfixed(s, name):
            yield Break(f"no `when: fixed` at {name}", s.remove(answer, "when"), "wrong-remedy", done)


def _started_at(text: str, stem: str, step: str) -> str:
    script = Script(text, stem)
    return script.replace(script.raw, "start", step)


def _without_remedy(s: Script, cause: str) -> str:
    """The text in which nothing fixes a cause."""
    text = s.text
    while True:
        script = Script(text, s.stem)
        node = next((node for _, node in script.nodes("fixes") if cause in node["fixes"]), None)
        if node is None:
            return text
        rest = [other for other in node["fixes"] if other != cause]
        text = script.replace(node, "fixes", f"[{', '.join(rest)}]") if rest else script.remove(node, "fixes")


def _asks_whether_fixed(node: Map) -> bool:
    return any("fixed" in _words_of(answer.get("when")) for answer in node.get("answers", ()))


def _met_unfixed(s: Script, name: str) -> bool:
    """Whether under some cause a way leads to this question past all that fixes the cause."""
    nodes = s.raw["nodes"]
    for cause in s.raw["causes"]:
        found, ahead = set(), [s.raw["start"]]
        while ahead:
            node = nodes[here := ahead.pop()]
            if here in found or cause in node.get("fixes", ()):
                continue
            found.add(here)
            ahead += [node["then"]] if "then" in node else []
            ahead += [a["to"] for a in node.get("answers", ()) if "when" not in a or cause in _words_of(a["when"])]
        if name in found:
            return True
    return False


def _alone_guards_resolved(s: Script, name: str) -> bool:
    """Whether some way to `resolved` meets this question, and no other that asks whether the cause is fixed."""
    nodes = s.raw["nodes"]
    barred = {n for n, node in nodes.items() if _asks_whether_fixed(node)} - {name}
    behind = _reached(s, name, barred)
    return name in _reached(s, s.raw["start"], barred) and any(nodes[n].get("end") == "resolved" for n in behind)


def _reached(s: Script, start: str, barred: set[str]) -> set[str]:
    found, ahead = set(), [start]
    while ahead:
        name = ahead.pop()
        if name in found or name in barred:
            continue
        found.add(name)
        node = s.raw["nodes"][name]
        ahead += [answer["to"] for answer in node.get("answers", ())] + ([node["then"]] if "then" in node else [])
    return found


# ------------------------------------------------------------------ safety


@breaks
def _marks_taken_away(s: Script, _: Bench) -> Iterator[Break]:
    nodes = s.raw["nodes"]
    node = nodes[s.raw["start"]]
    line = nodes.key_at[s.raw["start"]][0]
    text = s.remove(node, "marks")
    yield Break("patient not looked at first", text, "safety-rule", _at(line), "`look-at-the-patient-first`")
    shows = {"blood-check": "blood-clear", "rest-check": "rest-unknown", "patient-check": "no-pulse"}
    for mark, shown in shows.items():
        for _, asked in s.nodes("answers"):
            if mark in asked.get("marks", ()):
                at = asked["marks"].item_at[asked["marks"].index(mark)][0]
                text = _without_marks(s, {shown})
                yield Break(f"{mark} shows no {shown}", text, "missing-mark", _at(at), f"`{shown}`")
                break


def _without_marks(s: Script, marks: set[str]) -> str:
    """The text in which no step and no own answer carries one of some marks."""
    text = s.text
    while True:
        script = Script(text, s.stem)
        carriers = [x for _, x in (*script.nodes("marks"), *script.answers("marks")) if marks & set(x["marks"])]
        if not carriers:
            return text
        owner = carriers[0]
        rest = [mark for mark in owner["marks"] if mark not in marks]
        text = script.replace(owner, "marks", f"[{', '.join(rest)}]") if rest else script.remove(owner, "marks")


@breaks
def _what_must_come_first(s: Script, bench: Bench) -> Iterator[Break]:
    """Of every rule `first` before `then`: all that comes first is taken away where both stand in the tree."""
    rules = yaml.safe_load((bench.root / "kb" / "safety.yml").read_text(encoding="utf-8"))
    for rule, entry in rules.items():
        first, then = (_words_of(entry.get("precedence", {}).get(place)) for place in ("first", "then"))
        named = [x for _, x in (*s.nodes("marks"), *s.answers("marks")) if first & set(x["marks"])]
        if not {s.raw["id"], s.raw["about"]} & set(entry.get("only", [s.raw["id"]])):
            continue
        if not named or not _lines_with(s, then):
            continue
        text = _without_marks(s, first)
        at = _lines_with(Script(text, s.stem), then)
        yield Break(f"nothing first for {rule}", text, "safety-rule", at, f"`{rule}`")


def _words_of(value: str | list[str] | None) -> set[str]:
    return set() if value is None else {value} if isinstance(value, str) else set(value)


def _lines_with(s: Script, marks: set[str]) -> frozenset[int]:
    """The lines of steps and answers that carry one of some marks, derived ones too."""
    nodes = s.raw["nodes"]
    steps = [nodes.key_at[n][0] for n, x in nodes.items() if marks & (set(x.get("marks", ())) | _derived(x))]
    return frozenset([*steps, *(x.at[0] for _, x in s.answers("marks") if marks & set(x["marks"]))])


def _derived(node: Map) -> set[str]:
    pump = {f"pump-{node['pump']}"} if "pump" in node else set()
    return pump | ({"call"} if "call" in node else set()) | ({"resolved"} if node.get("end") == "resolved" else set())


def _early(s: Script, lines: list[str]) -> tuple[str, int]:
    """A step to do put right behind the start's first answer."""
    script = Script(s.text, s.stem)
    answers = script.raw["nodes"][script.raw["start"]]["answers"]
    answer = next((a for a in answers if not a.get("marks")), answers[0])
    target = answer["to"]
    text = script.replace(answer, "to", "early")
    return Script(text, s.stem).add_step(["early:", *(f"  {line}" for line in lines), f"  then: {target}"])


@breaks
def _dangerous_steps(s: Script, _: Bench) -> Iterator[Break]:
    marked = {
        "limit lowered before the causes": ("limit-lowered", "limit-last"),
        "catheter moved": ("moves-catheter", "hands-off-the-catheter"),
        "refill without a look for blood": ("refill", "no-blood-before-gas"),
        "moved by hand without a look for blood": ("hand-move", "no-blood-before-gas"),
        "fixed rate with a heartbeat": ("fixed-rate", "fixed-rate-without-heartbeat-only"),
        "cylinder closed without a spare": ("cylinder-closed", "spare-first"),
        "lumen flushed without drawing back": ("lumen-flushed", "flush-after-drawing-back"),
    }
    for kind, (mark, rule) in marked.items():
        text, line = _early(s, ["do:", "  - Go on.", f"marks: [{mark}]"])
        yield Break(kind, text, "safety-rule", _at(line), f"`{rule}`")
    for rule in ("no-blood-before-gas", "ask-how-long-still"):
        text, line = _early(s, ["do:", "  - Restart.", "pump: starts"])
        yield Break(f"pump starts too early for {rule}", text, "safety-rule", _at(line), f"`{rule}`")
    text, line = _early(s, ["do:", "  - Pull the catheter back."])
    yield Break("catheter moved without the mark", text, "missing-mark", _at(line + 2), "`moves-catheter`")
    text, line = s.add_step(["early:", "  do:", "    - Go on.", f"  then: {s.raw['start']}"])
    early = _started_at(text, s.stem, "early")
    yield Break("a step before the patient", early, "safety-rule", _at(line), "`look-at-the-patient-first`")


@breaks
def _nobody_called(s: Script, _: Bench) -> Iterator[Break]:
    for mark, rule in {"patient-worse": "worse-means-call", "no-pulse": "no-pulse-means-call"}.items():
        text, _line = s.add_step(["silent-end: {end: resolved, say: Nobody was called.}"])
        script = Script(text, s.stem)
        answer = next((a for _, a in script.answers("marks") if mark in a["marks"]), None)
        if answer:
            text = script.replace(answer, "to", "silent-end")
            yield Break(f"nobody called after {mark}", text, "safety-rule", _at(answer.at[0]), f"`{rule}`")


@breaks
def _resting(s: Script, _: Bench) -> Iterator[Break]:
    text, line = _early(s, ["do:", "  - Stop the pump.", "pump: stops", "takes: 16 min"])
    yield Break("stopped for 16 min", text, "resting-limit", _at(line), "`resting_warning`")
    if s.raw["pump"] == "stopped":
        name = s.raw["start"]
        node = s.raw["nodes"][name]
        here = s.raw["nodes"].key_at[name][0]
        yield Break("first question takes 20 min", s.replace(node, "takes", "20 min"), "resting-limit", _at(here))
        text = s.replace(node, "takes", "5 min")
        yield Break("first question takes 5 min", text, "resting-limit", _at(here), "`call_by`")


@breaks
def _anytime(s: Script, _: Bench) -> Iterator[Break]:
    anytime = s.raw["anytime"]
    top = _at(1, s.raw.key_at["id"][0])
    yield Break("no answers at any time", s.remove(s.raw, "anytime"), "missing-mark", top, "`patient-worse`")
    for mark in ("patient-worse", "no-pulse"):
        line = next(a.at[0] for a in anytime if mark in a.get("marks", ()))
        at = _at(s.raw.key_at["anytime"][0], anytime.item_at[0][0])
        yield Break(f"no {mark} at any time", s.with_lines(line, line, []), "missing-mark", at, f"`{mark}`")
