// What the other scripts of a page share. A classic script that comes before them: from a folder, browsers refuse
// modules. All that they give to one another lies in `alarmtrees`, the only global name of ours.
(() => {
  "use strict";

  /**
   * An element with what is in it; what is empty is left out.
   * @param {string} name
   * @param {string | Record<string, string>} [given] its class, or its attributes
   * @param {...(string | Node | null | undefined)} inside
   * @returns {HTMLElement}
   */
  function el(name, given = "", ...inside) {
    const made = document.createElement(name);
    if (typeof given !== "string") Object.entries(given).forEach(([key, value]) => made.setAttribute(key, value));
    else if (given) made.className = given;
    made.append(...inside.filter(Boolean));
    return made;
  }

  /** @type {(className: string, text: string, act?: (event: MouseEvent) => void) => HTMLButtonElement} */
  function button(className, text, act) {
    const made = el("button", className, text);
    made.type = "button";
    if (act) made.addEventListener("click", act);
    return made;
  }

  /** The second click of a double one would answer what comes next, which nobody has read yet.
   * @type {(act: (event: MouseEvent) => void) => (event: MouseEvent) => void} */
  const single = (act) => (event) => {
    if (event.detail < 2) act(event);
  };

  /** @type {(selector: string, where?: ParentNode) => HTMLElement[]} */
  const all = (selector, where = document) => Array.from(where.querySelectorAll(selector));

  /** Says something only where it is new: what is spoken aloud is not to be said again.
   * @type {(place: Node, text: string) => void} */
  function put(place, text) {
    if (place.textContent !== text) place.textContent = text;
  }

  /** Where there may be little room `short` is seen instead, and the text is read aloud.
   * @type {(place: HTMLElement, text: string, short: string) => void} */
  function putShort(place, text, short) {
    if (!place.querySelector(".long")) place.replaceChildren(el("span", "long"));
    put(place.querySelector(".long"), text);
    if (short) place.dataset.short = short;
    else delete place.dataset.short;
  }

  /** @type {(name: string, detail?: unknown) => boolean} */
  const emit = (name, detail) => document.dispatchEvent(new CustomEvent(name, { detail }));

  /** @type {(number: number) => string} */
  const two = (number) => String(number).padStart(2, "0");

  /** The time on this device's clock. @type {(moment: number | string) => string} */
  function timeOf(moment) {
    const at = new Date(moment);
    return `${two(at.getHours())}:${two(at.getMinutes())}`;
  }

  /** The day on this device's calendar, year first. @type {(moment: number | string) => string} */
  function dayOf(moment) {
    const at = new Date(moment);
    return `${at.getFullYear()}-${two(at.getMonth() + 1)}-${two(at.getDate())}`;
  }

  /** @type {(count: number, word: string) => string} */
  const many = (count, word) => `${count} ${word}${count === 1 ? "" : "s"}`;

  /** Whether a value is a time in milliseconds that a clock can show. @type {(value: unknown) => boolean} */
  const isTime = (value) => typeof value === "number" && value >= 0 && value <= 8.64e15;

  /** @type {(numbers: Iterable<number>) => number} */
  const sum = (numbers) => Array.from(numbers).reduce((before, one) => before + one, 0);

  /** Whether a key is the map's own: `constructor` is nobody's entry. @type {(map: object, key: string) => boolean} */
  const has = (map, key) => Object.prototype.hasOwnProperty.call(map, key);

  /** A text as one reads it, without the breaks of its lines. @type {(text: string) => string} */
  const folded = (text) => text.replace(/\s+/g, " ").trim();

  /** What the address names; `otherwise` where that cannot be read. @type {(otherwise?: string) => string} */
  function inAddress(otherwise = "") {
    try {
      return decodeURIComponent(location.hash.slice(1));
    } catch {
      return otherwise;
    }
  }

  /**
   * What the browser keeps, as JSON. It may refuse to, or be full: then nothing is found, and `set` gives false.
   * @param {"sessionStorage" | "localStorage"} store
   */
  const memory = (store) => ({
    /** @type {(key: string) => any} */
    get(key) {
      try {
        return JSON.parse(window[store].getItem(key));
      } catch {
        return null;
      }
    },
    /** Keeps a value; null takes it away. @type {(key: string, value: unknown) => boolean} */
    set(key, value) {
      try {
        if (value === null) window[store].removeItem(key);
        else window[store].setItem(key, JSON.stringify(value));
        return true;
      } catch {
        return false;
      }
    },
  });

  /**
   * Copies a text. Where a browser refuses, the text is marked on the page, to be copied by hand.
   * @param {string} text
   * @param {() => Node} place gives what shows the text; asked only where it is needed
   * @returns {Promise<boolean>} whether it is copied
   */
  async function copied(text, place) {
    try {
      await navigator.clipboard.writeText(text);
      return true;
    } catch {
      const range = document.createRange();
      range.selectNodeContents(place());
      getSelection().removeAllRanges();
      getSelection().addRange(range);
      return document.execCommand("copy");
    }
  }

  const session = memory("sessionStorage");
  const local = memory("localStorage");
  window.alarmtrees = Object.assign(window.alarmtrees || {}, {
    el, button, single, all, put, putShort, emit, two, timeOf, dayOf, many, sum, has, isTime, folded, inAddress,
    session, local, copied,
  });
})();
