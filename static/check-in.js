// Check-in: what is typed of a new instrument unchooses the known one, and one line says what the button will do.
// The server asks the same without scripts, and says the line with the page.

const form = document.querySelector("form[data-check-in]");
const line = form?.querySelector("[data-what-happens]");
const unknown = form?.querySelector("details.unfolded");

const typed = (name) => form.elements.namedItem(name)?.value?.trim() ?? "";
const chosen = (name) => form.querySelector(`input[name="${name}"]:checked`);
const words = (input) => input?.closest("label")?.textContent.replace(/\s+/g, " ").trim() ?? "";

unknown?.addEventListener("input", (event) => {
  const another = form.querySelector('input[name="instrument"][value=""]');
  if (another && event.target.value !== "") another.checked = true;
});

function say() {
  const known = chosen("instrument");
  const name = typed("name");
  const customer = form.querySelector("[data-customer]")?.textContent.trim();
  const who = customer ?? (name === "" ? "Somebody" : `${name}, new here,`);
  const make = [typed("maker"), typed("model")].filter((part) => part !== "").join(" ");
  const what = known && known.value !== ""
    ? `the ${words(known)} that we know`
    : chosen("family") ? `a new instrument, ${make || words(chosen("family"))}` : "an instrument";
  const why = typed("complaint");
  const said = `${who} brings ${what}${why === "" ? "." : `: “${why}”`}`;
  if (line.textContent !== said) line.textContent = said;
}

if (form && line) {
  form.addEventListener("input", say);
  form.addEventListener("change", say);
  say();
}

// there is always room for one more mark
const MOST_MARKS = 24;
form?.addEventListener("input", (event) => {
  const marks = [...form.querySelectorAll("[data-mark]")];
  const last = marks.at(-1);
  if (!last?.contains(event.target) || event.target.value === "" || marks.length >= MOST_MARKS) return;
  const next = last.cloneNode(true);
  const renumbered = (text) => text.replace(String(marks.length), String(marks.length + 1));
  for (const element of next.querySelectorAll("[id], [for], [name]")) {
    for (const attribute of ["id", "for", "name"]) {
      if (element.hasAttribute(attribute)) element.setAttribute(attribute, renumbered(element.getAttribute(attribute)));
    }
  }
  for (const label of next.querySelectorAll("label")) label.textContent = renumbered(label.textContent);
  for (const field of next.querySelectorAll("input")) field.value = "";
  last.after(next);
});
