"""What the library rests on, and how each source was read."""

from __future__ import annotations

from ...model import Library, Map
from ...model.addresses import SOURCES
from ...proof.provenance import uses_of_sources
from ..markup import LOOKED_UP, Page, View, block, esc, whole
from .uses import Uses


def sources_page(library: Library) -> Page:
    """Every source in full."""
    view = View(library, SOURCES)
    writer, used = Uses(view), uses_of_sources(library)
    supports = {key: writer.line(used.get(key, ()), "Supports", "nothing yet") for key in library.sources}
    body = [
        '<h1 id="_top">Sources</h1>',
        "<p>Each source says what it is, how far it was read, and what rests on it. “From memory”: the passage itself "
        "was not read.</p>",
        block(
            "ul", (_entry(view, key, entry, supports[key]) for key, entry in library.sources.items()), class_="entries"
        ),
    ]
    return Page(
        path=view.path,
        title="Sources",
        body=whole(body),
        description="What the library rests on, and how each source was read.",
        source="sources.yml",
        boost=LOOKED_UP,
    )


def _entry(view: View, key: str, entry: Map, supports: str) -> str:
    parts = [
        f"{view.say(entry['author'])}." if entry.get("author") else "",
        f"<b>{view.say(entry['title'])}.</b>" if entry.get("title") else "",
        f"{view.say(entry['in'])}." if entry.get("in") else "",
        f"{esc(str(entry['year']))}." if entry.get("year") else "",
        _where(entry),
        view.say(entry["say"]) if entry.get("say") else "",
        f'<span class="quiet">{esc(entry["kind"].capitalize())}. How it was read: {esc(entry["read"])}.</span>',
        supports,
    ]
    return f'<li id="{esc(key)}">{" ".join(part for part in parts if part)}</li>'


def _where(entry: Map) -> str:
    doi, address = entry.get("doi"), entry.get("address")
    if doi:
        return f'<a href="https://doi.org/{esc(doi)}" rel="noreferrer">doi {esc(doi)}</a>.'
    if not address:
        return ""
    if address.startswith(("https://", "http://")):
        return f'<a href="{esc(address)}" rel="noreferrer">{esc(address)}</a>.'
    return f"{esc(address)}."
