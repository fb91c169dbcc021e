// What is typed into a long form is kept by the server while it is typed, for whoever is signed in: a tablet may die,
// a session may end. Forms marked data-kept; the mark may name the address under which their words are kept.

const QUIET_MS = 600;
const forms = [...document.querySelectorAll("form[data-kept]")];
const waiting = new Map();

const fieldsOf = (form) => new URLSearchParams(new FormData(form)).toString();
const pathOf = (form) => form.dataset.kept || new URL(form.getAttribute("action"), location.href).pathname;

async function keep(form) {
  clearTimeout(waiting.get(form));
  waiting.delete(form);
  const body = new URLSearchParams({ form: pathOf(form), fields: fieldsOf(form) });
  try {
    const answer = await fetch("/unsent", { method: "POST", body, keepalive: true, redirect: "manual" });
    form.dataset.keptAs = answer.status === 204 ? "kept" : "not kept";
  } catch {
    form.dataset.keptAs = "not kept";
  }
}

/** Keeps at once what waits for a pause of the hands. */
export function keepNow() {
  return Promise.all([...waiting.keys()].map(keep));
}

for (const form of forms) {
  const later = () => {
    clearTimeout(waiting.get(form));
    form.dataset.keptAs = "waiting";
    waiting.set(form, setTimeout(() => keep(form), QUIET_MS));
  };
  form.addEventListener("input", later);
  form.addEventListener("change", later);
  // what is sent is no draft; a refused form comes back with a page of its own
  form.addEventListener("submit", () => {
    clearTimeout(waiting.get(form));
    waiting.delete(form);
  });
}

window.addEventListener("pagehide", () => void keepNow());
document.addEventListener("visibilitychange", () => {
  if (document.visibilityState === "hidden") void keepNow();
});
