"""A tree on paper: one A4 page that needs no screen. Shown in print only; see theme/assets/print.css.

It holds what somebody at the bedside acts on: steps, answers, cautions, numbers to call. Why and sources stay on
the screen; a code and an address lead there. What holds at every step stands once, above all steps: cautions, which
steps name by letters, and what may be seen at any time, with what is then to be done.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import segno

from ...model import Article, Calculator, Library, Node, Tree
from ...model.addresses import tree_path
from ...proof.order import reading_order
from ..drawn import image
from ..markup import (
    STRIP,
    View,
    block,
    esc,
    first_call,
    hospital_named,
    items,
    meanwhile_label,
    priority_badge,
    until_said,
)
from .paper import FORMS, NBSP, PREAMBLE, PRIORITY, Form, Paper, paper_number

SITE_ADDRESS = "site_address"
"""The setting that says where the site is found."""


@dataclass(frozen=True, slots=True)
class Imprint:
    """What a sheet says of the site it was printed from: where that is found, and which build it is."""

    site_url: str = ""
    build: str = ""


def sheet(library: Library, tree: Tree, imprint: Imprint) -> str:
    """The sheet of a tree as one block of HTML, with what stands in the margins of each of its pages.

    Args:
        library: holds the settings; their `site_address` goes before the address of the imprint.
        tree: a tree all of whose references hold.
        imprint: the site.
    """
    view = View(library, tree_path(tree.id))
    address = page_address(library, tree.id, imprint.site_url)
    if tree.is_withdrawn:
        body = [_title(view, tree), '<p class="sheet__notice"><b>Withdrawn.</b> Do not use this sheet any more.</p>']
        return _whole(view, tree, [*body, *numbers_to_call(view, [first_call(library)])])
    numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}
    paper = Paper(library, tree, tuple(numbers))
    form = paper.form()
    writer = _Sheet(view, tree, numbers, paper, frozenset(paper.drawn(form)))
    steps = [writer.card(tree.nodes[node_id]) for node_id in paper.steps]
    body = [*writer.head(address, imprint.build), block("div", steps, class_="sheet__steps")]
    return _whole(view, tree, body, form)


def page_address(library: Library, tree_id: str, site_url: str = "") -> str:
    """Where a tree's page is found by anybody; empty where nobody has said where the site is found."""
    base = site_base(library, site_url)
    return f"{base}alarms/{tree_id}/" if base else ""


def site_base(library: Library, site_url: str = "") -> str:
    """Where the site is found by anybody, with a slash behind it; empty where nobody has said so."""
    setting = library.settings.get(SITE_ADDRESS)
    base = (setting.value if setting else None) or site_url
    return f"{base.rstrip('/')}/" if base else ""


def margins(view: View, about: Tree | Article | Calculator, page: str = "") -> str:
    """The style of a sheet's pages: each one says what it is, until when it holds, and which one it is.

    Pages of one sheet may come apart, and one page may be all that somebody finds.

    Args:
        view: fills in settings.
        about: whose sheet it is.
        page: the name of its pages; none for a document that is this sheet alone.
    """
    title, until = css_string(view.plain(about.title)), css_string(until_said(view.library, about))
    hospital = css_string(hospital_named(view.library))
    pages = css_string("Page ") + " counter(page) " + css_string(" of ") + " counter(pages)"
    return (
        f"@page {page}{{@top-left{{content:{title}}}@bottom-left{{content:{until}}}"
        f"@bottom-center{{content:{hospital}}}@bottom-right{{content:{pages}}}}}"
        + ("" if page else "@page:first{@top-left{content:none}}")
    )


def css_string(text: str) -> str:
    r"""The text as a string of CSS that is safe inside a `style` element, whatever it holds.

    >>> css_string('a </style>')
    '"a \\3c \\2f style\\3e "'
    """
    kept = (sign if sign.isalnum() or sign in " .,:-" else f"\\{ord(sign):x} " for sign in text)
    return f'"{"".join(kept)}"'


def _whole(view: View, tree: Tree, parts: Iterable[str], form: Form = FORMS[0]) -> str:
    style = f"<style>@media print{{{margins(view, tree)}}}</style>"
    run_on = {"data-run-on": "yes"} if form.run_on else {}
    size = f"font-size:{form.size:g}pt;line-height:{form.leading:g};--between:{form.between:g}em"
    return block("aside", [style, *parts], class_="sheet", style=size, **run_on, **{"data-search-exclude": "yes"})


def _title(view: View, tree: Tree) -> str:
    return f'<p class="sheet__title">{view.say(tree.title)}</p>'


def numbers_to_call(view: View, roles: Iterable[str | None]) -> list[str]:
    """Whom to call, in full: a line of HTML, or none."""
    named = " · ".join(f"{_number(view, role)}{_invented(view, role)}" for role in roles if role)
    return [f'<p class="sheet__calls"><b>Call:</b> {named}</p>'] if named else []


def _number(view: View, role_id: str) -> str:
    """A role and its number. No link: this is paper."""
    role = view.library.roles.get(role_id)
    if role is None:
        return esc(role_id)
    return f"{view.say(role.say)} <b>{esc(paper_number(role))}</b>"


def _invented(view: View, role_id: str) -> str:
    """Said at the head of the sheet; the foot of each page says it of all that stands on it."""
    role = view.library.roles.get(role_id)
    return f"{NBSP}(fictional)" if role and role.phone and role.fictional else ""


def code(address: str) -> str:
    """The address as a code for a phone's camera; nothing where there is none."""
    if not address:
        return ""
    made = segno.make(address, error="m", micro=False)
    return made.svg_inline(border=0, svgclass="sheet__code", lineclass=None, omitsize=True)


def _where(view: View, tree: Tree, address: str, build: str) -> str:
    """Where the page is found, and how old this paper is and may become."""
    found = esc(address) if address else "No address: site_address is not set in kb/settings.local.yml"
    reviewed = f"reviewed {esc(tree.review.on)}" if tree.review else ""
    dated = [part for part in (reviewed, f"build {esc(build)}" if build else "") if part]
    return f'<p class="sheet__where"><b>{esc(until_said(view.library, tree))}</b> · {" · ".join([found, *dated])}</p>'


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Writes the parts of one sheet; `drawn` are the steps whose pictures it has room for."""

    view: View
    tree: Tree
    numbers: Mapping[str, int]
    paper: Paper
    drawn: frozenset[str]

    def head(self, address: str, build: str) -> list[str]:
        """Above the steps: what this is, whom to call, what holds at every step."""
        view, tree = self.view, self.tree
        roles = dict.fromkeys([first_call(view.library), *(node.call for node in tree.nodes.values() if node.call)])
        told = [
            _title(view, tree),
            f'<p class="sheet__strip">{priority_badge(tree)} <b>Look at the patient first.</b> {STRIP}</p>',
            *numbers_to_call(view, roles),
            _where(view, tree, address, build),
        ]
        return [
            block("div", [block("div", told, class_="sheet__told"), code(address)], class_="sheet__head"),
            self._top_cautions(),
            self._anytime(),
        ]

    def _top_cautions(self) -> str:
        """All cautions one behind the other, those that steps name first."""
        lettered = [
            f"<b>!{NBSP}{letter}</b>{NBSP}{self.view.caution(key)}" for key, letter in self.paper.letters.items()
        ]
        told = [*lettered, *map(self.view.caution, self.paper.general), PREAMBLE, PRIORITY]
        return f'<p class="sheet__cautions">{" ".join(told)}</p>'

    def _anytime(self) -> str:
        """What may be seen at any time; where that ends the page, the end stands there and nowhere else."""
        if not self.tree.anytime:
            return ""
        told: dict[str, list[str]] = {}
        for answer in self.tree.anytime:
            told.setdefault(answer.to, []).append(self.view.say(answer.say))
        cells = []
        for to, answers in told.items():
            seen = " · ".join(answers)
            end = self.paper.is_at_top(to)
            cells.append(
                self.card(self.tree.nodes[to], f"{seen}: ")
                if end
                else f'<p class="card">{self._goes(f"<b>{seen}</b>", to)}</p>'
            )
        lead = '<p class="sheet__lead">At any time:</p>'
        return block("div", [lead, *cells], class_="sheet__anytime")

    def card(self, node: Node, seen: str = "") -> str:
        """One step, never split between two columns; `seen` is what leads to it at any time."""
        parts = (
            self._end(node, seen) if node.kind == "end" else self._ask(node) if node.kind == "ask" else self._do(node)
        )
        number = f'<b class="card__number">{self.numbers[node.id]}</b>'
        return block("div", [number, *parts, self._picture(node)], class_=f"card card--{node.kind}")

    def _picture(self, node: Node) -> str:
        picture = self.tree.picture_at(node) if node.id in self.drawn else None
        return image(self.view, picture, picture.title, "card__drawn") if picture else ""

    def _ask(self, node: Node) -> list[str]:
        answers = (self._goes(self.view.say(answer.say), answer.to) for answer in node.answers)
        question = f'<p class="card__say">{self._cautions(node)}{self.view.say(node.text)}</p>'
        return [question, items("ul", answers, "card__answers")]

    def _do(self, node: Node) -> list[str]:
        lines = [self.view.say(line) for line in node.lines]
        if node.call:
            lines.append(f"<b>Call:</b> {self._call(node.call, named=False)}")
        lines[0] = self._cautions(node) + lines[0]
        lines[-1] = self._goes(lines[-1], node.then) if node.then else lines[-1]
        return [items("ul", lines, "card__lines")]

    def _end(self, node: Node, seen: str) -> list[str]:
        call = f"<b>Call now:</b> {self._call(node.call)}." if node.call else ""
        first = {"resolved": "<b>Alarm answered.</b>", "go": f"<b>Go to {self._other(node.go or '')}.</b>"}
        meanwhile = f"<b>{meanwhile_label(node)}</b> {self.view.say(node.meanwhile)}" if node.meanwhile else ""
        parts = [call, first.get(node.end or "", ""), self.view.say(node.text), meanwhile]
        led = f"<b>{seen}</b>" if seen else ""
        return [f"<p>{led}{self._cautions(node)}{' '.join(part for part in parts if part)}</p>"]

    def _call(self, role_id: str, named: bool = True) -> str:
        """Whom to call, in few words: the head of the sheet names them in full."""
        words, number = self.paper.called(role_id, named)
        return " ".join([*([esc(words)] if words else []), *([f"<b>{esc(number)}</b>"] if number else [])])

    def _goes(self, words: str, to: str) -> str:
        return f"<span>{words}</span> <b>{self._to(to)}</b>"

    def _to(self, to: str) -> str:
        return f"→{NBSP}{self.numbers.get(to, '?')}"

    def _other(self, go: str) -> str:
        """The sheet, and the step on it, that goes on."""
        target, _, step = go.partition("/")
        tree = self.view.library.trees.get(target)
        if tree is None:
            return esc(target)
        order = reading_order(tree)
        at = f", step {order.index(step) + 1}" if step in order else ""
        return f"the sheet “{self.view.say(tree.title)}”{at}"

    def _cautions(self, node: Node) -> str:
        letters = [self.paper.letters[key] for key in node.cautions if key in self.paper.letters]
        return f'<b class="card__cautions">!{NBSP}{" ".join(letters)}</b> ' if letters else ""
