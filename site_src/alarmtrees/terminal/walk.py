"""Walks a tree answer by answer, as a reader does."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from ..check.run import alone, errors_in
from ..model import Answer, Library, Node, Role, Setting, Tree
from ..model.wording import fill, folded
from ..proof.graph import Edge
from ..proof.resting import RESTS, RUNS, Times, answer_state, step_state
from ..reading.find import BrokenTree, find_tree

_TARGETS = frozenset({"unknown-target"})
_ENDLESS = frozenset({"cycle", "cross-tree-cycle", "dead-end"})


@dataclass(frozen=True, slots=True)
class Walk:
    """How far a walk has come.

    Attributes:
        tree: the tree in which it stands.
        library: where the tree lies; None outside any.
        start: the tree in which it began.
        settings: the local values, None outside any library.
        roles: whom to call, empty outside any library.
        passed: the steps taken, each with the answer given (None at a step to do), and the ends that handed over.
        node: the step that stands next; at the end of the walk the end.
        elapsed: the longest a calm reader needs until here, in seconds.
        rest: state of the balloon and length of its present rest in seconds; a call ends a rest.
        longest: the longest rest so far, in seconds.
        still: as `rest`, where only the moving balloon ends a rest.
        longest_still: the longest rest so far until the balloon was seen to move, in seconds.
    """

    tree: Tree
    library: Library | None
    start: Tree
    settings: Mapping[str, Setting] | None
    roles: Mapping[str, Role]
    passed: tuple[tuple[Tree, Node, str | None], ...]
    node: Node
    elapsed: float
    rest: tuple[int, float]
    longest: float
    still: tuple[int, float]
    longest_still: float

    @property
    def answers(self) -> tuple[Answer, ...]:
        """The answers that can be given at a question; none at an end."""
        return self.tree.answers_at(self.node) if self.node.kind == "ask" else ()

    def say(self, text: str) -> str:
        """A text of the tree with the local values put in."""
        return fill(text, self.settings)


class WrongAnswer(ValueError):
    """An answer that the step does not offer, one too few, or one too many."""


def begin(name: str, root: Path) -> Walk:
    """Stand before the first step of a tree.

    Args:
        name: the id of a tree of the library at `root`, or a file, also one outside any library.
        root: the library's folder.

    Returns:
        The walk at its first question or end; steps to do before it have been passed.

    Raises:
        FileNotFoundError: there is no such tree or file.
        BrokenTree: the file cannot be read, does not fit its schema, or has targets that do not
            exist or steps that lead back to each other.
    """
    named = find_tree(name, root)
    tree = named.tree()
    # One kind of fault at a time: ways mean nothing where a target is missing.
    for rule_ids in (_TARGETS, _ENDLESS):
        named.refuse(errors_in(tree, alone(tree, named.source), rule_ids))
    library = named.library()
    settings = library.settings if library else None
    rest = (RESTS, Times.of(settings).before_page) if tree.pump == "stopped" else (RUNS, 0.0)
    roles = library.roles if library else {}
    start = tree.nodes[tree.start]
    return _pass_steps(Walk(tree, library, tree, settings, roles, (), start, 0.0, rest, rest[1], rest, rest[1]))


def give(walk: Walk, text: str) -> Walk:
    """Give an answer at a question, and pass the steps to do that follow.

    Args:
        walk: a walk that stands at a question.
        text: the answer's whole text as shown; case and white space do not matter.

    Raises:
        WrongAnswer: the question does not offer that answer.
    """
    wanted = folded(text)
    answer = next((a for a in walk.answers if folded(walk.say(a.say)) == wanted), None)
    if answer is None:
        raise WrongAnswer(f"“{text}” is no answer to “{walk.say(walk.node.text)}”")
    return _pass_steps(_move(walk, Edge(answer, (walk.tree.id, answer.to))))


def walk_all(name: str, root: Path, answers: Iterable[str], through: bool = False) -> Walk:
    """Walk a tree with all answers at hand; see `begin` for the first arguments.

    Args:
        name: as `begin`.
        root: as `begin`.
        answers: in their order.
        through: whether to go on where the tree hands over to another; else that is the end.

    Returns:
        The walk at its end.

    Raises:
        FileNotFoundError, BrokenTree: as `begin`, and for the trees that are entered.
        WrongAnswer: one does not fit, there are too few, or too many; its text tells the way so far, and what is
            possible.
    """
    walk = begin(name, root)
    left = list(answers)
    while walk.node.kind == "ask" or (through and can_go_on(walk)):
        if walk.node.kind == "end":
            walk = go_on(walk)
            continue
        if not left:
            raise WrongAnswer(_with_choices(f"“{walk.say(walk.node.text)}” needs an answer", walk))
        try:
            walk = give(walk, left.pop(0))
        except WrongAnswer as fault:
            raise WrongAnswer(_with_choices(str(fault), walk)) from None
    if left:
        more = f"; it goes on in {walk.node.go} with --through" if walk.node.go and can_go_on(walk) else ""
        raise WrongAnswer(
            f"the walk ended at `{walk.node.id}`; no answer is possible there, left over: {', '.join(left)}{more}"
        )
    return walk


def can_go_on(walk: Walk) -> bool:
    """Whether the walk stands where its tree hands over to another one of the library."""
    tree_id = (walk.node.go or "").partition("/")[0]
    return walk.library is not None and tree_id in walk.library.trees


def go_on(walk: Walk) -> Walk:
    """Enter the tree that is handed over to: time and rest run on.

    Raises:
        BrokenTree: that tree has targets that do not exist, or steps that lead back to each other; or trees hand over
            to each other for ever.
    """
    assert walk.library is not None and walk.node.go is not None
    tree_id, _, step = walk.node.go.partition("/")
    if sum(node.kind == "end" for _, node, _ in walk.passed) > len(walk.library.trees):
        raise BrokenTree([f"{walk.tree.id} and {tree_id} hand over to each other again and again"])
    named = find_tree(tree_id, Path(walk.library.root))
    tree = named.tree()
    for rule_ids in (_TARGETS, _ENDLESS):
        named.refuse(errors_in(tree, alone(tree, named.source), rule_ids))
    node = tree.nodes[step or tree.start]
    return _pass_steps(replace(walk, tree=tree, passed=(*walk.passed, (walk.tree, walk.node, None)), node=node))


def _with_choices(message: str, walk: Walk) -> str:
    """A message about an answer, below the way so far, above what can be answered."""
    way = passed_lines(walk) if walk.passed else []
    choices = (f"  {walk.say(answer.say)}" for answer in walk.answers)
    return "\n".join([*(["the way so far:", *way] if way else []), f"{message}; possible answers:", *choices])


def _pass_steps(walk: Walk) -> Walk:
    while walk.node.kind == "do":
        assert walk.node.then is not None
        walk = _move(walk, Edge(None, (walk.tree.id, walk.node.then)))
    return _arrive(walk) if walk.node.kind == "end" else walk


def _move(walk: Walk, edge: Edge) -> Walk:
    times = Times.of(walk.settings)
    takes = times.takes(walk.node)
    walk = _spend(walk, takes)
    return replace(
        walk,
        passed=(*walk.passed, (walk.tree, walk.node, edge.answer.say if edge.answer else None)),
        node=walk.tree.nodes[edge.to[1]],
        rest=answer_state(edge, *walk.rest, takes),
        still=answer_state(edge, *walk.still, takes),
    )


def _arrive(walk: Walk) -> Walk:
    return _spend(walk, Times.of(walk.settings).takes(walk.node))


def _spend(walk: Walk, takes: float) -> Walk:
    """Let the time of the present step pass."""
    rest = step_state(walk.node, *walk.rest, takes)
    still = step_state(walk.node, *walk.still, takes, call_ends=False)
    return replace(
        walk,
        elapsed=walk.elapsed + takes,
        rest=rest,
        longest=max(walk.longest, rest[1]),
        still=still,
        longest_still=max(walk.longest_still, still[1]),
    )


def ask_through(walk: Walk) -> Walk:
    """Ask in the terminal until an end is reached, also through other trees; an empty line goes back one answer."""
    before: list[Walk] = []
    shown = 0
    print(f"{walk.tree.title}\nAnswer with the number or the words; an empty line goes back.\n")
    while walk.node.kind == "ask" or can_go_on(walk):
        if walk.node.kind == "end":
            walk = go_on(walk)
            continue
        for _, node, _ in walk.passed[shown:]:
            if node.kind == "do":
                print("\n".join(step_lines(walk, node, "• ")))
            elif node.kind == "end":
                print(_handed_over(walk, node))
        print("\n".join(step_lines(walk, walk.node)))
        for number, answer in enumerate(walk.answers, 1):
            print(f"  {number}  {walk.say(answer.say)}")
        words = input("> ").strip()
        shown = len(walk.passed)
        if not words:
            walk = before.pop() if before else walk
            continue
        if words.isdigit() and 0 < int(words) <= len(walk.answers):
            words = walk.say(walk.answers[int(words) - 1].say)
        try:
            after = give(walk, words)
        except WrongAnswer as fault:
            print(fault)
            continue
        before.append(walk)
        walk = after
    print()
    return walk


def as_json(walk: Walk) -> dict[str, Any]:
    """A finished walk as one JSON object."""
    end = walk.node
    return {
        "tree": walk.start.id,
        "steps": [
            {
                "node": _named(walk, tree, node),
                "kind": node.kind,
                "text": walk.say(node.text),
                "answer": None if answer is None else walk.say(answer),
            }
            for tree, node, answer in walk.passed
        ],
        "end": {
            "node": _named(walk, walk.tree, end),
            "end": end.end,
            "say": walk.say(end.text),
            "call": end.call,
            "go": end.go,
        },
        "elapsed_s": _number(walk.elapsed),
        "resting_s": _number(walk.longest),
    }


def _named(walk: Walk, tree: Tree, node: Node) -> str:
    """A step by its name; one of a tree that was entered with the tree's name before it."""
    return node.id if tree is walk.start else f"{tree.id}/{node.id}"


def _number(value: float) -> int | float:
    return int(value) if value == int(value) else value


def as_text(walk: Walk) -> str:
    """A finished walk as numbered lines."""
    return "\n".join([walk.start.title, *passed_lines(walk), *end_lines(walk)]) + "\n"


def passed_lines(walk: Walk) -> list[str]:
    """The way so far as numbered lines."""
    lines, number = list[str](), 0
    for _, node, answer in walk.passed:
        if node.kind == "end":
            lines.append(_handed_over(walk, node))
            continue
        number += 1
        lines += step_lines(walk, node, f"{number}. ")
        if answer is not None:
            lines.append(f"   → {walk.say(answer)}")
    return lines


def _handed_over(walk: Walk, end: Node) -> str:
    """An end that hands over, where the walk has gone on."""
    tree = walk.library.trees.get((end.go or "").partition("/")[0]) if walk.library else None
    return f"{walk.say(end.text)} Goes on with: {tree.title if tree else end.go}"


def step_lines(walk: Walk, node: Node, head: str = "") -> list[str]:
    """A step as lines: its question, or what to do and whom to call."""
    indent = " " * len(head)
    lines = [f"{head if i == 0 else indent}{walk.say(line)}" for i, line in enumerate(node.lines)]
    if node.call:
        lines.append(f"{indent}Call: {role_text(walk.roles, node.call)}")
    if picture := walk.tree.picture_at(node):
        lines.append(f"{indent}(picture: {picture.title})")
    return lines


def end_lines(walk: Walk) -> list[str]:
    """The end of a walk as lines."""
    end = walk.node
    lines = [f"End ({end.end}): {walk.say(end.text)}"]
    if end.call:
        lines.append(f"Call: {role_text(walk.roles, end.call)}")
    if end.meanwhile:
        label = "Watch next" if end.end == "resolved" else "Meanwhile"
        lines.append(f"{label}: {walk.say(end.meanwhile)}")
    if end.go:
        lines.append(f"Go on with: {end.go}")
    lines.append(f"Takes up to {_number(walk.elapsed)} s.")
    if walk.longest_still:
        lines.append(f"Until it moves or somebody is called, the balloon rests up to {_number(walk.longest)} s.")
        lines.append(f"Until it moves or this page ends, it rests up to {_number(walk.longest_still)} s.")
    return lines


def role_text(roles: Mapping[str, Role], role_id: str) -> str:
    """Whom to call, as readers see it: the role, its number, and whether that is invented."""
    role = roles.get(role_id)
    if role is None:
        return role_id
    if role.phone is None:
        return f"{role.say} (number not set here)"
    return f"{role.say}, {role.phone}{' (fictional)' if role.fictional else ''}"
