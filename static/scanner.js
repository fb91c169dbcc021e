// A hand scanner types fast and ends with Enter or with nothing. What it reads of ours – a job's number, a ticket's
// link – is known by its speed and its shape, wherever the cursor stands: the field is put back as it was, nothing is
// sent, and the job opens. Where something was typed and not sent, the page asks first; a second scan takes the
// first one's place. Other codes are typed into the field with the cursor and never send its form.

const search = document.querySelector("#search");
/** No hand types two keys closer together than this, key after key. */
const FASTEST_TYPIST_MS = 35;
const SHORTEST_CODE = 4;
const OURS = /^(\d\d-\d{4,}|https?:\/\/\S+\/s\/\S+)$/;

let typed = "";
let typedInto = null;
let last = 0;
let before = null;
let silence = 0;

const isField = (element) => element.matches("input, select, textarea, [contenteditable]");
const isText = (element) => element.matches("input, textarea") && typeof element.value === "string";

function remember(field) {
  if (!isText(field)) return null;
  const { value, selectionStart, selectionEnd } = field;
  return { field, value, selectionStart, selectionEnd };
}

function putBack() {
  if (!before || before.field.value === before.value) return;
  const { field, value, selectionStart, selectionEnd } = before;
  field.value = value;
  // what else belongs to the field follows as if the scan had never been typed
  field.dispatchEvent(new Event("input", { bubbles: true }));
  try {
    field.setSelectionRange(selectionStart, selectionEnd);
  } catch {
    // a field without a cursor, such as a day
  }
}

function wasTypedInto() {
  return document.querySelector("form[method='post'][data-touched]") !== null;
}

function open(code) {
  const address = `/desk/search?${new URLSearchParams({ q: code })}`;
  if (!wasTypedInto()) {
    location.assign(address);
    return;
  }
  document.querySelector(".scanned")?.remove();
  const place = document.querySelector(".flash-place");
  const asks = document.createElement("p");
  const link = document.createElement("a");
  asks.className = "flash scanned";
  asks.append(`Scanned ${code}. What you type here is not sent yet. `, link);
  link.href = address;
  link.textContent = `Open ${code}`;
  place.append(asks);
}

function take(code) {
  putBack();
  typed = "";
  before = null;
  open(code.trim());
}

document.addEventListener("input", (event) => {
  const form = event.target.form;
  if (form && event.isTrusted) form.dataset.touched = "yes";
}, true);

document.addEventListener("keydown", (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.isComposing) return;
  clearTimeout(silence);
  const pause = event.timeStamp - last;
  const isFast = pause <= FASTEST_TYPIST_MS;
  last = event.timeStamp;
  const field = event.target;
  if (event.key === "F2") {
    event.preventDefault();
    location.assign("/desk/check-in");
    return;
  }
  // keys that went elsewhere, or were followed by a step of a person's, are no part of this code
  if (typedInto !== field || (event.key.length !== 1 && event.key !== "Enter" && event.key !== "Shift")) typed = "";
  typedInto = field;
  if (event.key === "Enter") {
    const code = isFast && typed.length >= SHORTEST_CODE ? typed : "";
    typed = "";
    if (code === "") return;
    if (OURS.test(code)) {
      event.preventDefault();
      event.stopImmediatePropagation();
      take(code);
    } else if (!isField(field)) {
      event.preventDefault();
      open(code);
    } else if (field.form?.getAttribute("method")?.toLowerCase() === "post" && !field.closest("[data-enter-moves]")) {
      // the code belongs into the field; its Enter is the scanner's, not the person's
      event.preventDefault();
    }
    return;
  }
  if (event.key.length !== 1) return;
  const begins = !isFast || typed === "";
  if (begins) before = remember(field);
  typed = begins ? event.key : typed + event.key;
  if (OURS.test(typed)) silence = setTimeout(() => typed.length >= 7 && OURS.test(typed) && take(typed), 4 * FASTEST_TYPIST_MS);
  if (!isField(field) && typed === "/" && search) {
    event.preventDefault();
    search.focus();
    typed = "";
  }
}, true);
