// Search as typed: hits come as a piece of the server's own page; without scripts the form does the same.

const field = document.querySelector("[data-search-as-typed]");
const hits = document.querySelector("#hits");
let asked = 0;

field?.addEventListener("input", async () => {
  const turn = ++asked;
  const query = new URLSearchParams({ q: field.value, part: "hits", for: "check-in" });
  try {
    const answer = await fetch(`/desk/search?${query}`, { headers: { accept: "text/html" } });
    if (!answer.ok || turn !== asked) return;
    // the server escaped every name in it
    const page = new DOMParser().parseFromString(await answer.text(), "text/html");
    hits.replaceChildren(...page.body.childNodes);
  } catch {
    // offline: the button still asks the server
  }
});
