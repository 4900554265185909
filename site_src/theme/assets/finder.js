/* The alarm finder on the home page: a field that fills a list, after the combobox pattern of the
   ARIA Authoring Practices. What fits is decided in finder-match.js. */
(function () {
  "use strict";

  var root = document.querySelector("[data-finder]");
  if (!root) return;
  try {
    start(root);
  } catch (fault) {
    root.hidden = true; // a field that finds nothing is worse than none: the list of alarms stands below
    throw fault;
  }

  function start(root) {
    var field = root.querySelector("#finder"),
      list = root.querySelector("#finder-list");
    var found = root.querySelector(".finder__found"),
      verdict = root.querySelector("#finder-verdict");
    var miss = root.querySelector(".finder__miss"),
      status = root.querySelector("[role=status]");
    var copy = root.querySelector(".finder__copy"),
      line = root.querySelector(".finder__line");
    if (!window.alarmFinder || !window.MiniSearch) throw new Error("The finder's engine is missing.");
    var data = JSON.parse(root.querySelector("#finder-data").textContent);
    var ask = null,
      active = -1,
      said = 0,
      shown = "";

    function ready() {
      if (!ask) ask = window.alarmFinder.open(data);
      return ask;
    }

    function options() {
      return Array.prototype.slice.call(list.children);
    }

    /* An alarm in the list looks and leads as it does in the list of all alarms. */
    function option(id, number) {
      var link = document.querySelector('.alarms a[data-tree="' + CSS.escape(id) + '"]').cloneNode(true);
      link.id = "finder-" + number;
      link.className = "alarm-link finder__option";
      link.setAttribute("role", "option");
      link.setAttribute("aria-selected", "false");
      link.tabIndex = -1;
      return link;
    }

    function choose(number) {
      var all = options();
      active = all.length ? (number + all.length + 1) % (all.length + 1) : -1;
      if (active === all.length) active = -1;
      all.forEach(function (one, i) {
        one.setAttribute("aria-selected", String(i === active));
      });
      if (active < 0) {
        field.removeAttribute("aria-activedescendant");
        return;
      }
      field.setAttribute("aria-activedescendant", all[active].id);
      all[active].scrollIntoView({ block: "nearest" });
    }

    function close() {
      found.hidden = true;
      list.textContent = "";
      list.removeAttribute("data-none");
      field.setAttribute("aria-expanded", "false");
      choose(-1);
      say("");
    }

    /* Spoken a little later, so that each key does not interrupt what is said of the one before. */
    function say(text) {
      clearTimeout(said);
      said = setTimeout(
        function () {
          status.textContent = text;
        },
        text ? 600 : 0,
      );
    }

    function show() {
      var text = field.value;
      shown = text;
      if (!text.trim()) {
        close();
        return;
      }
      var answer = ready()(text);
      var ids = answer.hits.map(function (hit) {
        return hit.id;
      });
      if (!answer.sole && data.fallback && ids.indexOf(data.fallback) < 0) ids.push(data.fallback);
      list.textContent = "";
      ids.forEach(function (id, i) {
        list.appendChild(option(id, i));
      });
      if (answer.sole) list.firstChild.setAttribute("data-sole", "");
      list.toggleAttribute("data-none", answer.none);
      verdict.textContent = answer.sole
        ? "This fits:"
        : answer.none
          ? "No alarm here fits well. All alarms are listed below."
          : "No exact match. Look which one it is:";
      miss.hidden = answer.sole;
      line.hidden = true;
      copy.textContent = "Copy for our own list";
      found.hidden = false;
      field.setAttribute("aria-expanded", String(ids.length > 0));
      choose(-1);
      say(verdict.textContent + " " + count(ids.length));
    }

    function count(number) {
      return number === 0 ? "" : number === 1 ? "1 alarm in the list." : number + " alarms in the list.";
    }

    function open(link) {
      location.href = link.href;
    }

    /* The words as a line for the hospital's own file: quoted as JSON, which YAML reads as it stands. */
    function ownLine() {
      var words = shown
        .replace(/[\u0000-\u001f\u007f-\u009f\u2028\u2029]/g, " ")
        .trim()
        .slice(0, 120);
      var day = new Date().toISOString().slice(0, 10);
      return (
        "  " +
        (data.fallback || "id-of-the-alarm") +
        ": [" +
        JSON.stringify(words) +
        "]" +
        "  # under wordings:, found nothing on " +
        day +
        "; put the right alarm's id"
      );
    }

    function copied(done) {
      copy.textContent = done ? "Copied" : "Copy this line by hand:";
      status.textContent = done ? "Copied." : "Copy the line by hand.";
    }

    function copyOld(text) {
      var area = document.createElement("textarea");
      area.value = text;
      document.body.appendChild(area);
      area.select();
      var done = document.execCommand("copy");
      area.remove();
      copy.focus();
      return done;
    }

    copy.addEventListener("click", function () {
      var text = ownLine();
      line.firstChild.textContent = text;
      line.hidden = false;
      if (!navigator.clipboard || !window.isSecureContext) {
        copied(copyOld(text));
        return;
      }
      navigator.clipboard.writeText(text).then(
        function () {
          copied(true);
        },
        function () {
          copied(copyOld(text));
        },
      );
    });

    field.addEventListener("input", show);
    field.addEventListener("focus", ready, { once: true });
    field.addEventListener("keydown", function (event) {
      if (event.isComposing) return;
      var all = options(),
        last = all.length - 1;
      if (event.key === "ArrowDown" || event.key === "ArrowUp") {
        event.preventDefault();
        if (found.hidden) show();
        all = options();
        choose(event.key === "ArrowDown" ? active + 1 : active < 0 ? all.length - 1 : active - 1);
      } else if (event.key === "Enter") {
        event.preventDefault();
        // Only what is certain or was chosen is opened; else the first of the list is offered, not taken.
        if (active >= 0) open(all[active]);
        else if (last === 0 && all[0].hasAttribute("data-sole")) open(all[0]);
        else if (last >= 0) choose(0);
      } else if (event.key === "Escape") {
        event.preventDefault();
        if (found.hidden) field.value = "";
        close();
      }
    });

    // Words that were there before the script: typed while the page came, or kept when going back.
    window.addEventListener("pageshow", function () {
      if (field.value !== shown) show();
    });
    if (field.value) show();
    else if (window.requestIdleCallback) window.requestIdleCallback(ready);
  }
})();
