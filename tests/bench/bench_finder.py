"""How well the box finds what a voice says that it has not heard: each voice of kb/phrases.yml is left out in turn.

    .venv/bin/python tests/bench/bench_finder.py

Alarms and tasks are each judged in their own group, as a reader sees them. A phrase that two voices say stands once in
the file, so the figures are a little lower than those for a new colleague.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from alarmtrees.model.facts import NOTHING_HERE
from alarmtrees.reading.open import open_library
from alarmtrees.site.finder import texts_to_learn
from alarmtrees.site.guess import learn
from box import asked, figures, hits
from small_library import REPOSITORY


def main() -> None:
    library = open_library(REPOSITORY).published()
    for voice, pages in library.phrases.items():
        others = replace(library, phrases={one: said for one, said in library.phrases.items() if one != voice})
        begun = time.process_time()
        learned = learn(texts_to_learn(others))
        took = time.process_time() - begun
        phrases = [(page, phrase) for page, said in pages.items() for phrase in said]
        answers = asked(library, learned, [phrase for _, phrase in phrases])
        print(f"{voice}, learned in {took:.1f} s of one core")
        both = list(zip(phrases, answers, strict=True))
        for part, known in (("alarms", library.trees.keys()), ("tasks", None)):
            these = [
                ({page}, hits(answer, part))
                for (page, _), answer in both
                if (page in library.trees) == (known is not None) and page != NOTHING_HERE
            ]
            print(" ", part, figures(*zip(*these, strict=True)))
        wrong = [phrase for (page, phrase), one in both if one["sole"] and page not in hits(one, "alarms")]
        refused = [one["none"] for (page, _), one in both if page == NOTHING_HERE]
        lost = [one["none"] for (page, _), one in both if page in library.trees]
        print("  refused of what is not ours", round(sum(refused) / len(refused), 3))
        print("  refused of alarms", round(sum(lost) / len(lost), 3))
        print("  sole answers", sum(one["sole"] for one in answers), "wrong:", wrong)


if __name__ == "__main__":
    main()
