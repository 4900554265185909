"""Schemas for editors: each as it is, with the names of one library for an editor to offer and explain.

A schema in `schema/` holds for any library, so it knows no mark, source or role by name, and editors offer only what a
schema names. Theirs lie in `schema/offered/` and let pass what the plain ones do: a name that they lack may be newer
than they are, and the check judges it. Causes belong to one tree, and are offered in the tree of that id. Its steps are
not listed: they change with every edit, and the schema would too. Nor is a {setting} in a text: an editor would put it
in place of the whole text.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from ..model import FIXED, Library
from .open import open_library
from .save import save
from .schema import schema_of

FOLDER = Path("schema", "offered")
KINDS = ("tree", "calculator", "settings")
_SAID = ("title", "description")


def offered_names(library: Library) -> dict[str, dict[str, str]]:
    """What can be named in a library, by the definition that stands for it in the schemas: each name with its words."""
    trees = {key: tree.title for key, tree in library.trees.items()}
    return {
        "mark": {key: mark.say for key, mark in library.marks.items()},
        "caution": {key: caution.say for key, caution in library.cautions.items()},
        "source": {key: str(source["title"]) for key, source in library.sources.items()},
        "role": {key: role.say for key, role in library.roles.items()},
        "setting-name": {key: setting.say for key, setting in library.settings.items()},
        "article": {key: article.title for key, article in library.articles.items()},
        "picture": {key: picture.title for key, picture in library.pictures.items()},
        "tree": trees,
        "entry": trees,
    }


def offered_schema(kind: str, names: Mapping[str, Mapping[str, str]]) -> dict[str, Any]:
    """The schema of one kind of file, with the names that can stand in it."""
    schema = schema_of(kind)
    plain: dict[str, dict[str, Any]] = schema["$defs"]
    offering = dict(plain)
    for name, part in plain.items():
        if names.get(name):
            known, words = zip(*names[name].items(), strict=True)
            offering[f"known-{name}"] = {"enum": known, "enumDescriptions": words}
            offering[name] = _either(part, {"$ref": f"#/$defs/known-{name}"}, _untold(part))
    for name, part in plain.items():
        item = part.get("items", {}).get("$ref", "").removeprefix("#/$defs/")
        if names.get(item):
            # Said of the list and not of its items: with a choice there, editors offer a second dash inside an item.
            bare = _untold(part)
            known_items = {**bare, "items": {"$ref": f"#/$defs/known-{item}"}}
            offering[name] = _either(part, known_items, {**bare, "items": _untold(plain[item])})
    return {**schema, "$id": f"{schema['$id']}:offered", "$defs": offering}


def offered_trees(library: Library) -> dict[str, Any]:
    """The schema of trees, with the names that can stand in one and, for each tree, its causes."""
    schema = offered_schema("tree", offered_names(library))
    causes, choices = {}, []
    for tree in library.trees.values():
        if tree.causes:
            name = f"causes-of-{tree.id}"
            causes[name] = {"enum": list(tree.causes), "enumDescriptions": [one.say for one in tree.causes.values()]}
            this = {"properties": {"id": {"const": tree.id}}, "required": ["id"]}
            choices.append({"if": this, "then": _with_causes({"$ref": f"#/$defs/{name}"})})
    return {**schema, "allOf": choices, "$defs": {**schema["$defs"], **causes}}


def _with_causes(known: Mapping[str, str]) -> dict[str, Any]:
    """What a tree adds to the schema: where causes stand, its own. Which keys a step has is said elsewhere."""
    listed = {"items": known}
    fixed = {"enum": [FIXED], "enumDescriptions": ["Seen only once a step has removed the cause."]}
    fixes = {"doNotSuggest": True, "anyOf": [listed, {"items": {"$ref": "#/$defs/id"}}]}
    when = {"doNotSuggest": True, "anyOf": [known, fixed, listed, {"$ref": "#/$defs/cause-or-causes"}]}
    answers = {"doNotSuggest": True, "items": {"properties": {"when": when}}}
    step = {"properties": {"fixes": fixes, "answers": answers}}
    return {"properties": {"anytime": answers, "nodes": {"doNotSuggest": True, "additionalProperties": step}}}


def offer(root: Path, write: bool = True) -> tuple[Path, ...]:
    """Bring the schemas for editors to what a library has now.

    Args:
        root: the library's folder. The hospital's own `kb/settings.local.yml` is left out: git keeps these files.
        write: whether to write; else nothing is touched.

    Returns:
        The files that were not yet so.

    Raises:
        FileNotFoundError: there is no library here.
        ValueError: a file has faults, and its names would be lost; nothing is written.
        OSError: a file cannot be written; each is whole, the old one or the new one.
    """
    library = open_library(root, private=False)
    if any(source.problems for source in library.sources_read):
        raise ValueError("a file of the library has faults, and its names would be lost; `alarmtrees check` tells them")
    names = offered_names(library)
    schemas = {kind: offered_schema(kind, names) for kind in KINDS} | {"tree": offered_trees(library)}
    changed = []
    for kind, schema in schemas.items():
        path = root / FOLDER / f"{kind}.schema.json"
        text = json.dumps(schema, indent=1, ensure_ascii=False) + "\n"
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            changed.append(path)
            if write:
                path.parent.mkdir(parents=True, exist_ok=True)
                save(path, text)
    return tuple(changed)


def _either(part: Mapping[str, Any], *choices: Mapping[str, Any]) -> dict[str, Any]:
    """A definition that keeps what it says of itself, and lets pass what any of the choices does."""
    return {**{key: part[key] for key in _SAID if key in part}, "anyOf": list(choices)}


def _untold(part: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in part.items() if key not in _SAID}
