"""Which acts a text tells somebody to do: a small grammar of the imperative, its words all from `kb/acts.yml`.

`words.py` makes words comparable, `table.py` makes the table ready, `object.py` looks for what a verb acts on, and
`line.py` reads.
"""

from .line import told_in
from .table import Grammar
from .told import Told

__all__ = ["Grammar", "Told", "told_in"]
