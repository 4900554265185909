"""Strips that come with the package, played beforehand: playing one takes half a second.

They hold for one state of the code alone, the one that played them. With any other, none is there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any

from .scene import Scene, play
from .strip import Strip, strip_of

HERE = Path(__file__).parent
FILE = HERE / "shipped.json"


@cache
def code_hash() -> str:
    """What stands for the code and the values of this package."""
    total = sha256()
    for path in sorted(HERE.glob("*.py")):
        total.update(path.name.encode() + b"\0" + path.read_bytes() + b"\0")
    return total.hexdigest()


def shipped(scene: Scene, file: Path = FILE) -> Strip | None:
    """The strip of a scene; None where there is none of this code, or the file is not as it was written."""
    data = _strips(file).get(_name(scene))
    return None if data is None else Strip.from_data(data)


def as_text(scenes: Iterable[Scene]) -> str:
    """The file for some scenes: what it is for, a sum, and the strips, one a line."""
    strips = {_name(scene): _packed(strip_of(play(scene)).as_data()) for scene in scenes}
    lines = ",\n".join(f'"{name}": {strips[name]}' for name in sorted(strips))
    body = f"{{\n{lines}\n}}"
    return f'{{"sum": "{_sum(body)}", "strips": {body}}}\n'


@cache
def _strips(file: Path) -> Mapping[str, Any]:
    try:
        text = file.read_text(encoding="utf-8")
        given: str = json.loads(text)["sum"]
        body = text.partition('"strips": ')[2].removesuffix("}\n")
        strips: Mapping[str, Any] = json.loads(body) if _sum(body) == given else {}
        return strips
    except (OSError, ValueError, KeyError, TypeError):
        return {}


def _sum(body: str) -> str:
    return sha256(f"{code_hash()}\n{body}".encode()).hexdigest()


def _name(scene: Scene) -> str:
    return sha256(json.dumps(asdict(scene), sort_keys=True).encode()).hexdigest()[:16]


def _packed(data: Mapping[str, Any]) -> str:
    return json.dumps(data, separators=(",", ":"))
