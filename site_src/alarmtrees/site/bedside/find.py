"""The one box as it stands on the home page: a field, the list it fills, and what it searches."""

from __future__ import annotations

from ...model import Library
from ...model.addresses import HOME
from ..finder import finder_data
from ..markup import UNSEARCHED, View, block, items, phone, script_json

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
            '<div id="finder-list" class="finder__list" role="listbox" aria-label="What fits"></div>',
            _miss(library),
            _editors(),
        ],
        class_="finder__found",
        hidden="hidden",
    )
    lines = [
        f'<p class="finder__question"><label for="finder">{QUESTION}</label></p>',
        field,
        '<p class="finder__hint" id="finder-hint">Hose came off, zeroing, whom to call … Type, swipe or speak.</p>',
        found,
        '<p class="unseen" role="status"></p>',
        f'<script type="application/json" id="finder-data">{script_json(finder_data(library))}</script>',
    ]
    return f'<section class="finder" data-finder {UNSEARCHED}>\n' + "\n".join(lines) + "\n</section>"


def _miss(library: Library) -> str:
    """What a reader is left with who found nothing: what not to do, and the numbers."""
    view = View(library, HOME)
    roles = (f"{view.say(role.say)}: <b>{phone(role)}</b>" for role in library.roles.values())
    told = "<p>Stay with the patient. Look at pulse and pressure. For another device, follow its own guide.</p>"
    return block("div", [told, items("ul", roles)], class_="finder__miss", hidden="hidden")


def _editors() -> str:
    """Lets whoever keeps the hospital's own file take over words that found nothing; shown with `?editor` alone."""
    return block(
        "div",
        [
            '<button type="button" class="finder__copy">Copy for our own list</button>',
            '<p class="finder__line" hidden="hidden"><code></code></p>',
            '<p class="finder__note">For whoever keeps <code>kb/settings.local.yml</code>. No names of people.</p>',
        ],
        class_="finder__editors",
        hidden="hidden",
    )
