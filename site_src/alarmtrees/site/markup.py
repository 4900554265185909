"""What all pages share: the page itself, escaping, links, and small pieces of HTML.

Every text of a library goes through `esc` or `View.say` before it reaches a page. A line of a page never
begins with such a text, so that no Markdown reader can take it for mark-up.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from typing import Any

from ..model import Article, Calculator, Library, Map, Node, Priority, Role, Tree
from ..model.addresses import SOURCES, calculator_path, slides_path, tree_path
from ..model.dialling import dialled
from ..model.stamp import is_foreign, is_stale
from ..model.wording import fill
from ..proof.ownership import borrowed, unreviewed_count
from ..proof.reviewed import is_revalued

FIRST_CALL = "specialist-on-call"
"""The role that a page names where no step does; without it, the first role of the settings."""

STRIP = "Trained staff only; policy and the maker’s instructions come first."

SAID = frozenset(("patient-first", "trained-staff-only", "policy-first"))
"""The cautions that the strip on every page and sheet says in words of its own."""

UNSEARCHED = 'data-search-exclude="yes"'
"""Keeps an element out of the search's index: what stands on every page finds nothing."""

NOT_SAFE = "<b>Checked on every way does not mean safe.</b> The checks rest on what the authors wrote."

DRAFT = "notice notice--draft"
"""The class of the words that stand at the head of a draft."""

END_WORDS = {"resolved": "Alarm answered", "call": "Call now", "go": "Another page goes on"}
"""What stands above an end, by its kind."""


def meanwhile_label(node: Node) -> str:
    """What stands before the words of an end on what is to be done until somebody comes, or after all is well."""
    return "Watch next:" if node.end == "resolved" else "Meanwhile:"


_TITLED = re.compile(r"“([^”<]+)”")
_TAG = re.compile(r"<[^>]*>")
_INITIALS = 4
# From memory, unread: an option beside the alarm symbol in IEC 60601-1-8, annex C (normative: symbols).
_EXCLAMATION = {Priority.HIGH: "!!!", Priority.MEDIUM: "!!", Priority.LOW: "!"}


LOOKED_UP = 0.1
"""How much a search weighs the pages that editors look up: what is read at the bedside stands before them."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the site.

    Attributes:
        path: where it lies, with forward slashes and without an ending ("alarms/some-id/index").
        title: plain text.
        body: HTML; all text of the library in it is escaped.
        description: plain text, one sentence.
        source: the file to edit, relative to the folder of the articles; None where there is none.
        tags: other words under which a search finds the page.
        boost: how much more than other pages a search weighs it; 0 keeps it out of the search.
        assets: the styles and scripts that it wants beside those of every page, by their file names, in order.
        at_once: scripts that it wants before anything else.
        inline: what stands between `<script>` and `</script>` in the body; no other script in it runs.
        markdown: whether the body holds Markdown too, and has yet to be read as such.
    """

    path: str
    title: str
    body: str
    description: str = ""
    source: str | None = None
    tags: tuple[str, ...] = ()
    boost: float = 1
    assets: tuple[str, ...] = ()
    at_once: tuple[str, ...] = ()
    inline: tuple[str, ...] = ()
    markdown: bool = False


@dataclass(frozen=True, slots=True)
class SiteFile:
    """A file of the site that is no page of its frame: data that a script reads, a table, a set of slides.

    Attributes:
        path: where it lies, with forward slashes and its ending ("practice/some-id.js").
        text: what is in it; bytes where it is no text.
    """

    path: str
    text: str | bytes


@dataclass(frozen=True, slots=True)
class View:
    """A library as seen from one page: fills in settings, escapes, and links from there."""

    library: Library
    path: str

    def say(self, text: str) -> str:
        """The text as readers see it, safe in HTML."""
        return esc(self.plain(text))

    def led(self, text: str) -> str:
        """A text ready for a page, in which “the title of an alarm” leads to its page."""
        return _TITLED.sub(self._to_titled, self.say(text))

    def _to_titled(self, quoted: re.Match[str]) -> str:
        trees = self.library.in_use.values()
        tree = next((tree for tree in trees if self.say(tree.title) == quoted.group(1)), None)
        return f'“<a href="{self.to(tree_path(tree.id))}">{quoted.group(1)}</a>”' if tree else quoted.group()

    def plain(self, text: str) -> str:
        """The text as readers see it, not escaped: for titles and descriptions, which the theme escapes."""
        return fill(text, self.library.settings)

    def to(self, path: str, anchor: str = "") -> str:
        """The address of another page as seen from here; it holds in a folder and on a server."""
        return address(self.path, path, anchor)

    def sources(self, keys: Iterable[str]) -> str:
        """Sources in short, each linked to its full entry, with how it was read."""
        return "; ".join(self.source(key) + self._read(key) for key in keys)

    def rests_on(self, keys: Iterable[str]) -> str:
        """A quiet sentence that names the sources; nothing where there are none."""
        named = self.sources(keys)
        return f'<span class="quiet">Rests on: {named}.</span>' if named else ""

    def rests_on_in_short(self, keys: Iterable[str]) -> str:
        """The sources in brackets behind a text; nothing where there are none."""
        named = "; ".join(map(self.source, keys))
        return f" ({named})" if named else ""

    def source(self, key: str) -> str:
        """One source in short, linked to its full entry."""
        entry = self.library.sources.get(key)
        if entry is None:
            return esc(key)
        return f'<a href="{self.to(SOURCES, key)}">{esc(source_name(entry, key))}</a>'

    def _read(self, key: str) -> str:
        entry = self.library.sources.get(key)
        read = entry["read"] if entry else ""
        # "Common practice" and "from memory" are names and ways of reading in one.
        return "" if entry is None or read.lower() == source_name(entry, key).lower() else f" ({esc(read)})"

    def caution(self, key: str) -> str:
        """One caution in full; its key where the library has no such caution."""
        entry = self.library.cautions.get(key)
        return self.say(entry.say) if entry else esc(key)


def esc(text: str) -> str:
    """The text, safe between tags and inside a quoted attribute.

    >>> esc('<b> & "c"')
    '&lt;b&gt; &amp; &quot;c&quot;'
    """
    return escape(text, quote=True)


def untagged(html: str) -> str:
    """The HTML without its tags.

    >>> untagged("<b>a</b> &amp; b")
    'a &amp; b'
    """
    return _TAG.sub("", html)


def script_json(data: Any) -> str:
    """The data as JSON in ASCII, safe inside an element `script` and in a file of its own, whatever its texts hold.

    >>> script_json("</script> µ")
    '"\\\\u003c/script\\\\u003e \\\\u00b5"'
    """
    text = json.dumps(data, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")


def address(here: str, path: str, anchor: str = "") -> str:
    """The relative address of a page from another one.

    >>> address("alarms/a/index", "alarms/b/index", "step")
    '../../alarms/b/index.html#step'
    """
    hash_part = f"#{esc(anchor)}" if anchor else ""
    return f"{'../' * here.count('/')}{esc(path)}.html{hash_part}"


def source_name(entry: Map, key: str) -> str:
    """A source in a few words and its year: what it wishes to be called, else its author, else its title.

    >>> source_name(Map((1, 1)), "some-key")
    'some-key'
    """
    author = _author_name(str(entry.get("author", "")))
    name = str(entry.get("short", "")) or author or str(entry.get("title", "")) or key
    year = str(entry.get("year", ""))
    return f"{name} {year}" if year else name


def _author_name(author: str) -> str:
    """The surname of the first of persons, who are told by initials behind it; of an institution its whole name.

    >>> _author_name("de Vroege R and others"), _author_name("Office of Wards and Beds")
    ('de Vroege', 'Office of Wards and Beds')
    """
    first = author.split(",")[0].split(" and ")[0].strip()
    surname, _, initials = first.rpartition(" ")
    person = surname and initials.isupper() and len(initials) <= _INITIALS
    return surname if person else author.removesuffix(" and others")


def short_source(entry: Map, key: str) -> str:
    """A source as a text cites it: without an author or a short name, the beginning of its title alone."""
    name = source_name(entry, key)
    return name if entry.get("author") or entry.get("short") else re.split(r"[,:;(]", name)[0].strip()


def priority_badge(tree: Tree) -> str:
    """Priority as number of exclamation marks, word and colour class; the word is read aloud."""
    priority = tree.harm.priority
    marks = f'<span aria-hidden="true">{_EXCLAMATION[priority]}</span>'
    word = f'{priority.value.capitalize()}<span class="unseen"> priority</span>'
    return f'<span class="priority priority--{priority.value}">{marks} {word}</span>'


def phone(role: Role) -> str:
    """The number of a role: a link that dials, but only where it is a real one, and one."""
    if role.phone is None:
        return "number not set here"
    if role.fictional:
        return f'<span class="phone">{esc(role.phone)}</span> (fictional)'
    number = dialled(role.phone)
    if number is None:
        return f'<span class="phone">{esc(role.phone)}</span>'
    return f'<a class="phone" href="tel:{number}">{esc(role.phone)}</a>'


def in_text(role: Role) -> str:
    """The number of a role within a sentence: a link where it dials, else no more than its digits, kept together."""
    told = phone(role)
    return told if told.startswith("<a ") else esc((role.phone or "").replace(" ", "\N{NO-BREAK SPACE}"))


def call_line(view: View, role_id: str | None) -> str:
    """Whom to call, and under which number."""
    role = view.library.roles.get(role_id or "")
    whom = view.say(role.say) if role else esc(role_id or "the specialist on call")
    return f'<p class="call" {UNSEARCHED}>Call: <b>{whom}</b> {phone(role) if role else ""}</p>'


def calls(library: Library) -> str:
    """All numbers to call, short enough for the head of a page; nothing where there are no roles."""
    roles = library.roles.values()
    invented = [role for role in roles if role.fictional]
    every = bool(invented) and len(invented) == len(roles)
    told = " (fictional numbers)" if every else ""
    lines = (f"<span>{esc(fill(role.say, library.settings))}</span> {_number(role, told=every)}" for role in roles)
    listed = items("ul", lines)
    return block("nav", [f"<h2>Call{told}</h2>", listed], class_="calls", **_CALLS) if roles else ""


_CALLS = {"aria-label": "Numbers to call", "data-search-exclude": "yes"}


def _number(role: Role, told: bool) -> str:
    """The number of a role; `told` says that it is known to be fictional."""
    return phone(role).removesuffix(" (fictional)") if told else phone(role)


def first_call(library: Library) -> str | None:
    """The role to name where no step names one."""
    return FIRST_CALL if FIRST_CALL in library.roles else next(iter(library.roles), None)


def block(kind: str, lines: Iterable[str], **attributes: str) -> str:
    """The lines inside one element, each on its own line, and no blank line within."""
    written = "".join(f' {name.rstrip("_")}="{value}"' for name, value in attributes.items())
    body = "\n".join(line for line in lines if line)
    return f"<{kind}{written}>\n{body}\n</{kind}>"


def whole(parts: Iterable[str]) -> str:
    """The body of a page from its blocks. The heading must come first and unwrapped: a search takes what
    stands before it for an entry of its own."""
    return "\n\n".join(part for part in parts if part)


def items(kind: str, texts: Iterable[str], css: str = "", found: bool = True) -> str:
    """A list of texts that are HTML already; `found` says whether a search looks into it."""
    style = (f' class="{css}"' if css else "") + ("" if found else f" {UNSEARCHED}")
    return f"<{kind}{style}>\n" + "\n".join(f"<li>{text}</li>" for text in texts) + f"\n</{kind}>"


def strip(told: str = STRIP) -> str:
    """The caution that stands once on every page that could be acted on; `told` is what it says besides."""
    return f'<p class="strip" {UNSEARCHED}><b>Look at the patient first.</b> {told}</p>'


def calculators_for(view: View, page: Tree | Article) -> list[str]:
    """Links to the calculators that serve an alarm or article."""
    return [
        f'<a href="{view.to(calculator_path(one.id))}">{view.say(one.title)}</a>'
        for one in view.library.calculators.values()
        if page.id in (one.trees if isinstance(page, Tree) else one.related)
    ]


def alarm_link(view: View, tree: Tree) -> str:
    """A link to the page of an alarm, with its priority."""
    badge = '<span class="priority">Withdrawn</span>' if tree.is_withdrawn else priority_badge(tree)
    return (
        f'<a class="alarm-link" href="{view.to(tree_path(tree.id))}" data-tree="{esc(tree.id)}">'
        f'{badge}<span class="alarm-link__title">{view.say(tree.title)}</span></a>'
    )


def invented_mark(library: Library) -> str:
    """What stands behind the hospital's name while anything is invented; plain text, nothing where all is its own."""
    if library.fictional:
        return "fictional"
    if left := borrowed(library):
        return f"{left} {'entry' if left == 1 else 'entries'} invented"
    pages = unreviewed_count(library)
    return f"{pages} not reviewed" if pages else ""  # no more words fit beside a name on a phone


def hospital_named(library: Library) -> str:
    """The hospital's name with what is invented of it; plain text."""
    mark = invented_mark(library)
    return f"{library.hospital} ({mark})" if mark else library.hospital


def invented_told(library: Library) -> tuple[str, str]:
    """What stands at the foot of every page while anything is invented, plain text: what it is, and what follows."""
    whose = library.invented or "an invented hospital"
    if library.fictional:
        return f"{library.hospital} is a fictional hospital.", "Its numbers and limits are invented."
    if borrowed(library):
        told = (
            f"values or numbers of {whose}, which does not exist, or that nobody of this house has put role and day to;"
        )
        return f"{invented_mark(library).capitalize()}:", f"{told} do not use them for patients."
    if pages := unreviewed_count(library):
        told = "1 page is" if pages == 1 else f"{pages} pages are"
        return f"{told} not reviewed in this house:", "each says so. Ask before you use it."
    return "", ""


def due_notice(page: Tree | Article | Calculator) -> str:
    """A notice that the review is overdue. A script shows it from the day on: a page does not know what day it is."""
    if page.review is None:
        return ""
    day = esc(page.review.next)
    told = f"<b>Review overdue</b> since {day}. Ask before you use this page."
    return f'<p class="notice" data-due="{day}" hidden {UNSEARCHED}>{told}</p>'


def review_notices(library: Library, page: Tree | Article | Calculator) -> list[str]:
    """What is to be known of a page's review before it is read; nothing where the review holds."""
    if isinstance(page, Tree) and page.is_draft:
        return [f'<p class="{DRAFT}" {UNSEARCHED}>{_draft(page)}</p>']
    told = []
    if is_foreign(library, page):
        told.append("<b>Not reviewed by anybody of this house.</b>")
    if is_stale(page):
        told.append("<b>Changed since it was signed.</b>")
    if is_revalued(library, page) and not told:
        told.append("<b>A value on this page is another one than when it was signed.</b>")
    notice = f'<p class="notice" {UNSEARCHED}>{" ".join(told)} Ask before you use this page.</p>' if told else ""
    return [notice, due_notice(page)]


def _draft(tree: Tree) -> str:
    review = tree.review
    if review is None:
        return "<b>Draft.</b> Not reviewed; not for use at the bedside."
    read = f"{'changed since it was ' if is_stale(tree) else ''}read by the {esc(review.by)} on {esc(review.on)}"
    return f"<b>Draft</b>, {read}; not yet in use. Not for use at the bedside."


def review_line(library: Library, page: Tree | Article | Calculator) -> str:
    """Who reviewed a page, when, and until when that holds."""
    review = page.review
    if review is None:
        return '<p class="notice">Nobody has reviewed this page yet.</p>'
    stamp = f' <span class="quiet">Content stamp {esc(review.content[:8])}.</span>' if review.content else ""
    if is_foreign(library, page):
        whose = "in another house" if library.may_sign(review.by) else "who may not sign here"
        if not review.house and library.invented:
            whose = f"of {esc(library.invented)}, an invented hospital"
        return (
            f"<p {UNSEARCHED}>Not reviewed by anybody of this house. The {esc(review.by)}, {whose}, "
            f"signed it on {esc(review.on)}.{stamp}</p>"
        )
    return (
        f"<p {UNSEARCHED}>Reviewed by the {esc(review.by)} on {esc(review.on)}. Next review: {esc(review.next)}; "
        f"after that day, ask before you use this page.{stamp}</p>"
    )


def until_said(library: Library, page: Tree | Article | Calculator) -> str:
    """For paper: until when a page may be used, or why to ask first."""
    if page.review is None:
        return "Not reviewed, do not use at the bedside"
    if is_foreign(library, page):
        return "Not reviewed in this house: ask first"
    changed = is_stale(page) or is_revalued(library, page)
    return "Changed since it was signed: ask first" if changed else f"Do not use after {page.review.next}"


def until(library: Library, page: Tree | Article | Calculator) -> str:
    """On paper alone: until when a page may be used."""
    return f'<p class="until" {UNSEARCHED}>{esc(until_said(library, page))}</p>'


def slides_at(library: Library, about: Tree | Article) -> str:
    """Where the slides of an alarm or article lie; an article named like an alarm gives way."""
    name = about.id
    if isinstance(about, Article):
        while name in library.trees:
            name += "-article"
    return slides_path(name)


def slides_link(view: View, about: Tree | Article) -> str:
    """On the page of an alarm or article, not on paper: the way to its slides."""
    href = view.to(slides_at(view.library, about))
    return f'<p class="edit" {UNSEARCHED}><a href="{href}">The same as slides, for teaching</a></p>'
