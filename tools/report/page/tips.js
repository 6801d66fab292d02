// Tooltips of the charts: by pointer, or by the arrow keys once a chart has the focus.
function chartTips(svg) {
  const readout = document.getElementById("readout");
  const bubble = document.getElementById("bubble");
  const tips = svg.dataset.tips ? JSON.parse(svg.dataset.tips) : null;
  const grid = svg.dataset.grid ? JSON.parse(svg.dataset.grid) : null;
  const marker = document.createElementNS("http://www.w3.org/2000/svg", "circle");
  marker.setAttribute("class", "marker");
  marker.setAttribute("r", "5");
  let current = tips ? -1 : [0.5, 0.5];

  const toScreen = (x, y) => new DOMPoint(x, y).matrixTransform(svg.getScreenCTM());

  function show(x, y, text, spoken) {
    marker.setAttribute("cx", x);
    marker.setAttribute("cy", y);
    svg.append(marker);
    bubble.textContent = text;
    bubble.hidden = false;
    const at = toScreen(x, y);
    const box = bubble.getBoundingClientRect();
    const left = Math.min(Math.max(4, at.x + 12), document.documentElement.clientWidth - box.width - 4);
    const top = at.y - box.height - 10 < 4 ? at.y + 14 : at.y - box.height - 10;
    bubble.style.left = `${left}px`;
    bubble.style.top = `${top}px`;
    if (spoken) readout.textContent = text;
  }

  function hide() {
    marker.remove();
    bubble.hidden = true;
  }

  function gridText(fx, fy) {
    const [nx, ny] = grid.cells;
    const i = grid.nodes ? Math.round(fx * (nx - 1)) : Math.min(nx - 1, Math.floor(fx * nx));
    const j = grid.nodes ? Math.round(fy * (ny - 1)) : Math.min(ny - 1, Math.floor(fy * ny));
    const value = grid.values[i * ny + j];
    const along = (axis, f) => `${grid.labels[axis === "x" ? 0 : 1].replace(" / ", " = ")}`
      .replace(/= (.*)$/, `= ${Math.round(grid[axis][0] + f * (grid[axis][1] - grid[axis][0]))} $1`);
    const shown = value === null ? "no tag came here" : `${value} ${grid.unit}`;
    return `${shown}\n${along("x", fx)}, ${along("y", fy)}`;
  }

  function showGrid(spoken) {
    const [left, bottom, right, top] = grid.box;
    const [fx, fy] = current;
    show(left + fx * (right - left), bottom + fy * (top - bottom), gridText(fx, fy), spoken);
  }

  svg.addEventListener("pointermove", (event) => {
    const at = new DOMPoint(event.clientX, event.clientY).matrixTransform(svg.getScreenCTM().inverse());
    if (grid) {
      const [left, bottom, right, top] = grid.box;
      const fx = (at.x - left) / (right - left), fy = (at.y - bottom) / (top - bottom);
      if (fx < 0 || fx > 1 || fy < 0 || fy > 1) return hide();
      current = [fx, fy];
      return showGrid(false);
    }
    const far = (tip) => (svg.dataset.snap === "x" ? Math.abs(tip[0] - at.x) : Math.hypot((tip[0] - at.x) / 4, tip[1] - at.y));
    current = tips.reduce((best, tip, i) => (far(tip) < far(tips[best]) ? i : best), 0);
    show(...tips[current], false);
  });
  svg.addEventListener("pointerleave", hide);
  svg.addEventListener("blur", hide);
  svg.addEventListener("keydown", (event) => {
    const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, 1], ArrowDown: [0, -1] }[event.key];
    if (event.key === "Escape") return hide();
    if (!step) return;
    event.preventDefault();
    if (grid) {
      const inside = (f) => Math.min(1, Math.max(0, f));
      current = [inside(current[0] + step[0] * 0.04), inside(current[1] + step[1] * 0.04)];
      return showGrid(true);
    }
    const by = step[0] || -step[1];
    current = current < 0 ? 0 : Math.min(tips.length - 1, Math.max(0, current + by));
    show(...tips[current], true);
  });
}
