// The one dialect of all scripts: what every browser of five years ago reads as it stands, classic scripts, no modules.
const BROWSER = [
  "Blob", "CSS", "CustomEvent", "Element", "ErrorEvent", "EventTarget",
  "IntersectionObserver", "KeyboardEvent", "MessageChannel", "MessageEvent", "MutationObserver", "Node", "Promise",
  "ResizeObserver", "SVGElement", "TextEncoder", "URL", "addEventListener", "caches", "clearInterval", "clearTimeout",
  "console", "crypto", "document", "fetch", "getSelection", "history", "location", "navigator", "performance",
  "requestAnimationFrame", "scrollTo", "sessionStorage", "localStorage", "setInterval", "setTimeout", "window",
];
const WORKER = ["Response", "URL", "MessageChannel", "caches", "crypto", "fetch", "self", "setTimeout"];
const named = (names) => Object.fromEntries(names.map((name) => [name, "readonly"]));

const RULES = {
  "no-var": "error",
  "prefer-const": "error",
  "prefer-arrow-callback": "error",
  "prefer-template": "error",
  "prefer-rest-params": "error",
  "prefer-spread": "error",
  "object-shorthand": "error",
  "func-style": ["error", "declaration", { allowArrowFunctions: true }],
  "eqeqeq": "error",
  "no-undef": "error",
  "no-unused-vars": "error",
  "no-implicit-globals": "error",
  "complexity": ["error", 12],
  "max-len": ["error", { code: 120, ignoreStrings: true, ignoreTemplateLiterals: true }],
};

export default [
  {
    files: ["**/*.js"],
    linterOptions: { reportUnusedDisableDirectives: "error" },
    languageOptions: { ecmaVersion: 2020, sourceType: "script", globals: named(BROWSER) },
    rules: { ...RULES, strict: ["error", "function"] },
  },
  {
    files: ["**/worker-unsealed.js"],
    languageOptions: { globals: named(WORKER) },
    rules: { strict: ["error", "global"], "no-implicit-globals": "off" },
  },
  {
    // Made from a calculator's file: a line each step, as many cases as it tells, and an entry may serve the page alone.
    files: ["**/formula-*.js"],
    rules: { "max-len": "off", "no-unused-vars": "off", complexity: "off" },
  },
];
