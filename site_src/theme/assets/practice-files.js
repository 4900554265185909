// The cases of an alarm come in a file of their own, when they are asked for: by a plain script element, so that it
// works from a folder too.
(() => {
  "use strict";
  const { el, Playing, Spacing } = window.alarmtrees;
  const files = new Map();
  window.alarmtrees.practiceData = (data) => { files.set(data.tree, data); };
  window.alarmtrees.toldData = (data) => { files.set(`told/${data.tree}`, data); };

  const fetched = (id) => new Promise((resolve, reject) => {
    if (files.has(id)) return resolve(files.get(id));
    const script = el("script", { src: `${id}.js` });
    const fail = () => {
      script.remove();
      reject(new Error(id));
    };
    script.addEventListener("load", () => (files.has(id) ? resolve(files.get(id)) : fail()));
    script.addEventListener("error", fail);
    return document.head.append(script);
  });

  /** A told bedside with the steps of all pages that it passes; null where there is no such one. */
  const toldData = async (id, name) => {
    const { cases } = await fetched(`told/${id}`);
    const told = cases.find((one) => one.id === name);
    if (!told) return null;
    const [home, ...others] = await Promise.all([id, ...told.pages.filter((page) => page !== id)].map(fetched));
    return Playing.joined(home, others, told);
  };

  /** A case as an address writes it: a number made from its name, for its name would tell the cause. */
  const codeOf = (id) => Spacing.seedOf(id).toString(36);

  Object.assign(window.alarmtrees, { Cases: { fetched, toldData, codeOf } });
})();
