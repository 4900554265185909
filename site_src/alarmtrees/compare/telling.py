"""What every report of a comparison says in the same words: the sentence that matters most, titles, approvals."""

from __future__ import annotations

import re
from collections.abc import Iterator
from difflib import SequenceMatcher

from ..model.finding import way_text
from .change import Change, Comparison, Counts, Headline, Way
from .kinds import KINDS, Weight

MOST_SHOWN = 400
"""Letters of a text that a report shows."""

MOST_WITH_IT = 3
"""So many of what follows from a change are told beside it."""

MOST_LINES = 60
"""Lines of a text that a report shows."""

MOST_OF_A_NAME = 120
MOST_OF_A_WAY = 2000
"""Letters of a title and of a way that a report shows."""

_BESIDE = """
typo why-reworded why-gone why-added sources-changed aliases-changed related-changed cause-added cause-changed
about-changed fixes-changed when-changed caution-reason safety-rule-reason setting-note words-changed synonyms-changed
waveforms-changed practice-changed learning-changed changes-changed stray-changed
"""
BESIDE = frozenset(_BESIDE.split())
"""Kinds of change that leave what is done at a bed as it was, where they weigh no more than a note."""

_LISTS = ("aliases-changed", "related-changed", "sources-changed", "cautions-changed")
"""Kinds of change of which only the items that go or come are shown."""

_QUOTED = 80
_LONG = re.compile(rf"“([^“”]{{{_QUOTED + 1},}}|[^“”\n]+\n[^“”]*)”")
_NAMED = re.compile(r"`([^`\s]+)`")


def verdict(comparison: Comparison) -> str:
    """The one sentence that a reader of the report has to know; never more than is so."""
    told = {change.tree for change in comparison.changes}
    torn = [counts.tree for counts in comparison.counts if not is_same(counts)]
    if unsaid := [name_of(tree, comparison) for tree in torn if tree not in told]:
        return f"Ways changed in {', '.join(unsaid[:3])}, and no change says why: read it anew."
    first = next((h for h in comparison.headlines if not _is_settled(h, comparison)), None)
    if first is None:
        return "All that changes is approved." if comparison.changes else "Nothing changes: both versions say the same."
    if not torn and all(c.kind in BESIDE and c.weight is Weight.NOTE for c in comparison.changes):
        return "Only words changed that nobody acts on at a bed."
    return sentence(title_of(first.change, comparison))


def sentence(text: str) -> str:
    """A text with a stop at its end."""
    return text if text.rstrip("”").endswith((".", "!", "?", "…")) else f"{text}."


def _is_settled(headline: Headline, comparison: Comparison) -> bool:
    changes = (headline.change, *headline.followed_by)
    heavy = [c for c in changes if c.weight is headline.weight]
    return all(comparison.approval(c) is not None for c in heavy)


def title_of(change: Change, comparison: Comparison, within: Change | None = None) -> str:
    """What a change is, as a person says it: the alarm by its title, roles and alarms in the message by their names.

    Args:
        change: the change.
        comparison: what it stands in.
        within: the change that it follows, where that has told of which alarm both are.
    """
    said = _LONG.sub(_begun, plainly(change.message, comparison))
    if change.tree is None:
        return cut(said[:1].upper() + said[1:])
    return cut(said if within and within.tree == change.tree else f"{name_of(change.tree, comparison)}: {said}")


def _begun(quoted: re.Match[str]) -> str:
    """A long text in a message, by how it begins; the report shows it whole, or it stands in the file."""
    first = quoted[1].splitlines()[0]
    return f"“{first[:_QUOTED].rstrip('. ')} …”"


def plainly(message: str, comparison: Comparison) -> str:
    """A message with the names of roles and alarms in the place of their ids."""
    return _NAMED.sub(lambda found: comparison.names.get(found[1].partition("/")[0], found.group()), message)


def name_of(tree: str, comparison: Comparison) -> str:
    """The title of a tree; its id where nothing is known of it."""
    return cut(comparison.names.get(tree, tree), MOST_OF_A_NAME)


def texts_of(change: Change) -> list[str]:
    """The texts of a change that its message does not hold: "- " before what goes, "+ " what comes, "  " what stays."""
    said = change.message if change.entry is None else ""
    before = _lines(change.before) if change.before is not None and change.before not in said else []
    now = _lines(change.after) if change.after is not None and change.after not in said else []
    if not before or not now or max(len(before), len(now)) > MOST_LINES:
        return [*_signed("-", before), *_signed("+", now)]
    if change.kind in _LISTS:
        was, is_now = ([item for line in lines for item in line.split(", ")] for lines in (before, now))
        lost, come = [item for item in was if item not in is_now], [item for item in is_now if item not in was]
        if lost or come:
            return [f"- {item}" for item in lost] + [f"+ {item}" for item in come]
    found: list[str] = []
    for how, a, b, c, d in SequenceMatcher(None, before, now, autojunk=False).get_opcodes():
        if how == "equal":
            found += [f"  {line}" for line in before[a:b]]
        else:
            found += [f"- {line}" for line in before[a:b]] + [f"+ {line}" for line in now[c:d]]
    return found


def _signed(sign: str, lines: list[str]) -> list[str]:
    """Lines with a sign before each; of very many the first, and how many more there are."""
    rest = [f"{sign} … and {many(len(lines) - MOST_LINES, 'line')} more"] if len(lines) > MOST_LINES else []
    return [*(f"{sign} {line}" for line in lines[:MOST_LINES]), *rest]


def _lines(text: str) -> list[str]:
    return [cut(line) for line in text.splitlines() if line.strip()]


def cut(text: str, most: int = MOST_SHOWN) -> str:
    """A text on one line, cut where it is long."""
    text = " / ".join(text.splitlines())
    return text if len(text) <= most else text[: most - 1] + "…"


def ways_of(change: Change) -> Iterator[str]:
    """On which ways a change is met."""
    if change.way_before is not None and change.way_before == change.way_now:
        yield f"way: {_way(change.way_before)}"
    else:
        if change.way_before is not None:
            yield f"way before: {_way(change.way_before)}"
        if change.way_now is not None:
            yield f"way now:    {_way(change.way_now)}"
    if change.ways is not None:
        yield f"met on {many(change.ways)}"


def _way(way: Way) -> str:
    return cut(way_text(way), MOST_OF_A_WAY)


def where(change: Change, comparison: Comparison) -> str:
    """The place of a change; one in the base's files begins with the base's name."""
    place = f"{change.place.file}:{change.place.line}:{change.place.column}"
    return f"{comparison.base}:{place}" if change.gone else place


def details(change: Change, comparison: Comparison, told: set[str]) -> Iterator[str]:
    """What only whoever looks into a change needs: place, step, kind, ways, fingerprint, who approved it.

    Ways that stand in `told` are not told again, and those that are join them.
    """
    step = f", step {cut(change.node)}" if change.node else ""
    yield f"{where(change, comparison)}{step} [{change.kind}]"
    for way in ways_of(change):
        if way not in told or way.startswith("met "):
            yield way
        told.add(way)
    yield f"fingerprint {change.fingerprint}{_approved(change, comparison)}"


def _approved(change: Change, comparison: Comparison) -> str:
    if approval := comparison.approval(change):
        return f", approved by {approval.by} on {approval.on}"
    if approval := comparison.outlived(change):
        if approval.version == comparison.version(change):
            return f"; {approval.by} approved it on {approval.on}, but may not sign"
        return f"; {approval.by} approved another version of it on {approval.on}"
    return ""


def with_it(headline: Headline, comparison: Comparison) -> list[str]:
    """The gravest that follows from a headline, a change of each kind; empty where nothing grave does."""
    grave = {c.kind: c for c in reversed(headline.followed_by) if c.weight is Weight.ERROR}
    told = [grave[kind] for kind in KINDS if kind in grave][:MOST_WITH_IT]
    rest = sum(c.weight is Weight.ERROR for c in headline.followed_by) - len(told)
    said = [title_of(c, comparison, headline.change) for c in told]
    return [*said, f"and {many(rest, 'error')} more"] if rest else said


def approval_line(change: Change, comparison: Comparison) -> str:
    """What somebody who approves a change puts into the file, but for their name, the day and the reason."""
    named = f"change: {change.fingerprint}, version: {comparison.version(change)}"
    return f'  - {{{named}, by: "", on: "", why: ""}}'


def waits(change: Change, comparison: Comparison) -> bool:
    """Whether a change waits for somebody who approves it by name."""
    return change.weight is Weight.ERROR and bool(comparison.version(change)) and comparison.approval(change) is None


def many(number: int, of: str = "way") -> str:
    """A number of things: "1 way", "2 ways"."""
    return f"{number:,} {of}" if number == 1 else f"{number:,} {of}s"


def numbers(comparison: Comparison) -> str:
    """How many changes of each weight nobody has approved, and how many somebody has."""
    open_ones = ", ".join(many(comparison.open(weight), str(weight)) for weight in Weight)
    approved = sum(comparison.approval(change) is not None for change in comparison.changes)
    return f"{open_ones}, {approved} approved" if approved else open_ones


def is_same(counts: Counts) -> bool:
    """Whether all ways of a tree stay the same."""
    return counts.before == counts.now == counts.same


def left_out(comparison: Comparison, shown: int) -> str:
    """How many changes a report does not show; "" where it shows all."""
    rest = comparison.headlines[shown:]
    weights = [c.weight for headline in rest for c in (headline.change, *headline.followed_by)]
    told = ", ".join(many(weights.count(w), str(w)) for w in Weight if w in weights)
    return f"… and {many(len(rest), 'change')} more ({told})" if rest else ""


def command_for(comparison: Comparison) -> str:
    """The command that tells all."""
    return f"alarmtrees compare {comparison.base} {comparison.head}".removesuffix(" working tree")
