// Reads scripts as JSON from its input and tells, by name, what is wrong with each. `sent` is what the site has of a script:
// it may name what it keeps to itself as it likes, but must speak the same dialect, in strict mode, ask the page for the same
// things, and say the same.
import { readFileSync } from "node:fs";
import { parse } from "acorn";
import { Linter } from "eslint";
import { analyze } from "eslint-scope";
import config from "./eslint.config.mjs";

const linter = new Linter();
// What a minifier writes in another way that means the same: `**`, `**.5`, `1/0`, `x < 0 ? -x : x`, nothing in an array.
const ALIKE = new Set(["pow", "sqrt", "Infinity", "abs", "undefined"]);

function walk(node, seen) {
  if (Array.isArray(node)) node.forEach((one) => walk(one, seen));
  if (!node || typeof node.type !== "string") return;
  seen(node);
  Object.values(node).forEach((one) => { if (one && typeof one === "object") walk(one, seen); });
}

/** What a script says and asks for: texts and properties, patterns, and names that it does not make itself. */
function asks(text) {
  const tree = parse(text, { ecmaVersion: 2020, ranges: true });
  const said = new Set();
  const named = new Set();
  walk(tree, (node) => {
    if (node.type === "Literal" && typeof node.value === "string") said.add(node.value);
    if (node.type === "Literal" && node.regex) said.add(`/${node.regex.pattern}/${node.regex.flags}`);
    if (node.type === "TemplateElement") said.add(node.value.cooked);
    const at = node.type === "MemberExpression" ? node.property : node.type === "Property" ? node.key : null;
    if (at && !node.computed && at.type === "Identifier") said.add(at.name);
  });
  const scopes = analyze(tree, { ecmaVersion: 2020 });
  scopes.globalScope.through.forEach((one) => named.add(one.identifier.name));
  const strict = scopes.scopes.filter((one) => one.type === "function").every((one) => one.isStrict);
  return { said: [...said].filter((one) => one.trim() && one !== "use strict").join("\n"), named, strict };
}

function changed(text, sent) {
  const [from, to] = [asks(text), asks(sent)];
  // A minifier joins and parts texts: each is found within what the other says.
  const lost = from.said.split("\n").filter((one) => !ALIKE.has(one) && !to.said.includes(one.trim()));
  const names = [...from.named].filter((one) => !to.named.has(one) && !ALIKE.has(one));
  const added = [...to.named].filter((one) => !from.named.has(one));
  const sloppy = from.strict && !to.strict ? ["strict mode"] : [];
  return [...lost, ...names, ...added, ...sloppy];
}

function faults({ name, text, sent }) {
  const found = linter.verify(text, config, name.endsWith(".js") ? name : "any.js");
  if (found.length) return found.map((one) => `${one.line}: ${one.message} [${one.ruleId}]`);
  return changed(text, sent).map((one) => `changed on the way: ${one}`);
}

const asked = JSON.parse(readFileSync(0, "utf-8"));
console.log(JSON.stringify(Object.fromEntries(asked.map((script) => [script.name, faults(script)]))));
