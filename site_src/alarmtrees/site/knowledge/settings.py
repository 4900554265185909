"""The values and numbers that are local policy, with who set them and when."""

from __future__ import annotations

from ...calc.entry import short
from ...model import Library, Role, Setting
from ...model.addresses import NUMBERS, REVIEW, SETTINGS
from ...proof.ownership import INVENTED, NOBODYS, borrowed, state, unreviewed
from ..markup import LOOKED_UP, Page, View, block, esc, items, phone, whole


def settings_page(library: Library) -> Page:
    """Every local value and every role to call."""
    view = View(library, SETTINGS)
    values = (setting_entry(view, setting, _where(view, setting)) for setting in library.settings.values())
    body = [
        '<h1 id="_top">Settings</h1>',
        whose(view),
        "<h2>Values</h2>",
        block("ul", values, class_="entries"),
        "<h2>Whom to call</h2>",
        items("ul", (_role(view, role) for role in library.roles.values()), "entries"),
    ]
    return Page(
        path=view.path,
        title="Settings",
        body=whole(body),
        description="The values that are local policy, who set them and when.",
        source="settings.yml",
        boost=LOOKED_UP,
    )


def whose(view: View) -> str:
    """Whose values these are."""
    name = view.say(view.library.hospital)
    if view.library.fictional:
        return (
            f'<p class="strip"><b>These values belong to an invented hospital, {name}.</b> '
            "Do not use them for patients. Put your own hospital’s values in their place first.</p>"
        )
    left = borrowed(view.library)
    nobodys = any(state(entry) == NOBODYS for entry in view.library.settings.values())
    if left:
        return (
            f'<p class="strip"><b>{left} of these still belong to an invented hospital, '
            f"{view.say(view.library.invented)}{', or to nobody' * nobodys}.</b> "
            "They are marked. Do not use them for patients.</p>"
        )
    told = f"<p>Local policy of {name}. Each value says who set it, and when.</p>"
    if pages := len(unreviewed(view.library)):
        told += (
            f'\n<p class="strip"><b>{pages} pages are not reviewed in this house.</b> '
            f'Each says so. <a href="{view.to(REVIEW)}">Reviews</a></p>'
        )
    return told


def setting_entry(view: View, setting: Setting, more: str = "") -> str:
    """One local value with all that is known of it, and `more`, which is HTML."""
    rests = esc(setting.status or "No source is named")
    named = f" ({view.source(setting.source)})" if setting.source else ""
    who = f"set by {view.say(setting.by)}" if setting.by else "nobody is named as having set it"
    when = f" on {esc(setting.on)}" if setting.on else ""
    mark = _mark(view, setting)
    return (
        f'<li id="{esc(setting.id)}">{mark}<b class="value">{view.say(setting.shown)}</b> {view.say(setting.say)}. '
        f'<span class="quiet">{rests[:1].upper()}{rests[1:]}{named}; {who}{when}.</span>'
        f"{_bounds(view, setting)}{more}</li>"
    )


def _bounds(view: View, setting: Setting) -> str:
    """Between what a hospital's value lies, and why; nothing where that is not said."""
    if setting.range is None:
        return ""
    low, high = (short(edge) for edge in setting.range)
    why = f"{esc(setting.range_from)}{view.rests_on_in_short(setting.range_sources)}"
    return f' <span class="quiet">Refused outside {low} to {high}\u00a0{esc(setting.range_unit)}: {why}.</span>'


def _where(view: View, setting: Setting) -> str:
    return f' <a href="{view.to(NUMBERS, setting.id)}">Where it is used</a>'


def _role(view: View, role: Role) -> str:
    return f"{_mark(view, role)}{view.say(role.say)}: {phone(role)}"


def _mark(view: View, entry: Setting | Role) -> str:
    """Tells an invented entry among a hospital's own; where all are invented, the page says so once."""
    told = {INVENTED: "<b>Invented:</b> ", NOBODYS: "<b>Set by nobody who is named:</b> "}
    return "" if view.library.fictional else told.get(state(entry), "")
