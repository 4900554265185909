"""Begins a new tree: one that passes all checks but for what only its author can know."""

from __future__ import annotations

import json
import re
from pathlib import Path

from ..model import DERIVED_MARKS, Library
from ..model.finding import Finding
from ..reading import schema
from ..reading.load import parse
from ..reading.open import open_library
from ..reading.save import save
from ..reading.schema import is_id

_LIST = re.compile(r"^( *)(marks|cautions|sources): \[([^\]]*)\]\n|, (marks): \[([^\]]*)\]", re.MULTILINE)

# Patient, blood, cause, remedy, "did it hold?", patient again: the order of every tree. What stands in «»
# is put in; lists of ids are cut down to what the library knows.
_TREE = """\
# yaml-language-server: $schema=../schema/offered/tree.schema.json
# Write your own words wherever (fill in) stands; `alarmtrees check` names each place that is left.
id: «id»
title: «title»
summary: (fill in) One sentence that says what the alarm means.
status: draft
# The group on the home page: patient, trigger, pressure, gas, power or timing.
about: patient
# At least eight names, in the words of somebody who sees or hears it: [line came off, it hisses, …]
aliases: []
# technical: the equipment gives the alarm; physiological: the patient does.
condition: technical
# How bad it can get if nobody reacts, irreversible, reversible or minor; how soon, immediate, prompt or delayed.
harm: {severity: irreversible, onset: prompt}
# The pump when the alarm sounds: running or stopped.
pump: running
causes:
  first-cause: {say: (fill in) The cause that is found most often, share: 60}
  second-cause: {say: (fill in) Another cause that only a specialist removes, share: 40}
anytime:
  - {say: "Patient worse", to: worse, marks: [patient-worse]}
  - {say: "Blood in the gas line", to: blood, marks: [blood-seen]}
  - {say: "No pulse", to: arrest, marks: [no-pulse]}
start: look-at-patient
nodes:
  look-at-patient:
    ask: Pulse and pressure?
    why: The alarm is about the machine; the danger is in the patient.
    marks: [patient-check]
    takes: 10 s
    sources: [common-practice]
    answers:
      - {say: "As before the alarm", to: look-for-blood}
      - {say: "Weaker or lower", to: call-doctor, marks: [patient-worse]}
      - {say: "No pulse, or not sure", to: arrest, marks: [no-pulse]}

  call-doctor:
    do:
      - Call the doctor for this patient, or have somebody call.
      - Go on here while help is on its way.
    call: «doctor-on-call»
    marks: [doctor-called]
    takes: 30 s
    sources: [common-practice]
    then: look-for-blood

  look-for-blood:
    ask: What is seen inside the whole gas line?
    why: Blood or brown spots mean that the balloon may be torn. Use a light, and lift the blanket off the line.
    marks: [blood-check]
    takes: 15 s
    cautions: [blood-means-torn]
    sources: [common-practice]
    answers:
      - {say: "Whole line seen, no blood, no brown spots", to: find-the-cause, marks: [blood-clear]}
      - {say: "Blood or brown spots", to: blood, marks: [blood-seen]}
      - {say: "Something there, or part stays hidden", to: blood, marks: [blood-unsure]}

  find-the-cause:
    # A drawing that shows where to look stands behind the question: picture: its-name, from kb/pictures/.
    ask: (fill in) A question that is answered by looking
    why: (fill in) Why this is looked at.
    sources: [common-practice]
    answers:
      - {say: (fill in) What is seen under the first cause, to: remedy, when: [first-cause]}
      - {say: (fill in) What is seen under the second, to: call-specialist, when: [second-cause]}

  remedy:
    do:
      - (fill in) One action that removes the first cause.
    why: (fill in) Why this helps.
    fixes: [first-cause]
    sources: [common-practice]
    then: did-it-hold

  did-it-hold:
    ask: (fill in) A question that tells whether it helped
    sources: [common-practice]
    answers:
      - {say: (fill in) What right looks like, to: patient-again, when: fixed}
      - {say: (fill in) What is seen if it did not help, to: call-specialist}

  patient-again:
    ask: Pulse and pressure now, after the alarm?
    why: The alarm is over when the patient is well, not when the sound stops.
    marks: [patient-again]
    takes: 15 s
    sources: [common-practice]
    answers:
      - {say: "As before the alarm", to: answered}
      - {say: "Weaker or lower", to: worse, marks: [patient-worse]}

  answered:
    end: resolved
    say: (fill in) What has come out, and that it is finished here.
    meanwhile: (fill in) What to watch from now on.

  call-specialist:
    end: call
    call: «specialist-on-call»
    say: (fill in) What has come out, for whoever is called.
    meanwhile: (fill in) What to watch until help is there.
    fixes: [second-cause]

  worse:
    end: call
    call: «doctor-on-call»
    marks: [doctor-called]
    say: The patient is worse. That comes before the alarm.
    meanwhile: Stay with the patient. Have somebody else call the balloon pump specialist.
    sources: [common-practice]

  blood:
«blood»
    say: Blood, or no certainty. The balloon may be torn.

  arrest:
«arrest»
    say: No pulse. Chest compressions come first.
cautions: [patient-first, trained-staff-only, policy-first, clinician-decides]
sources: [common-practice]
"""


def new_tree(tree_id: str, root: Path, title: str | None = None) -> Path:
    """Write a new tree.

    Args:
        tree_id: its id, which becomes the file's name.
        root: the library's folder.
        title: what is wrong, in plain words; None leaves that to be filled in.

    Returns:
        The file, whole, or nothing has been written.

    Raises:
        ValueError: the id or the title cannot be one.
        FileExistsError: there is such a tree.
        OSError: there is no library here, or the file cannot be written.
    """
    if not is_id(tree_id):
        raise ValueError(f"“{tree_id}” is no id; use small letters and digits, joined by -, such as line-came-off")
    if title is not None and not (title.strip() and title.isprintable()):
        raise ValueError("a title is one line of plain words")
    library = open_library(root, private=False)
    if tree_id in {known.lower() for known in library.known}:
        raise FileExistsError(f"there is a tree “{tree_id}” already; open it, or choose another id")
    path = root / "trees" / f"{tree_id}.yml"
    text = _text(tree_id, title, library)
    source = parse(text, path.name, tree_id, "tree")
    if problems := (*source.problems, *(schema.problems(source) if source.data is not None else ())):
        raise ValueError(f"this cannot be written as a tree: {problems[0].message}")
    save(path, text, new=True)
    return path


def _text(tree_id: str, title: str | None, library: Library) -> str:
    said = json.dumps(title, ensure_ascii=False) if title is not None else "(fill in) What is wrong, in plain words"
    values = {
        "id": json.dumps(tree_id) if tree_id.isdigit() else tree_id,
        "title": said,
        "doctor-on-call": _role("doctor-on-call", library),
        "specialist-on-call": _role("specialist-on-call", library),
        "blood": _handed_over("blood-in-gas-line/stop", "specialist-on-call", library),
        "arrest": _handed_over("cardiac-arrest/start-compressions", "arrest-team", library),
    }
    known = {
        "marks": library.marks.keys() - set(DERIVED_MARKS),
        "cautions": library.cautions.keys(),
        "sources": library.sources.keys(),
    }

    def listed(match: re.Match[str]) -> str:
        indent, key, names, inner_key, inner_names = match.groups()
        kept = [name for name in (names or inner_names).split(", ") if name in known[key or inner_key]]
        if not kept:
            return ""
        told = f"{key or inner_key}: [{', '.join(kept)}]"
        return f"{indent}{told}\n" if key else f", {told}"

    text = _LIST.sub(listed, _TREE)
    return re.sub("«([a-z-]+)»", lambda match: values[match.group(1)], text)


def _role(wanted: str, library: Library) -> str:
    """A role that the library knows; where it knows none, the one wanted, and the check will say so."""
    return wanted if wanted in library.roles or not library.roles else next(iter(library.roles))


def _handed_over(go: str, role: str, library: Library) -> str:
    """An end that hands over to another tree, or a call where the library has no such tree or step."""
    tree_id, _, step = go.partition("/")
    tree = library.trees.get(tree_id)
    if tree and step in tree.nodes:
        return f"    end: go\n    go: {go}"
    return f"    end: call\n    call: {_role(role, library)}"


def to_fill_in(findings: tuple[Finding, ...], path: Path) -> tuple[Finding, ...]:
    """What the check still asks of the author of a new tree, in the order of the file."""
    return tuple(finding for finding in findings if finding.place.file == f"trees/{path.name}")
