// The path of a learner: ticks, questions with a choice, and the record that stays in this browser (see progress.js).
// Without this file the page is a list, with the answers folded away.
(function () {
  "use strict";
  var AT_ONCE = 4;

  function all(selector, where) { return Array.prototype.slice.call((where || document).querySelectorAll(selector)); }

  function make(kind, words, attributes) {
    var one = document.createElement(kind);
    if (words) one.textContent = words;
    Object.keys(attributes || {}).forEach(function (name) { one.setAttribute(name, attributes[name]); });
    return one;
  }

  function day(iso) { return iso.slice(0, 10); }

  function many(count, word) { return count + " " + word + (count === 1 ? "" : "s"); }

  // Buttons that print, on any page of this part.
  all("[data-scripted]").forEach(function (one) { one.hidden = false; });
  all("[data-print]").forEach(function (button) {
    button.addEventListener("click", function () { window.print(); });
  });

  // Paper shows what is folded; the screen is as before afterwards.
  window.addEventListener("beforeprint", function () {
    all("details:not([open])", document.querySelector(".page")).filter(printed).forEach(function (one) {
      one.open = true;
      one.dataset.reopened = "";
    });
  });
  window.addEventListener("afterprint", function () {
    all("[data-reopened]").forEach(function (one) {
      one.open = false;
      delete one.dataset.reopened;
    });
  });

  function printed(one) { return one.matches("[data-stage], .behind details"); }

  if (!document.querySelector("[data-page]") || !window.Progress) return;
  var Progress = window.Progress;
  var entries = all("[data-page]").map(ticked);
  var asked = all("[data-asked]").map(function (block) { return asking(block); });

  // One page of the path: read or not, and whether it has changed since.

  function ticked(item) {
    var id = item.dataset.page;
    var title = item.querySelector("b").textContent;
    var label = make("label", "", { class: "tick" });
    var box = make("input", "", { type: "checkbox", "aria-label": "Read: " + title });
    var words = make("span", "Read");
    var note = make("p", "", { class: "changed" });
    note.hidden = true;
    label.append(box, words);
    item.append(label, note);
    box.addEventListener("change", function () {
      Progress.change(function (data) {
        if (box.checked) data.read[id] = { on: Progress.now(), stamp: item.dataset.stamp };
        else delete data.read[id];
      });
      show();
    });
    return {
      item: item, title: title, stage: item.closest("[data-stage]"), show: function (data) {
        var told = data.read[id];
        var same = Boolean(told) && told.stamp === item.dataset.stamp;
        box.checked = same;
        note.hidden = !told || same;
        note.textContent = note.hidden ? "" : "Changed since you read it on " + day(told.on) + ".";
        return told ? (same ? "read" : "changed") : "new";
      }
    };
  }

  // The stages are folded, but for the one to go on with and the one that a link names.

  var stages = all("[data-stage]");

  function fold() {
    var data = Progress.load();
    var next = entries.find(function (entry) { return entry.show(data) !== "read"; });
    stages.forEach(function (stage) { stage.open = Boolean(next) && stage === next.stage; });
    unfold();
  }

  function unfold() {
    var place = location.hash.length > 1 && document.getElementById(location.hash.slice(1));
    var stage = place && place.querySelector("[data-stage]");
    if (stage) stage.open = true;
    if (place) place.scrollIntoView();
  }

  function counted(states) {
    stages.forEach(function (stage) {
      var own = states.filter(function (one, index) { return entries[index].stage === stage; });
      var read = own.filter(function (one) { return one === "read"; }).length;
      stage.querySelector("[data-count]").textContent = read + " of " + own.length + " read";
    });
  }

  // The questions of a stage: a few at a time, those first that were not answered right yet.

  function asking(block) {
    var questions = all("[data-check]", block).map(function (item) {
      return {
        id: item.dataset.check,
        ask: item.querySelector(".ask"),
        choices: all("[data-answer]", item).map(function (one) {
          return {
            right: one.dataset.answer === "right",
            say: one.querySelector("[data-say]").textContent,
            why: one.querySelector("[data-why]")
          };
        })
      };
    });
    var told = block.querySelector("[data-told]");
    var begin = make("button", "", { type: "button" });
    var place = make("div", "", { class: "now" });
    var list = block.querySelector(".asks");
    list.hidden = true;
    list.before(begin, place);
    begin.addEventListener("click", function () { round(); });

    function state(question, data) {
      var kept = data.checks[question.id];
      return kept ? (kept.ok ? 2 : 1) : 0;
    }

    function show(data) {
      var right = questions.filter(function (one) { return state(one, data) === 2; }).length;
      told.textContent = many(questions.length, "question") + ", " + right + " answered right.";
      begin.textContent = right === questions.length ? "Ask again" : "Ask " + Math.min(AT_ONCE, questions.length);
      return right;
    }

    function round() {
      var data = Progress.load();
      function when(one) { return data.checks[one.id] ? data.checks[one.id].on : ""; }
      var order = questions.slice().sort(function (a, b) {
        // Answered wrong, never asked, answered right; the one asked longest ago first.
        var rank = [1, 0, 2];
        return rank[state(a, data)] - rank[state(b, data)] || (when(a) < when(b) ? -1 : when(a) > when(b) ? 1 : 0);
      });
      play(order.slice(0, AT_ONCE), 0, 0);
    }

    function play(some, number, right) {
      place.textContent = "";
      begin.hidden = true;
      if (number === some.length) {
        begin.hidden = false;
        var said = make("p", right + " of " + some.length + " right at the first choice. Nothing is counted against you.", { role: "status", tabindex: "-1" });
        place.append(said);
        go(said);
        return;
      }
      var question = some[number];
      var heading = make("h4", "", { tabindex: "-1" });
      heading.append(make("span", "Question " + (number + 1) + " of " + some.length, { class: "number" }));
      heading.append(question.ask.cloneNode(true));
      var verdict = make("p", "", { role: "status", class: "verdict", tabindex: "-1" });
      var answers = make("ul", "", { class: "answers" });
      var buttons = question.choices.map(function (choice) {
        var item = make("li");
        var button = make("button", choice.say, { type: "button", class: "answer" });
        button.addEventListener("click", function () { judge(choice); });
        item.append(button);
        answers.append(item);
        return button;
      });
      place.append(heading, verdict, answers);
      go(heading);

      // The question stays where it is on the screen, whatever the reasons need of room.
      function judge(chosen) {
        var before = heading.getBoundingClientRect().top;
        Progress.change(function (data) {
          var kept = data.checks[question.id] || { right: 0, wrong: 0 };
          data.checks[question.id] = {
            right: kept.right + (chosen.right ? 1 : 0), wrong: kept.wrong + (chosen.right ? 0 : 1),
            on: Progress.now(), ok: chosen.right
          };
        });
        question.choices.forEach(function (choice, index) {
          var item = buttons[index].parentElement;
          var said = make("p", "", { class: choice.right ? "told told--right" : "told" });
          var mark = (choice.right ? "Right: " : "Wrong: ");
          said.append(make("b", mark + choice.say), make("span", choice === chosen ? " (your choice) " : " "), choice.why.cloneNode(true));
          item.replaceChildren(said);
        });
        verdict.textContent = chosen.right ? "Right. The reasons:" : "Not that one. The reasons:";
        var next = make("button", number + 1 < some.length ? "Next question" : "Done", { type: "button" });
        next.addEventListener("click", function () { play(some, number + 1, right + (chosen.right ? 1 : 0)); });
        place.append(next);
        summary();
        verdict.focus({ preventScroll: true });
        window.scrollBy(0, heading.getBoundingClientRect().top - before);
      }
    }

    // The focus goes there; the screen moves only as far as it has to.
    function go(one) {
      one.focus({ preventScroll: true });
      one.scrollIntoView({ block: "nearest" });
    }

    return { count: questions.length, show: show, stop: function () { place.textContent = ""; begin.hidden = false; } };
  }

  // How far one has come.

  var sofar = document.querySelector("[data-sofar]");

  function show() {
    summary();
  }

  function summary() {
    var data = Progress.load();
    var states = entries.map(function (entry) { return entry.show(data); });
    var read = states.filter(function (one) { return one === "read"; }).length;
    var changed = states.filter(function (one) { return one === "changed"; }).length;
    var right = asked.reduce(function (sum, one) { return sum + one.show(data); }, 0);
    var questions = asked.reduce(function (sum, one) { return sum + one.count; }, 0);
    var played = Object.keys(data.cases);
    var due = played.filter(function (key) { return data.cases[key].due && Date.parse(data.cases[key].due) <= Date.now(); }).length;
    var words = read + " of " + many(entries.length, "page") + " read";
    if (changed) words += ", " + changed + " changed since";
    words += ". " + right + " of " + many(questions, "question") + " answered right.";
    if (played.length) words += " " + many(played.length, "cause") + " practised, " + due + " due again.";
    sofar.hidden = false;
    sofar.querySelector("[data-said]").textContent = words;
    sofar.querySelector("progress").value = read;
    var next = sofar.querySelector("[data-next]");
    next.textContent = "";
    var at = states.findIndex(function (one) { return one !== "read"; });
    if (at >= 0) {
      var link = make("a", entries[at].title, { href: entries[at].item.querySelector("a").getAttribute("href") });
      next.append("Next: ", link);
    }
    counted(states);
    if (kept) kept.hidden = Progress.kept;
    if (label && label !== document.activeElement) label.value = data.label || label.value;
  }

  // The record: to a file, from a file, gone.

  var keep = document.querySelector("[data-keep]");
  var kept = keep && keep.querySelector("[data-unkept]");
  var label = keep && keep.querySelector("#label");
  if (keep) records();

  function records() {
    var done = keep.querySelector("[data-done]");
    var file = keep.querySelector("#file");
    var erase = keep.querySelector("[data-erase]");
    var sure = false;
    keep.hidden = false;

    function say(words) { done.textContent = words; }

    function calm() {
      sure = false;
      erase.textContent = "Erase all here";
    }

    // Kept with the progress, so that the next file has it as well.
    function named() {
      Progress.change(function (data) { data.label = label.value; });
    }

    label.addEventListener("change", named);
    keep.querySelector("[data-save]").addEventListener("click", function () {
      calm();
      named();
      say("Saved as " + Progress.save(label.value) + ".");
    });
    file.addEventListener("change", function () {
      var chosen = file.files[0];
      calm();
      if (!chosen) return;
      Progress.open(chosen).then(function (data) {
        Progress.take(data);
        summary();
        say("Read in: " + chosen.name + ".");
      }).catch(function (fault) {
        say(chosen.name + ": " + fault.message);
      }).then(function () { file.value = ""; });
    });
    erase.addEventListener("click", function () {
      if (!sure) {
        sure = true;
        erase.textContent = "Erase: press once more";
        say("This takes away all ticks, answers and practice in this browser. Nothing brings them back.");
        return;
      }
      Progress.erase();
      label.value = "";
      calm();
      asked.forEach(function (one) { one.stop(); });
      summary();
      say("All is erased.");
    });
    erase.addEventListener("blur", calm);
  }

  // Another tab, or the way back to this one, may have changed what is kept.
  window.addEventListener("pageshow", show);
  window.addEventListener("storage", show);
  window.addEventListener("hashchange", unfold);
  all(".jump a").forEach(function (link) {
    link.addEventListener("click", function () { setTimeout(unfold); }); // also where the address names it already
  });
  show();
  fold();
})();
