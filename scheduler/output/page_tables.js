"use strict";
(function () {
  // Tables: a header sorts, a second press turns it round. What has no value stays last.
  function sortable(table) {
    const heads = [...table.querySelectorAll("thead th")], body = table.tBodies[0];
    const key = (row, n) => { const cell = row.cells[n]; return cell.dataset.key === undefined ? cell.textContent.trim() : cell.dataset.key; };
    heads.forEach((head, n) => head.querySelector("button").addEventListener("click", () => {
      const way = head.getAttribute("aria-sort") === "ascending" ? -1 : 1;
      heads.forEach((h) => h.removeAttribute("aria-sort"));
      head.setAttribute("aria-sort", way > 0 ? "ascending" : "descending");
      const rows = [...body.rows].sort((p, q) => {
        const a = key(p, n), b = key(q, n);
        if (a === "" || b === "") return (a === "") - (b === "");
        const numbers = a !== "" && b !== "" && !isNaN(a) && !isNaN(b);
        return way * (numbers ? a - b : a.localeCompare(b, undefined, {numeric: true}));
      });
      body.append(...rows);
    }));
  }

  document.querySelectorAll("table.sortable").forEach(sortable);

  // On a phone what fills a screen is folded up, so that the picture comes soon; elsewhere and on paper it is open.
  const phone = window.matchMedia("(max-width: 700px)"), folds = [...document.querySelectorAll(".fold")];
  const fold = () => folds.forEach((part) => { part.open = !phone.matches; });
  let open = [];
  phone.addEventListener("change", fold);
  window.addEventListener("beforeprint", () => { open = folds.map((part) => part.open); folds.forEach((part) => { part.open = true; }); });
  window.addEventListener("afterprint", () => folds.forEach((part, n) => { part.open = open[n]; }));
  fold();
})();
