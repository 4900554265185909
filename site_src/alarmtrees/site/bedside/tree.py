"""The page of one alarm, complete without any script."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from ...model import Answer, Library, Node, Tree
from ...model.addresses import checks_path, tree_path
from ...proof.ahead import steps_ahead
from ...proof.looks import first_looks, holds, is_usual, told_by_clock
from ...proof.order import reading_order
from ...proof.resting import setting_seconds
from ...proof.returning import Return, returns
from ..drawn import folded
from ..knowledge.glossary import link_words
from ..knowledge.traces import traces_of
from ..markup import (
    END_WORDS,
    SAID,
    UNSEARCHED,
    Page,
    View,
    block,
    calculators_for,
    call_line,
    esc,
    first_call,
    in_text,
    items,
    meanwhile_label,
    phone,
    priority_badge,
    review_line,
    review_notices,
    slides_link,
    strip,
    whole,
)
from ..teaching.practice import practice_link
from .picture import picture
from .reached import Reached
from .sheet import Imprint, css_string, sheet

_REST = {"rest-unknown": "unknown", "rested-too-long": "long", "rested-short": "short"}
"""What an answer with one of these marks tells of how long the balloon has rested; the worst one counts."""

_FIXED = {"no-pulse": "No pulse", "patient-worse": "Worse", "blood-seen": "Blood"}
"""What has a place in the bar of every alarm, by its mark: one place and one word, whatever the tree calls it."""

_STANDS = (
    f'<p class="stands" {UNSEARCHED}>Worse meanwhile? That call stands: tell them how it is now. '
    "Nobody called? Call now, better or not.</p>"
)
"""What every end says at which all is well: whoever was called on the way is not called off by it."""

_CALLS = frozenset({"call", "doctor-called", "team-called"})
"""Marks of a step that does no more than call: what was seen before still holds after it."""


def tree_page(library: Library, tree: Tree, imprint: Imprint | None = None, said: Sequence[str] = ()) -> Page:
    """The page of a tree: the first step on the first screen, then every step, numbered; and its sheet of paper.

    Args:
        library: holds the tree.
        tree: the tree; of a withdrawn one only that is said, and a draft has no sheet.
        imprint: what the sheet says of the site.
        said: what the check says of a draft.
    """
    path = tree_path(tree.id)
    view = View(library, path)
    return Page(
        path=path,
        title=view.plain(tree.title),
        description=view.plain(tree.summary),
        body=whole(_withdrawn(view, tree) if tree.is_withdrawn else _in_full(view, tree, imprint or Imprint(), said)),
        source=f"../{tree.file}",
        boost=1 if tree.is_withdrawn else 0 if tree.is_draft else 4,
        tags=tuple(view.plain(alias) for alias in tree.aliases) if tree.in_use else (),
        assets=("walk.css", "print.css"),
        at_once=("walk.js",),
    )


def _withdrawn(view: View, tree: Tree) -> list[str]:
    return [
        f'<h1 id="_top">{view.say(tree.title)}</h1>',
        f'<p class="notice"><b>Withdrawn{_since(tree)}.</b> Do not use this page any more.</p>',
        f"<p>{view.say(tree.withdrawn.why)}</p>" if tree.withdrawn else "",
        call_line(view, first_call(view.library)),
    ]


def _since(tree: Tree) -> str:
    return f" since {esc(tree.withdrawn.on)}" if tree.withdrawn else ""


def _in_full(view: View, tree: Tree, imprint: Imprint, said: Sequence[str]) -> list[str]:
    order = reading_order(tree)
    numbers = {node_id: number for number, node_id in enumerate(order, start=1)}
    back = returns(tree, view.library.trees, view.library.safety.values())
    steps = _Steps(view, tree, numbers, steps_ahead(tree), first_looks(tree, view.library.marks), back)
    first, *others = (steps.section(tree.nodes[node_id]) for node_id in order)
    read = [
        first,
        *_before_going_on(view, tree),
        '<h2 class="part" data-all-steps="">All further steps</h2>' if others else "",
        *others,
    ]
    return [
        *_head(view, tree),
        _walk(view, tree),
        *(link_words(part, view.library, view.path) for part in read),
        picture(view, tree, steps.numbers, apart=not tree.is_draft),
        *_foot(view, tree, said),
        _on_paper() if tree.is_draft else sheet(view.library, tree, imprint),
    ]


def _on_paper() -> str:
    """A draft has no sheet: paper is taken for what may be used. Printed all the same, each page says what it is."""
    said = css_string("Draft: not for use at the bedside")
    return f"<style>@media print{{@page{{@top-left{{content:{said}}}@bottom-left{{content:{said}}}}}}}</style>"


def _head(view: View, tree: Tree) -> list[str]:
    differs = '<span class="quiet">The console’s priority may differ.</span>'
    return [
        f'<h1 id="_top">{view.say(tree.title)}</h1>',
        f'<p class="rank" {UNSEARCHED}>{priority_badge(tree)} {differs}</p>',
        *review_notices(view.library, tree),
        strip(),
    ]


def _walk(view: View, tree: Tree) -> str:
    """Where a script shows one step at a time, and what its resting clock has to know. Empty without a script."""
    limit = view.library.settings.get("resting_warning")
    seconds = setting_seconds(view.library.settings, "resting_warning")
    known = {"data-limit": f"{seconds:g}", "data-limit-say": esc(limit.shown)} if limit and seconds else {}
    # Whoever begins now to work alone for as long as they may reaches the limit meanwhile.
    alone = setting_seconds(view.library.settings, "call_by")
    if seconds and alone and alone < seconds:
        known["data-soon"] = f"{seconds - alone:g}"
    hooks = {"data-walk": esc(tree.id), "data-pump": esc(tree.pump)} | known
    return block("div", [_dial(view, tree)], class_="walk", id="_walk", hidden="hidden", **hooks)


def _dial(view: View, tree: Tree) -> str:
    """The call that stays in reach on every step; the number in it is a link only where it is a real one.

    Where compressions come with the first call of a page, nobody else is wanted on the steps that name nobody.
    """
    nodes = (tree.nodes[node_id] for node_id in reading_order(tree))
    first = next((node for node in nodes if node.call), None)
    whom = first.call if first and "compressions" in first.marks else first_call(view.library)
    role = view.library.roles.get(whom or "")
    if role is None:
        return ""
    return f'<p class="dial" {UNSEARCHED}>Call: <b>{view.say(role.say)}</b> {phone(role)}</p>'


def _before_going_on(view: View, tree: Tree) -> list[str]:
    """The cautions in full, what the alarm is, and its other names, right behind the first step."""
    own = [key for key in tree.cautions if key not in SAID]
    cautions = ["<h2>Cautions</h2>", items("ul", map(view.caution, own), found=False)]
    names = ", ".join(view.say(alias) for alias in tree.aliases)
    return [
        block("section", cautions, class_="cautions", id="_cautions") if own else "",
        f"<p>{view.say(tree.summary)}</p>",
        f'<p class="quiet" {UNSEARCHED}>Also called: {names}.</p>' if names else "",
    ]


def _foot(view: View, tree: Tree, said: Sequence[str]) -> list[str]:
    causes = items("ul", (view.say(cause.say) for cause in tree.causes.values()))
    related, sums = _read_on(view, tree), calculators_for(view, tree)
    sources = f"<p {UNSEARCHED}>{view.sources(tree.sources)}.</p>"
    checked = _said(said) if tree.is_draft else _checked(view, tree)
    return [
        _part("causes", "What may be behind it", causes) if tree.causes else "",
        _part("traces", "What it looks like", traces) if (traces := traces_of(view, tree)) else "",
        _part("related", "Read on", items("ul", related, "links")) if related else "",
        _part("numbers", "Numbers to work out", items("ul", sums, "links")) if sums else "",
        _part("sources", "Sources", sources) if tree.sources else "",
        _part("review", "Review", review_line(view.library, tree) + checked),
    ]


def _said(said: Sequence[str]) -> str:
    """What the check says of a draft, to whoever writes or reviews it."""
    if not said:
        return f"\n<p {UNSEARCHED}>The check finds nothing wrong with this draft.</p>"
    return f"\n<p {UNSEARCHED}>What the check says of this draft:</p>\n{items('ul', map(esc, said), found=False)}"


def _checked(view: View, tree: Tree) -> str:
    link = f'<a href="{view.to(checks_path(tree.id))}">Checked on every way: how, and on what</a>'
    return f"\n<p {UNSEARCHED}>{link}</p>\n{slides_link(view, tree)}\n{practice_link(view, tree)}"


def _read_on(view: View, tree: Tree) -> list[str]:
    """Links to the articles that the tree names, then to those that name it; each once."""
    naming = [key for key, article in view.library.articles.items() if tree.id in article.trees]
    return [_article(view, key) for key in dict.fromkeys([*tree.related, *naming])]


def _article(view: View, key: str) -> str:
    """A link to an article; a plain page is named by its file, for its title is known to the site's generator only."""
    article = view.library.articles.get(key)
    title = view.say(article.title) if article else esc(key.replace("-", " ").capitalize())
    return f'<a href="{view.to(key)}">{title}</a>'


def _part(name: str, title: str, body: str) -> str:
    """A part behind the steps. No step's id begins with a low line, so anchors never meet; and a heading
    without an anchor keeps the page one entry of the search."""
    return block("section", [f'<h2 class="part">{title}</h2>', body], id=f"_{name}")


@dataclass(frozen=True, slots=True)
class _Steps:
    """Writes the steps of one tree; `numbers` says which step has which number, `ahead` how many usually follow.

    `looks`: the steps that stand together on the first screen. `back`: how a reader comes back to a step who left it
    to call for a patient who is worse.
    """

    view: View
    tree: Tree
    numbers: Mapping[str, int]
    ahead: Mapping[str, int]
    looks: Sequence[str]
    back: Mapping[str, Return]

    def section(self, node: Node) -> str:
        """One step, with all that is needed by a reader who lands right on it."""
        body = {"ask": self._ask, "do": self._do, "end": self._end}[node.kind](node)
        picture = self.tree.picture_at(node)
        parts = [*body, folded(self.view, picture) if picture else "", self._anytime(node), self._why(node)]
        css = f"step step--{node.kind}{' step--first' if node.id == self.tree.start else ''}"
        hooks = {"data-node": esc(node.id), "data-end": node.end, "data-pump": node.pump}
        ahead = self.ahead.get(node.id)
        hooks["data-ahead"] = None if ahead is None else str(ahead)
        hooks["data-return"] = self.back.get(node.id)
        hooks["data-look"] = "yes" if node.id in self.looks else None
        hooks["data-usual"] = "yes" if is_usual(node, self.view.library.marks) else None
        hooks["data-acts"] = (
            "yes" if node.kind == "do" and (node.pump or not node.marks or node.marks - _CALLS) else None
        )
        given = {name: value for name, value in hooks.items() if value is not None}
        return block("section", parts, id=esc(node.id), class_=css, **given)

    def _heading(self, node: Node, words: str) -> str:
        level = "h2" if node.id == self.tree.start else "h3"
        number = f'<span class="number" {UNSEARCHED}>Step {self.numbers[node.id]}</span>'
        return f"<{level}>{number} {words}</{level}>"

    def _ask(self, node: Node) -> list[str]:
        own = [
            self._button(self.view.say(one.say), one.to, _seen(one) + self._holds(node, one)) for one in node.answers
        ]
        return self._ordered(node, [self._heading(node, self.view.say(node.text))], items("ul", own, "answers"))

    def _ordered(self, node: Node, said: list[str], answers: str) -> list[str]:
        """A step's cautions stand before its answers; but on the first screen of a small phone the first step
        has no room for both, and the answers are what is needed there at once."""
        if node.id == self.tree.start:
            return [*said, answers, self._cautions(node)]
        return [*said, self._cautions(node), answers]

    def _do(self, node: Node) -> list[str]:
        """Warnings come before the lines that they guard, so a single line that has one is no heading."""
        reached = self._reached(node.call)
        lines = [reached.told(self.view.say(line)) for line in node.lines]
        warned = self._cautions(node)
        listed = len(lines) > 1 or bool(warned)
        return [
            self._heading(node, '<span class="unseen">Do</span>' if listed else lines[0]),
            warned,
            items("ol", lines, "lines") if listed else "",
            call_line(self.view, node.call) if node.call else "",
            items("ul", [self._button("Done", node.then or "")], "answers"),
        ]

    def _holds(self, node: Node, answer: Answer) -> str:
        """For how long an answer holds, whether the resting clock knows it, and whether it ends what holds."""
        marks = self.view.library.marks
        for_long = holds(node, answer, marks)
        keeps = f' data-keeps="{for_long:g}"' if for_long else ""
        clock = ' data-clock="yes"' if answer is told_by_clock(node, marks) else ""
        worse = any(mark in marks and marks[mark].anytime for mark in answer.marks)
        return keeps + clock + (' data-ends="yes"' if worse else "")

    def _end(self, node: Node) -> list[str]:
        kind = node.end or ""
        whom = node.call or self._called_there(node)
        reached = self._reached(whom)
        say = reached.told(self.view.led(node.text))
        watch = reached.told(self.view.led(node.meanwhile)) if node.meanwhile else ""
        meanwhile = f"<p><b>{meanwhile_label(node)}</b> {watch}</p>" if watch else ""
        return [
            self._heading(node, f'<span class="how">{END_WORDS[kind]}</span> {say}'),
            self._cautions(node),
            call_line(self.view, whom) if whom else "",
            _STANDS if kind == "resolved" else "",
            meanwhile,
            items("ul", [self._go(node.go)], "answers") if node.go else "",
        ]

    def _reached(self, own: str | None) -> Reached:
        roles = self.view.library.roles.values()
        return Reached(roles, {role.id: in_text(role) for role in roles if role.phone is not None}, own)

    def _called_there(self, node: Node) -> str | None:
        """Whom the step calls that a hand-over leads to: the number is wanted before the other page has opened."""
        target, _, step = (node.go or "").partition("/")
        tree = self.view.library.trees.get(target)
        return tree.nodes[step or tree.start].call if tree and (step or tree.start) in tree.nodes else None

    def _go(self, go: str) -> str:
        target, _, step = go.partition("/")
        tree = self.view.library.trees.get(target)
        title = self.view.say(tree.title) if tree else esc(target)
        href = self.view.to(tree_path(target), step)
        goto = f'<span class="goto" {UNSEARCHED}>open</span>'
        return f'<a class="answer" href="{href}" data-tree="{esc(target)}">{title} {goto}</a>'

    def _button(self, words: str, to: str, seen: str = "") -> str:
        # Not a span: the search's reader takes up again behind the first end of the tag that it left out.
        words_before = '<i class="goto__words">go to</i>'
        goto = f'<span class="goto goto--step" {UNSEARCHED}>{words_before} {self.numbers.get(to, "?")}</span>'
        return f'<a class="answer" href="#{esc(to)}"{seen} data-to="{esc(to)}">{words} {goto}</a>'

    def _cautions(self, node: Node) -> str:
        # The strip right above the first step has said already that the patient comes first.
        keys = [key for key in node.cautions if (node.id, key) != (self.tree.start, "patient-first")]
        return items("ul", map(self.view.caution, keys), "warn", found=False) if keys else ""

    def _anytime(self, node: Node) -> str:
        anytime = [answer for answer in self.tree.answers_at(node) if answer.anytime]
        if not anytime:
            return ""
        links = items("ul", self._links(anytime, node.id == self.tree.start))
        return f'<div class="anytime" {UNSEARCHED}><p>At any time:</p>{links}</div>'

    def _links(self, answers: Iterable[Answer], are_first: bool) -> Iterable[str]:
        """Links to what may happen at any time; the bar is made of the first ones."""
        for answer in answers:
            number = self.numbers.get(answer.to, "?")
            goto = f'<span class="unseen">go to</span><span aria-hidden="true">→</span> {number}'
            words = self.view.say(answer.say)
            place = next((mark for mark in _FIXED if mark in answer.marks), None)
            fixed = f' data-fixed="{place}" data-short="{_FIXED[place]}"' if place and are_first else ""
            yield f'<a href="#{esc(answer.to)}"{_seen(answer)}{fixed} data-to="{esc(answer.to)}">{words} {goto}</a>'

    def _why(self, node: Node) -> str:
        if not node.why and not node.sources:
            return ""
        why = f"<p>{self.view.say(node.why)}</p>" if node.why else ""
        sources = f"<p {UNSEARCHED}>{self.view.rests_on(node.sources)}</p>" if node.sources else ""
        return f"<details><summary {UNSEARCHED}>Why</summary>{why}{sources}</details>"


def _seen(answer: Answer) -> str:
    """What an answer tells the resting clock, as attributes."""
    rest = next((said for mark, said in _REST.items() if mark in answer.marks), None)
    pump = f' data-pump="{esc(answer.pump)}"' if answer.pump else ""
    return f'{pump} data-rest="{rest}"' if rest else pump
