// A hand scanner types fast and ends with Enter. Where no field has the focus, what it types goes to the search;
// a slash puts a person's cursor there. Inside a field keys are left alone: callipers type the same way.

const search = document.querySelector("#search");
const FASTEST_TYPIST_MS = 50;
const SHORTEST_CODE = 4;
let typed = "";
let last = 0;

document.addEventListener("keydown", (event) => {
  const inField = event.target.matches("input, select, textarea, [contenteditable]");
  if (inField || event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  const pause = event.timeStamp - last;
  last = event.timeStamp;
  if (event.key === "Enter") {
    if (pause > FASTEST_TYPIST_MS || typed.length < SHORTEST_CODE) return;
    event.preventDefault();
    location.assign(`/desk/search?${new URLSearchParams({ q: typed })}`);
    typed = "";
    return;
  }
  if (event.key.length !== 1) return;
  typed = pause > FASTEST_TYPIST_MS ? event.key : typed + event.key;
  if (typed === "/" && search) {
    event.preventDefault();
    search.focus();
    typed = "";
  }
});
