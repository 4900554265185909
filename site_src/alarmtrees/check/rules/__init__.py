"""The rules: every file here but `base.py` is one, by its name."""

from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from .base import Rule, View

FAMILIES = ("reading", "references", "shape", "library", "causes", "safety", "stories", "formulas", "words", "review")
"""What rules are about, in the order in which they are explained."""

_FILES = sorted(module.name for module in iter_modules(__path__) if module.name != "base")

RULES: tuple[Rule[Any], ...] = tuple(
    sorted(
        (import_module(f".{name}", __name__).check for name in _FILES),
        key=lambda rule: FAMILIES.index(rule.family),
    )
)
"""All rules, by family, then by name."""

__all__ = ["FAMILIES", "RULES", "Rule", "View"]
