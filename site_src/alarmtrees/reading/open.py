"""Opens a library: reads every YAML file and article, holds it against its schema, and builds the model.

A file with a fault in reading or shape is left out of the model, and says why in its problems; all
other files stay usable.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from ..model import Library, Picture, Problem, Source
from . import facts, schema
from .articles import build_article, read_article
from .drawings import build_pictures, read_pictures
from .folders import lying
from .load import read_source
from .stories import build_stories
from .trees import build_calculator, build_tree

FACTS = (
    *("settings", "marks", "acts", "safety", "cautions", "sources", "words", "synonyms", "phrases"),
    *("waveforms", "practice", "learning", "changes", "hazards"),
)
LOCAL_SETTINGS = "settings.local.yml"


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
    there = lying(root)
    named = {path.name: path for path in there.facts}
    read = [read_checked(path, root, "tree") for path in there.trees]
    given = {kind: _fact(named.get(f"{kind}.yml"), root, kind) for kind in FACTS}
    overlay = _fact(named.get(LOCAL_SETTINGS), root, "settings") if private else None
    known = frozenset(source.stem for source in read if source.kind == "tree")
    overlay = facts.bounded_there(facts.led_somewhere(overlay, known), given["settings"]) if overlay else None
    given["acts"] = facts.fitting_acts(given["acts"])
    given["practice"] = facts.fitting_stories(given["practice"], known)
    given["changes"] = facts.fitting_changes(given["changes"], known)
    articles = [source for path in there.pages if (source := read_checked_article(path, root)) is not None]
    given["learning"] = facts.fitting_path(given["learning"], known | {source.stem for source in articles})
    pages = known | {source.stem for source in articles} | {f"calculators/{path.stem}" for path in there.calculators}
    given["phrases"] = facts.fitting_phrases(given["phrases"], pages)
    read += [source for source in (*given.values(), overlay) if source is not None]
    # The names are those of the shipped settings: of a broken own file nothing is known to be missing but its values.
    broken = frozenset(source.kind for source in given.values() if source is not None and source.problems)
    given["settings"], overlay = facts.sound(given["settings"]), facts.sound(overlay)
    read += [*_unread(named), *there.strays]
    read += articles
    calculators = [read_checked(path, root, "calculator") for path in there.calculators]
    read += calculators
    stories = [read_checked(path, root, "stories") for path in there.stories]
    read += stories
    drawn = read_pictures(there.pictures, root)
    read += drawn
    pictures = build_pictures(drawn)
    whole = [source for source in read if source.kind == "tree" and not source.problems and is_in_place(source)]
    hospital, fictional = facts.hospital(given["settings"], overlay)
    sources, words = facts.usable(given["sources"]), facts.usable(given["words"])
    return Library(
        root=str(root),
        sources_read=tuple(read),
        trees={source.stem: build_tree(source, source.stem, pictures) for source in whole},
        known=known,
        broken=broken,
        hospital=hospital,
        fictional=fictional,
        invented=facts.invented(given["settings"]),
        reviewers=facts.reviewers(given["settings"], overlay),
        settings=facts.settings(given["settings"], overlay),
        roles=facts.roles(given["settings"], overlay),
        marks=facts.marks(given["marks"]),
        acts=facts.acts(given["acts"]),
        safety=facts.safety(given["safety"]),
        cautions=facts.cautions(given["cautions"]),
        sources=dict(sources),
        words=dict(words),
        articles={source.stem: build_article(source, pictures) for source in articles if not source.problems},
        written=frozenset(path.stem for path in there.pages),
        calculators={source.stem: build_calculator(source) for source in calculators if is_usable(source)},
        synonyms=facts.synonyms(given["synonyms"]),
        phrases=facts.phrases(given["phrases"]),
        waveforms=facts.waveforms(given["waveforms"]),
        waveform_series=facts.waveform_series(given["waveforms"]),
        wordings=facts.wordings(overlay),
        stories=facts.stories(given["practice"]),
        path=facts.path(given["learning"]),
        changes=facts.changes(given["changes"]),
        hazards=facts.hazards(given["hazards"]),
        pictures=pictures,
        bedsides={source.stem: build_stories(source) for source in stories if not source.problems},
    )


def pictures_of(root: Path) -> dict[str, Picture]:
    """The line drawings of the library at `root`, by id, for whoever reads one page of it alone."""
    return build_pictures(read_pictures(lying(root).pictures, root))


def _unread(named: Mapping[str, Path]) -> list[Source]:
    """Fact files under names that nothing reads: left unsaid, a mistyped name would lose a whole file."""
    known = {LOCAL_SETTINGS, *(f"{kind}.yml" for kind in FACTS)}
    message = f"nothing reads this file; fact files are {', '.join(sorted(known))}"
    return [
        Source(f"kb/{name}", "stray", path.stem, "", None, (Problem("schema", (1, 1), message),))
        for name, path in named.items()
        if name not in known
    ]


def is_in_place(source: Source) -> bool:
    """Whether a tree's file lies where trees lie: `trees/<id>.yml`."""
    return source.file == f"trees/{source.stem}.yml"


def is_usable(source: Source) -> bool:
    """Whether a calculator's file holds one, and lies where calculators lie: `kb/calculators/<id>.yml`."""
    return not source.problems and source.file == f"kb/calculators/{source.stem}.yml"


def read_checked(path: Path, root: Path, kind: str) -> Source:
    """Read one file, and hold it against the schema of its kind where it could be read."""
    source = read_source(path, root, kind)
    if source.problems:
        return source
    return replace(source, problems=tuple(schema.problems(source)))


def _fact(path: Path | None, root: Path, kind: str) -> Source | None:
    return read_checked(path, root, kind) if path else None


def read_checked_article(path: Path, root: Path) -> Source | None:
    """An article held against its schema; None for a plain page."""
    source = read_article(path, root)
    if source is None or source.problems:
        return source
    return replace(source, problems=tuple(schema.problems(source)))
