// Opens or folds everything at once, say before printing. The page is whole without it.
(() => {
  const button = document.getElementById("open-all");
  const all = [...document.querySelectorAll("details")];
  if (!button || !all.length) return;
  button.hidden = false;
  button.addEventListener("click", () => {
    const open = all.some((one) => !one.open);
    for (const one of all) one.open = open;
    button.textContent = open ? "Fold all" : "Open all";
  });
})();
