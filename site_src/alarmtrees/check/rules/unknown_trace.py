"""An article asks for a pressure trace that `kb/waveforms.yml` does not have, or a trace names one, a tree or a cause.

An article shows a trace where `<!-- trace: late-deflation -->` stands, and a row of them where
`<!-- steps: emptying -->` stands. Of one that does not exist a reader would see nothing at all.

Good:

```yaml
beside: well-timed
```

Bad:

```yaml
beside: well-timd
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Map, Source
from ...reading.articles import traces_in
from .base import Flaw, View, guess, library_rule

_PART = {"trace": "scenes", "steps": "series"}


@library_rule("references")
def check(view: View) -> Iterator[Flaw]:
    """Look up every trace that is asked for, and what the traces themselves name."""
    yield from _asked(view)
    yield from _named(view)


def _asked(view: View) -> Iterator[Flaw]:
    known = {"trace": view.library.waveforms, "steps": view.library.waveform_series}
    for article in view.library.articles.values():
        for kind, name, begin, _ in traces_in(article):
            if name not in known[kind] and "waveforms" not in view.library.broken:
                where = f"under `{_PART[kind]}` of kb/waveforms.yml"
                message = f"there is no `{name}` {where}, so nothing would be shown{guess(name, known[kind])}"
                yield Flaw(article.place(begin), message)


def _named(view: View) -> Iterator[Flaw]:
    source = next((source for source in view.library.sources_read if source.kind == "waveforms"), None)
    if source is None or source.data is None or source.problems:
        return
    scenes, trees = view.library.waveforms, view.library.known
    entries = [*source.data["scenes"].values(), *source.data.get("series", {}).values()]
    for entry in entries:
        for key in ("beside", "against", "from"):
            if key in entry and entry[key] not in scenes:
                message = f"there is no trace `{entry[key]}` here{guess(entry[key], scenes)}"
                yield Flaw(source.place(entry.value_at[key]), message)
        for index, name in enumerate(entry.get("trees", ())):
            if name not in trees:
                message = f"there is no tree `{name}`{guess(name, trees)}"
                yield Flaw(source.place(entry["trees"].item_at[index]), message)
        yield from _causes(view, source, entry)


def _causes(view: View, source: Source, entry: Map) -> Iterator[Flaw]:
    """Look up the causes whose practice cases show a trace."""
    for index, name in enumerate(entry.get("causes", ())):
        tree_id, _, cause = name.partition("/")
        tree = view.library.trees.get(tree_id)
        if tree_id not in view.library.known:
            message = f"there is no tree `{tree_id}`{guess(tree_id, view.library.known)}"
        elif tree and cause not in tree.causes:
            message = f"the tree {tree_id} has no cause `{cause}`{guess(cause, tree.causes)}"
        else:
            continue
        yield Flaw(source.place(entry["causes"].item_at[index]), message)
