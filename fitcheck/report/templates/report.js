"use strict";
// Sorting and filtering of the ranked tables. The page is whole without this; it only ever sets text, never markup.
(() => {
  const make = (name, text) => {
    const element = document.createElement(name);
    element.textContent = text;
    return element;
  };

  const value = (row, column) => {
    const cell = row.cells[column];
    const number = cell.dataset.sort;
    return number === undefined ? (cell.classList.contains("num") ? null : cell.textContent.trim()) : Number(number);
  };

  // Cells without a number come last in either direction.
  const compare = (a, b, direction) => {
    if (a === null || b === null) return (a === null) - (b === null);
    return direction * (typeof a === "number" ? a - b : a.localeCompare(b, "en"));
  };

  const sortBy = (table, column) => {
    const heads = [...table.tHead.rows[0].cells];
    const downward = heads[column].getAttribute("aria-sort") === "ascending";
    for (const head of heads) head.removeAttribute("aria-sort");
    heads[column].setAttribute("aria-sort", downward ? "descending" : "ascending");
    const rows = [...table.tBodies[0].rows];
    rows.sort((a, b) => compare(value(a, column), value(b, column), downward ? -1 : 1));
    table.tBodies[0].append(...rows);
  };

  const field = (text, control) => {
    const label = make("label", text);
    label.append(control);
    return label;
  };

  const choices = (words) => {
    const select = document.createElement("select");
    for (const word of words) select.append(make("option", word));
    return select;
  };

  const tools = (table) => {
    const rows = [...table.tBodies[0].rows];
    const search = document.createElement("input");
    search.type = "search";
    search.autocomplete = "off";
    const verdicts = choices(["all", ...new Set(rows.map((row) => row.cells[1].querySelector(".verdict").textContent))]);
    const trains = choices(["all", ...new Set(rows.map((row) => row.querySelector(".kit b").textContent))]);
    const status = make("p", "");
    status.setAttribute("role", "status");

    const show = () => {
      const wanted = search.value.toLowerCase().split(/\s+/).filter(Boolean);
      let shown = 0;
      for (const row of rows) {
        const text = row.textContent.toLowerCase();
        const fits =
          wanted.every((word) => text.includes(word)) &&
          (verdicts.selectedIndex === 0 || row.cells[1].querySelector(".verdict").textContent === verdicts.value) &&
          (trains.selectedIndex === 0 || row.querySelector(".kit b").textContent === trains.value);
        row.hidden = !fits;
        shown += fits;
      }
      status.textContent = `${shown} of ${rows.length} kits shown`;
    };

    for (const control of [search, verdicts, trains]) control.addEventListener("input", show);
    show();
    const bar = document.createElement("div");
    bar.className = "tools";
    bar.append(field("Part, rule or word", search), field("Verdict", verdicts), field("Train", trains), status);
    return bar;
  };

  for (const table of document.querySelectorAll("table.ranked")) {
    [...table.tHead.rows[0].cells].forEach((head, column) => {
      const button = make("button", head.textContent);
      button.type = "button";
      button.addEventListener("click", () => sortBy(table, column));
      head.replaceChildren(button);
    });
    table.tHead.rows[0].cells[0].setAttribute("aria-sort", "ascending");
    table.closest(".scroll").before(tools(table));
  }
})();
