"""Practice cases made from the trees: what a case is, how it is played, and when it comes again."""

from .cases import Case, cases_of
from .data import practice_file, practised, tree_data

__all__ = ["Case", "cases_of", "practice_file", "practised", "tree_data"]
