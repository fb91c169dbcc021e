// Search as typed: hits come as a piece of the server's own page; without scripts the form does the same.
// From the field, arrow keys walk through the hits; Enter opens the one that has the focus.

const field = document.querySelector("[data-search-as-typed]");
const hits = document.querySelector("#hits");
let asked = 0;

field?.addEventListener("input", async () => {
  const turn = ++asked;
  const query = new URLSearchParams({ q: field.value, part: "hits" });
  if (field.dataset.searchAsTyped) query.set("for", field.dataset.searchAsTyped);
  try {
    const answer = await fetch(`/desk/search?${query}`, { headers: { accept: "text/html" } });
    if (!answer.ok) return;
    // the server escaped every name in it
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    // an older answer is late; and nobody's choice is taken from under their hand
    if (turn !== asked || hits.contains(document.activeElement)) return;
    hits.replaceChildren(...page.body.childNodes);
    hits.dataset.shownFor = query.get("q");
  } catch {
    // offline: the button still asks the server
  }
});

document.addEventListener("keydown", (event) => {
  const step = { ArrowDown: 1, ArrowUp: -1 }[event.key];
  const links = [...(hits?.querySelectorAll("a") ?? [])];
  const at = links.indexOf(document.activeElement);
  if (!step || links.length === 0 || (at < 0 && document.activeElement !== field)) return;
  event.preventDefault();
  (links[at + step] ?? (at + step < 0 ? field : links[at])).focus();
});
