"""Practice cases made from the trees: what a case is, and its data for the page that plays it."""

from .cases import Case, cases_of, main_cases
from .data import is_practised, practised, tree_data
from .told import ToldCase, told_cases

__all__ = ["Case", "ToldCase", "cases_of", "is_practised", "main_cases", "practised", "told_cases", "tree_data"]
