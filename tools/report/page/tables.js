// Tables sort by the heading that is pressed; once more turns the order round.
function sortableTable(table) {
  const body = table.tBodies[0];
  if (body.rows.length < 2) return;
  const value = (cell) => {
    const text = cell.textContent.replaceAll("−", "-").trim();
    const power = text.match(/^[^ ]*·10\^(-?\d+)/);
    const number = parseFloat(text) * 10 ** (power ? Number(power[1]) : 0);
    return Number.isNaN(number) ? text : number;
  };
  // Numbers before words, rising and falling (sign).
  const before = (a, b, sign) => {
    const words = (typeof a === "string") - (typeof b === "string");
    return words || sign * (typeof a === "number" ? a - b : a.localeCompare(b));
  };
  [...table.tHead.rows[0].cells].forEach((head, column) => {
    const button = document.createElement("button");
    button.type = "button";
    button.append(...head.childNodes);
    head.append(button);
    button.addEventListener("click", () => {
      const down = head.getAttribute("aria-sort") === "ascending";
      for (const other of table.tHead.rows[0].cells) other.removeAttribute("aria-sort");
      head.setAttribute("aria-sort", down ? "descending" : "ascending");
      const sign = down ? -1 : 1;
      body.append(...[...body.rows].sort((a, b) => before(value(a.cells[column]), value(b.cells[column]), sign)));
    });
  });
}
