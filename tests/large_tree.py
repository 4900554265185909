"""A large tree with more ways than could be listed, for the tests and the bench of `compare`."""

from __future__ import annotations

import json
import random
from typing import Any

from alarmtrees.compare.alike import Vocabulary
from alarmtrees.compare.matching import Matching
from alarmtrees.compare.trees import Compared, compare_trees
from alarmtrees.model import Tree
from alarmtrees.proof.resting import Times
from alarmtrees.reading.load import parse
from alarmtrees.reading.trees import build_tree

Doc = dict[str, Any]


def large_doc(steps: int, seed: int = 1) -> Doc:
    """A tree of so many steps: questions with three answers that lead a little further on, things to do, calls."""
    draw = random.Random(seed)
    nodes: Doc = {}
    for i in range(steps - 21):
        later = [f"s{min(i + k, steps - 22)}" for k in (1, 2, 3)] if i < steps - 22 else ["done", "call-last", "call-0"]
        marks = {"marks": [f"mark-{draw.randrange(30)}"]} if draw.random() < 0.3 else {}
        if i % 3 == 2 and i < steps - 22:
            nodes[f"s{i}"] = {"do": [f"Do thing {i}."], "takes": "20 s", "then": later[0], **marks}
        else:
            answers = [{"say": f"Seen {i} {k}", "to": to} for k, to in enumerate(later)]
            if draw.random() < 0.05:
                answers.append({"say": f"Bad {i}", "to": f"call-{draw.randrange(19)}"})
            nodes[f"s{i}"] = {"ask": f"Question {i}?", "takes": "10 s", "answers": answers, **marks}
    for k in range(19):
        nodes[f"call-{k}"] = {"end": "call", "call": "somebody", "say": f"Call because of {k}."}
    nodes["call-last"] = {"end": "call", "call": "somebody", "say": "Call."}
    nodes["done"] = {"end": "resolved", "say": "Done."}
    head = {"id": "large", "title": "Large", "summary": "Large.", "about": "gas", "aliases": [], "start": "s0"}
    more = {"condition": "technical", "harm": {"severity": "minor", "onset": "prompt"}, "pump": "running"}
    return {**head, **more, "anytime": [{"say": "Patient worse", "to": "call-last"}], "nodes": nodes}


def tree_of(doc: Doc) -> Tree:
    """The package's tree of a dict."""
    return build_tree(parse(json.dumps(doc), f"trees/{doc['id']}.yml", doc["id"], "tree"))


def compared(old: Doc, new: Doc) -> Compared:
    """Two versions of a tree compared, outside any library."""
    before, now = tree_of(old), tree_of(new)
    matching = Matching(before, now, Vocabulary([]), {})
    nobody: frozenset[str] = frozenset()
    return compare_trees(matching, (nobody, nobody), lambda a, b: a == b, Times(0.0, 0.0, 0.0))
