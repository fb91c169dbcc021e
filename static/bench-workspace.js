// One screen of work: what to do now stays in sight, and beside it one part of the page, chosen with a thumb and kept for
// whoever works here. Without scripts the page has all its parts below each other, and the choice is its table of contents.

const nav = document.querySelector("[data-places]");
const panes = [...document.querySelectorAll("[data-pane]")];
const storage = `thumbplane-part:${nav.dataset.places}`;

function show(name) {
  for (const pane of panes) pane.hidden = pane.dataset.pane !== name;
  for (const link of nav.querySelectorAll("a")) {
    if (link.dataset.place === name) link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
  }
}

/** Shows the part that something stands in. */
export function reveal(element) {
  const pane = element?.closest?.("[data-pane]");
  if (pane?.hidden) show(pane.dataset.pane);
}

const target = () => (location.hash.length > 1 ? document.getElementById(location.hash.slice(1)) : null);

function lead() {
  const at = target();
  if (!at) return;
  reveal(at);
  at.scrollIntoView({ block: "nearest" });
  if (at.matches("input, select, textarea, [tabindex]")) at.focus();
}

nav.addEventListener("click", (event) => {
  const name = event.target.closest("[data-place]")?.dataset.place;
  if (!name) return;
  event.preventDefault();
  show(name);
  try {
    localStorage.setItem(storage, name);
  } catch {
    // no room: the next page begins with the readings
  }
});

// a link to something on this page leads to its part, also a second time
document.addEventListener("click", (event) => {
  const link = event.target.closest('a[href^="#"]');
  if (!link || link.dataset.place) return;
  const at = document.getElementById(link.hash.slice(1));
  if (!at) return;
  reveal(at);
  if (location.hash === link.hash) {
    event.preventDefault();
    lead();
  }
});
window.addEventListener("hashchange", lead);

function kept() {
  try {
    return localStorage.getItem(storage);
  } catch {
    return null;
  }
}

const names = panes.map((pane) => pane.dataset.pane);
const wrong = document.querySelector("[data-pane] .message, [data-pane] [aria-invalid=true]");
const first = (wrong ?? target())?.closest("[data-pane]")?.dataset.pane ?? kept();
show(names.includes(first) ? first : names[0]);
document.documentElement.classList.add("one-screen");
if (target()) lead();
