"""A tree on paper: one A4 page to three that need no screen. Shown in print only; see theme/assets/print.css.

It holds what somebody at the bedside acts on: steps, answers, cautions, numbers to call. Why and sources stay on
the screen; a code and an address lead there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import segno

from ...model import Library, Node, Tree
from ...model.addresses import tree_path
from ...proof.order import reading_order
from ..markup import STRIP, View, block, esc, first_call, invented_mark, items, priority_badge, until_said
from .paper import COLUMN_WIDTH, Form, Paper
from .picture import number_map

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
        return _whole(view, tree, [*body, *_calls(view, [first_call(library)])])
    numbers = {node_id: number for number, node_id in enumerate(reading_order(tree), start=1)}
    drawn = number_map(tree, numbers, COLUMN_WIDTH)
    paper = Paper(library, tree, tuple(numbers), drawn.height)
    form = paper.best_form()
    writer = _Sheet(view, tree, numbers, form, paper.top_cautions(form))
    steps = [writer.card(tree.nodes[node_id]) for node_id in numbers]
    if form.map:
        steps.append(f'<div class="card card--map"><p>All steps</p>{drawn.svg}</div>')
    return _whole(view, tree, [*writer.head(address, imprint.build), block("div", steps, class_="sheet__steps")])


def page_address(library: Library, tree_id: str, site_url: str = "") -> str:
    """Where a tree's page is found by anybody; empty where nobody has said where the site is found."""
    setting = library.settings.get(SITE_ADDRESS)
    base = (setting.value if setting else None) or site_url
    return f"{base.rstrip('/')}/alarms/{tree_id}/" if base else ""


def margins(view: View, tree: Tree, page: str = "") -> str:
    """The style of a sheet's pages: each one says what it is, until when it holds, and which one it is.

    Pages of one sheet may come apart, and one page may be all that somebody finds.

    Args:
        view: fills in settings.
        tree: whose sheet it is.
        page: the name of its pages; none for a document that is this sheet alone.
    """
    mark = invented_mark(view.library)
    title, until = css_string(view.plain(tree.title)), css_string(until_said(view.library, tree))
    hospital = css_string(f"{view.library.hospital} ({mark})" if mark else view.library.hospital)
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


def _whole(view: View, tree: Tree, parts: Iterable[str]) -> str:
    style = f"<style>@media print{{{margins(view, tree)}}}</style>"
    return block("aside", [style, *parts], class_="sheet", **{"data-search-exclude": "yes"})


def _title(view: View, tree: Tree) -> str:
    return f'<p class="sheet__title">{view.say(tree.title)}</p>'


def _calls(view: View, roles: Iterable[str | None]) -> list[str]:
    named = " · ".join(_number(view, role) for role in roles if role)
    return [f'<p class="sheet__calls"><b>Call:</b> {named}</p>'] if named else []


def _number(view: View, role_id: str) -> str:
    """A role and its number. No link: this is paper."""
    role = view.library.roles.get(role_id)
    if role is None:
        return esc(role_id)
    invented = "\u00a0(fictional)" if role.phone and role.fictional else ""
    number = (role.phone or "number not set here").replace(" ", "\u00a0")
    return f"{view.say(role.say)} <b>{esc(number)}</b>{invented}"


def _code(address: str) -> str:
    """The address as a code for a phone's camera; nothing where there is none."""
    if not address:
        return ""
    code = segno.make(address, error="m", micro=False)
    return code.svg_inline(border=0, svgclass="sheet__code", lineclass=None, omitsize=True)


def _where(view: View, tree: Tree, address: str, build: str) -> str:
    """Where the page is found, and how old this paper is and may become."""
    found = esc(address) if address else "No address: site_address is not set in kb/settings.local.yml"
    reviewed = f"reviewed {esc(tree.review.on)}" if tree.review else ""
    dated = [part for part in (reviewed, f"build {esc(build)}" if build else "") if part]
    return f'<p class="sheet__where"><b>{esc(until_said(view.library, tree))}</b> · {" · ".join([found, *dated])}</p>'


@dataclass(frozen=True, slots=True)
class _Sheet:
    """Writes the parts of one sheet; `top` are the cautions above its steps."""

    view: View
    tree: Tree
    numbers: Mapping[str, int]
    form: Form
    top: Sequence[str]

    def head(self, address: str, build: str) -> list[str]:
        """Above the steps: what this is, whom to call, what holds at every step."""
        view, tree = self.view, self.tree
        roles = dict.fromkeys([first_call(view.library), *(node.call for node in tree.nodes.values() if node.call)])
        told = [
            _title(view, tree),
            f'<p class="sheet__rank">{priority_badge(tree)} Our priority may differ from the console’s.</p>',
            f'<p class="sheet__strip"><b>Look at the patient first.</b> {STRIP}</p>',
            *_calls(view, roles),
        ]
        return [
            block("div", [block("div", told, class_="sheet__told"), _code(address)], class_="sheet__head"),
            _where(view, tree, address, build),
            self._anytime(),
            items("ul", map(self._lettered, self.top), "sheet__cautions") if self.top else "",
        ]

    def _lettered(self, key: str) -> str:
        sign = "!" if self.form.full else f"! {self._letter(key)}"
        return f"<b>{sign}</b> {self.view.caution(key)}"

    def _letter(self, key: str) -> str:
        """A, B, …, Z, A1, B1, …"""
        round_, place = divmod(self.top.index(key), 26)
        return f"{chr(ord('A') + place)}{round_ or ''}"

    def _anytime(self) -> str:
        if not self.tree.anytime:
            return ""
        answers = " · ".join(
            f"{self.view.say(answer.say)}: <b>go\u00a0to\u00a0{self.numbers.get(answer.to, '?')}</b>"
            for answer in self.tree.anytime
        )
        return f'<p class="sheet__anytime"><b>At any time:</b> {answers}</p>'

    def card(self, node: Node) -> str:
        """One step, never split between two columns."""
        parts = {"ask": self._ask, "do": self._do, "end": self._end}[node.kind](node)
        number = f'<b class="card__number">{self.numbers[node.id]}</b>'
        return block("div", [number, *parts], class_=f"card card--{node.kind}")

    def _ask(self, node: Node) -> list[str]:
        answers = (self._goes(self.view.say(answer.say), answer.to) for answer in node.answers)
        question = f'<p class="card__say">{self.view.say(node.text)}</p>'
        return [question, self._cautions(node), items("ul", answers, "card__answers")]

    def _do(self, node: Node) -> list[str]:
        call = f"<p><b>Call:</b> {_number(self.view, node.call)}</p>" if node.call else ""
        then = items("ul", [self._goes("Then", node.then)], "card__answers") if node.then else ""
        return [self._cautions(node), items("ul", map(self.view.say, node.lines), "card__lines"), call, then]

    def _end(self, node: Node) -> list[str]:
        say = self.view.say(node.text)
        call = f"<p><b>Call now:</b> {_number(self.view, node.call)}</p>" if node.call else ""
        first = {"resolved": "Alarm answered.", "go": f"Go to {self._other(node.go or '')}."}.get(node.end or "")
        return [
            call,
            f"<p><b>{first}</b> {say}</p>" if first else f"<p>{say}</p>",
            self._cautions(node),
            f"<p><b>Meanwhile:</b> {self.view.say(node.meanwhile)}</p>" if node.meanwhile else "",
        ]

    def _goes(self, words: str, to: str) -> str:
        return f"<span>{words}</span> <b>go to {self.numbers.get(to, '?')}</b>"

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
        keys = [key for key in node.cautions if (node.id, key) != (self.tree.start, "patient-first")]
        if not keys:
            return ""
        if self.form.full:
            told = [f"<b>!</b> {self.view.caution(key)}" for key in keys]
        else:
            letters = ", ".join(map(self._letter, keys))
            told = [f"<b>! Caution {letters}</b>, top of sheet"]
        return items("ul", told, "card__cautions")
