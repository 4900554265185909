"""A cell of the table of hazards is empty, or an act has no row.

`kb/hazards.yml` crosses every act whose mark `kb/acts.yml` demands with the four ways in which an act can go wrong
(Leveson and Thomas, STPA handbook, 2018): not done; done when it must not be; too early, too late or in the wrong
order; too long or ended too soon. A cell names its hazards and the rules that hold them, or says in a sentence why
there is none. An empty cell is a danger that nobody has thought of. Without the file nothing is asked.

Good:

```yaml
acts:
  refill:
    not-given:
      - id: gas-never-renewed
        say: The gas is not renewed, and the balloon stands still.
        harm: {severity: irreversible, onset: prompt}
        held_by: [resting-limit]
    given:
      - id: gas-into-the-blood
        say: Gas is driven into a torn balloon.
        harm: {severity: irreversible, onset: immediate}
        held_by: [no-blood-before-gas]
    wrong-time: {none: Before or after the restart makes no difference.}
    wrong-length:
      - id: key-held-down
        say: The key is held for too long.
        harm: {severity: reversible, onset: prompt}
        words_only: How long a key is pressed is for the maker's instructions to say.
```

Bad, because three ways are not thought of:

```yaml
acts:
  refill:
    given: {none: It never harms.}
```
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from ...model.finding import Place
from ...model.hazard import WAYS
from .base import Flaw, View, guess, library_rule

# Each file beside this one is a rule, by its name.
_RULES = frozenset(path.stem.replace("_", "-") for path in Path(__file__).parent.glob("[a-z]*.py")) - {"base"}
_DERIVED = frozenset({"pump-starts", "pump-stops", "call", "end-resolved"})


@library_rule("safety", needs="hazards")
def check(view: View) -> Iterator[Flaw]:
    """Ask for every cell of every act, and look up what holds the hazards."""
    table, library = view.library.hazards, view.library
    if table is None:
        return
    ids: set[str] = set()
    known = {*library.safety, *_RULES}
    for mark in acting(view):
        if mark not in table:
            message = f"the act `{mark}` has no row in kb/hazards.yml; say for each of the four ways what can go wrong"
            yield Flaw(library.marks[mark].place if mark in library.marks else Place("kb/hazards.yml", 1, 1), message)
    for mark, act in table.items():
        if mark not in library.marks and mark not in _DERIVED and "marks" not in library.broken:
            yield Flaw(act.place, f"there is no mark `{mark}`{guess(mark, {*library.marks, *_DERIVED})}")
        for way, told in WAYS.items():
            cell = act.cells.get(way)
            if cell is None or not (cell.hazards or cell.none):
                ask = "name the hazards, or say in a sentence why there is none"
                yield Flaw(cell.place if cell else act.place, f"`{way}` of `{mark}` is empty ({told.lower()}); {ask}")
            for hazard in cell.hazards if cell else ():
                if hazard.id in ids:
                    yield Flaw(hazard.place, f"a hazard before has the id `{hazard.id}`; put another")
                ids.add(hazard.id)
                for index, rule in enumerate(hazard.held_by):
                    if rule not in known and "safety" not in library.broken:
                        spot = Place(hazard.place.file, *hazard.raw["held_by"].item_at[index])
                        yield Flaw(spot, f"there is no rule `{rule}`{guess(rule, known)}")


def acting(view: View) -> list[str]:
    """The marks of acts: those that words in a step demand, and what the pump is made to do."""
    library = view.library
    demanded = (mark for act in library.acts.acts.values() for mark in act.marks)
    in_words = (mark.id for mark in library.marks.values() if mark.step_words)
    return list(dict.fromkeys(("pump-starts", "pump-stops", *demanded, *in_words)))
