// Arrow keys walk over a table of buttons inside [data-arrows-move]; without scripts Tab does.

const STEPS = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };

document.addEventListener("keydown", (event) => {
  const step = STEPS[event.key];
  const cell = step && event.target.closest?.("[data-arrows-move] td");
  if (!cell || event.ctrlKey || event.metaKey || event.altKey) return;
  const row = cell.parentElement;
  const next = row.parentElement.rows[row.sectionRowIndex + step[0]]?.cells[cell.cellIndex + step[1]];
  const button = next?.querySelector("button");
  if (!button) return;
  event.preventDefault();
  button.focus();
});
