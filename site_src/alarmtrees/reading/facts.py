"""Fact files that fit their schemas -> what they say; each reader takes a source, or None where the file is missing."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from ..model import (
    ABOUT,
    DERIVED_MARKS,
    Act,
    Acts,
    Caution,
    Map,
    Mark,
    Pattern,
    Phrases,
    Problem,
    Role,
    SafetyRule,
    Seq,
    Setting,
    Source,
    Stage,
    Stories,
    Synonyms,
    Telling,
    Told,
    Waveform,
    WaveformSeries,
    WaveformStep,
)
from ..model.facts import NOTHING_HERE, NUMBERS_ASKED, Look, value_shown
from ..model.finding import Place
from ..model.hazard import WAYS, Cell, Hazard, HazardRow
from ..model.tree import Harm
from ..model.wording import folded, nearest, seconds
from .load import TWICE
from .schema import fits
from .trees import as_tuple


def usable(source: Source | None) -> Map:
    if source is None or source.data is None or source.problems:
        return Map((1, 1))
    return source.data


def sound(source: Source | None) -> Source | None:
    """The settings without the entries that do not fit: what is wrong with one hides nothing of the others.

    Its problems are left out too; they stay with the source as it was read.
    """
    if source is None or source.data is None or not source.problems:
        return source
    kind = source.kind
    whole = _kept(source.data, lambda part, value: part in _BY_NAME or fits(kind, {part: value}))
    for part in (part for part in _BY_NAME if part in whole):
        entries = raw_part(source, part)
        whole[part] = _kept(entries, lambda name, entry, part=part: fits(kind, {part: {name: entry}}))  # type: ignore[misc]
    return replace(source, data=whole, problems=())


_BY_NAME = ("values", "roles", "wordings")
"""The parts of the settings that hold entries by their names."""


def _kept(owner: Map, keep: Callable[[str, Any], bool]) -> Map:
    """A mapping with those of its entries that are kept, each at its place."""
    kept = Map(owner.at, owner.flow)
    kept.key_at, kept.value_at = owner.key_at, owner.value_at
    kept.update((key, value) for key, value in owner.items() if keep(key, value))
    return kept


def _part(source: Source | None, key: str) -> Map:
    part: Map = usable(source).get(key, Map((1, 1)))
    return part


def _at(source: Source | None, spot: tuple[int, int]) -> Place:
    return Place(source.file if source else "", *spot)


def hospital(base: Source | None, overlay: Source | None) -> tuple[str, bool]:
    """The hospital's name, and whether it is invented: under an invented one's name it is, whatever is said of it."""
    shipped, own = _part(base, "hospital"), _filled(_part(overlay, "hospital"))
    named = own if "say" in own else {**shipped, **own}
    name: str = named.get("say", "")
    fictional = named.get("fictional", "no") == "yes"
    return name, fictional or bool(name and folded(name) == folded(invented(base)))


def invented(base: Source | None) -> str:
    shipped = _part(base, "hospital")
    return shipped.get("say", "an invented hospital") if shipped.get("fictional") == "yes" else ""


def reviewers(base: Source | None, overlay: Source | None) -> tuple[str, ...]:
    """The roles that may sign: the hospital's own list, else the shipped one."""
    own = usable(overlay)
    return tuple((own if "reviewers" in own else usable(base)).get("reviewers", ()))


def _merged(base: Source | None, overlay: Source | None, part: str) -> dict[str, tuple[dict[str, str], Place]]:
    """The entries of one part, the overlay's keys replacing the base's, each with its place."""
    result: dict[str, tuple[dict[str, str], Place]] = {}
    for source in (base, overlay):
        entries = _part(source, part)
        for key, whole in entries.items():
            entry = _filled(whole)
            if source is overlay and key in result and not entry:
                continue  # nothing is filled in yet
            before = result[key][0] if key in result else {}
            if "value" in entry:  # a value of the hospital's own rests on nothing that was shipped
                before = {name: before[name] for name in ("say", "unit") if name in before}
                if source is overlay:
                    entry = {"status": "local policy", **_filled(_part(overlay, "defaults")), **entry}
            result[key] = ({**before, **entry}, _at(source, entries.key_at[key]))
    return result


def _filled(entry: Mapping[str, str]) -> dict[str, str]:
    """What is filled in: an empty text stands in a file that is begun, and says nothing."""
    return {key: value for key, value in entry.items() if value != ""}


_BOUNDS = ("range", "range_from", "range_sources", "below", "at_most")
"""What the shipped settings alone say of a value: nobody widens a range beside the value that it refuses."""


def settings(base: Source | None, overlay: Source | None) -> dict[str, Setting]:
    """All local values, the hospital's own in place of the shipped ones."""
    shipped, own, name = _part(base, "values"), _part(overlay, "values"), invented(base)
    found = {}
    for key, (entry, place) in _merged(base, overlay, "values").items():
        known: Map = shipped.get(key, Map((1, 1)))
        here = bool(own.get(key, {}).get("value"))
        source, holder = (overlay, own[key]) if here else (base, known)
        found[key] = Setting(
            id=key,
            say=entry.get("say", key),
            value=entry.get("value") or None,
            unit=entry.get("unit"),
            status=entry.get("status"),
            source=entry.get("source"),
            by=entry.get("by"),
            on=entry.get("on"),
            own=_set_by_the_house(entry, known if here and name else {}, name) and (here or not name),
            here=here,
            shipped=value_shown(known.get("value"), known.get("unit")),
            place=place,
            value_at=_at(source, holder.value_at["value"]) if "value" in holder else None,
            range=_range(known),
            range_unit=known.get("unit", ""),
            range_from=known.get("range_from", ""),
            range_sources=tuple(known.get("range_sources", ())),
            below=tuple(known.get("below", ())),
            at_most=tuple(known.get("at_most", ())),
        )
    return found


def _range(known: Map) -> tuple[float, float] | None:
    if "range" not in known:
        return None
    low, high = map(float, known["range"])
    return low, high


_FICTIONAL = "fictional"


def _set_by_the_house(entry: Mapping[str, str], shipped: Mapping[str, str], name: str) -> bool:
    """Whether somebody of the house has put role and day to a value; a copy of the shipped one says nothing.

    Args:
        entry: the value with what is said of it.
        shipped: the same of the invented hospital's.
        name: the invented hospital's name; "" where there is none.
    """
    by, on = entry.get("by", ""), entry.get("on", "")
    if not by or not on or _FICTIONAL in folded(by) or (name and folded(name) in folded(by)):
        return False
    if "://" in entry.get("value", "") and entry["value"] == shipped.get("value"):
        return False  # where an invented hospital's site lies, no real one's does
    return (_role(by), on) != (_role(shipped.get("by", "")), shipped.get("on"))


def _role(by: str) -> str:
    return folded(by).replace(f"({_FICTIONAL})", "").strip()


def bounded_there(overlay: Source, base: Source | None) -> Source:
    """The private settings, with a problem for each bound that is not the shipped one: those of the shipped hold."""
    values, shipped = raw_part(overlay, "values"), raw_part(base, "values")
    problems = [
        Problem("schema", entry.key_at[key], f"`{key}` of `{name}` stands in kb/settings.yml alone; leave it out here")
        for name, entry in values.items()
        if isinstance(entry, Map)
        for key in _BOUNDS
        if key in entry and entry[key] != raw_part_of(shipped, name).get(key)
    ]
    return replace(overlay, problems=(*overlay.problems, *problems))


def raw_part(source: Source | None, key: str) -> Map:
    """A part of a file as it was read, whether it fits or not; empty where it is no mapping."""
    return raw_part_of(source.data if source and source.data is not None else Map((1, 1)), key)


def raw_part_of(owner: Map, key: str) -> Map:
    """A part of a mapping, whether it fits or not; empty where it is no mapping."""
    part = owner.get(key)
    return _kept(part, lambda name, _: TWICE not in name) if isinstance(part, Map) else Map((1, 1))


def roles(base: Source | None, overlay: Source | None) -> dict[str, Role]:
    own, shipped = _part(overlay, "roles"), bool(invented(base))
    roles = {}
    for key, (entry, place) in _merged(base, overlay, "roles").items():
        set_here = bool(own.get(key, {}).get("phone"))
        # A number that the hospital's own file sets is real unless that file says otherwise, or it is a copy.
        fictional = (own[key].get("fictional", "no") if set_here else entry.get("fictional")) == "yes"
        known = _part(base, "roles").get(key, {})
        copied = shipped and set_here and _dialled(own[key]["phone"]) == _dialled(known.get("phone", ""))
        fictional |= copied and known.get("fictional") == "yes"
        roles[key] = Role(
            id=key,
            say=entry.get("say", key),
            phone=entry.get("phone") or None,
            fictional=fictional,
            own=not fictional and (set_here or not shipped),
            place=place,
        )
    return roles


def _dialled(phone: str) -> str:
    return "".join(sign for sign in phone if sign.isalnum() or sign in "+*#")


def marks(source: Source | None) -> dict[str, Mark]:
    data = usable(source)
    return {
        key: Mark(
            id=key,
            say=raw["say"],
            shows=tuple(raw.get("shows", ())),
            anytime="anytime" in raw,
            sends_back="sends_back" in raw,
            step_words=tuple(words.casefold() for words in raw.get("step_words", ())),
            answer_words=tuple(words.casefold() for words in raw.get("answer_words", ())),
            look=_look(raw["look"]) if "look" in raw else None,
            keeps=seconds(raw["keeps"]) if "keeps" in raw else None,
            place=_at(source, data.key_at[key]),
        )
        for key, raw in data.items()
        if key not in DERIVED_MARKS
    }


def _look(raw: Map) -> Look:
    return Look(tuple(raw["asks"]), {mark: tuple(said) for mark, said in raw["answers"].items()})


def acts(source: Source | None) -> Acts:
    def listed(name: str) -> dict[str, tuple[str, ...]]:
        return {key: tuple(words) for key, words in _part(source, name).items()}

    entries = _part(source, "acts")
    return Acts(
        acts={
            key: Act(
                id=key,
                say=raw["say"],
                about=raw["about"],
                marks=tuple(raw["marks"]),
                told=tuple(raw.get("told", ())),
                ways=tuple(raw["ways"]),
                place=_at(source, entries.key_at[key]),
            )
            for key, raw in entries.items()
        },
        things=listed("things"),
        words=listed("words"),
        forms=dict(_part(source, "forms")),
    )


def fitting_acts(source: Source | None) -> Source | None:
    """The table of acts, with a problem for each way that speaks of things without a name: it would find nothing."""
    data = usable(source)
    if source is None or not data:
        return source
    problems = []
    for act in data["acts"].values():
        for way, spot in zip(act["ways"], act["ways"].item_at, strict=True):
            for name in re.findall(r"[^{}|]+(?=[^{}]*\})", way):
                if name not in data["things"] and name != "it":
                    close = nearest(name, data["things"])
                    hint = f"; did you mean `{close}`?" if close else ""
                    message = f"`things` hold no `{name}`, so this way would find nothing{hint}"
                    problems.append(Problem("schema", spot, message))
    return replace(source, problems=(*source.problems, *problems))


def safety(source: Source | None) -> dict[str, SafetyRule]:
    data = usable(source)
    rules = {}
    for key, raw in data.items():
        pattern = next(pattern for pattern in Pattern if pattern in raw)
        within = raw[pattern].get("within")
        slots: dict[str, frozenset[str] | None] = {
            slot: frozenset(as_tuple(value)) for slot, value in raw[pattern].items() if slot != "within"
        }
        if slots.get("then") == frozenset({"any"}):
            slots["then"] = None
        rules[key] = SafetyRule(
            id=key,
            say=raw["say"],
            pattern=pattern,
            slots=slots,
            only=frozenset(as_tuple(raw["only"])) if "only" in raw else frozenset(),
            reason=raw["reason"],
            sources=tuple(raw["sources"]),
            raw=raw,
            place=_at(source, data.key_at[key]),
            within=seconds(within) if within else None,
        )
    return rules


def synonyms(source: Source | None) -> Synonyms:
    data = usable(source)
    return Synonyms(
        same={name: tuple(words) for name, words in data.get("same", {}).items()},
        light=tuple(data.get("light", ())),
        fillers=tuple(data.get("fillers", ())),
        elsewhere=tuple(data.get("elsewhere", ())),
        said={tree_id: tuple(texts) for tree_id, texts in data.get("said", {}).items()},
    )


def phrases(source: Source | None) -> dict[str, Phrases]:
    return {voice: {page: tuple(said) for page, said in pages.items()} for voice, pages in usable(source).items()}


def fitting_phrases(source: Source | None, pages: frozenset[str]) -> Source | None:
    """The phrases, with a problem for each page that is not there, and for each phrase that stands there already."""
    data = usable(source)
    if source is None or not data:
        return source
    problems, seen = [], dict[str, str]()
    for said_for in data.values():
        for page, said in said_for.items():
            if page not in pages and page not in (NUMBERS_ASKED, NOTHING_HERE):
                message = f"there is no page `{page}`; put the id of an alarm or article, or calculators/ and an id"
                problems.append(Problem("schema", said_for.key_at[page], message))
            for phrase, spot in zip(said, said.item_at, strict=True):
                plain = " ".join(re.findall(r"[a-z0-9]+", phrase))
                if plain in seen:
                    message = f"“{phrase}” stands under `{seen[plain]}` already; leave it where it fits better"
                    problems.append(Problem("schema", spot, message))
                seen[plain] = page
    return replace(source, problems=(*source.problems, *problems))


def waveforms(source: Source | None) -> dict[str, Waveform]:
    return {
        key: Waveform(
            id=key,
            title=raw["title"],
            say=raw["say"],
            seen=tuple((entry["say"], entry["sign"]) for entry in raw["seen"]),
            why=raw.get("why"),
            beside=raw.get("beside"),
            against=raw.get("against"),
            draws=tuple(raw.get("draws", ())),
            trees=tuple(raw.get("trees", ())),
            causes=tuple(raw.get("causes", ())),
            sources=tuple(raw["sources"]),
            raw=raw,
        )
        for key, raw in _part(source, "scenes").items()
    }


def waveform_series(source: Source | None) -> dict[str, WaveformSeries]:
    return {
        key: WaveformSeries(
            id=key,
            title=raw["title"],
            say=raw["say"],
            of=raw["from"],
            moves=raw["moves"],
            draws=tuple(raw.get("draws", ())),
            steps=tuple(WaveformStep(step["by"], step["say"], tuple(step.get("signs", ()))) for step in raw["steps"]),
        )
        for key, raw in _part(source, "series").items()
    }


def stories(source: Source | None) -> Stories:
    data, scenes = usable(source), _part(source, "scenes")
    return Stories(
        patients=tuple(Telling(raw["say"], frozenset(raw.get("not", ()))) for raw in data.get("patients", ())),
        places=tuple(Telling(raw["say"], frozenset(raw.get("not", ()))) for raw in data.get("places", ())),
        scenes={key: raw["say"] for key, raw in scenes.items()},
        own_places={key: tuple(raw["places"]) for key, raw in scenes.items() if "places" in raw},
    )


def fitting_stories(source: Source | None, known: frozenset[str]) -> Source | None:
    """The words of the practice cases, with a problem for each that names a tree which is not there."""
    data = usable(source)
    if source is None or not data:
        return source
    scenes = _part(source, "scenes")
    named = [(key, scenes.key_at[key]) for key in scenes]
    for part in ("patients", "places"):
        for entry in data[part]:
            listed = entry.get("not", Seq((1, 1)))
            named += [(name, spot) for name, spot in zip(listed, listed.item_at, strict=True) if name not in ABOUT]
    problems = [
        Problem("schema", spot, f"there is no tree `{name}`, so this would never count; put its id")
        for name, spot in named
        if name not in known
    ]
    return replace(source, problems=(*source.problems, *problems))


def path(source: Source | None) -> tuple[Stage, ...]:
    def stage(raw: Map) -> Stage:
        pages = tuple((one["page"], one["why"]) for one in raw["pages"])
        away = frozenset(one["page"] for one in raw["pages"] if one.get("at_bed") == "no")
        days = {"days": int(raw["days"])} if "days" in raw else {}
        return Stage(raw["id"], raw["title"], raw["when"], raw["why"], pages, away, **days)

    return tuple(stage(raw) for raw in usable(source).get("stages", ()))


def fitting_path(source: Source | None, known: frozenset[str]) -> Source | None:
    """The path for learners, with a problem for each page that is not there, and for what stands in it twice."""
    stages = usable(source).get("stages", ())
    if source is None or not stages:
        return source
    problems, seen = [], set[str]()
    for raw in (entry for stage in stages for entry in stage["pages"]):
        name, spot = raw["page"], raw.value_at["page"]
        if name not in known:
            message = f"there is neither an article nor a tree `{name}`, so nobody could read it; put its id"
            problems.append(Problem("schema", spot, message))
        elif name in seen:
            problems.append(Problem("schema", spot, f"`{name}` stands in the path already; keep it in one place"))
        seen.add(name)
    ids = set[str]()
    for stage in stages:
        if stage["id"] in ids:
            message = f"a stage before has the id `{stage['id']}`, and links could lead to one only; put another"
            problems.append(Problem("schema", stage.value_at["id"], message))
        ids.add(stage["id"])
    return replace(source, problems=(*source.problems, *problems))


def changes(source: Source | None) -> dict[str, tuple[Told, ...]]:
    """What changed for a reader, by tree, the newest first."""
    told = {key: [Told(raw["on"], raw["say"]) for raw in entries] for key, entries in usable(source).items()}
    return {key: tuple(sorted(entries, key=lambda one: one.on, reverse=True)) for key, entries in told.items()}


def fitting_changes(source: Source | None, known: frozenset[str]) -> Source | None:
    """The changes, with a problem for each tree that is not there: nobody would read of them."""
    data = usable(source)
    problems = [
        Problem("schema", data.key_at[key], f"there is no tree `{key}`, so nobody would read of this; put its id")
        for key in data
        if key not in known
    ]
    return replace(source, problems=(*source.problems, *problems)) if source else None


def led_somewhere(overlay: Source, known: frozenset[str]) -> Source:
    """The private settings, with a problem for each wording that leads to no tree: a reader would find nothing."""
    wordings = raw_part(overlay, "wordings")
    problems = [
        Problem("schema", wordings.key_at[key], f"`wordings` lead to a tree `{key}`, and there is none; put its id")
        for key in wordings
        if key not in known
    ]
    return replace(overlay, problems=(*overlay.problems, *problems))


def wordings(overlay: Source | None) -> dict[str, tuple[str, ...]]:
    """What the hospital's own consoles print, from its private settings alone."""
    return {tree_id: tuple(texts) for tree_id, texts in _part(overlay, "wordings").items()}


def hazards(source: Source | None) -> dict[str, HazardRow] | None:
    """What can go wrong with each act, by its mark; None where there is no such file."""
    if source is None:
        return None
    acts = _part(source, "acts")
    return {
        mark: HazardRow(
            mark, {way: _cell(cells, way, source) for way in WAYS if way in cells}, _at(source, acts.key_at[mark])
        )
        for mark, cells in acts.items()
    }


def _cell(cells: Map, way: str, source: Source) -> Cell:
    cell, place = cells[way], _at(source, cells.key_at[way])
    if isinstance(cell, Map):
        return Cell((), cell["none"], place)
    return Cell(tuple(_hazard(raw, source) for raw in cell), None, place)


def _hazard(raw: Map, source: Source) -> Hazard:
    return Hazard(
        id=raw["id"],
        say=raw["say"],
        harm=Harm(raw["harm"]["severity"], raw["harm"]["onset"]),
        held_by=tuple(raw.get("held_by", ())),
        words_only=raw.get("words_only"),
        raw=raw,
        place=_at(source, raw.at),
    )


def cautions(source: Source | None) -> dict[str, Caution]:
    data = usable(source)
    return {
        key: Caution(key, raw["say"], raw.get("why"), tuple(raw.get("sources", ())), raw, _at(source, data.key_at[key]))
        for key, raw in data.items()
    }
