// Reads scripts as JSON from its input and tells, by name, what is wrong with each. `sent` is what the site has of a script,
// and must mean the same.
import { readFileSync } from "node:fs";
import { parse } from "acorn";
import { Linter } from "eslint";
import config from "./eslint.config.mjs";

const linter = new Linter();
const meaning = (text) => JSON.stringify(parse(text, { ecmaVersion: 2020 }), (key, value) => {
  if (key === "start" || key === "end") return undefined;
  return typeof value === "bigint" ? String(value) : value;
});

function faults({ name, text, sent }) {
  const found = linter.verify(text, config, name.endsWith(".js") ? name : "any.js");
  if (found.length) return found.map((one) => `${one.line}: ${one.message} [${one.ruleId}]`);
  return meaning(sent) === meaning(text) ? [] : ["without its comments it means something else"];
}

const asked = JSON.parse(readFileSync(0, "utf-8"));
console.log(JSON.stringify(Object.fromEntries(asked.map((script) => [script.name, faults(script)]))));
