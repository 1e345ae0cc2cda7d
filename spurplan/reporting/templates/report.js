"use strict";
for (const tools of document.querySelectorAll(".tools")) tools.hidden = false;

const collator = new Intl.Collator("en", { numeric: true, sensitivity: "base" });
const keyOf = (row, column) => row.cells[column].dataset.key;

function compare(one, two, column) {
  const a = keyOf(one, column), b = keyOf(two, column);
  if (a === "" || b === "") return (a === "") - (b === "");
  if (a === undefined) return collator.compare(one.cells[column].textContent, two.cells[column].textContent);
  return a - b;
}

for (const table of document.querySelectorAll("table[data-sorts]")) {
  const body = table.tBodies[0];
  [...table.tHead.rows[0].cells].forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const falling = head.getAttribute("aria-sort") === "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", falling ? "descending" : "ascending");
      const known = [...body.rows].filter((row) => keyOf(row, column) !== "");
      const unknown = [...body.rows].filter((row) => keyOf(row, column) === "");
      known.sort((one, two) => (falling ? compare(two, one, column) : compare(one, two, column)));
      body.append(...known, ...unknown);
    });
  });
}

// a telephone has fewer rows, and opens what it wants to see
const small = matchMedia("(max-width: 44rem)").matches;
const FOLDED_ROWS = 10, SHOWN_ROWS = small ? 4 : FOLDED_ROWS;
if (small) for (const how of document.querySelectorAll("details.how")) how.open = false;
function folding(after, fold, open, closed) {
  const button = document.createElement("button");
  button.type = "button";
  button.className = "more";
  const set = (folded) => {
    fold(folded);
    button.textContent = folded ? open : closed;
    button.setAttribute("aria-expanded", String(!folded));
  };
  button.addEventListener("click", () => set(button.getAttribute("aria-expanded") === "true"));
  after.after(button);
  set(true);
  return set;
}

for (const table of document.querySelectorAll("table")) {
  const rows = table.tBodies[0].rows.length;
  if (rows <= FOLDED_ROWS) continue;
  table.classList.toggle("few", small);
  const away = (folded) => table.classList.toggle("folded", folded);
  const set = folding(table, away, `Show all ${rows} rows`, `Show ${SHOWN_ROWS} rows`);
  // what is looked for may stand in any row
  const filter = document.querySelector(`input[data-filters="${table.id}"]`);
  if (filter) filter.addEventListener("input", () => set(filter.value.trim() === ""));
}

// a sheet of many tables, one a dial setting, is for paper: a screen has the first ten rows of it
for (const part of document.querySelectorAll("section[data-folds]")) {
  let rows = 0, last = null;
  const behind = [...part.querySelectorAll("table")].filter((table) => {
    const away = rows >= FOLDED_ROWS;
    rows += table.tBodies[0].rows.length;
    if (!away) last = table;
    return away;
  });
  if (!behind.length) continue;
  while (last.nextElementSibling.matches("button")) last = last.nextElementSibling;
  const away = [];
  for (let one = last.nextElementSibling; one; one = one.nextElementSibling) {
    away.push(one);
    if (one === behind[behind.length - 1]) break;
  }
  const end = away[away.length - 1].nextElementSibling;
  if (end && end.matches("button")) away.push(end);
  const set = (folded) => away.forEach((one) => one.classList.toggle("away", folded));
  folding(last, set, `Show the whole sheet, ${rows} rows`, "Show the first table alone");
}

// what follows the answer opens by its head on a telephone, or by a link to it
for (const part of document.querySelectorAll("section[data-closes]")) {
  const head = part.querySelector("h2"), close = (closed) => part.classList.toggle("closed", closed);
  const set = folding(head, close, "Open", "Close");
  head.nextElementSibling.classList.add("opens");
  head.nextElementSibling.setAttribute("aria-describedby", head.id);
  const led = () => { if (location.hash === `#${head.id}`) set(false); };
  addEventListener("hashchange", led);
  for (const link of document.querySelectorAll(`a[href="#${head.id}"]`)) link.addEventListener("click", () => set(false));
  led();
}

for (const input of document.querySelectorAll("input[data-filters]")) {
  const table = document.getElementById(input.dataset.filters);
  const count = document.querySelector(`output[data-counts="${input.dataset.filters}"]`);
  input.addEventListener("input", () => {
    const words = input.value.toLowerCase().split(/\s+/).filter(Boolean);
    let shown = 0;
    for (const row of table.tBodies[0].rows) {
      const text = [...row.cells].map((cell) => cell.textContent).join(" ").toLowerCase();
      row.hidden = !words.every((word) => text.includes(word));
      shown += !row.hidden;
    }
    const all = table.tBodies[0].rows.length;
    count.textContent = shown === all ? `${all} rows` : `${shown} of ${all} rows`;
  });
}
