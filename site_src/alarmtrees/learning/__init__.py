"""Practice cases made from the trees: what a case is, how it is played, and when it comes again."""

from .cases import Case, cases_of, main_cases
from .data import (
    is_practised,
    practised,
    tree_data,
)

__all__ = ["Case", "cases_of", "is_practised", "main_cases", "practised", "tree_data"]
