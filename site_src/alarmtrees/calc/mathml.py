"""The formula for the reader's eyes, as presentation MathML in the order in which its author wrote it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import escape

from .expression import Call, Comparison, Either, Logic, Name, Negative, Node, Not, Number, Operation

_GREEK = {"alpha": "α", "beta": "β", "gamma": "γ", "delta": "δ", "rho": "ρ", "tau": "τ", "kappa": "κ", "eta": "η"}
_COMPARED = {"<": "&lt;", "<=": "≤", ">": "&gt;", ">=": "≥"}
_FENCES = {"abs": ("|", "|"), "floor": ("⌊", "⌋"), "ceil": ("⌈", "⌉")}
_STRENGTH = {"+": 1, "-": 1, "*": 2, "/": 2, "**": 4}
_POWERS = str.maketrans("23", "²³")

Words = Mapping[str, str]
"""For each name what stands for it: MathML of its sign, or plain words of a choice."""


def math(body: str, block: bool = False) -> str:
    """MathML as an element of a page."""
    return f'<math display="{"block" if block else "inline"}">{body}</math>'


def sign(text: str) -> str:
    """A sign: one letter upright words, an underscore before what stands below.

    >>> sign("p_now")
    '<msub><mi>p</mi><mtext>now</mtext></msub>'
    """
    main, _, below = text.partition("_")
    letter = _GREEK.get(main, main)
    shown = f"<mi>{escape(letter)}</mi>" if len(letter) == 1 else f"<mtext>{escape(letter)}</mtext>"
    if not below:
        return shown
    return f"<msub>{shown}{f'<mn>{below}</mn>' if below.isdigit() else f'<mtext>{escape(below)}</mtext>'}</msub>"


def equation(left: str, node: Node, words: Words, when: Node | None = None) -> str:
    """A sign, "=", and its formula; behind it the condition under which there is one."""
    only = "" if when is None else f"<mtext>&#160;if&#160;</mtext>{expression(when, words)}"
    return f"<mrow>{left}<mo>=</mo>{expression(node, words)}{only}</mrow>"


def units(label: str) -> str:
    """A unit as text, its powers raised.

    >>> units("cm3/mol")
    'cm³/mol'
    """
    return re.sub(r"(?<=[a-z])[23]\b", lambda found: found.group().translate(_POWERS), label)


def expression(node: Node, words: Words) -> str:
    """One formula."""
    match node:
        case Number():
            return f"<mn>{_decimal(node.value)}</mn>"
        case Name():
            return words.get(node.id, sign(node.id))
        case Negative():
            return f"<mrow><mo>−</mo>{_within(node.value, 3, words)}</mrow>"
        case Operation():
            return _operation(node, words)
        case Call():
            return _call(node, words)
        case Comparison(sign="==" | "!="):
            no = "not&#160;" if node.sign == "!=" else ""  # which input is asked stands above, in the fields
            return f"<mrow>{f'<mtext>{no}</mtext>' if no else ''}{expression(node.right, words)}</mrow>"
        case Comparison():
            parts = (expression(part, words) for part in (node.left, node.right))
            return f"<mrow>{f'<mo>{_COMPARED[node.sign]}</mo>'.join(parts)}</mrow>"
        case Logic():
            joined = f"<mtext>&#160;{node.word}&#160;</mtext>".join(_within(part, 1, words) for part in node.parts)
            return f"<mrow>{joined}</mrow>"
        case Not():
            return f"<mrow><mtext>not&#160;</mtext>{_within(node.part, 3, words)}</mrow>"
        case Either():
            return _either(node, words)


def _operation(node: Operation, words: Words) -> str:
    left, right = node.left, node.right
    if node.sign == "/":
        return f"<mfrac>{expression(left, words)}{expression(right, words)}</mfrac>"
    if node.sign == "**":
        return f"<msup>{_within(left, 5, words)}{expression(right, words)}</msup>"
    strength = _STRENGTH[node.sign]
    shown = {"+": "+", "-": "−", "*": "·"}[node.sign]
    # What is taken away or multiplied from the right keeps its brackets: a − (b − c).
    behind = strength + 1 if node.sign == "-" else strength
    return f"<mrow>{_within(left, strength, words)}<mo>{shown}</mo>{_within(right, behind, words)}</mrow>"


def _call(node: Call, words: Words) -> str:
    inner = [expression(value, words) for value in node.values]
    if node.function in _FENCES:
        opened, closed = _FENCES[node.function]
        return f"<mrow><mo>{opened}</mo>{inner[0]}<mo>{closed}</mo></mrow>"
    if node.function == "sqrt":
        return f"<msqrt>{inner[0]}</msqrt>"
    if node.function == "exp":
        return f"<msup><mi>e</mi>{inner[0]}</msup>"
    name = {"log": "ln", "min": "min", "max": "max", "until": "until"}[node.function]
    listed = "<mo>,</mo>".join(inner)
    return f"<mrow><mi>{name}</mi><mo>(</mo>{listed}<mo>)</mo></mrow>"


def _either(node: Either, words: Words) -> str:
    rows: list[tuple[Node, Node | None]] = []
    rest: Node = node
    while isinstance(rest, Either):
        rows.append((rest.yes, rest.condition))
        rest = rest.no
    rows.append((rest, None))
    told = "".join(
        f"<mtr><mtd>{expression(value, words)}</mtd><mtd>"
        + ("<mtext>otherwise</mtext>" if when is None else f"<mtext>if&#160;</mtext>{expression(when, words)}")
        + "</mtd></mtr>"
        for value, when in rows
    )
    return f'<mtable class="either">{told}</mtable>'


def _within(node: Node, strength: int, words: Words) -> str:
    """A part, in brackets where it binds less than what stands round it."""
    own = 9
    match node:
        case Operation():
            own = 9 if node.sign == "/" and strength < 4 else _STRENGTH[node.sign]
        case Negative():
            own = 1
        case Comparison() | Logic() | Either():
            own = 0 if strength > 1 or not isinstance(node, Comparison) else 1
    shown = expression(node, words)
    return f"<mrow><mo>(</mo>{shown}<mo>)</mo></mrow>" if own < strength else shown


def _decimal(value: float) -> str:
    """A number in digits, or with a power of ten where those would be many."""
    if value == int(value) and abs(value) < 1e9:
        return str(int(value))
    text = f"{value:.12g}"
    return text if "e" not in text else f"{value:.12f}".rstrip("0")
