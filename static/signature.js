// A field to sign in with a finger, a pen or a mouse: strokes become SVG path data in whole numbers, which the
// server checks and keeps. Without scripts the form stays hidden and the paper has a line to sign on.

for (const form of document.querySelectorAll("form[data-signature]")) {
  const pad = form.querySelector("svg.pad");
  const path = pad.querySelector("path");
  const strokes = form.elements.namedItem("strokes");
  form.hidden = false;

  const place = (event) => {
    const box = pad.getBoundingClientRect();
    const within = (at, from, size, most) => Math.min(most, Math.max(0, Math.round(((at - from) / size) * most)));
    return `${within(event.clientX, box.left, box.width, 600)},${within(event.clientY, box.top, box.height, 200)}`;
  };
  const draw = (text) => {
    strokes.value += text;
    path.setAttribute("d", strokes.value);
  };

  pad.addEventListener("pointerdown", (event) => {
    event.preventDefault();
    pad.setPointerCapture(event.pointerId);
    const at = place(event);
    draw(`M${at}L${at}`);
  });
  pad.addEventListener("pointermove", (event) => {
    if (pad.hasPointerCapture(event.pointerId)) draw(`L${place(event)}`);
  });
  form.querySelector("[data-wipe]").addEventListener("click", () => {
    strokes.value = "";
    path.setAttribute("d", "");
  });
}
