"use strict";
(function () {
  const book = JSON.parse(document.getElementById("book").textContent);
  const STORE = "overwinter ticks " + book.plan;
  const byKey = new Map(book.carries.map((carry) => [carry.key, carry]));
  const $ = (id) => document.getElementById(id);
  const rows = [...document.querySelectorAll("li.item")];
  // carry key -> {done, done_on, elsewhere, note}: what is ticked here, and what was marked before
  let marks = {};
  const marked = book.marked;
  let jobs = {};    // key of a to-do or a set-down -> true
  let begun = {};   // stage whose sign has come -> true
  let later = [];   // keys put off for now
  let last = [];    // keys ticked here, for Undo
  let kept = true;

  const today = () => {
    const now = new Date();
    const two = (n) => String(n).padStart(2, "0");
    return now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
  };
  const of = (key) => {
    const here = marks[key] || {};
    if (here.done || !(key in marked)) return here;
    const was = marked[key];
    return { ...was, elsewhere: here.elsewhere || was.elsewhere, note: here.note || was.note };
  };
  const carries = (n) => n + (n === 1 ? " carry" : " carries");
  const isMark = (m) => m && typeof m === "object" && (m.done || m.elsewhere || m.note);
  const clean = (m) => ({
    done: m.done === true,
    done_on: m.done === true && /^\d{4}-\d\d-\d\d$/.test(m.done_on) ? m.done_on : null,
    elsewhere: typeof m.elsewhere === "string" && book.places[m.elsewhere] ? m.elsewhere : null,
    note: typeof m.note === "string" ? m.note.slice(0, 500) : "",
  });

  function take(saved) {
    marks = {};
    jobs = {};
    for (const [key, mark] of Object.entries((saved && saved.marks) || {}))
      if (byKey.has(key) && isMark(mark)) marks[key] = clean(mark);
    for (const key of Object.keys((saved && saved.jobs) || {})) jobs[key] = true;
    begun = { ...((saved && saved.begun) || {}) };
  }
  function load() {
    try { take(JSON.parse(localStorage.getItem(STORE) || "{}")); } catch (e) { take({}); }
  }
  function save() {
    const text = JSON.stringify({ marks, jobs, begun });
    try {
      localStorage.setItem(STORE, text);
      kept = localStorage.getItem(STORE) === text;
    } catch (e) { kept = false; }
    show();
  }

  // Filled when first needed: every place for every tree at once would be a very large page.
  function fill(select) {
    if (select.options.length) return;
    select.append(new Option("as planned", ""));
    for (const [id, words] of Object.entries(book.places)) select.append(new Option(words, id));
  }

  const isDone = (row) => row.dataset.kind === "carry"
    ? of(row.dataset.key).done === true : jobs[row.dataset.key] === true;
  const stageOf = (row) => row.closest(".stage");

  // What is next today: a stage that was begun is finished first; one that waits for a sign waits
  // until somebody says that the sign has come.
  function now() {
    const open = rows.filter((row) => !isDone(row));
    $("now").hidden = false;
    const stages = [...new Set(open.map(stageOf))];
    const going = stages.find((stage) => rows.some((row) => stageOf(row) === stage
      && isDone(row) && row.dataset.kind === "carry")) || stages[0];
    for (const id of ["count", "what", "from", "where", "spot", "tags", "bench", "note", "sign"])
      $(id).replaceChildren();
    $("what").className = "";
    $("later").disabled = $("undo").disabled = true;
    $("undo").disabled = last.length === 0;
    $("done").hidden = !going;
    if (!going) { $("what").textContent = "All is carried."; return null; }
    const facts = book.stages[going.id];
    // In walking order, which goes from shelter to shelter and back.
    const mine = open.filter((row) => stageOf(row) === going)
      .sort((one, other) => one.dataset.turn - other.dataset.turn);
    const some = rows.some((row) => stageOf(row) === going && isDone(row));
    $("sign").textContent = facts.when + "; sunset about " + facts.sunset + ", standard time.";
    if (!some && !begun[going.id] && (facts.waits || today() < facts.early)) {
      const day = new Date().toLocaleDateString("en-GB",
        { weekday: "long", day: "numeric", month: "long" });
      $("count").textContent = day + ". " + (today() < facts.early ? "Nothing is due today. Next:"
        : today() <= facts.late ? "It may come any day now:" : "Later than in most years:");
      $("what").className = "job";
      $("what").textContent = facts.when;
      $("sign").textContent = "";
      $("note").textContent = facts.facts + ".";
      $("done").textContent = facts.waits ? "The sign has come: begin" : "Begin now";
      return { begin: going.id };
    }
    const put = later.filter((key) => mine.some((row) => row.dataset.key === key));
    const row = mine.find((one) => !put.includes(one.dataset.key)) || mine[0];
    const text = (css) => (row.querySelector(css) || { textContent: "" }).textContent;
    const all = rows.filter((one) => stageOf(one) === going).length;
    $("count").textContent = "Next: " + (all - mine.length + 1) + " of " + all + (row.dataset.day ? ". " + row.dataset.day : "");
    $("what").textContent = text(".name") || row.dataset.shelter + ": " + text(".job");
    $("what").className = row.dataset.kind === "job" ? "job" : "";
    $("from").textContent = text(".from");
    $("where").textContent = text(".where") && "to " + text(".where");
    $("spot").textContent = text(".spot");
    $("tags").append(...[...row.querySelectorAll(".tag")].map((tag) => tag.cloneNode(true)));
    $("note").textContent = text(".note");
    if (row.dataset.kind === "carry") draw(row, Number(going.dataset.stage));
    $("done").textContent = row.dataset.kind === "carry" ? "It stands there" : "Done";
    $("later").disabled = mine.length < 2;
    return { row };
  }
  // The bench it goes to with its spot filled; on the way out, the bench it is taken from.
  function draw(row, stage) {
    const tree = row.dataset.tree;
    for (const [place, at, words] of [[row.dataset.to, stage, "Its spot:"],
                                      [row.dataset.from, stage - 1, "Take it from here:"]]) {
      const found = [...document.querySelectorAll("template")]
        .find((one) => one.dataset.place === place);
      if (!found) continue;
      const copy = found.content.cloneNode(true);
      const here = [...copy.querySelectorAll(".tree.at" + at)];
      const spot = here.find((one) => one.dataset.tree === tree);
      if (!spot) continue;
      for (const one of here) one.classList.add("now");
      spot.classList.add("mine");
      // Of a bench in parts only the one with its spot.
      const part = spot.closest(".part");
      const svg = copy.querySelector("svg");
      for (const one of svg.querySelectorAll(".part")) if (one !== part) one.remove();
      svg.setAttribute("viewBox", part.dataset.view);
      svg.removeAttribute("height");
      const said = document.createElement("p");
      said.textContent = words;
      $("bench").append(said, copy);
      return;
    }
  }
  function tick(row, done) {
    const key = row.dataset.key;
    if (row.dataset.kind !== "carry") {
      if (done) jobs[key] = true; else delete jobs[key];
      return;
    }
    const mark = { done: false, done_on: null, elsewhere: null, note: "", ...of(key), done };
    mark.done_on = done ? today() : null;
    if (isMark(mark)) marks[key] = mark; else delete marks[key];
  }
  function next() {
    const found = now();
    if (!found) return;
    if (found.begin) begun[found.begin] = true;
    else { tick(found.row, true); last.push(found.row.dataset.key); }
    save();
    $("card").scrollIntoView({ block: "nearest" });
  }
  function undo() {
    const key = last.pop();
    const row = rows.find((one) => one.dataset.key === key);
    if (row) tick(row, false);
    save();
  }
  function putOff() {
    const found = now();
    if (found && found.row) later = [...later.filter((k) => k !== found.row.dataset.key),
                                     found.row.dataset.key];
    if (now().row && later.includes(now().row.dataset.key)) later = [];
    now();
  }

  function show() {
    for (const row of rows) {
      const key = row.dataset.key;
      const mark = of(key);
      const done = isDone(row);
      row.classList.toggle("done", done);
      const box = row.querySelector("input[type=checkbox]");
      box.checked = done;
      box.disabled = key in marked;  // what the history has is taken back there
      row.querySelector(".state").textContent =
        done ? (key in marked ? "✓ marked as done" : "✓ done")
          + (mark.done_on ? " on " + mark.done_on : "")
          + (mark.elsewhere ? ", stands at " + book.places[mark.elsewhere] : "") : "";
      const where = row.querySelector("select");
      if (where && mark.elsewhere) fill(where);
      if (where && where !== document.activeElement) where.value = mark.elsewhere || "";
      const note = row.querySelector("input[type=text]");
      if (note && note !== document.activeElement) note.value = mark.note || "";
    }
    const count = book.carries.filter((carry) => of(carry.key).done).length;
    $("progress").textContent = count + " of " + carries(book.carries.length) + " done";
    $("kept").textContent = kept
      ? "Ticks are kept in this browser on this device."
      : "This browser does not keep ticks: hand them back below before you close the page.";
    now();
    $("asText").value = asCsv();
    $("asText").hidden = false;
  }

  function changed(event) {
    const row = event.target.closest("li.item");
    if (!row) return;
    const key = row.dataset.key;
    if (event.target.type === "checkbox") {
      tick(row, event.target.checked);
      save();
      return;
    }
    const mark = { done: false, done_on: null, elsewhere: null, note: "", ...of(key) };
    if (event.target.tagName === "SELECT") mark.elsewhere = event.target.value || null;
    else mark.note = event.target.value.slice(0, 500);
    if (isMark(mark)) marks[key] = mark; else delete marks[key];
    save();
  }

  function exported() {
    const ticks = book.carries.filter((carry) => marks[carry.key]).map((carry) => ({
      key: carry.key, day: carry.day, tree: carry.tree, tree_id: carry.tree_id,
      ...marks[carry.key],
    }));
    return { format: "overwinter ticks", version: 1, plan: book.plan, site: book.site, ticks, jobs };
  }
  function asCsv() {
    // A text that a spreadsheet would run as a formula gets an apostrophe.
    const cell = (value) => {
      const text = value === null || value === undefined ? "" : String(value);
      const safe = /^[=+\-@\t\r\n]/.test(text) ? "'" + text : text;
      return /[",\r\n]/.test(safe) ? '"' + safe.replace(/"/g, '""') + '"' : safe;
    };
    const lines = ["key,date,tree,done,done on,stands elsewhere,your note"];
    for (const tick of exported().ticks)
      lines.push([tick.key, tick.day, tick.tree, tick.done ? "x" : "", tick.done_on,
                  tick.elsewhere, tick.note].map(cell).join(","));
    return lines.join("\r\n") + "\r\n";
  }
  function download(name, type, text) {
    const link = document.createElement("a");
    link.href = URL.createObjectURL(new Blob([text], { type }));
    link.download = name;
    document.body.append(link);
    link.click();
    link.remove();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
    say("Saved " + name + " with " + carries(exported().ticks.length) + ".");
  }
  const say = (text) => { $("said").textContent = text; };

  function copy() {
    const box = $("asText");
    const fallback = () => {
      box.focus();
      box.select();
      let worked = false;
      try { worked = document.execCommand("copy"); } catch (e) { worked = false; }
      say(worked ? "Copied." : "Select the text in the box and copy it.");
    };
    if (navigator.clipboard && window.isSecureContext)
      navigator.clipboard.writeText(box.value).then(() => say("Copied."), fallback);
    else fallback();
  }

  async function takeBack(event) {
    const file = event.target.files[0];
    event.target.value = "";
    if (!file) return;
    let given;
    try { given = JSON.parse(await file.text()); } catch (e) { given = null; }
    if (!given || given.format !== "overwinter ticks" || !Array.isArray(given.ticks)) {
      say(file.name + " is not a ticks file of these lists (.json).");
      return;
    }
    let used = 0;
    let unknown = 0;
    for (const tick of given.ticks) {
      if (!tick || !byKey.has(tick.key)) { unknown += 1; continue; }
      if (!isMark(tick)) continue;
      marks[tick.key] = clean(tick);
      used += 1;
    }
    for (const key of Object.keys(given.jobs || {})) jobs[key] = true;
    save();
    say(carries(used) + " taken from " + file.name + (unknown
      ? "; " + unknown + " are not in this plan and were left out." : "."));
  }
  function clear() {
    if (!window.confirm("Take away every tick and note on this page?")) return;
    take({});
    save();
    say("Every tick and note is gone.");
  }
  function jump() {
    const target = $($("stage").value);
    if (!target) return;
    target.open = true;
    target.scrollIntoView();
    target.querySelector("summary").focus({ preventScroll: true });
  }

  document.addEventListener("change", changed);
  document.addEventListener("toggle", (event) => {
    const where = event.target.querySelector("li.item select");
    if (where) fill(where);
  }, true);
  document.addEventListener("input", (event) => {
    if (event.target.type === "text") changed(event);
  });
  $("stage").addEventListener("change", jump);
  $("openOnly").addEventListener("change", (event) => {
    document.body.classList.toggle("open-only", event.target.checked);
  });
  $("saveJson").addEventListener("click", () => download(
    "ticks-" + book.plan + ".json", "application/json", JSON.stringify(exported(), null, 1)));
  $("saveCsv").addEventListener("click", () => download(
    "ticks-" + book.plan + ".csv", "text/csv", "\ufeff" + asCsv()));
  $("copyText").addEventListener("click", copy);
  $("back").addEventListener("change", takeBack);
  $("clear").addEventListener("click", clear);
  $("done").addEventListener("click", next);
  $("undo").addEventListener("click", undo);
  $("later").addEventListener("click", putOff);
  // The same page open twice: the other window's ticks come over.
  window.addEventListener("storage", (event) => {
    if (event.key === STORE) { load(); show(); }
  });

  load();
  save();
  const first = book.carries.find((carry) => !of(carry.key).done);
  if (first) $("stage").value = "stage-" + first.stage;
})();
