"""The best order of questions against brute force, and against what is proved of it elsewhere.

- Smith WE. Various optimizers for single-stage production. Naval Res Logist Q 1956;3:59-66: jobs in the order of weight
  over time have the least sum of weighted times of completion. An example worked by hand: weights 10 and 2, times 1
  and 3, give 18 in that order and 46 in the other.
- Kadane JB, Simon HA. Optimal strategies for a class of constrained sequential problems. Cogn Psychol 1977;9:489-505:
  the same for a search that ends where something is found, also where some boxes have to be opened before others. For
  rows of boxes that must be opened in their own order: take the beginning of a row with the best ratio.
- Where the last box need not be opened, since what is in it is known by then, the ratio is no longer the best order.

How sure a gain is, against a linear program in the form of Charnes & Cooper (Naval Res Logist Q 1962;9:181-6), solved
by scipy. Whole trees: rows of questions built here, every order of them tried, every way walked one by one.
"""

from __future__ import annotations

from itertools import permutations
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from random_trees import Doc, docs, tree_of, ways
from scipy.optimize import linprog

from alarmtrees.model import Library, Map, Pattern, SafetyRule
from alarmtrees.model.finding import Place
from alarmtrees.proof.economy import Adviser, Look, Looks, gain_range, sequence
from alarmtrees.proof.economy.rows import remedies_of
from alarmtrees.proof.graph import Graph
from alarmtrees.proof.resting import Times

SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much]
quick = settings(max_examples=120, deadline=None, derandomize=True, suppress_health_check=SLOW)
few = settings(max_examples=50, deadline=None, derandomize=True, suppress_health_check=SLOW)

# ------------------------------------------------------------------ looks alone


def boxes(times: list[float], weights: list[float], **more: Any) -> Looks:
    """Boxes of which each holds one thing for certain times to open."""
    names = [f"c{i}" for i in range(len(times))]
    looks = [
        Look(name, {name: time}, {other: time for other in names if other != name}, asks=time)
        for name, time in zip(names, times, strict=True)
    ]
    return Looks(looks, dict(zip(names, weights, strict=True)), **more)


def by_hand(looks: Looks, order: tuple[int, ...], inferred: bool = False) -> float:
    """The cost of an order, cause by cause."""
    total = 0.0
    for cause, share in looks.shares.items():
        for place, i in enumerate(order):
            look = looks.looks[i]
            last_one = place == len(order) - 1
            open_causes = [c for c in looks.shares if not found_before(looks, order[:place], c)]
            settled = last_one and all(found_before(looks, order, c) for c in open_causes)
            saved = look.asks if inferred and settled else 0.0
            ahead = [j for j in order[place + 1 :] if cause in looks.looks[j].found]
            waits = cause in look.passed and (ahead or cause in looks.behind)
            if cause in look.found and not waits:
                total += share * (look.found[cause] - saved)
                break
            total += share * (look.passed[cause] - saved)
    return total


def found_before(looks: Looks, order: tuple[int, ...], cause: str) -> bool:
    """Whether some first looks of an order have found a cause."""
    finders = [i for i, look in enumerate(looks.looks) if cause in look.found]
    for place, i in enumerate(order):
        ahead = set(finders) - set(order[: place + 1])
        if i in finders and not (cause in looks.looks[i].passed and (ahead or cause in looks.behind)):
            return True
    return False


def test_the_example_worked_by_hand() -> None:
    looks = boxes([1, 3], [10, 2])
    assert [(order, looks.cost(order)) for order in looks.cheapest_first()] == [((0, 1), 18), ((1, 0), 46)]


numbers = st.integers(1, 20).map(float)


@quick
@given(st.lists(st.tuples(numbers, numbers), min_size=1, max_size=7))
def test_ratio_is_the_best_order_where_the_theorem_holds(items: list[tuple[float, float]]) -> None:
    looks = boxes([time for time, _ in items], [weight for _, weight in items])
    by_ratio = tuple(sorted(range(len(items)), key=lambda i: -items[i][1] / items[i][0]))
    assert looks.cost(by_ratio) == pytest.approx(looks.least)
    assert looks.cost(next(looks.cheapest_first())) == pytest.approx(looks.least)


@quick
@given(st.lists(st.lists(st.tuples(numbers, numbers), min_size=1, max_size=3), min_size=1, max_size=3))
def test_rows_that_keep_their_order_are_merged_by_their_best_beginnings(rows: list[list[tuple[float, float]]]) -> None:
    """Kadane and Simon: again and again the beginning of a row with the best ratio comes next."""
    items = [item for row in rows for item in row]
    assume(len(items) <= 7)
    looks = boxes([time for time, _ in items], [weight for _, weight in items])
    starts = np.cumsum([0, *map(len, rows)])
    left = [list(range(starts[k], starts[k + 1])) for k in range(len(rows))]
    best: list[int] = []
    while any(left):
        beginnings = [(row, n) for row in left for n in range(1, len(row) + 1)]
        ratio = lambda b: sum(items[i][1] for i in b[0][: b[1]]) / sum(items[i][0] for i in b[0][: b[1]])  # noqa: E731
        row, n = max(beginnings, key=ratio)
        best += row[:n]
        del row[:n]
    keeps = (o for o in looks.cheapest_first() if all(o.index(i) < o.index(i + 1) for i in _followed(rows)))
    assert looks.cost(next(keeps)) == pytest.approx(looks.cost(tuple(best)))


def _followed(rows: list[list[Any]]) -> list[int]:
    starts = np.cumsum([0, *map(len, rows)])
    return [i for k in range(len(rows)) for i in range(starts[k], starts[k + 1] - 1)]


def test_ratio_is_not_the_best_where_the_last_is_inferred() -> None:
    """0.6 over 10 is more than 0.4 over 8; yet to open the cheap one settles both."""
    looks = boxes([10, 8], [0.6, 0.4], last_inferred=True)
    assert (looks.cost((0, 1)), looks.cost((1, 0))) == (pytest.approx(10), pytest.approx(8))
    assert next(looks.cheapest_first()) == (1, 0)
    assert next(boxes([10, 8], [0.6, 0.4]).cheapest_first()) == (0, 1)


@st.composite
def any_looks(draw: st.DrawFn) -> Looks:
    """Looks that find any causes, several the same, at any cost; some causes are found by none."""
    causes = [f"c{i}" for i in range(draw(st.integers(1, 5)))]
    looks = []
    for i in range(draw(st.integers(1, 5))):
        found = draw(st.sets(st.sampled_from(causes)))
        both = draw(st.sets(st.sampled_from(sorted(found)))) if found else set()
        costs = {cause: draw(numbers) for cause in causes}
        asks = min(costs.values()) / 2
        found_in = {cause: costs[cause] for cause in causes if cause in found}
        passed = {
            cause: costs[cause] / (2 if cause in both else 1) for cause in causes if cause in both or cause not in found
        }
        looks.append(Look(f"l{i}", found_in, passed, asks=asks))
    behind = frozenset(draw(st.sets(st.sampled_from(causes))))
    return Looks(looks, {cause: draw(numbers) for cause in causes}, behind, draw(st.booleans()))


@quick
@given(any_looks())
def test_best_order_is_that_of_brute_force(looks: Looks) -> None:
    orders = list(permutations(range(len(looks.looks))))
    costs = {order: by_hand(looks, order, looks.last_inferred) for order in orders}
    assert all(looks.cost(order) == pytest.approx(cost) for order, cost in costs.items())
    assert looks.least == pytest.approx(min(costs.values()))
    found = list(looks.cheapest_first())
    assert sorted(found) == orders
    assert [costs[order] for order in found] == pytest.approx(sorted(costs.values()))


@quick
@given(any_looks())
def test_bound_is_below_every_order(looks: Looks) -> None:
    exact = looks.least
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sequence, "MOST", 0)
        assert not looks.exact
        assert looks.least <= exact + 1e-9
        assert exact <= looks.cost(next(looks.cheapest_first())) + 1e-9 or looks.last_inferred


@quick
@given(st.lists(st.tuples(numbers, numbers), min_size=2, max_size=6))
def test_bound_is_met_where_ratio_is_best(items: list[tuple[float, float]]) -> None:
    looks = boxes([time for time, _ in items], [weight for _, weight in items])
    exact = looks.least
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(sequence, "MOST", 0)
        assert looks.least == pytest.approx(exact)


@quick
@given(
    st.lists(st.tuples(st.integers(-50, 50).map(float), numbers), min_size=1, max_size=6),
    st.sampled_from([1.0, 2.0, 3.0]),
)
def test_range_of_a_gain_is_that_of_a_linear_program(pairs: list[tuple[float, float]], factor: float) -> None:
    """min g.w / sum(w) over s/f <= w <= s f: with v = w/t, sum(v) = 1 and t s/f <= v <= t s f it is linear in v, t."""
    gains, shares = (np.array(column) for column in zip(*pairs, strict=True))
    n = len(pairs)
    low = np.hstack([-np.eye(n), (shares / factor)[:, None]])
    high = np.hstack([np.eye(n), (-shares * factor)[:, None]])
    ends = []
    for sign in (1, -1):
        solved = linprog(
            np.append(sign * gains, 0.0),
            A_ub=np.vstack([low, high]),
            b_ub=np.zeros(2 * n),
            A_eq=[np.append(np.ones(n), 0.0)],
            b_eq=[1.0],
        )
        ends.append(sign * solved.fun)
    names = [f"c{i}" for i in range(n)]
    found = gain_range(dict(zip(names, gains, strict=True)), dict(zip(names, shares, strict=True)), factor)
    assert found == pytest.approx((ends[0], ends[1]), abs=1e-6)


# ------------------------------------------------------------------ times


def careful_ways(doc: Doc, cause: str, node_id: str) -> list[tuple[float, bool]]:
    """All ways of the careful reader from a step, as shown: the seconds, and whether the remedy is reached."""
    node = doc["nodes"][node_id]
    takes = float(node["takes"].split()[0])
    if cause in node.get("fixes", ()):
        return [(takes, True)]
    named = {c for answer in node.get("answers", ()) for c in answer.get("when", ()) if answer.get("when") != "fixed"}
    following = [node["then"]] if "then" in node else []
    for answer in node.get("answers", ()):
        when = answer.get("when")
        if (when is None and cause not in named) or (isinstance(when, list) and cause in when):
            following.append(answer["to"])
    found = [(takes + rest, ends) for to in following for rest, ends in careful_ways(doc, cause, to)]
    return found or [(takes, False)]


@few
@given(docs(trees=1, most=8, causes=3))
def test_times_are_those_of_all_ways_walked_one_by_one(library: dict[str, Doc]) -> None:
    """The usual way is the first that reaches the remedy, where the answer shown first is tried first."""
    doc = library["t0"]
    tree = tree_of(doc)
    remedies = remedies_of(tree, Times(0.0, 0.0, 0.0))
    for cause in doc["causes"]:
        reaching = [seconds for seconds, ends in careful_ways(doc, cause, doc["start"]) if ends]
        usual, longest = remedies.usual(cause), remedies.longest(cause)
        assert (usual.seconds if usual else None) == (reaching[0] if reaching else None)
        assert (longest.seconds if longest else None) == (max(reaching) if reaching else None)
        assert longest is None or longest.seconds == sum(tree.nodes[step.node].takes or 0 for step in longest.way)


# ------------------------------------------------------------------ whole trees


Part = dict[str, Any]
"""A question of a row: what it finds, how, what it takes, and its marks."""


@st.composite
def rows_of_questions(draw: st.DrawFn) -> tuple[list[Part], dict[str, float]]:
    """Two to four questions that each find some causes, and the shares of all causes, two of them left to the end."""
    parts, count = [], 0
    for i in range(draw(st.integers(2, 4))):
        finds = [f"c{count + k}" for k in range(draw(st.integers(1, 2)))]
        count += len(finds)
        parts.append(
            {
                "name": f"q{i}",
                "finds": finds,
                "takes": draw(st.integers(5, 60)),
                "remedy": draw(st.integers(5, 60)),
                "retry": draw(st.booleans()),
                "marks": draw(st.sampled_from([[], [], ["a"], ["b"]])),
                "then_marks": draw(st.sampled_from([[], [], ["a"], ["b"]])),
            }
        )
    causes = [cause for part in parts for cause in part["finds"]] + ["rest0", "rest1"]
    return parts, {cause: float(draw(st.integers(1, 40))) for cause in causes}


def tree_in_order(parts: list[Part], shares: dict[str, float], narrow: bool = False) -> Doc:
    """A row of questions as a tree: each finds its causes and leads to their remedy, or leads on.

    `narrow`: the answer that leads on names only the causes that are still possible there.
    """
    nodes: dict[str, Doc] = {}
    gone: list[str] = []
    for part, after in zip(parts, [*(part["name"] for part in parts[1:]), "last"], strict=True):
        name = part["name"]
        gone += part["finds"] if narrow else []
        other = [cause for cause in shares if cause not in (gone or part["finds"])]
        nodes[name] = {
            "ask": "?",
            "takes": f"{part['takes']} s",
            "marks": part["marks"],
            "answers": [
                {"say": "found", "to": f"{name}-do", "when": part["finds"], "marks": part["then_marks"]},
                {"say": "not found", "to": after, "when": other},
            ],
        }
        nodes[f"{name}-do"] = {
            "do": ["x"],
            "takes": f"{part['remedy']} s",
            "fixes": part["finds"],
            "then": f"{name}-ask",
        }
        again = {"say": "no", "to": after if part["retry"] else "call"}
        nodes[f"{name}-ask"] = {"ask": "?", "answers": [{"say": "yes", "to": "done", "when": "fixed"}, again]}
    ends = [{"say": cause, "to": f"call-{cause}", "when": [cause]} for cause in ("rest0", "rest1")]
    found = [cause for part in parts for cause in part["finds"]]  # a remedy that did not hold leads here too
    nodes["last"] = {"ask": "?", "answers": [*ends, {"say": "none", "to": "call", "when": found}]}
    nodes |= {
        f"call-{cause}": {"end": "call", "say": "x", "call": "who", "fixes": [cause]} for cause in ("rest0", "rest1")
    }
    nodes |= {"done": {"end": "resolved", "say": "x"}, "call": {"end": "call", "say": "x", "call": "who"}}
    return {
        "id": "t",
        "title": "t",
        "summary": "t",
        "about": "gas",
        "aliases": [],
        "condition": "technical",
        "harm": {"severity": "minor", "onset": "prompt"},
        "pump": "running",
        "causes": {cause: {"say": cause, "share": str(share)} for cause, share in shares.items()},
        "start": "look",
        "nodes": {"look": {"ask": "?", "answers": [{"say": "go on", "to": parts[0]["name"]}]}, **nodes},
    }


def keeps(doc: Doc) -> bool:
    """Whether on every way `a` comes before `b`, walked one by one."""
    for way in ways({"t": doc}, ("t", doc["start"])):
        seen = False
        for event in way.events:
            if "b" in event.marks and not seen:
                return False
            seen = seen or "a" in event.marks
    return True


def expected(parts: list[Part], shares: dict[str, float]) -> float:
    """The mean time to the remedy, added up by hand."""
    total = spent = 0.0
    for part in parts:
        spent += part["takes"]
        total += sum(shares[cause] for cause in part["finds"]) * (spent + part["remedy"])
    return (total + spent * (shares["rest0"] + shares["rest1"])) / sum(shares.values())


A_BEFORE_B = SafetyRule(
    "a-before-b",
    "a comes before b.",
    Pattern.PRECEDENCE,
    {"first": frozenset("a"), "then": frozenset("b")},
    frozenset(),
    "x",
    (),
    Map((1, 1)),
    Place("", 1, 1),
)


@few
@given(rows_of_questions(), st.booleans())
def test_advice_is_the_best_order_that_keeps_the_rule(row: tuple[list[Part], dict[str, float]], narrow: bool) -> None:
    parts, shares = row
    doc = tree_in_order(parts, shares, narrow)
    assume(keeps(doc))
    tree = tree_of(doc)
    library = Library("", (), {"t": tree}, frozenset("t"), safety={"a-before-b": A_BEFORE_B})
    advice = Adviser(library, Graph(library.trees)).advice(tree)
    assert advice.expected == pytest.approx(expected(parts, shares))
    (found,) = advice.rows
    assert found.steps == tuple(part["name"] for part in parts)
    assert found.exact
    gains = {
        tuple(part["name"] for part in order): expected(parts, shares) - expected(list(order), shares)
        for order in permutations(parts)
    }
    lawful = {
        tuple(part["name"] for part in order): keeps(tree_in_order(list(order), shares))
        for order in permutations(parts)
    }
    assert found.bound == pytest.approx(max(gains.values()), abs=1e-9)
    best = max(gain for names, gain in gains.items() if lawful[names])
    if best > 0.5:
        assert found.best is not None
        assert found.best.gain == pytest.approx(best)
        assert lawful[found.best.steps]
        assert gains[found.best.steps] == pytest.approx(best)
    else:
        assert found.best is None
    for swap in found.swaps:
        assert swap.order.gain == pytest.approx(gains[swap.order.steps])
        assert lawful[swap.order.steps] == (not swap.order.faults)
