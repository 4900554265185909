"""Loops, reachability, order, numbers of ways, longest rests and causes against second methods.

Second library: scipy.sparse.csgraph (Virtanen P et al., SciPy 1.0, Nat Methods 2020;17:261-72): strong
components by Pearce's algorithm, breadth-first order, shortest paths, Bellman-Ford on negated weights.
Numbers of ways: the powers of the matrix of moves, added up. Rests and causes besides: every way of
small random trees walked one by one, by the words of this project's own design.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator

import numpy as np
from hypothesis import HealthCheck, assume, example, given, settings
from random_trees import Doc, Key, Way, docs, moves, roots, tangles, told, tree_of, ways
from scipy.sparse import csr_matrix
from scipy.sparse.csgraph import bellman_ford, breadth_first_order, connected_components, dijkstra

from alarmtrees.proof.graph import Graph, loop_in, search
from alarmtrees.proof.resting import Resting, Times
from alarmtrees.proof.simulate import DONE, OPEN, SEEN, Causes

SLOW = [HealthCheck.too_slow, HealthCheck.filter_too_much, HealthCheck.data_too_large]
quick = settings(max_examples=200, deadline=None, derandomize=True, suppress_health_check=SLOW)
MOST_WAYS = 3000


def _graph(library: dict[str, Doc]) -> Graph:
    return Graph({name: tree_of(doc) for name, doc in library.items()})


def _matrix(library: dict[str, Doc]) -> tuple[list[Key], csr_matrix]:
    """All steps, and how many moves lead from each to each."""
    keys = [(name, node) for name, doc in library.items() for node in doc["nodes"]]
    at = {key: i for i, key in enumerate(keys)}
    counts = np.zeros((len(keys), len(keys)), dtype=np.int64)
    for key in keys:
        for _, to in moves(library, key):
            counts[at[key], at[to]] += 1
    return keys, csr_matrix(counts)


# ------------------------------------------------------------------ loops, reachability, order


@quick
@given(tangles(trees=2, most=9))
def test_loops_are_the_strong_components(library: dict[str, Doc]) -> None:
    """`knots` are scipy's strong components of two steps and more, and the steps that lead to themselves."""
    keys, matrix = _matrix(library)
    count, labels = connected_components(matrix, directed=True, connection="strong")
    groups = [frozenset(keys[i] for i in np.flatnonzero(labels == label)) for label in range(count)]
    itself = {keys[i] for i in np.flatnonzero(matrix.diagonal())}
    expected = {group for group in groups if len(group) > 1 or group <= itself}
    found = _graph(library).knots
    assert len(found) == len(set(found))
    assert set(found) == expected


@quick
@given(tangles(trees=2, most=9))
def test_a_loop_is_told_by_a_shortest_one(library: dict[str, Doc]) -> None:
    """`loop_in` goes along real moves, back to its first step, and scipy knows no shorter loop through it."""
    keys, matrix = _matrix(library)
    graph = _graph(library)
    distances = dijkstra(matrix, directed=True, unweighted=True)
    at = {key: i for i, key in enumerate(keys)}
    for knot in graph.knots:
        for first in knot:
            loop = loop_in(graph, knot, first)
            assert loop[0] == first
            for here, to in zip(loop, [*loop[1:], first], strict=True):
                assert to in [target for _, target in moves(library, here)]
            ahead = {to for _, to in moves(library, first)}
            assert len(loop) == 1 + min(distances[at[to], at[first]] for to in ahead)


def _two_ways() -> dict[str, Doc]:
    """A short and a long way to one step: by whichever answer the search begins, the short one is asked for."""

    def ask(*targets: str) -> Doc:
        return {"ask": "?", "answers": [{"say": f"to {target}", "to": target} for target in targets]}

    nodes = {
        "n0": ask("n1", "n2", "n3"),
        "n1": ask("n4", "n5"),
        "n2": {"do": ["x"], "then": "n5"},
        "n3": ask("n4", "n6"),
        "n4": ask("n5", "n6"),
        "n5": ask("n6", "n7"),
        "n6": {"do": ["x"], "then": "n7"},
        "n7": {"end": "resolved", "say": "x"},
    }
    return {"t0": _with_head(nodes)}


def _with_head(nodes: dict[str, Doc]) -> Doc:
    head = {"id": "t0", "title": "t0", "summary": "t0", "about": "gas", "aliases": [], "condition": "technical"}
    harm = {"severity": "minor", "onset": "prompt"}
    causes = {"c0": {"say": "c0"}, "c1": {"say": "c1"}}
    return {**head, "harm": harm, "pump": "running", "causes": causes, "anytime": [], "start": "n0", "nodes": nodes}


@settings(quick, max_examples=300)
@example(_two_ways())
@given(tangles(trees=2, most=9))
def test_reachability_and_shortest_ways(library: dict[str, Doc]) -> None:
    """`reachable` and `search` find what scipy's breadth-first order finds, `search` on shortest ways."""
    keys, matrix = _matrix(library)
    graph = _graph(library)
    distances = dijkstra(matrix, directed=True, unweighted=True)
    for i, key in enumerate(keys):
        order = breadth_first_order(matrix, i, directed=True, return_predecessors=False)
        expected = {keys[j] for j in order}
        assert graph.reachable([key]) == expected
        before = search([(key, 0)], lambda state: [(e.answer, (e.to, 0)) for e in graph.edges[state[0]]])
        assert {state[0] for state in before} == expected
        for j in order:
            steps, link = 0, before[keys[j], 0]
            while link is not None:
                steps, link = steps + 1, before[link[0]]
            assert steps == distances[i, j]


@quick
@given(docs(trees=2, most=7))
def test_order_without_loops(library: dict[str, Doc]) -> None:
    """`backwards` holds each step once, behind all that can follow it; scipy too sees no loop."""
    keys, matrix = _matrix(library)
    graph = _graph(library)
    assert connected_components(matrix, directed=True, connection="strong")[0] == len(keys)
    assert sorted(graph.backwards) == sorted(keys)
    place = {key: i for i, key in enumerate(graph.backwards)}
    for i, j in zip(*matrix.nonzero(), strict=True):
        assert place[keys[j]] < place[keys[i]]


@quick
@given(docs(trees=2, most=7))
def test_numbers_of_ways(library: dict[str, Doc]) -> None:
    """Ways of n moves are counted by the n-th power of the matrix of moves; all of them end somewhere."""
    keys, matrix = _matrix(library)
    graph = _graph(library)
    last = np.array([not moves(library, key) for key in keys], dtype=np.int64)
    total, ahead = last.copy(), last
    for _ in keys:
        ahead = matrix @ ahead
        total = total + ahead
    assert [graph.ways(key) for key in keys] == total.tolist()


# ------------------------------------------------------------------ longest rests

RUNS, RESTS, CALLED = "runs", "rests", "called"


def _after_step(node: Doc, state: str, call_ends: bool) -> str:
    if state == RUNS and node.get("pump") == "stops":
        return RESTS
    return state


def _step_ends_rest(node: Doc, call_ends: bool) -> str | None:
    if node.get("end") == "resolved":
        return RUNS
    return CALLED if "call" in node and call_ends else None


def _takes(node: Doc) -> int:
    return int(node["takes"].split()[0])


def _rests_on(library: dict[str, Doc], way: Way, home: str, before_page: int, call_ends: bool) -> list[int]:
    """The lengths of all rests on one way that begin in its first tree."""
    rests: list[int] = []  # the last one is still growing while the state is RESTS
    counted = True
    state = RUNS
    if library[home]["pump"] == "stopped":
        state, rests = RESTS, [before_page]
    for key, say in way.steps:
        node = library[key[0]]["nodes"][key[1]]
        if state == RUNS and node.get("pump") == "stops":
            state, counted = RESTS, key[0] == home
            rests += [0] if counted else []
        if state == RESTS:
            if counted:
                rests[-1] += _takes(node)
            state = _step_ends_rest(node, call_ends) or state
        answer = next((a for a, _ in moves(library, key) if a and a["say"] == say), {})
        if answer.get("pump") == "moves":
            state = RUNS
        elif answer.get("pump") == "still" and state == RUNS:
            state, counted = RESTS, key[0] == home
            rests += [_takes(node)] if counted else []
    return rests


def _longest_by_scipy(library: dict[str, Doc], home: str, before_page: int, call_ends: bool) -> int:
    """The longest rest by Bellman-Ford on negated times, over steps paired with the balloon's state."""
    pairs = [(key, state) for key in _matrix(library)[0] for state in (RUNS, RESTS, CALLED)]
    at = {pair: i for i, pair in enumerate(pairs)}
    reach = np.zeros((len(pairs), len(pairs)))
    times = np.zeros((len(pairs), len(pairs)))
    begins: list[tuple[int, int, int]] = []  # pair from which a rest begins, seconds so far, pair it goes on at
    for key, state in pairs:
        node = library[key[0]]["nodes"][key[1]]
        after = RESTS if state == RUNS and node.get("pump") == "stops" else state
        begun = after == RESTS != state
        if after == RESTS:
            after = _step_ends_rest(node, call_ends) or after
        if begun:
            begins.append((at[key, state], 0, at[key, RESTS]))
        for answer, to in moves(library, key):
            seen = (answer or {}).get("pump")
            to_state = RUNS if seen == "moves" else RESTS if seen == "still" and after == RUNS else after
            reach[at[key, state], at[to, to_state]] = 1
            if seen == "still" and after == RUNS:
                begins.append((at[key, state], _takes(node), at[to, RESTS]))
            elif state == RESTS and to_state == RESTS:
                times[at[key, RESTS], at[to, RESTS]] = -_takes(node)
    distances = bellman_ford(csr_matrix(times))
    last = np.array([_takes(library[k[0]]["nodes"][k[1]]) if s == RESTS else -np.inf for k, s in pairs])

    def from_here(pair: int) -> float:
        return float(np.max(np.where(np.isfinite(distances[pair]), last - distances[pair], -np.inf)))

    start = at[(home, library[home]["start"]), RESTS if library[home]["pump"] == "stopped" else RUNS]
    met = set(breadth_first_order(csr_matrix(reach), start, return_predecessors=False).tolist())
    found = [so_far + from_here(on) for here, so_far, on in begins if here in met and pairs[here][0][0] == home]
    if library[home]["pump"] == "stopped":
        found.append(before_page + from_here(start))
    return int(max(found, default=0))


def _few_ways(graph: Graph, library: dict[str, Doc]) -> None:
    assume(max(graph.ways(root) for name in library for root in roots(library, name)) <= MOST_WAYS)


@settings(quick, max_examples=300)
@given(docs(trees=2, most=6))
def test_longest_rests(library: dict[str, Doc]) -> None:
    """`Resting` beside all ways one by one and beside scipy; its witness is a real way with that rest."""
    graph = _graph(library)
    _few_ways(graph, library)
    for call_ends in (True, False):
        resting = Resting(graph, Times(before_page=60, ask=0, do=0), call_ends)
        for home, tree in graph.trees.items():
            by_way = {
                told(way.steps, home): max(_rests_on(library, way, home, 60, call_ends), default=0)
                for way in ways(library, (home, tree.start))
            }
            longest = resting.longest(tree)
            assert longest == max(by_way.values())
            assert longest == _longest_by_scipy(library, home, 60, call_ends)
            if longest:
                rest = resting.witness(tree)
                way = tuple((step.node, step.answer) for step in rest.way)
                assert rest.seconds == longest
                assert any(longest == by_way[whole] for whole in by_way if _begins(whole, way))


def _begins(whole: tuple[tuple[str, str | None], ...], part: tuple[tuple[str, str | None], ...]) -> bool:
    """Whether a way begins with a part; the part may stop at a step before its answer."""
    *first, (node, say) = part
    here = whole[len(first)] if len(whole) > len(first) else None
    return list(whole[: len(first)]) == first and here is not None and here[0] == node and say in (None, here[1])


# ------------------------------------------------------------------ causes

NAMES = {"open": OPEN, "done": DONE, "seen": SEEN}


def _given(node: Doc, answer: Doc, cause: str, state: str) -> str | None:
    """The cause's state once an own answer has been given; None where it cannot be given."""
    when = answer.get("when")
    when = [when] if isinstance(when, str) else when
    named = when is None or cause in when
    if when is not None and "fixed" in when:
        if state == "done":
            return "seen"
        return state if named else None
    asks_whether_fixed = any("fixed" in other.get("when", ()) for other in node["answers"])
    if not named:
        return None
    return "open" if asks_whether_fixed else state


def _hurried(doc: Doc, start: str, cause: str) -> Iterator[tuple[tuple[str, ...], str, list[int], bool]]:
    """Every beginning of every way under a cause: the steps, the state on arrival, the possible answers
    at the last step, and whether that is a question."""
    ahead: list[tuple[tuple[str, ...], str]] = [((start,), "open")]
    while ahead:
        way, state = ahead.pop()
        node = doc["nodes"][way[-1]]
        after = "done" if cause in node.get("fixes", ()) else state
        possible = []
        for i, answer in enumerate(node.get("answers", ())):
            if (then := _given(node, answer, cause, after)) is not None:
                possible.append(i)
                ahead.append(((*way, answer["to"]), then))
        if "end" not in node:
            ahead += [((*way, a["to"]), after) for a in doc["anytime"] if a["to"] != way[-1]]
        if "then" in node:
            ahead.append(((*way, node["then"]), after))
        yield way, state, possible, "ask" in node


def _asked_twice() -> dict[str, Doc]:
    """After one remedy it is asked twice whether it held; only what was fixed since can be seen fixed."""
    nodes: dict[str, Doc] = {
        "n0": {"do": ["x"], "fixes": ["c0"], "then": "n1"},
        "n1": {"ask": "?", "answers": [{"say": "1.0", "to": "n2", "when": "fixed"}, {"say": "1.1", "to": "n4"}]},
        "n2": {"ask": "?", "answers": [{"say": "2.0", "to": "n3", "when": "fixed"}, {"say": "2.1", "to": "n4"}]},
        "n3": {"end": "resolved", "say": "x"},
        "n4": {"end": "call", "say": "x", "call": "who"},
    }
    return {"t0": _with_head(nodes)}


@settings(quick, max_examples=400)
@example(_asked_twice())
@given(docs(trees=2, most=7, causes=2))
def test_the_hurried_reader(library: dict[str, Doc]) -> None:
    """What the hurried reader meets under each cause, beside all ways walked one by one."""
    graph = _graph(library)
    _few_ways(graph, library)
    for name, doc in library.items():
        causes = Causes(graph.trees[name], graph)
        for _, start in roots(library, name):
            run = causes.run(start)
            stuck, unfixed, met = defaultdict(set), defaultdict(set), defaultdict(set)
            answered = set()
            for cause in doc["causes"]:
                shortest: dict[tuple[str, str], int] = {}
                for way, state, possible, is_question in _hurried(doc, start, cause):
                    here = way[-1]
                    met[here].add(cause)
                    answered |= {(here, i) for i in possible}
                    if is_question and not possible:
                        stuck[here].add(cause)
                    if doc["nodes"][here].get("end") == "resolved" and state == "open":
                        unfixed[here].add(cause)
                    shortest[here, state] = min(len(way), shortest.get((here, state), len(way)))
                _compare_search(causes, name, start, cause, shortest)
            assert {node: set(causes.names(mask)) for node, mask in run.stuck.items()} == stuck
            assert {node: set(causes.names(mask)) for node, mask in run.unfixed_end.items()} == unfixed
            assert {node: set(causes.names(mask)) for node, mask in run.met.items()} == met
            assert run.given == answered


def _compare_search(causes: Causes, tree: str, start: str, cause: str, shortest: dict[tuple[str, str], int]) -> None:
    before = causes.reach(start, cause)
    assert set(before) == {((tree, node), NAMES[state]) for node, state in shortest}
    for (node, state), length in shortest.items():
        steps, link = 1, before[(tree, node), NAMES[state]]
        while link is not None:
            steps, link = steps + 1, before[link[0]]
        assert steps == length


def _careful(doc: Doc, cause: str) -> bool:
    """Whether the careful reader comes to a step that fixes a cause, on any of his ways."""
    ahead = [doc["start"]]
    while ahead:
        node = doc["nodes"][ahead.pop()]
        if cause in node.get("fixes", ()):
            return True
        answers = node.get("answers", [])
        whens = [[w] if isinstance(w := answer.get("when"), str) else w for answer in answers]
        names_it = [answer for answer, when in zip(answers, whens, strict=True) if when and cause in when]
        says_nothing = [answer for answer, when in zip(answers, whens, strict=True) if when is None]
        ahead += [answer["to"] for answer in names_it or says_nothing]
        ahead += [node["then"]] if "then" in node else []
    return False


@settings(quick, max_examples=600)
@given(docs(trees=1, most=8, causes=2))
def test_the_careful_reader(library: dict[str, Doc]) -> None:
    """For which causes the careful reader finds no remedy, beside all his ways walked one by one."""
    graph = _graph(library)
    _few_ways(graph, library)
    doc = library["t0"]
    never = Causes(graph.trees["t0"], graph).never_fixed()
    assert never == [cause for cause in doc["causes"] if not _careful(doc, cause)]
