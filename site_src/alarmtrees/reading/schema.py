"""Holds a document against its JSON Schema and says in plain words what does not fit."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any

from jsonschema import Draft202012Validator, validators

from ..model import (
    Map,
    Problem,
    Seq,
    Source,
    Spot,
)

_PATTERNS = {
    "(s|min|h)$": "a time such as `20 s` or `2 min`",
    "{4}-[0-9]{2}": "a date such as 2026-09-14",
    "^[0-9]{4}$": "a year such as 2007",
    "^[0-9]+(": "a number such as 70",
    "^[0-9]{1,5}(": "a number such as 15",
    "(/[a-z0-9]": "a tree's id, or tree/step",
    "^[a-z][a-z0-9_]*$": "a name in small letters, digits and _",
    "^[a-z0-9]+": "an id in small letters and digits, joined by -",
}


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


@cache
def validator(kind: str) -> Any:
    """The validator of one kind of file.

    References inside the schema are put in once, and texts, ids and lists of them that fit are
    accepted without a validator of their own: half of the time of a whole check would go there.
    """
    schema = schema_of(kind)
    accepts: dict[int, Callable[[Any], bool] | None] = {}

    def properties(self: Any, parts: dict[str, Any], instance: Any, whole: Any) -> Iterator[Any]:
        if not isinstance(instance, dict):
            return
        for key, part in parts.items():
            if key in instance:
                if id(part) not in accepts:
                    accepts[id(part)] = _simple(part)
                accept = accepts[id(part)]
                if accept is None or not accept(instance[key]):
                    yield from self.descend(instance[key], part, path=key, schema_path=key)

    fast = validators.extend(Draft202012Validator, {"properties": properties})  # type: ignore[no-untyped-call]
    return fast(_inlined(schema, schema))


def _inlined(part: Any, whole: dict[str, Any]) -> Any:
    """A schema with its references to `$defs` put in; they lead in no circle."""
    if isinstance(part, list):
        return [_inlined(item, whole) for item in part]
    if not isinstance(part, dict):
        return part
    if "$ref" in part:
        return _inlined(whole["$defs"][part["$ref"].removeprefix("#/$defs/")], whole)
    return {key: _inlined(value, whole) for key, value in part.items() if key != "$defs"}


def _simple(part: dict[str, Any]) -> Callable[[Any], bool] | None:
    """A quick test that only a value that fits can pass; None for what is not a text or list of texts."""
    known = {"description", "type", "minLength", "pattern", "enum", "const", "items", "minItems", "uniqueItems"}
    if not part.keys() <= known:
        return None
    if part.get("type") == "string":
        shape = re.compile(part.get("pattern", ""))
        least = part.get("minLength", 0)
        return lambda value: isinstance(value, str) and len(value) >= least and bool(shape.search(value))
    if "enum" in part or "const" in part:
        allowed = frozenset(part.get("enum", [part.get("const")]))
        return lambda value: isinstance(value, str) and value in allowed
    each = _simple(part.get("items", {})) if part.get("type") == "array" else None
    if each is None:
        return None
    fits, fewest, unique = each, part.get("minItems", 0), part.get("uniqueItems", False)
    return lambda value: (
        isinstance(value, list)
        and len(value) >= fewest
        and all(fits(item) for item in value)
        and not (unique and len(set(value)) < len(value))
    )


def problems(source: Source) -> Iterator[Problem]:
    """All that does not fit the schema of the source's kind, each once, at its place."""
    assert source.data is not None
    seen: set[tuple[Spot, str]] = set()
    for error in validator(source.kind).iter_errors(source.data):
        for spot, message in _explain(error, source.data):
            if (spot, message) not in seen:
                seen.add((spot, message))
                yield Problem("schema", spot, message)


def spot_of(document: Map, path: list[str | int]) -> Spot:
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


def _explain(error: Any, document: Map) -> Iterator[tuple[Spot, str]]:
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
                yield spot, f"{name} lacks `{key}`{_purpose(error, key)}"
        case "enum":
            yield spot, f"{name} is {_short(value)}; allowed: {', '.join(wanted)}{_guess(value, wanted)}"
        case "const":
            yield spot, f"{name} is {_short(value)}; here only {_short(wanted)}"
        case "type" | "anyOf":
            yield spot, f"{name} must be {_kinds(error)}, not {_kind(value)}"
        case "pattern":
            shape = next((words for part, words in _PATTERNS.items() if part in wanted), wanted)
            is_key = "propertyNames" in error.absolute_schema_path
            where = _key_spot(document, path, value) if is_key else spot
            yield where, f"{_short(value)} is not {shape}"
        case "not":
            yield _key_spot(document, path, value), f"{_short(value)} has a meaning of its own here; choose another id"
        case "minLength" | "minItems" | "minProperties":
            yield spot, f"{name} is empty; write it, or leave the key out"
        case "maxItems":
            yield spot, f"{name} has {len(value)} entries; at most {wanted}"
        case "uniqueItems":
            twice = next(item for i, item in enumerate(value) if item in value[:i])
            where = value.item_at[value.index(twice, value.index(twice) + 1)]
            yield where, f"{_short(twice)} stands twice in {name}; once is enough"
        case "dependentRequired":
            for key, needed in wanted.items():
                for other in needed if key in value else ():
                    if other not in value:
                        yield spot, f"{name} has `{key}` and so needs `{other}`{_purpose(error, other)}"
        case "oneOf" if not isinstance(value, dict):
            return  # that it is no mapping is said already
        case "oneOf":
            choices = [choice["required"][0] for choice in wanted]
            has = [key for key in choices if key in value]
            found = " and ".join(f"`{key}`" for key in has) or "none"
            yield spot, f"{name} needs exactly one of {', '.join(f'`{key}`' for key in choices)}; it has {found}"
        case _:
            yield spot, f"{name}: {error.message}"


def _unknown_keys(error: Any, name: str) -> Iterator[tuple[Spot, str]]:
    allowed = list(error.schema.get("properties", {}))
    for key in error.instance:
        if key not in allowed:
            message = f"{name} has no key `{key}`; allowed: {', '.join(allowed)}{_guess(key, allowed)}"
            yield error.instance.key_at[key], message


def _key_spot(document: Map, path: list[str | int], key: str) -> Spot:
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


def _purpose(error: Any, key: str) -> str:
    described = error.schema.get("properties", {}).get(key, {}).get("description", "")
    return f": {described[0].lower()}{described[1:]}" if described else ""


def _guess(value: Any, allowed: list[str]) -> str:
    close = get_close_matches(value, allowed, 1) if isinstance(value, str) else []
    return f" (did you mean `{close[0]}`?)" if close else ""


def _short(value: Any) -> str:
    text = str(value)
    return f"“{text if len(text) <= 40 else text[:39] + '…'}”"


_KINDS = {"string": "a text", "array": "a list", "object": "a mapping of keys and values", "number": "a number"}


def _kinds(error: Any) -> str:
    wanted = error.validator_value
    if error.validator == "anyOf":
        wanted = [choice["type"] for choice in wanted if "type" in choice]
    names = [wanted] if isinstance(wanted, str) else wanted
    return " or ".join(_KINDS[name] for name in names)


def _kind(value: Any) -> str:
    if isinstance(value, dict):
        return "a mapping of keys and values"
    return "a list" if isinstance(value, list) else "a text"
