"""The package of questions in a player that is not ours: it reads each item, scores each answer, and shows its reason.

The player is qti3-item-player (MIT), which 1EdTech has certified for delivery, basic and advanced. It is no validator:
it passes over what it does not know. Every fortieth question is played, all where `EVERY` is set.
"""

from __future__ import annotations

import io
import os
from zipfile import ZipFile

from alarmtrees.learning.questions import questions
from alarmtrees.learning.questions_csv import plain
from alarmtrees.learning.questions_qti import questions_qti
from small_library import REPOSITORY, shipped_library
from tools import missing

MODULES = REPOSITORY / "tests" / "node_modules"
SCRIPTS = (MODULES / "vue/dist/vue.min.js", MODULES / "qti3-item-player/dist/qti3Player.umd.min.js")

READY = """() => new Promise((ready) => {
    const on = {
        notifyQti3PlayerReady: (player) => ready(Object.assign(window, { player })),
        notifyQti3ItemReady: () => window.loaded(),
        notifyQti3EndAttemptCompleted: (told) => window.ended(told.state),
    };
    const props = { suppressAlertMessages: true, suppressInvalidResponseMessages: true };
    new Vue({ el: document.body.firstChild, render: (make) => make(qti3Player, { on, props }) });
})"""

PLAYED = """async (items) => {
    const sessionControl = { max_attempts: 0, show_feedback: true, validate_responses: false };
    const valued = (all, name) => all.find((one) => one.identifier === name).value;
    const all = [];
    for (const [place, xml] of items.entries()) {
        await new Promise((loaded) => {
            window.loaded = loaded;
            player.loadItemFromXml(xml, { guid: `item ${place}`, status: "interacting", sessionControl });
        });
        const answers = [];
        for (const choice of document.querySelectorAll("[role=radio]")) {
            choice.click();
            const state = await new Promise((ended) => {
                window.ended = ended;
                player.endAttempt("next");
            });
            await Vue.nextTick();
            const open = Array.from(document.querySelectorAll(".qti3-player-modal.show"));
            const words = (one) => one.querySelector(".qti3-player-modal-body").innerText;
            answers.push({
                said: choice.innerText, score: valued(state.outcomeVariables, "SCORE"),
                most: valued(state.outcomeVariables, "MAXSCORE"), told: open.map(words),
            });
            open.forEach((one) => one.querySelector(".qti-modal-feedback-ok").click());
            await Vue.nextTick();
        }
        all.push({ prompt: document.querySelector(".qti-prompt").innerText, answers });
    }
    return all;
}"""


def test_a_player_from_outside_plays_the_questions(browser) -> None:
    if not all(script.is_file() for script in SCRIPTS):
        missing("the player is missing: run `npm ci` in tests/")
    library = shipped_library()
    asked = questions(library)[:: 1 if os.environ.get("EVERY") else 40]
    with ZipFile(io.BytesIO(questions_qti(library, asked))) as held:
        items = [held.read(name).decode() for name in held.namelist() if name.startswith("items/")]
    page = browser.new_page()
    faults: list[str] = []
    page.on("console", lambda said: faults.append(said.text) if said.type in ("warning", "error") else None)
    page.on("pageerror", lambda error: faults.append(str(error)))
    page.set_content("<!doctype html><div></div>")
    for script in SCRIPTS:
        page.add_script_tag(path=script)
    page.evaluate(READY)
    played = page.evaluate(PLAYED, items)
    page.close()
    assert faults == [] and len(played) == len(asked) > 8
    for question, one in zip(asked, played, strict=True):
        assert squeezed(one["prompt"]) == squeezed(plain(library, question.ask))
        assert len(one["answers"]) == len(question.choices)
        by_words = {squeezed(plain(library, choice.say)): choice for choice in question.choices}
        for answer in one["answers"]:
            choice = by_words[squeezed(answer["said"].partition("\n")[2])]
            assert (answer["score"], answer["most"]) == (int(choice.right), 1), answer
            assert len(answer["told"]) == 1 and squeezed(plain(library, choice.why)) in squeezed(answer["told"][0])


def squeezed(text: str) -> str:
    return " ".join(text.split())
