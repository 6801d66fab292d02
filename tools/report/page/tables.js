// Tables sort by the heading that is pressed; once more turns the order round.
function sortableTable(table) {
  const body = table.tBodies[0];
  if (body.rows.length < 2) return;
  const value = (cell) => {
    const text = cell.textContent.replace("−", "-").trim();
    const number = parseFloat(text);
    return Number.isNaN(number) ? text : number;
  };
  const before = (a, b) => (typeof a === "number" && typeof b === "number" ? a - b : String(a).localeCompare(String(b)));
  [...table.tHead.rows[0].cells].forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const rows = [...body.rows].sort((a, b) => before(value(a.cells[column]), value(b.cells[column])));
      if (down) rows.reverse();
      body.append(...rows);
    });
  });
}
