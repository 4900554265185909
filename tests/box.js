/* Asks the box outside a browser, by the site's own scripts: its data and the texts come in, the answers go out. */
"use strict";
const { readFileSync } = require("fs");
const { runInThisContext } = require("vm");

globalThis.window = globalThis;
process.argv.slice(2).forEach((file) => runInThisContext(readFileSync(file, "utf8"), { filename: file }));
const { openFinder, openGuess } = globalThis.alarmtrees;
const { data, learned, texts, weighed } = JSON.parse(readFileSync(0, "utf8"));
const ask = openFinder(data);
const guess = learned && openGuess(learned);
const answers = texts.map((text) => (weighed ? Object.fromEntries(guess(text)) : ask(text, guess)));
process.stdout.write(JSON.stringify(answers));
