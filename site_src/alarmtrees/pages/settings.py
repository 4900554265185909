"""The values and numbers that are local policy, with who set them and when."""

from __future__ import annotations

from ..model import Library, Role, Setting
from .markup import Page, View, block, esc, items, phone, whole


def settings_page(library: Library) -> Page:
    """Every local value and every role to call."""
    view = View(library, "settings/index")
    body = [
        '<h1 id="_top">Settings</h1>',
        _whose(view),
        "<h2>Values</h2>",
        block("ul", (_value(view, setting) for setting in library.settings.values()), class_="entries"),
        "<h2>Whom to call</h2>",
        items("ul", (_role(view, role) for role in library.roles.values()), "entries"),
    ]
    return Page(
        path=view.path,
        title="Settings",
        body=whole(body),
        description="The values that are local policy, who set them and when.",
        source="settings.yml",
    )


def _whose(view: View) -> str:
    name = view.say(view.library.hospital)
    if view.library.fictional:
        return (
            f'<p class="strip"><b>These values belong to an invented hospital, {name}.</b> '
            "Do not use them for patients. Put your own hospital’s values in their place first.</p>"
        )
    return f"<p>Local policy of {name}. Each value says who set it, and when.</p>"


def _value(view: View, setting: Setting) -> str:
    rests = esc(setting.status or "No source is named")
    named = f" ({view.source(setting.source)})" if setting.source else ""
    who = f"set by {view.say(setting.by)}" if setting.by else "nobody is named as having set it"
    when = f" on {esc(setting.on)}" if setting.on else ""
    return (
        f'<li id="{esc(setting.id)}"><b class="value">{view.say(setting.shown)}</b> {view.say(setting.say)}. '
        f'<span class="quiet">{rests[:1].upper()}{rests[1:]}{named}; {who}{when}.</span></li>'
    )


def _role(view: View, role: Role) -> str:
    return f"{view.say(role.say)}: {phone(role)}"
