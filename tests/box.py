"""The one box, driven from here: node runs the site's own scripts, without a page."""

from __future__ import annotations

import json
import shutil
import subprocess
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from alarmtrees.model import Library
from alarmtrees.site.finder import finder_data
from small_library import REPOSITORY
from tools import missing

ASSETS = REPOSITORY / "site_src" / "theme" / "assets"
SCRIPTS = ("page.js", "vendor/minisearch-7.2.0.js", "finder-words.js", "finder-guess.js", "finder-match.js")

Answer = Mapping[str, Any]


def asked(
    library: Library, learned: Mapping[str, Any] | None, texts: Sequence[str], weighed: bool = False
) -> list[Answer]:
    """What the box of a library answers to each text: `alarms`, `tasks`, `sole`, `none`.

    Args:
        library: its drafts set apart.
        learned: the weights, as `learn` gives them; None asks the words alone.
        texts: what is typed.
        weighed: give instead how much speaks for each page by what was learned alone.
    """
    program = shutil.which("node")
    if program is None:
        missing("node is not installed: the box was not asked")
    command = [str(program), str(Path(__file__).with_suffix(".js")), *(str(ASSETS / name) for name in SCRIPTS)]
    given = json.dumps({"data": finder_data(library), "learned": learned, "texts": list(texts), "weighed": weighed})
    done = subprocess.run(command, input=given, capture_output=True, encoding="utf-8", check=True)
    answers: list[Answer] = json.loads(done.stdout)
    return answers


def hits(answer: Answer, part: str) -> list[str]:
    """The pages of one group of an answer, in their order; all numbers are one page."""
    found = ["numbers" if hit.get("role") else hit["id"] for hit in answer[part]]
    return list(dict.fromkeys(found))


def figures(right: Iterable[set[str]], found: Iterable[list[str]]) -> dict[str, float]:
    """How many of some queries have a right page first, and among the first three."""
    both = list(zip(right, found, strict=True))
    first = sum(bool(wanted & set(pages[:1])) for wanted, pages in both)
    three = sum(bool(wanted & set(pages[:3])) for wanted, pages in both)
    return {"asked": len(both), "first": round(first / len(both), 3), "three": round(three / len(both), 3)}
