"""Opens a library: reads every YAML file and article, holds it against its schema, and builds the model.

A file with a fault in reading or shape is left out of the model, and says why in its problems; all
other files stay usable.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from ..model import (
    DERIVED_MARKS,
    Answer,
    Calculator,
    Cause,
    Caution,
    Harm,
    Library,
    Map,
    Mark,
    Node,
    Problem,
    Review,
    Role,
    SafetyRule,
    Seq,
    Setting,
    Source,
    Stage,
    Stories,
    Synonyms,
    Telling,
    Tree,
    Waveform,
    WaveformSeries,
    WaveformStep,
    Withdrawal,
)
from ..model.finding import Place
from . import schema
from .articles import build_article, read_article
from .load import read_source

FACTS = ("settings", "marks", "safety", "cautions", "sources", "words", "synonyms", "waveforms", "practice", "learning")
LOCAL_SETTINGS = "settings.local.yml"
ABOUTS = ("patient", "trigger", "pressure", "gas", "power", "timing")
PATTERNS = ("precedence", "absence", "response", "existence")

_SECONDS = {"s": 1.0, "min": 60.0, "h": 3600.0}


def open_library(root: Path, private: bool = True) -> Library:
    """Read a whole library.

    Args:
        root: the folder that holds `trees/` and `kb/`. Fact files that are missing count as empty.
        private: whether the hospital's own `kb/settings.local.yml` counts; what leaves the house is read without it.

    Returns:
        The library; broken files are known by their `problems` only.

    Raises:
        FileNotFoundError: there is no `trees/` folder.
    """
    if not (root / "trees").is_dir():
        raise FileNotFoundError(f"{root}: no folder trees/ here; name the library with --root")
    read = [read_checked(path, root, "tree") for path in _tree_files(root / "trees")]
    facts = {kind: _fact(root, kind) for kind in FACTS}
    local = root / "kb" / LOCAL_SETTINGS
    overlay = read_checked(local, root, "settings") if private and local.is_file() else None
    known = frozenset(source.stem for source in read if source.kind == "tree")
    overlay = _led_somewhere(overlay, known) if overlay else None
    facts["practice"] = _fitting_stories(facts["practice"], known)
    pages = sorted(path for path in (root / "kb").glob("*.md") if path.is_file())
    articles = [source for path in pages if (source := _article(path, root)) is not None]
    facts["learning"] = _fitting_path(facts["learning"], known | {source.stem for source in articles})
    read += [source for source in (*facts.values(), overlay) if source is not None]
    read += _strays(root)
    read += articles
    calculators = [read_checked(path, root, "calculator") for path in _tree_files(root / "kb" / "calculators")]
    read += calculators
    whole = [source for source in read if source.kind == "tree" and not source.problems and is_in_place(source)]
    hospital, fictional = _hospital(facts["settings"], overlay)
    sources, words = _usable(facts["sources"]), _usable(facts["words"])
    return Library(
        root=str(root),
        sources_read=tuple(read),
        trees={source.stem: build_tree(source, source.stem) for source in whole},
        known=known,
        broken=frozenset(source.kind for source in read if source.kind in FACTS and source.problems),
        hospital=hospital,
        fictional=fictional,
        invented=_invented(facts["settings"]),
        reviewers=_reviewers(facts["settings"], overlay),
        settings=_settings(facts["settings"], overlay),
        roles=_roles(facts["settings"], overlay),
        marks=_marks(facts["marks"]),
        safety=_safety(facts["safety"]),
        cautions=_cautions(facts["cautions"]),
        sources=dict(sources),
        words=dict(words),
        articles={source.stem: build_article(source) for source in articles if not source.problems},
        written=frozenset(path.stem for path in pages),
        calculators={source.stem: build_calculator(source) for source in calculators if is_usable(source)},
        synonyms=_synonyms(facts["synonyms"]),
        waveforms=_waveforms(facts["waveforms"]),
        waveform_series=_waveform_series(facts["waveforms"]),
        wordings=_wordings(overlay),
        stories=_stories(facts["practice"]),
        path=_path(facts["learning"]),
    )


def _tree_files(folder: Path) -> list[Path]:
    """All YAML files below a folder: one in the wrong place is a finding, never silently left out."""
    return sorted(path for path in folder.rglob("*") if path.suffix.lower() in (".yml", ".yaml") and path.is_file())


def _strays(root: Path) -> list[Source]:
    """Fact files under names that nothing reads: left unsaid, a mistyped name would lose a whole file."""
    known = {LOCAL_SETTINGS, *(f"{kind}.yml" for kind in FACTS)}
    message = f"nothing reads this file; fact files are {', '.join(sorted(known))}"
    return [
        Source(f"kb/{path.name}", "stray", path.stem, "", None, (Problem("schema", (1, 1), message),))
        for path in sorted((root / "kb").glob("*"))
        if path.suffix.lower() in (".yml", ".yaml") and path.name not in known
    ]


def is_in_place(source: Source) -> bool:
    """Whether a tree's file lies where trees lie: `trees/<id>.yml`."""
    return source.file == f"trees/{source.stem}.yml"


def is_usable(source: Source) -> bool:
    """Whether a calculator's file holds one, and lies where calculators lie: `kb/calculators/<id>.yml`."""
    return not source.problems and source.file == f"kb/calculators/{source.stem}.yml"


def open_tree(path: Path) -> tuple[Source, Tree | None]:
    """Read one tree outside any library; the tree is None where the source has problems."""
    source = read_checked(path, path.parent, "tree")
    return source, None if source.problems else build_tree(source)


def read_checked(path: Path, root: Path, kind: str) -> Source:
    """Read one file, and hold it against the schema of its kind where it could be read."""
    source = read_source(path, root, kind)
    if source.problems:
        return source
    return replace(source, problems=tuple(schema.problems(source)))


def seconds(takes: str) -> float:
    """A time such as "20 s" or "2 min", in seconds.

    >>> seconds("2 min")
    120.0
    """
    number, unit = takes.split()
    return float(number) * _SECONDS[unit]


def build_tree(source: Source, tree_id: str | None = None) -> Tree:
    """The tree of a source that fits its schema, under another id than its own where one is given."""
    raw = source.data
    assert raw is not None
    file = source.file
    causes: Map = raw.get("causes") or Map((1, 1))
    return Tree(
        id=tree_id or raw["id"],
        title=raw["title"],
        summary=raw["summary"],
        status=raw.get("status"),
        about=raw["about"],
        aliases=tuple(raw["aliases"]),
        condition=raw["condition"],
        harm=Harm(raw["harm"]["severity"], raw["harm"]["onset"]),
        pump=raw["pump"],
        causes={key: _cause(key, causes, file) for key in causes},
        anytime=_answers(raw, "anytime", file),
        start=raw["start"],
        nodes={key: _node(key, raw["nodes"], file) for key in raw["nodes"]},
        cautions=tuple(raw.get("cautions", ())),
        related=tuple(raw.get("related", ())),
        sources=tuple(raw.get("sources", ())),
        review=_review(raw, file),
        file=file,
        raw=raw,
        withdrawn=Withdrawal(raw["withdrawn"]["on"], raw["withdrawn"]["why"]) if "withdrawn" in raw else None,
    )


def build_calculator(source: Source) -> Calculator:
    """The calculator of a source that fits its schema."""
    raw = source.data
    assert raw is not None
    return Calculator(
        id=source.stem,
        title=raw["title"],
        summary=raw["summary"],
        trees=tuple(raw.get("trees", ())),
        related=tuple(raw.get("related", ())),
        cautions=tuple(raw.get("cautions", ())),
        sources=tuple(raw.get("sources", ())),
        review=_review(raw, source.file),
        text=source.text,
        file=source.file,
        raw=raw,
    )


def _cause(key: str, causes: Map, file: str) -> Cause:
    share = causes[key].get("share")
    return Cause(key, causes[key]["say"], float(share) if share else None, Place(file, *causes.key_at[key]))


def _answers(owner: Map, key: str, file: str) -> tuple[Answer, ...]:
    items = owner.get(key)
    if not items:
        return ()
    return tuple(
        Answer(
            say=raw["say"],
            to=raw["to"],
            marks=frozenset(raw.get("marks", ())),
            when=_as_tuple(raw["when"]) if "when" in raw else None,
            pump=raw.get("pump"),
            anytime=key == "anytime",
            raw=raw,
            place=Place(file, *raw.at),
        )
        for raw in items
    )


def _as_tuple(value: Any) -> tuple[str, ...]:
    return (value,) if isinstance(value, str) else tuple(value)


def _node(key: str, nodes: Map, file: str) -> Node:
    raw: Map = nodes[key]
    kind = next(kind for kind in ("ask", "do", "end") if kind in raw)
    marks = set(raw.get("marks", ()))
    pump, call, end = raw.get("pump"), raw.get("call"), raw.get("end")
    if pump:
        marks.add(f"pump-{pump}")
    if call:
        marks.add("call")
    if end == "resolved":
        marks.add("resolved")
    takes = raw.get("takes")
    return Node(
        id=key,
        kind=kind,
        lines=tuple(raw["do"]) if kind == "do" else (raw["ask" if kind == "ask" else "say"],),
        answers=_answers(raw, "answers", file),
        then=raw.get("then"),
        end=end,
        call=call,
        go=raw.get("go"),
        why=raw.get("why"),
        meanwhile=raw.get("meanwhile"),
        fixes=tuple(raw.get("fixes", ())),
        pump=pump,
        takes=seconds(takes) if takes else None,
        marks=frozenset(marks),
        cautions=tuple(raw.get("cautions", ())),
        sources=tuple(raw.get("sources", ())),
        raw=raw,
        place=Place(file, *nodes.key_at[key]),
    )


def _review(raw: Map, file: str) -> Review | None:
    review = raw.get("review")
    if review is None:
        return None
    place = Place(file, *raw.key_at["review"])
    return Review(review["by"], review["on"], review["next"], review.get("content", ""), review, place)


def _fact(root: Path, kind: str) -> Source | None:
    path = root / "kb" / f"{kind}.yml"
    return read_checked(path, root, kind) if path.is_file() else None


def _article(path: Path, root: Path) -> Source | None:
    """An article held against its schema; None for a plain page."""
    source = read_article(path, root)
    if source is None or source.problems:
        return source
    return replace(source, problems=tuple(schema.problems(source)))


def _usable(source: Source | None) -> Map:
    if source is None or source.data is None or source.problems:
        return Map((1, 1))
    return source.data


def _part(source: Source | None, key: str) -> Map:
    part: Map = _usable(source).get(key, Map((1, 1)))
    return part


def _at(source: Source | None, spot: tuple[int, int]) -> Place:
    return Place(source.file if source else "", *spot)


def _hospital(base: Source | None, overlay: Source | None) -> tuple[str, bool]:
    shipped, own = _part(base, "hospital"), _part(overlay, "hospital")
    named = own if "say" in own else {**shipped, **own}
    return named.get("say", ""), named.get("fictional", "no") == "yes"


def _invented(base: Source | None) -> str:
    shipped = _part(base, "hospital")
    return shipped.get("say", "an invented hospital") if shipped.get("fictional") == "yes" else ""


def _reviewers(base: Source | None, overlay: Source | None) -> tuple[str, ...]:
    """The roles that may sign: the hospital's own list, else the shipped one."""
    own = _usable(overlay)
    return tuple((own if "reviewers" in own else _usable(base)).get("reviewers", ()))


def _merged(base: Source | None, overlay: Source | None, part: str) -> dict[str, tuple[dict[str, str], Place]]:
    """The entries of one part, the overlay's keys replacing the base's, each with its place."""
    result: dict[str, tuple[dict[str, str], Place]] = {}
    for source in (base, overlay):
        entries = _part(source, part)
        for key, entry in entries.items():
            before = result[key][0] if key in result else {}
            if "value" in entry:  # a value of the hospital's own rests on nothing that was shipped
                before = {name: before[name] for name in ("say", "unit") if name in before}
            result[key] = ({**before, **entry}, _at(source, entries.key_at[key]))
    return result


def _settings(base: Source | None, overlay: Source | None) -> dict[str, Setting]:
    own, shipped = _part(overlay, "values"), bool(_invented(base))
    return {
        key: Setting(
            id=key,
            say=entry.get("say", key),
            value=entry.get("value") or None,
            unit=entry.get("unit"),
            status=entry.get("status"),
            source=entry.get("source"),
            by=entry.get("by"),
            on=entry.get("on"),
            own=not shipped or bool(own.get(key, {}).get("value")),
            place=place,
        )
        for key, (entry, place) in _merged(base, overlay, "values").items()
    }


def _roles(base: Source | None, overlay: Source | None) -> dict[str, Role]:
    own, shipped = _part(overlay, "roles"), bool(_invented(base))
    roles = {}
    for key, (entry, place) in _merged(base, overlay, "roles").items():
        set_here = "phone" in own.get(key, {})
        # A number that the hospital's own file sets is real unless that file says otherwise.
        fictional = (own[key].get("fictional", "no") if set_here else entry.get("fictional")) == "yes"
        roles[key] = Role(
            id=key,
            say=entry.get("say", key),
            phone=entry.get("phone") or None,
            fictional=fictional,
            own=not fictional and (set_here or not shipped),
            place=place,
        )
    return roles


def _marks(source: Source | None) -> dict[str, Mark]:
    data = _usable(source)
    return {
        key: Mark(
            id=key,
            say=raw["say"],
            shows=tuple(raw.get("shows", ())),
            anytime="anytime" in raw,
            step_words=tuple(words.casefold() for words in raw.get("step_words", ())),
            answer_words=tuple(words.casefold() for words in raw.get("answer_words", ())),
            place=_at(source, data.key_at[key]),
        )
        for key, raw in data.items()
        if key not in DERIVED_MARKS
    }


def _safety(source: Source | None) -> dict[str, SafetyRule]:
    data = _usable(source)
    rules = {}
    for key, raw in data.items():
        pattern = next(pattern for pattern in PATTERNS if pattern in raw)
        slots: dict[str, frozenset[str] | None] = {
            slot: frozenset(_as_tuple(value)) for slot, value in raw[pattern].items()
        }
        if slots.get("then") == frozenset({"any"}):
            slots["then"] = None
        rules[key] = SafetyRule(
            id=key,
            say=raw["say"],
            pattern=pattern,
            slots=slots,
            only=frozenset(_as_tuple(raw["only"])) if "only" in raw else frozenset(),
            reason=raw["reason"],
            sources=tuple(raw["sources"]),
            raw=raw,
            place=_at(source, data.key_at[key]),
        )
    return rules


def _synonyms(source: Source | None) -> Synonyms:
    data = _usable(source)
    return Synonyms(
        same={name: tuple(words) for name, words in data.get("same", {}).items()},
        light=tuple(data.get("light", ())),
        fillers=tuple(data.get("fillers", ())),
        elsewhere=tuple(data.get("elsewhere", ())),
        said={tree_id: tuple(texts) for tree_id, texts in data.get("said", {}).items()},
    )


def _waveforms(source: Source | None) -> dict[str, Waveform]:
    return {
        key: Waveform(
            id=key,
            title=raw["title"],
            say=raw["say"],
            seen=tuple((entry["say"], entry["sign"]) for entry in raw["seen"]),
            why=raw.get("why"),
            beside=raw.get("beside"),
            trees=tuple(raw.get("trees", ())),
            causes=tuple(raw.get("causes", ())),
            sources=tuple(raw["sources"]),
            raw=raw,
        )
        for key, raw in _part(source, "scenes").items()
    }


def _waveform_series(source: Source | None) -> dict[str, WaveformSeries]:
    return {
        key: WaveformSeries(
            id=key,
            title=raw["title"],
            say=raw["say"],
            of=raw["from"],
            moves=raw["moves"],
            steps=tuple(WaveformStep(step["by"], step["say"], tuple(step.get("signs", ()))) for step in raw["steps"]),
        )
        for key, raw in _part(source, "series").items()
    }


def _stories(source: Source | None) -> Stories:
    data, scenes = _usable(source), _part(source, "scenes")
    return Stories(
        patients=tuple(Telling(raw["say"], frozenset(raw.get("not", ()))) for raw in data.get("patients", ())),
        places=tuple(Telling(raw["say"], frozenset(raw.get("not", ()))) for raw in data.get("places", ())),
        scenes={key: raw["say"] for key, raw in scenes.items()},
        own_places={key: tuple(raw["places"]) for key, raw in scenes.items() if "places" in raw},
    )


def _fitting_stories(source: Source | None, known: frozenset[str]) -> Source | None:
    """The words of the practice cases, with a problem for each that names a tree which is not there."""
    data = _usable(source)
    if source is None or not data:
        return source
    scenes = _part(source, "scenes")
    named = [(key, scenes.key_at[key]) for key in scenes]
    for part in ("patients", "places"):
        for entry in data[part]:
            listed = entry.get("not", Seq((1, 1)))
            named += [(name, spot) for name, spot in zip(listed, listed.item_at, strict=True) if name not in ABOUTS]
    problems = [
        Problem("schema", spot, f"there is no tree `{name}`, so this would never count; put its id")
        for name, spot in named
        if name not in known
    ]
    return replace(source, problems=(*source.problems, *problems))


def _path(source: Source | None) -> tuple[Stage, ...]:
    def stage(raw: Map) -> Stage:
        pages = tuple((one["page"], one["why"]) for one in raw["pages"])
        away = frozenset(one["page"] for one in raw["pages"] if one.get("at_bed") == "no")
        return Stage(raw["id"], raw["title"], raw["when"], raw["why"], pages, away)

    return tuple(stage(raw) for raw in _usable(source).get("stages", ()))


def _fitting_path(source: Source | None, known: frozenset[str]) -> Source | None:
    """The path for learners, with a problem for each page that is not there, and for what stands in it twice."""
    stages = _usable(source).get("stages", ())
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
    ids = [stage["id"] for stage in stages]
    for place, stage in enumerate(stages):
        if stage["id"] in ids[:place]:
            message = f"a stage before has the id `{stage['id']}`, and links could lead to one only; put another"
            problems.append(Problem("schema", stage.value_at["id"], message))
    return replace(source, problems=(*source.problems, *problems))


def _led_somewhere(overlay: Source, known: frozenset[str]) -> Source:
    """The private settings, with a problem for each wording that leads to no tree: a reader would find nothing."""
    wordings = _part(overlay, "wordings")
    problems = [
        Problem("schema", wordings.key_at[key], f"`wordings` lead to a tree `{key}`, and there is none; put its id")
        for key in wordings
        if key not in known
    ]
    return replace(overlay, problems=(*overlay.problems, *problems))


def _wordings(overlay: Source | None) -> dict[str, tuple[str, ...]]:
    """What the hospital's own consoles print, from its private settings alone."""
    return {tree_id: tuple(texts) for tree_id, texts in _part(overlay, "wordings").items()}


def _cautions(source: Source | None) -> dict[str, Caution]:
    data = _usable(source)
    return {
        key: Caution(key, raw["say"], raw.get("why"), tuple(raw.get("sources", ())), raw, _at(source, data.key_at[key]))
        for key, raw in data.items()
    }
