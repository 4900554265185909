"""The alarm finder as it stands on the home page: one field, the list it fills, and what it searches."""

from __future__ import annotations

from ...model import Library
from ..finder import finder_data
from ..markup import UNSEARCHED, block, script_json

QUESTION = "What do you see or hear?"


def finder_block(library: Library) -> str:
    """The field with everything it needs. Without scripts the theme hides it, and the list of alarms remains."""
    field = (
        '<input id="finder" class="finder__field" type="text" role="combobox" aria-expanded="false" '
        'aria-controls="finder-list" aria-autocomplete="list" aria-describedby="finder-hint" autocomplete="off" '
        'autocapitalize="off" autocorrect="off" spellcheck="false" enterkeyhint="search" maxlength="200">'
    )
    found = block(
        "div",
        [
            '<p class="finder__verdict" id="finder-verdict"></p>',
            '<div id="finder-list" class="finder__list" role="listbox" aria-label="Alarms that fit"></div>',
            _miss(),
        ],
        class_="finder__found",
        hidden="hidden",
    )
    lines = [
        f'<p class="finder__question"><label for="finder">{QUESTION}</label></p>',
        field,
        '<p class="finder__hint" id="finder-hint">Hose came off, no ECG … Type, swipe or speak.</p>',
        found,
        '<p class="unseen" role="status"></p>',
        f'<script type="application/json" id="finder-data">{script_json(finder_data(library))}</script>',
    ]
    return f'<section class="finder" data-finder {UNSEARCHED}>\n' + "\n".join(lines) + "\n</section>"


def _miss() -> str:
    """Lets a reader hand on words that found nothing, for the hospital's own file and no other."""
    return block(
        "div",
        [
            '<button type="button" class="finder__copy">Copy for our own list</button>',
            '<p class="finder__line" hidden="hidden"><code></code></p>',
            '<p class="finder__note">For whoever keeps <code>kb/settings.local.yml</code>. No names of people.</p>',
        ],
        class_="finder__miss",
        hidden="hidden",
    )
