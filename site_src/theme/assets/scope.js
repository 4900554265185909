// Gives the search's scripts of the base theme what they ask for by these names: the root of the site, and what is kept
// in the browser under it.
(() => {
  "use strict";
  const root = new URL("..", document.currentScript.src);
  const kept = (name) => `${root.pathname}.${name}`;
  Object.assign(window, {
    __md_scope: root,
    __md_hash: (text) => [...text].reduce((sum, sign) => (sum << 5) - sum + sign.charCodeAt(0), 0),
    __md_get: (name, store = localStorage) => JSON.parse(store.getItem(kept(name))),
    __md_set: (name, value, store = localStorage) => {
      try {
        store.setItem(kept(name), JSON.stringify(value));
      } catch {
        // A full or locked store: the search works without.
      }
    },
  });
})();
