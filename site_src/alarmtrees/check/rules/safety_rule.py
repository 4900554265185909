"""A way through the tree breaks a rule of `kb/safety.yml`.

The rules hold on every way, on through `go` into other trees. The finding names the rule and shows the
shortest way that breaks it. Where only the entered tree breaks a rule by itself, it is reported there.

Good, for the rule that the patient is looked at first:

```yaml
start: look-at-patient
nodes:
  look-at-patient:
    ask: Pulse and pressure as before?
    marks: [patient-check]
```

Bad, because a step on the console comes first:

```yaml
start: reconnect
nodes:
  reconnect:
    do:
      - Push the connector home.
    then: look-at-patient
```
"""

from __future__ import annotations

from collections.abc import Iterator

from ...model import Pattern, SafetyRule, Tree
from ...model.wording import lasting
from .base import Flaw, View, tree_rule


@tree_rule("safety")
def check(view: View, tree: Tree) -> Iterator[Flaw]:
    """Decide all safety rules on the ways that begin in this tree."""
    for breach in view.patterns.breaches(tree):
        rule = view.library.safety[breach.rule]
        node = view.flow.nodes[breach.key]
        place = breach.answer.place if breach.answer else node.place
        if breach.answer is None and node.go and breach.leads_out:
            place = node.at("go")
        lack = _lack(rule) if breach.seconds is None else _late(rule, breach.seconds)
        message = f"breaks `{rule.id}`: {rule.say} {lack}"
        yield Flaw(place, message, node.id, breach.way)


def _late(rule: SafetyRule, seconds: float) -> str:
    """By how much what is asked for comes too late."""
    asked = " or ".join(f"`{mark}`" for mark in sorted(rule.marks("by")))
    return f"On this way {asked} comes after {lasting(seconds)}; at the most it may be {lasting(rule.within or 0.0)}."


def _lack(rule: SafetyRule) -> str:
    """What this way lacks, in terms of marks."""
    marks = {slot: " or ".join(f"`{mark}`" for mark in sorted(names or ())) for slot, names in rule.slots.items()}
    if rule.pattern is Pattern.PRECEDENCE:
        return f"On this way {marks['first']} has not come before."
    if rule.pattern is Pattern.RESPONSE:
        return f"On this way {marks['by']} does not follow."
    if rule.pattern is Pattern.EXISTENCE:
        return f"On this way {marks['of']} does not come."
    return f"On this way it comes after {marks['after']}." if "after" in marks else f"Here stands {marks['of']}."
