// What every page gains with scripts: print buttons, one press a form, and a calliper's or scanner's
// Enter that goes to the next field. Pages work without.

import { keepNow } from "./unsent.js";

// a control named "method" hides the form's own property, so the attribute is asked
const isPost = (form) => form.getAttribute("method")?.toLowerCase() === "post";

for (const button of document.querySelectorAll("button[data-print]")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}

// One press a form. The server is safe without this (each form carries a key); it spares the doubt.
// Buttons are marked, not disabled: a disabled button's name and value would not be sent. A form that brings a
// file (data-download) is left alone: the page stays, and the file may be wanted again.
document.addEventListener("submit", (event) => {
  const form = event.target;
  if (!isPost(form) || event.defaultPrevented || "download" in form.dataset) return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "yes";
  event.submitter?.setAttribute("aria-disabled", "true");
});

// Ctrl+Enter sends the form one types in, by its primary button: the counter without a mouse
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || !(event.ctrlKey || event.metaKey) || event.isComposing) return;
  const form = event.target.form;
  if (!form || !isPost(form)) return;
  event.preventDefault();
  HTMLFormElement.prototype.requestSubmit.call(form, form.querySelector("button.primary[type=submit]") ?? undefined);
});

// a paper that was asked for by pressing Print
if (document.querySelector("[data-print-now]")) window.print();

// a page shown again by Back can be sent again
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
  for (const button of document.querySelectorAll("button[aria-disabled]")) button.removeAttribute("aria-disabled");
});

// Callipers and scanners type like a keyboard and end with Enter: inside [data-enter-moves] Enter goes to
// the next field and sends nothing. data-enter-moves="down" goes down a table's column, then to the head of
// the next, as one measures one thing over all strings. After the last field comes the button.
document.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.isComposing || event.ctrlKey || event.metaKey || event.altKey) return;
  const field = event.target;
  const group = field.matches("input, select") && field.closest("[data-enter-moves]");
  if (!group) return;
  event.preventDefault();
  const fields = fieldsOf(group);
  const next = fields[fields.indexOf(field) + (event.shiftKey ? -1 : 1)];
  if (next) {
    next.focus();
    next.select?.();
  } else if (!event.shiftKey) {
    field.form?.querySelector("button[type=submit]:enabled")?.focus();
  }
});

function fieldsOf(group) {
  const fields = [...group.querySelectorAll("input:enabled:not([type=hidden]), select:enabled")];
  if (group.dataset.enterMoves !== "down") return fields;
  const column = (field) => field.closest("td, th")?.cellIndex ?? 0;
  // sort leaves equals in order, so each column stays from top to bottom
  return fields.sort((one, other) => column(one) - column(other));
}

// Signing out clears this browser's storage, so values of the bench that wait to be sent are named first.
for (const form of document.querySelectorAll("form[action='/sign-out']")) {
  form.addEventListener("submit", async (event) => {
    if (form.dataset.asked) return;
    event.preventDefault();
    event.stopPropagation();
    await keepNow();
    const { waiting } = await import("./bench-keep.js");
    const count = await waiting().catch(() => 0);
    const words = `${count} values typed at the bench have not been saved yet, and signing out loses them. Sign out all the same?`;
    if (count > 0 && !window.confirm(words)) return;
    form.dataset.asked = "yes";
    form.requestSubmit();
  });
}

// a link to something that is folded away opens it: "Change" leads into the form
function unfold() {
  const there = location.hash.length > 1 ? document.getElementById(decodeURIComponent(location.hash.slice(1))) : null;
  if (there?.matches("details")) {
    there.open = true;
    there.querySelector("input:not([type=hidden]), select, textarea")?.focus();
    there.scrollIntoView();
  }
}
window.addEventListener("hashchange", unfold);
unfold();

// where somebody is asked to sign in, no page of the person before stays
if (location.pathname === "/sign-in" && "caches" in window) caches.delete("bench-pages");
