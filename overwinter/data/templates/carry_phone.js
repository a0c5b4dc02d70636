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
  }
  function load() {
    try { take(JSON.parse(localStorage.getItem(STORE) || "{}")); } catch (e) { take({}); }
  }
  function save() {
    const text = JSON.stringify({ marks, jobs });
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

  function show() {
    for (const row of rows) {
      const key = row.dataset.key;
      const mark = of(key);
      const done = row.dataset.kind === "carry" ? mark.done === true : jobs[key] === true;
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
    $("asText").value = asCsv();
    $("asText").hidden = false;
  }

  function changed(event) {
    const row = event.target.closest("li.item");
    if (!row) return;
    const key = row.dataset.key;
    if (row.dataset.kind !== "carry") {
      if (event.target.checked) jobs[key] = true; else delete jobs[key];
      save();
      return;
    }
    const none = { done: false, done_on: null, elsewhere: null, note: "" };
    const mark = { ...none, ...of(key) };
    if (event.target.type === "checkbox") {
      mark.done = event.target.checked;
      mark.done_on = mark.done ? today() : null;
    } else if (event.target.tagName === "SELECT") mark.elsewhere = event.target.value || null;
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
    if (target) { target.scrollIntoView(); target.focus({ preventScroll: true }); }
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
  // The same page open twice: the other window's ticks come over.
  window.addEventListener("storage", (event) => {
    if (event.key === STORE) { load(); show(); }
  });

  load();
  save();
  const next = book.carries.find((carry) => !of(carry.key).done);
  if (next) $("stage").value = "stage-" + next.stage;
})();
