// The fretboard: a tap answers in the page at once and goes to the books behind it, one after the other. What has not
// reached them waits on this tablet. Arrow keys walk over the board. Without scripts each tap is a form that is sent.

import { newKey } from "./bench-keep.js";

const STEPS = { ArrowLeft: [0, -1], ArrowRight: [0, 1], ArrowUp: [-1, 0], ArrowDown: [1, 0] };
/** Side of one cell of the drawing, and half of it. */
const CELL = 48;
/** So far apart two marks stand in one cell. */
const BESIDE = 9;
const PAUSE_MS = 3000;

document.addEventListener("keydown", (event) => {
  const step = STEPS[event.key];
  const cell = step && event.target.closest?.("[data-arrows-move] td");
  if (!cell || event.ctrlKey || event.metaKey || event.altKey) return;
  const row = cell.parentElement;
  const next = row.parentElement.rows[row.sectionRowIndex + step[0]]?.cells[cell.cellIndex + step[1]];
  const button = next?.querySelector("button");
  if (!button) return;
  event.preventDefault();
  button.focus();
});

const form = document.querySelector("form[data-taps]");
if (form) startTapping();

function startTapping() {
  const { staff } = form.dataset;
  const hears = form.elements.hears.value;
  const map = form.querySelector("svg.fretboard");
  const line = document.querySelector("[data-sending]");
  const undo = document.querySelector("[data-undo]");
  const storage = `thumbplane-taps:${form.dataset.job}:${staff}`;
  const done = [];
  let waiting = read();
  let isSending = false;

  function read() {
    try {
      return JSON.parse(localStorage.getItem(storage)) ?? [];
    } catch {
      return [];
    }
  }

  function keep() {
    try {
      if (waiting.length) localStorage.setItem(storage, JSON.stringify(waiting));
      else localStorage.removeItem(storage);
    } catch {
      // no room: what waits is lost only with the page
    }
  }

  // ---- the marks

  const markAt = (string, fret, heard) => map.querySelector(`[data-place="${string}-${fret}-${heard}"]`);

  /** Two marks in one cell stand beside each other. */
  function settle(string, fret) {
    const buzz = markAt(string, fret, "buzz");
    const choke = markAt(string, fret, "choke");
    const [x, y] = [fret * CELL + CELL / 2, (string - 1) * CELL + CELL / 2];
    const both = buzz && choke ? BESIDE : 0;
    buzz?.setAttribute("transform", `translate(${x - both} ${y})`);
    choke?.setAttribute("transform", `translate(${x + both} ${y})`);
  }

  function draw(string, fret, heard, isNoted) {
    const mark = markAt(string, fret, heard);
    if (isNoted && !mark) {
      const drawn = document.querySelector(`[data-mark="${heard}"] > g`).cloneNode(true);
      drawn.dataset.place = `${string}-${fret}-${heard}`;
      map.append(drawn);
    } else if (!isNoted) {
      mark?.remove();
    }
    settle(string, fret);
  }

  /** Shows what a tap did; answers its button, where that is on this page. */
  function show({ place, hears: heard }) {
    const [string, fret, deed] = place.split(":");
    const isNoted = deed === "note";
    draw(Number(string), Number(fret), heard, isNoted);
    const button = heard === hears ? document.getElementById(`place-${string}-${fret}`) : null;
    if (!button) return null;
    button.value = `${string}:${fret}:${isNoted ? "take-back" : "note"}`;
    button.setAttribute("aria-pressed", String(isNoted));
    const words = button.querySelector("span");
    words.textContent = words.textContent.replace(/\. Take back$/, "") + (isNoted ? ". Take back" : "");
    return button;
  }

  // ---- the way into the books

  function say(state, ...words) {
    line.hidden = false;
    line.dataset.state = state;
    line.replaceChildren(...words);
  }

  const count = () => (waiting.length === 1 ? "1 tap waits" : `${waiting.length} taps wait`);

  function signIn() {
    const link = document.createElement("a");
    link.href = `/sign-in?then=${encodeURIComponent(location.pathname)}`;
    link.textContent = "Sign in";
    say("signed-out", `▲ Signed out: ${count()} on this tablet, safe. `, link);
  }

  async function send() {
    if (isSending) return;
    isSending = true;
    let refused = 0;
    while (waiting.length) {
      const [tap] = waiting;
      const body = new URLSearchParams({ form_key: tap.key, hears: tap.hears, place: tap.place, quiet: "yes" });
      let response;
      try {
        response = await fetch(form.getAttribute("action"), { method: "POST", body });
      } catch {
        response = null;
      }
      if (response?.status === 401 || response?.status === 403 || response?.redirected) {
        signIn();
        isSending = false;
        return;
      }
      if (!response || response.status >= 500 || response.status === 408 || response.status === 429) {
        say("offline", `▲ No connection: ${count()} on this tablet, safe. Go on.`);
        isSending = false;
        setTimeout(send, PAUSE_MS);
        return;
      }
      waiting = waiting.filter((other) => other !== tap);
      keep();
      if (!response.ok) {
        refused += 1;
        const [string, fret, deed] = tap.place.split(":");
        show({ ...tap, place: `${string}:${fret}:${deed === "note" ? "take-back" : "note"}` });
      }
    }
    isSending = false;
    if (refused) say("open", `▲ The books did not take ${refused === 1 ? "1 tap" : `${refused} taps`}: reload the page.`);
    else say("saved", "✓ Every tap is saved.");
    renewList();
  }

  /** What stands, in words: below the board, where it moves nothing under a finger. */
  async function renewList() {
    try {
      const response = await fetch(location.pathname);
      const page = response.ok && !response.redirected ? await response.text() : "";
      const fresh = new DOMParser().parseFromString(page, "text/html").querySelector("[data-stands]");
      if (fresh && !waiting.length) document.querySelector("[data-stands]").replaceWith(fresh);
    } catch {
      // the list is renewed with the next tap
    }
  }

  function tap(place) {
    const made = { place, hears, key: newKey() };
    waiting.push(made);
    keep();
    send();
    return show(made);
  }

  form.addEventListener("submit", (event) => {
    if (!event.submitter?.value) return;
    event.preventDefault();
    done.push(event.submitter);
    tap(event.submitter.value);
    undo.disabled = false;
  });

  undo.hidden = false;
  undo.addEventListener("click", () => {
    const button = done.pop();
    if (button) tap(button.value);
    undo.disabled = !done.length;
  });
  window.addEventListener("online", send);

  for (const waits of waiting) show(waits);
  if (waiting.length) send();
  document.documentElement.dataset.tapsReady = "yes";
}
