"""Holds a document against its JSON Schema and says in plain words what does not fit.

One library only says whether a document fits, and is a hundred times as quick; another one, asked only where
it does not, says what and where.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import jsonschema_rs

from ..model import Map, Problem, Seq, Source, Spot
from ..model.wording import nearest


def schema_folder() -> Path:
    """Where the schemas lie: in the installed package, or at the top of a checkout."""
    packaged = Path(__file__).parents[1] / "schemas"
    return packaged if packaged.is_dir() else Path(__file__).parents[3] / "schema"


@cache
def schema_of(kind: str) -> dict[str, Any]:
    """The JSON Schema of one kind of file ("tree", "marks", …)."""
    text = (schema_folder() / f"{kind}.schema.json").read_text(encoding="utf-8")
    schema: dict[str, Any] = json.loads(text)
    return schema


def is_id(name: str) -> bool:
    """Whether a name that stands in no YAML file, such as a file's own, could be an id."""
    return bool(re.fullmatch(schema_of("tree")["$defs"]["id"]["pattern"], name))


@cache
def _gate(kind: str) -> jsonschema_rs.Draft202012Validator:
    return jsonschema_rs.Draft202012Validator(schema_of(kind))


def fits(kind: str, document: dict[str, Any]) -> bool:
    """Whether a document fits the schema of its kind."""
    return bool(_gate(kind).is_valid(document))


def problems(source: Source) -> Iterator[Problem]:
    """All that does not fit the schema of the source's kind, each once, at its place."""
    assert source.data is not None
    document = source.data["stories"] if source.kind == "stories" else source.data
    if _gate(source.kind).is_valid(document):
        return
    from jsonschema import Draft202012Validator, ValidationError  # slow to start, and needed only now
    from jsonschema.validators import extend

    def unique(_validator: Any, wanted: bool, value: Any, _schema: Any) -> Iterator[Any]:
        if wanted and isinstance(value, list) and _again(value) is not None:
            yield ValidationError("an entry stands twice")

    # The library's own compares every two entries where it cannot sort them.
    judge = extend(Draft202012Validator, {"uniqueItems": unique})  # type: ignore[no-untyped-call]
    whole = schema_of(source.kind)
    seen: set[tuple[Spot, str]] = set()
    for error in judge(whole).iter_errors(document):
        for spot, message in _explain(error, document, whole):
            if (spot, message) not in seen:
                seen.add((spot, message))
                yield Problem("schema", spot, message)


def spot_of(document: Map | Seq, path: list[str | int]) -> Spot:
    """Line and column of the value that a path of keys and indices leads to."""
    here: Any = document
    spot: Spot = (1, 1)
    for part in path:
        if isinstance(here, Map):
            spot = here.key_at[part] if isinstance(here[part], (Map, Seq)) else here.value_at[part]  # type: ignore[index]
        elif isinstance(here, Seq):
            spot = here.item_at[part]  # type: ignore[index]
        here = here[part]
    return spot


def _explain(error: Any, document: Map | Seq, whole: dict[str, Any]) -> Iterator[tuple[Spot, str]]:
    path = list(error.absolute_path)
    spot = spot_of(document, path)
    name = _name(path)
    value, wanted = error.instance, error.validator_value
    match error.validator:
        case "additionalProperties":
            yield from _unknown_keys(error, name)
        case "required":
            missing = next(key for key in wanted if key not in value)
            for key in [k for k in wanted if k not in value and repr(k) in error.message] or [missing]:
                yield spot, f"{name} lacks `{key}`{_purpose(error, key, whole)}"
        case "enum":
            yield spot, f"{name} is {_short(value)}; allowed: {', '.join(wanted)}{_guess(value, wanted)}"
        case "const":
            yield spot, f"{name} is {_short(value)}; here only {_short(wanted)}"
        case "type" | "anyOf":
            yield spot, f"{name} must be {_kinds(error, whole)}, not {_kind(value)}"
        case "pattern":
            is_key = "propertyNames" in error.absolute_schema_path
            where = _key_spot(document, path, value) if is_key else spot
            yield where, f"{_short(value)} is not {error.schema['title']}"
        case "not":
            yield _key_spot(document, path, value), f"{_short(value)} has a meaning of its own here; choose another id"
        case "minLength" | "minItems" | "minProperties":
            yield spot, f"{name} is empty; write it, or leave the key out"
        case "maxLength":
            yield spot, f"{name} has {len(value)} signs; at most {wanted}"
        case "maxItems":
            yield spot, f"{name} has {len(value)} entries; at most {wanted}"
        case "uniqueItems":
            again = _again(value)
            assert again is not None
            yield value.item_at[again], f"{_short(value[again])} stands twice in {name}; once is enough"
        case "dependentRequired":
            for key, needed in wanted.items():
                for other in needed if key in value else ():
                    if other not in value:
                        yield spot, f"{name} has `{key}` and so needs `{other}`{_purpose(error, other, whole)}"
        case "oneOf" if not isinstance(value, dict):
            return  # that it is no mapping is said already
        case "oneOf":
            choices = [choice["required"][0] for choice in wanted]
            has = [key for key in choices if key in value]
            found = " and ".join(f"`{key}`" for key in has) or "none"
            yield spot, f"{name} needs exactly one of {', '.join(f'`{key}`' for key in choices)}; it has {found}"
        case _:
            yield spot, f"{name}: {error.message}"


def _again(value: list[Any]) -> int | None:
    """The index of the first entry that stands in a list before: O(all that the list holds)."""
    seen: set[str] = set()
    for index, item in enumerate(value):
        # A text as JSON begins with a quote, a mapping or list never does.
        key = json.dumps(item, sort_keys=True)
        if key in seen:
            return index
        seen.add(key)
    return None


def _unknown_keys(error: Any, name: str) -> Iterator[tuple[Spot, str]]:
    allowed = list(error.schema.get("properties", {}))
    for key in error.instance:
        if key not in allowed:
            message = f"{name} has no key `{key}`; allowed: {', '.join(allowed)}{_guess(key, allowed)}"
            yield error.instance.key_at[key], message


def _key_spot(document: Map | Seq, path: list[str | int], key: str) -> Spot:
    here: Any = document
    for part in path:
        here = here[part]
    spot: Spot = here.key_at.get(key, here.at)
    return spot


def _name(path: list[str | int]) -> str:
    if not path:
        return "the file"
    parts = [f"item {part + 1}" if isinstance(part, int) else f"`{part}`" for part in path]
    return " of ".join(reversed(parts[-3:]))


def _purpose(error: Any, key: str, whole: dict[str, Any]) -> str:
    part = error.schema.get("properties", {}).get(key, {})
    described = part.get("description") or _followed(part, whole).get("description", "")
    return f": {described[0].lower()}{described[1:]}" if described else ""


def _guess(value: Any, allowed: list[str]) -> str:
    close = nearest(value, allowed) if isinstance(value, str) else None
    return f" (did you mean `{close}`?)" if close else ""


def _short(value: Any) -> str:
    text = str(value)
    return f"“{text if len(text) <= 40 else text[:39] + '…'}”"


_KINDS = {"string": "a text", "array": "a list", "object": "a mapping of keys and values", "number": "a number"}


def _followed(part: dict[str, Any], whole: dict[str, Any]) -> dict[str, Any]:
    """A part of a schema, or the definition that it names in the end."""
    while "$ref" in part:
        part = whole["$defs"][part["$ref"].removeprefix("#/$defs/")]
    return part


def _kinds(error: Any, whole: dict[str, Any]) -> str:
    wanted = error.validator_value
    if error.validator == "anyOf":
        wanted = [choice["type"] for choice in (_followed(one, whole) for one in wanted) if "type" in choice]
    names = [wanted] if isinstance(wanted, str) else wanted
    return " or ".join(_KINDS[name] for name in names)


def _kind(value: Any) -> str:
    if isinstance(value, dict):
        return "a mapping of keys and values"
    return "a list" if isinstance(value, list) else "a text"
