"""Pages are signed by a role that may not sign here, or in another house.

Who may sign is listed as `reviewers` in the settings; without that list anybody may. A house that takes over a library
and puts its own name in the settings has reviewed nothing yet: `house` in a review is a stamp of the name of the
hospital in which it was signed, and a review without one is that of the invented hospital. Each page that somebody else
has signed says so, and is published all the same. This is told once, however many pages it is about.

Good, with `reviewers: [head of perfusion]`:

```yaml
review: {by: head of perfusion, on: 2026-11-02, next: 2027-11-02, content: 5f1c9a}
```

Bad, with the same settings:

```yaml
review: {by: lead perfusionist, on: 2026-09-14, next: 2027-09-14, content: 5f1c9a}
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model.finding import Place, Severity
from ...model.stamp import is_foreign
from .base import Flaw, View, library_rule

_NAMED = 3


@library_rule("review", Severity.WARNING)
def check(view: View) -> Iterator[Flaw]:
    """Count the pages whose review is by a role that the settings do not list, or of another house."""
    found = [page for page in view.pages if is_foreign(view.library, page)]
    if not found:
        return
    roles = sorted({page.review.by for page in found if page.review})
    files = [page.file for page in found[:_NAMED]]
    more = f" and {len(found) - _NAMED} more" if len(found) > _NAMED else ""
    listed = all(view.library.may_sign(role) for role in roles)
    where = "in another house" if listed else "by a role that is not among `reviewers`"
    message = (
        f"{_told(len(found))} {where} ({', '.join(roles)}): {', '.join(files)}{more}; "
        "each page says that nobody of this house has reviewed it; review them, then run `alarmtrees sign --all`"
    )
    yield Flaw(_place(view), message)


def _told(count: int) -> str:
    return "1 page is signed" if count == 1 else f"{count} pages are signed"


def _place(view: View) -> Place:
    """Where the list of reviewers stands that counts: in the hospital's own settings, else in the shipped ones."""
    read = {source.file: source for source in view.library.sources_read if source.kind == "settings"}
    for file in ("kb/settings.local.yml", "kb/settings.yml"):
        source = read.get(file)
        for key in ("reviewers", "hospital"):
            if source and not source.problems and source.data and key in source.data:
                return Place(file, *source.data.key_at[key])
    return Place("kb/settings.yml", 1, 1)
