"""All cautions in full, for the page about the library."""

from __future__ import annotations

from ...model import Library
from ..markup import View, block, esc


def cautions_list(library: Library, path: str) -> str:
    """Every caution with its reason and sources, as one block of HTML.

    Args:
        library: holds the cautions.
        path: the page that shows them, to link from.
    """
    view = View(library, path)
    entries = []
    for key, caution in library.cautions.items():
        why = f" {view.say(caution.why)}" if caution.why else ""
        entry = f"<b>{view.say(caution.say)}</b>{why} {view.rests_on(caution.sources)}"
        entries.append(f'<li id="caution-{esc(key)}">{entry}</li>')
    return block("ul", entries, class_="entries")
