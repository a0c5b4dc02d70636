"use strict";
(function () {
  const main = document.getElementById("main");
  const slider = document.getElementById("stage");
  const find = document.getElementById("find");
  const said = document.getElementById("said");
  const heads = [...document.querySelectorAll(".sheet .head")];
  const rows = [...document.querySelectorAll(".sheet .row[data-name]")];
  const named = [...document.querySelectorAll("[data-name], svg .tree")];
  const days = JSON.parse(main.dataset.days);
  document.querySelector(".tools").hidden = false;

  const nameOf = (e) => (e.dataset.name || e.querySelector("title").textContent).toLowerCase();
  function show() {
    main.dataset.stage = slider.value;
    const at = "at" + slider.value;
    const head = heads[Number(slider.value)];
    const words = "Stage " + head.textContent.replace(/\s+/g, " ");
    slider.setAttribute("aria-valuetext", words);
    const asked = find.value.trim().toLowerCase();
    for (const e of named) e.classList.toggle("hit", asked !== "" && nameOf(e).includes(asked));
    const hits = asked ? rows.filter((row) => nameOf(row).includes(asked)) : [];
    const where = hits.slice(0, 3).map((row) => {
      const cell = row.querySelector("." + at);
      return row.dataset.name + ": " + (cell ? cell.title : "not there yet");
    });
    said.textContent = words + (asked ? ". " + (where.join("; ") || "No tree is called that")
      + (hits.length > 3 ? "; and " + (hits.length - 3) + " rows more" : "") : "");
  }
  // Today, if it lies in this winter: the stage that has usually begun by now.
  const now = new Date();
  const two = (n) => String(n).padStart(2, "0");
  const today = now.getFullYear() + "-" + two(now.getMonth() + 1) + "-" + two(now.getDate());
  if (today >= days[0] && today <= days[days.length - 1])
    slider.value = days.slice(0, -1).filter((day) => day <= today).length - 1;
  slider.addEventListener("input", show);
  find.addEventListener("input", show);
  show();
})();
