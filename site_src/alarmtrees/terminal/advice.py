"""Tells the editor of a tree whether another order of its questions would lead to the remedy sooner: text and JSON."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from ..check.run import check_library, unsound
from ..model.wording import lasting
from ..proof.economy import Advice, Adviser, NewOrder, Row
from ..proof.economy.told import ASSUMED, gained, verdict
from ..reading.find import BrokenTree, find_tree


def advise(name: str, root: Path) -> Advice:
    """The advice on one tree of a library.

    Args:
        name: its id in the library at `root`, or its file, in whichever library that lies.
        root: the library's folder.

    Raises:
        FileNotFoundError: there is no such library or tree.
        ValueError: the file lies in no library, so that nothing is known of its rules and times.
        BrokenTree: the tree has errors, so that what its ways mean is not known. How it is worded does not matter.
    """
    named = find_tree(name, root)
    if named.home is None:
        raise ValueError(f"{named.path} lies in no library; put it into a folder trees/ beside a folder kb/")
    tree_id = named.path.stem
    result = check_library(named.home)
    library = result.library
    faults = unsound(result, f"trees/{tree_id}.yml")
    flow = result.analysis.flow
    if faults or tree_id not in flow.trees:
        raise BrokenTree([f"trees/{tree_id}.yml has errors; mend them first, `alarmtrees check` lists them"])
    return Adviser(library, flow).advice(library.trees[tree_id])


def as_text(advice: Advice) -> str:
    """The advice for a terminal."""
    if advice.expected is None:
        return f"{advice.tree}: the tree names no causes, so nothing can be said of the order of its questions\n"
    lines = [f"{advice.tree}: {_plain(lasting(advice.expected))} to the remedy, on the mean over the causes"]
    if not advice.rows:
        lines.append("No questions of this tree could change places.")
    for row in advice.rows:
        lines += ["", f"Could change places: {', '.join(row.steps)}", *(f"  {line}" for line in _row(row))]
    return "\n".join([*lines, "", ASSUMED, ""])


def _row(row: Row) -> list[str]:
    lines = [verdict(row)]
    if row.best:
        lines += [f"  {', '.join(row.best.steps)}", f"  {gained(row.best)}"]
    for swap in row.swaps:
        lines.append(f"{swap.first} and {swap.second} exchanged: {gained(swap.order)}")
    return [_plain(line) for line in lines]


def as_json(advice: Advice) -> dict[str, Any]:
    """The advice as a JSON object; times in seconds."""
    return {
        "tree": advice.tree,
        "expected_s": None if advice.expected is None else round(advice.expected, 1),
        "gain_s": round(advice.gain, 1),
        "rows": [
            {
                "steps": list(row.steps),
                "best": _order(row.best) if row.best else None,
                "exact": row.exact,
                "at_most_s": round(row.bound, 1),
                "swaps": [{"first": s.first, "second": s.second, **_order(s.order)} for s in row.swaps],
            }
            for row in advice.rows
        ],
    }


def _order(order: NewOrder) -> dict[str, Any]:
    return {
        "steps": list(order.steps),
        "gain_s": round(order.gain, 1),
        "low_s": round(order.low, 1),
        "high_s": round(order.high, 1),
        "sure": order.sure,
        "breaks": list(order.faults),
    }


def _plain(text: str) -> str:
    return text.replace("\u00a0", " ")
