// A row of the queue dragged onto another opens its own form for the reason; the buttons do the same without.

const place = document.querySelector("[data-renews]");
let dragged = null;

function prepare() {
  for (const row of place.querySelectorAll("tr[data-job]")) row.draggable = true;
}

function rowOf(event) {
  return event.target instanceof Element ? event.target.closest("tr[data-job]") : null;
}

place?.addEventListener("dragstart", (event) => {
  dragged = rowOf(event);
  if (dragged === null) return;
  event.dataTransfer.effectAllowed = "move";
  event.dataTransfer.setData("text/plain", dragged.dataset.number);
});

place?.addEventListener("dragover", (event) => {
  if (dragged !== null && rowOf(event) !== null) event.preventDefault();
});

place?.addEventListener("drop", (event) => {
  const onto = rowOf(event);
  if (dragged === null || onto === null || onto === dragged) return;
  event.preventDefault();
  const form = dragged.querySelector("form[data-moves]");
  form.querySelector("[data-dropped]")?.remove();
  const isDown = (dragged.compareDocumentPosition(onto) & Node.DOCUMENT_POSITION_FOLLOWING) !== 0;
  const button = document.createElement("button");
  button.type = "submit";
  button.className = "button primary";
  button.name = "to";
  button.value = `${isDown ? "behind" : "before"}:${onto.dataset.job}`;
  button.dataset.dropped = "";
  button.textContent = `${isDown ? "Behind" : "Before"} ${onto.dataset.number}`;
  form.querySelector(".actions").prepend(button);
  form.closest("details").open = true;
  form.querySelector("[name=reason]").focus();
  dragged = null;
});

if (place !== null) {
  prepare();
  place.addEventListener("renewed", prepare);
}
