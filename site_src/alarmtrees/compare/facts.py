"""What changes in what trees share: safety rules, marks, settings, roles, cautions; articles and files of entries."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from ..model import Caution, Library, Mark, Pattern, SafetyRule, Setting
from ..model.finding import Place
from ..model.wording import names, seconds
from ..proof.resting import COUNTED
from ..reading.texts import texts
from .alike import Vocabulary
from .articles import compare_articles
from .change import Change, flat
from .entries import edits
from .files import compare_files
from .harm import harm
from .kinds import Weight

MOST_NAMED = 3
"""So many places that show a setting are named; more are counted."""


def compare_facts(old: Library, new: Library, words: Vocabulary) -> Iterator[Change]:
    """All changes in the fact files and articles of two versions."""
    told = [
        *_safety(old, new),
        *_marks(old, new),
        *_settings(old, new),
        *_roles(old, new),
        *_reviewers(old, new),
        *_cautions(old, new, words),
    ]
    yield from told
    yield from _untold(old, new, {change.entry for change in told})
    known = frozenset(source.stem for source in new.sources_read if source.kind == "article")
    yield from compare_articles(old.articles, new.articles, words, known)
    yield from compare_files(old, new, words)


def _change(
    name: str,
    kind: str,
    message: str,
    place: Place,
    before: Any = None,
    after: Any = None,
    gone: bool = False,
    weighs: Weight | None = None,
) -> Change:
    entry = f"{place.file}/{name}"
    return Change(kind, None, message, place, gone, before=flat(before), after=flat(after), weighs=weighs, entry=entry)


_UNTOLD = {
    "safety": "safety-rule-weakened",
    "marks": "mark-weakened",
    "settings": "setting-note",
    "cautions": "caution-reason",
}
"""What a change in these files counts as where nothing above names it; the checks may rest on it."""


def _untold(old: Library, new: Library, told: set[str | None]) -> Iterator[Change]:
    """What differs in these files and was not told: what is new in their form is no hole."""
    before, now = ({s.kind: s for s in library.sources_read if s.kind in _UNTOLD} for library in (old, new))
    for kind in before.keys() & now.keys() - new.broken - old.broken:
        source, (a, b) = now[kind], (before[kind].data, now[kind].data)
        for edit in edits(a, b) if a is not None and b is not None else ():
            name = edit.path[1] if edit.path[0] in ("values", "roles") and len(edit.path) > 1 else edit.path[0]
            if f"{source.file}/{name}" not in told:
                message = f"{source.file}, {' › '.join(edit.path)}: {edit.how}"
                yield _change(name, _UNTOLD[kind], message, source.place(edit.spot), edit.before, edit.after, edit.gone)


# ---------------------------------------------------------------------- safety rules and marks


def _safety(old: Library, new: Library) -> Iterator[Change]:
    if "safety" in new.broken:
        message = "the safety rules cannot be read; see `alarmtrees check`"
        yield _change("", "safety-rule-gone", message, Place("kb/safety.yml", 1, 1), after="unreadable")
        return
    for name, rule in old.safety.items():
        if name not in new.safety:
            message = f"the safety rule `{name}` is removed: {rule.say}"
            yield _change(name, "safety-rule-gone", message, rule.place, before=rule.say, gone=True)
    for name, rule in new.safety.items():
        before = old.safety.get(name)
        if before is None:
            yield _change(
                name,
                "safety-rule-added",
                f"the safety rule `{name}` is new: {rule.say}",
                rule.place,
                after=rule.say,
            )
            continue
        how = _weakened(before, rule)
        was, is_now = _told(before), _told(rule)
        if how:
            message = f"the safety rule `{name}` asks for less: {'; '.join(how)}"
            yield _change(name, "safety-rule-weakened", message, rule.place, was, is_now)
        elif was != is_now:
            yield _change(
                name,
                "safety-rule-strengthened",
                f"the safety rule `{name}` asks for more",
                rule.place,
                was,
                is_now,
            )
        if before.say != rule.say:
            message = f"the safety rule `{name}` reads otherwise"
            yield _change(name, "safety-rule-reworded", message, rule.place, before.say, rule.say)
        if (before.reason, before.sources) != (rule.reason, rule.sources):
            was, is_now = f"{before.reason} {flat(before.sources)}", f"{rule.reason} {flat(rule.sources)}"
            message = f"reason or sources of the safety rule `{name}` changed"
            yield _change(name, "safety-rule-reason", message, rule.place, was, is_now)


def _told(rule: SafetyRule) -> str:
    parts = [
        rule.pattern,
        *(f"{slot}: {flat(marks) if marks is not None else 'any'}" for slot, marks in rule.slots.items()),
    ]
    within = _within(rule)
    parts += [f"within: {within}"] * (within is not None)
    return ", ".join(parts) + (f", only: {flat(rule.only)}" if rule.only else "")


def _within(rule: SafetyRule) -> str | None:
    """How long a rule lets its answer take."""
    within = rule.raw.get(rule.pattern, {}).get("within")
    return within if isinstance(within, str) else None


def _weakened(old: SafetyRule, new: SafetyRule) -> list[str]:
    """In what a rule holds less than before; empty where it holds all that it did."""
    pattern = old.pattern
    if pattern is not new.pattern:
        return [f"it is another pattern, {new.pattern} and not {pattern}"]
    found = []
    if pattern.subject:
        before, now = old.slots[pattern.subject], new.slots[pattern.subject]
        if now is not None and (before is None or before - now):
            found.append(f"`{pattern.subject}` no longer holds {flat(before - now) if before else 'any'}")
    if more := new.marks(pattern.guard) - old.marks(pattern.guard):
        found.append(f"`{pattern.guard}` may now be {flat(more)} as well")
    if pattern is Pattern.ABSENCE and "after" in new.slots:
        before, now = old.slots.get("after"), new.marks("after")
        if before is None:
            found.append(f"it holds only after {flat(now)}")
        elif before - now:
            found.append(f"it no longer holds after {flat(before - now)}")
    if (before_long := _within(old)) is not None:
        now_long = _within(new)
        if now_long is None or seconds(now_long) > seconds(before_long):
            found.append(f"its answer may take {now_long or 'any time'}, and no longer {before_long} at most")
    if new.only and (not old.only or old.only - new.only):
        found.append(f"it holds only for {flat(new.only)}")
    return found


def _marks(old: Library, new: Library) -> Iterator[Change]:
    for name, mark in old.marks.items():
        if name not in new.marks:
            yield _change(name, "mark-gone", f"the mark `{name}` is removed", mark.place, mark.say, gone=True)
    for name, mark in new.marks.items():
        before = old.marks.get(name)
        if before is None:
            message = f"the mark `{name}` is new"
            yield _change(name, "mark-added", message, mark.place, after=mark.say, weighs=Weight.NOTE)
            continue
        lost = _less(before, mark)
        if lost:
            yield _change(name, "mark-weakened", f"the mark `{name}` demands less: {lost}", mark.place, lost)
        elif _mark_told(before) != _mark_told(mark):
            message = f"the mark `{name}` changed"
            yield _change(name, "mark-changed", message, mark.place, _mark_told(before), _mark_told(mark))


def _less(old: Mark, new: Mark) -> str:
    parts = []
    for key in ("shows", "step_words", "answer_words"):
        lost = [word for word in getattr(old, key) if word not in getattr(new, key)]
        parts += [f"`{key}` without {flat(lost)}"] if lost else []
    parts += ["no longer at any time"] if old.anytime and not new.anytime else []
    parts += ["no longer sends back"] if old.sends_back and not new.sends_back else []
    parts += ["no words of its look"] if old.look and not new.look else []
    parts += ["an answer holds for longer"] if (new.keeps or 0) > (old.keeps or 0) else []
    return ", ".join(parts)


def _mark_told(mark: Mark) -> str:
    look = (*mark.look.asks, *(f"{key}: {flat(said)}" for key, said in mark.look.answers.items())) if mark.look else ()
    words = f"{flat(mark.step_words)} {flat(mark.answer_words)} {flat(look)}"
    return f"{mark.say} {flat(mark.shows)} {mark.anytime} {mark.sends_back} {mark.keeps} {words}"


# ---------------------------------------------------------------------- local values


_ABOUT = ("say", "status", "source", "by", "on")


def _bounds(setting: Setting) -> dict[str, Any]:
    """What refuses a slip in a value: moved, it lets another one pass."""
    between = " to ".join(f"{edge:g}" for edge in setting.range or ())
    return {"range": f"{between} {setting.range_unit}".strip(), "below": setting.below, "at_most": setting.at_most}


def _settings(old: Library, new: Library) -> Iterator[Change]:
    if "settings" in new.broken:
        return
    shown = _shown_in(old), _shown_in(new)
    for name in (*old.settings, *(n for n in new.settings if n not in old.settings)):
        before, now = old.settings.get(name), new.settings.get(name)
        entry = now or before
        assert entry is not None
        where = sorted(shown[0].get(name, set()) | shown[1].get(name, set()))
        weighs = Weight.ERROR if where or name in COUNTED else None
        seen = _seen(where) or ("; counted with on every page" if name in COUNTED else "")
        if before is None and now is not None:
            yield _change(name, "setting-added", f"the setting `{name}` is new{seen}", entry.place, after=now.shown)
        elif now is None and before is not None:
            message = f"the setting `{name}` is gone{seen}"
            yield _change(name, "setting-gone", message, entry.place, before.shown, gone=True, weighs=weighs)
        elif before is not None and now is not None:
            if before.shown != now.shown:
                message = f"the setting `{name}` changed from {before.shown} to {now.shown}{seen}"
                yield _change(name, "setting-changed", message, now.place, before.shown, now.shown, weighs=weighs)
            was, is_now = ({key: getattr(s, key) for key in _ABOUT} | _bounds(s) for s in (before, now))
            if was != is_now:
                moved = _bounds(before) != _bounds(now)
                more = ", and between what its value has to lie" if moved else ""
                message = f"what stands with the setting `{name}` changed{more}"
                weighs = Weight.WARNING if moved else None
                yield _change(name, "setting-note", message, now.place, was, is_now, weighs=weighs)


def _seen(where: list[str]) -> str:
    """Where a setting is shown, in a few words: alarms are named by their ids, all else by files."""
    trees = [name for name in where if "/" not in name]
    counted = [f"{len(trees)} alarms"] * bool(trees) + [f"{len(where) - len(trees)} pages"] * (len(trees) < len(where))
    if len(where) <= MOST_NAMED:
        return f"; shown in {_listed(where)}" if where else ""
    return f"; shown in {' and '.join(counted)}, such as {_listed(where[:MOST_NAMED])}"


def _listed(names: list[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


def _shown_in(library: Library) -> dict[str, set[str]]:
    """For each setting the trees and pages of kb/ that show it."""
    found: dict[str, set[str]] = {}
    for source in library.sources_read:
        if source.kind == "settings" or source.data is None or source.problems:
            continue
        shown = [text.text for text in texts(source)] if source.kind != "article" else [source.text]
        where = source.stem if source.kind == "tree" else source.file
        used = _counted_with(source.data) if source.kind == "calculator" else ()
        for name in (*(name for text in shown for name in names(text)), *used):
            found.setdefault(name, set()).add(where)
    return found


def _counted_with(value: Any) -> Iterator[str]:
    """The settings that a calculator counts with."""
    if isinstance(value, Mapping):
        yield from [value["setting"]] if isinstance(value.get("setting"), str) else []
        value = value.values()
    elif not isinstance(value, list):
        return
    for item in value:
        yield from _counted_with(item)


def _reviewers(old: Library, new: Library) -> Iterator[Change]:
    if old.reviewers != new.reviewers and "settings" not in new.broken:
        was, is_now = (flat(library.reviewers) or "anybody" for library in (old, new))
        message = f"who may sign a review changed from {was} to {is_now}"
        yield _change("reviewers", "reviewers-changed", message, Place("kb/settings.yml", 1, 1), was, is_now)


def _roles(old: Library, new: Library) -> Iterator[Change]:
    if "settings" in new.broken:
        return
    for name, role in old.roles.items():
        if name not in new.roles:
            yield _change(name, "role-gone", f"the role `{name}` is gone", role.place, role.say, gone=True)
    for name, role in new.roles.items():
        before = old.roles.get(name)
        if before is None:
            yield _change(name, "role-added", f"the role `{name}` is new", role.place, after=role.say)
        elif (before.say, before.phone) != (role.say, role.phone):
            was, is_now = (f"{r.say}, {r.phone or 'no number'}" for r in (before, role))
            message = f"the role `{name}` changed from {was} to {is_now}"
            yield _change(name, "role-changed", message, role.place, was, is_now)


# ---------------------------------------------------------------------- words


def _cautions(old: Library, new: Library, words: Vocabulary) -> Iterator[Change]:
    if "cautions" in new.broken:
        return
    for name, caution in old.cautions.items():
        if name not in new.cautions:
            message = f"the caution `{name}` is gone"
            yield _change(name, "caution-gone", message, caution.place, caution.say, gone=True)
    for name, caution in new.cautions.items():
        before = old.cautions.get(name)
        if before is None:
            message = f"the caution `{name}` is new"
            yield _change(name, "caution-added", message, caution.place, after=caution.say)
        elif before.say != caution.say:
            yield _caution(before, caution, words)
        elif (before.why, before.sources) != (caution.why, caution.sources):
            message = f"reason or sources of the caution `{name}` changed"
            was, is_now = (f"{c.why or ''} {flat(c.sources)}" for c in (before, caution))
            yield _change(name, "caution-reason", message, caution.place, was, is_now)


def _caution(before: Caution, now: Caution, words: Vocabulary) -> Change:
    slip = words.is_slip(before.say, now.say)
    found = None if slip else harm(before.say, now.say)
    if found is None:
        message = f"the caution `{now.id}` reads otherwise"
        weighs = Weight.NOTE if slip else None
        return _change(now.id, "caution-reworded", message, now.place, before.say, now.say, weighs=weighs)
    kind, what = found
    message = f"in the caution `{now.id}`, {what}{' changed' if kind == 'limit-changed' else ''}"
    return _change(now.id, kind, message, now.place, before.say, now.say)
