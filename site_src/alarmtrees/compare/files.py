"""What changes in calculators and in the files of entries that trees and pages share, each place with its words."""

from __future__ import annotations

from collections.abc import Iterator

from ..model import Library, Map, Source
from ..model.finding import Place
from ..reading.drawings import KIND, build_pictures
from .alike import Vocabulary
from .change import Change
from .entries import Edit, edits, told
from .harm import harm
from .kinds import Weight

NAMES = {
    "sources": "the sources",
    "words": "the glossary",
    "synonyms": "the finder’s words",
    "phrases": "the finder’s phrases",
    "waveforms": "the pressure traces",
    "practice": "the practice cases",
    "learning": "the path of new colleagues",
    "changes": "the pages of changes",
    "hazards": "the table of what can go wrong",
    "stories": "the bedside stories",
}
"""Files of entries that are told place by place, and what a report calls them."""

_TOLD_AS = {"phrases": "synonyms-changed"}
"""Files whose changes are told as those of another."""

_TEXTS = ("title", "summary", "say", "hint", "means", "why", "read", "description")
"""Keys whose words are read, in a calculator and in the glossary."""

_BESIDE = ("sign", "sources", "related", "trees", "example", "digits", "id")
"""Keys of a calculator that change no number and no warning."""

_EVIDENCE = ("hazards", "stories")
"""Files that the checks are held to: what went or became another may have been what spoke against a change."""

_ASIDE = ("table", "plot")
_HELD = ("refuse", "warn", "valid", "breaks", "checks", "constants", "inputs", "local", "steps", "outputs")
_APART = ("tree", "article", "safety")


def compare_files(old: Library, new: Library, words: Vocabulary) -> Iterator[Change]:
    """All changes in calculators and shared files, those apart that `facts` and `articles` tell."""
    before, now = ({source.file: source for source in library.sources_read} for library in (old, new))
    for file in sorted({*before, *now}):
        a, b = before.get(file), now.get(file)
        source = b or a
        assert source is not None
        if source.kind == "stray" and (a is None) != (b is None):
            yield _change(
                "stray-changed", f"{file}, which nothing reads, is {'new' if b else 'gone'}", file, gone=b is None
            )
        elif (a and b and a.text == b.text) or source.kind == "tree":
            continue
        elif source.kind == KIND:
            yield from _picture(a, b, words)
        elif b is not None and _is_broken(b):
            if source.kind != "safety":
                message = f"{file} cannot be read, so it was not compared; see `alarmtrees check`"
                yield _change("not-comparable", message, file, after="unreadable")
        elif a is not None and _is_broken(a):
            message = f"{file} was not compared: the version before cannot be read"
            yield _change("not-comparable", message, file, before="unreadable", weighs=Weight.WARNING)
        elif source.kind == "calculator":
            yield from _calculator(a, b, words)
        elif source.kind in NAMES:
            yield from _entries(source.kind, a, b, words)


def _is_broken(source: Source) -> bool:
    return source.data is None or bool(source.problems)


def _data(source: Source | None) -> Map:
    return source.data if source is not None and source.data is not None else Map((1, 1))


def _change(
    kind: str,
    message: str,
    file: str,
    edit: Edit | None = None,
    before: str | None = None,
    after: str | None = None,
    gone: bool = False,
    weighs: Weight | None = None,
) -> Change:
    spot = edit.spot if edit else (1, 1)
    if edit:
        before, after, gone = edit.before, edit.after, edit.gone
    entry = "/".join([file, *(edit.path if edit else ())])
    return Change(kind, None, message, Place(file, *spot), gone, before=before, after=after, weighs=weighs, entry=entry)


# ---------------------------------------------------------------------- pictures


def _picture(a: Source | None, b: Source | None, words: Vocabulary) -> Iterator[Change]:
    """What it says of itself is compared as any text; that only lines were drawn otherwise a reader has to look at."""
    source = b or a
    assert source is not None
    (said, before), (says, after) = map(_told, (a, b))
    if a is None or b is None:
        message = f"the picture `{source.stem}` is {'new' if a is None else 'gone'}"
        yield _change("pictures-changed", message, source.file, before=before, after=after, gone=b is None)
        return
    kind, what = "picture-redrawn", "is drawn otherwise"
    if said != says and not words.is_slip(said, says):
        found = harm(said, says)
        kind, what = (found[0], f"says otherwise: {found[1]}") if found else (kind, "says something else of itself")
    yield _change(kind, f"the picture `{source.stem}` {what}", source.file, before=before, after=after)


def _told(source: Source | None) -> tuple[str, str | None]:
    """What a picture says of itself; and that with the stamp of its lines, for one drawing approved is no other."""
    picture = build_pictures([source]).get(source.stem) if source else None
    said = f"{picture.title}. {picture.description}" if picture else ""
    return said, f"{said}\nstamp: {picture.stamp[:12]}" if picture else None


# ---------------------------------------------------------------------- calculators


def _calculator(a: Source | None, b: Source | None, words: Vocabulary) -> Iterator[Change]:
    source = b or a
    assert source is not None
    title = _data(source).get("title", source.stem)
    if a is None or b is None:
        kind, how = ("calculator-added", "new") if a is None else ("calculator-gone", "gone")
        before, after = told(_data(a)) if a else None, told(_data(b)) if b else None
        message = f"the calculator “{title}” is {how}"
        yield _change(kind, message, source.file, before=before, after=after, gone=b is None)
        return
    for edit in edits(_data(a), _data(b), frozenset({"review"})):
        kind, how, weighs = _of_calculator(edit, words)
        yield _change(kind, f"calculator “{title}”, {' › '.join(edit.path)}: {how}", source.file, edit, weighs=weighs)


def _of_calculator(edit: Edit, words: Vocabulary) -> tuple[str, str, Weight | None]:
    top = edit.path[0]
    how = edit.how
    if top == "cautions":
        lost = set((edit.before or "").split(", ")) - set((edit.after or "").split(", "))
        return ("caution-gone", how, None) if lost else ("calculator-changed", how, None)
    if top in _ASIDE or edit.key in _BESIDE:
        return "calculator-changed", how, None
    if edit.key in _TEXTS and edit.before is not None and edit.after is not None:
        return _reworded("calculator-reworded", edit, words)
    if top in _HELD or edit.key not in _TEXTS:
        if edit.before is None and top in ("warn", "valid", "breaks", "checks"):
            return "calculator-reworded", how, None
        return "formula-changed", how, None
    return "calculator-reworded", how, None


def _reworded(kind: str, edit: Edit, words: Vocabulary) -> tuple[str, str, Weight | None]:
    before, after = edit.before or "", edit.after or ""
    if words.is_slip(before, after):
        return kind, "a slip is mended", Weight.NOTE
    if found := harm(before, after):
        other, what = found
        return other, f"{what} changed" if other == "limit-changed" else what, None
    return kind, "reads otherwise", None


# ---------------------------------------------------------------------- files of entries


def _entries(kind: str, a: Source | None, b: Source | None, words: Vocabulary) -> Iterator[Change]:
    source = b or a
    assert source is not None
    if a is None or b is None:
        before, after = told(_data(a)) if a else None, told(_data(b)) if b else None
        message = f"{source.file}, {NAMES[kind]}, is {'new' if a is None else 'gone'}"
        yield _change(
            _TOLD_AS.get(kind, f"{kind}-changed"), message, source.file, before=before, after=after, gone=b is None
        )
        return
    for edit in edits(_data(a), _data(b)):
        how, weighs = edit.how, None
        if kind in ("words", "waveforms", "practice") and edit.key in _TEXTS and edit.before and edit.after:
            found = None if words.is_slip(edit.before, edit.after) else harm(edit.before, edit.after)
            if found:
                how, weighs = f"{found[1]} changed" if found[0] == "limit-changed" else found[1], Weight.WARNING
        if kind in _EVIDENCE and (edit.gone or edit.before):
            weighs = Weight.WARNING
        message = f"{NAMES[kind]}, {' › '.join(edit.path)}: {how}"
        yield _change(_TOLD_AS.get(kind, f"{kind}-changed"), message, source.file, edit, weighs=weighs)
