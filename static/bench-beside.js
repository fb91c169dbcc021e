// What stands beside the grid: how the sending goes, what another tablet did, and the plan.

import { reveal } from "./bench-workspace.js";

/**
 * The line that says what is saved and what waits. `unsaved()` counts what stands on the page and was sent nowhere:
 * values that are asked about, that were not taken, and that are being typed.
 */
export function sendingLine(form, unsaved) {
  const line = form.querySelector("[data-sending]");
  let state = "";

  function say(named, ...words) {
    line.hidden = false;
    const text = words.map((word) => word.textContent ?? word).join("");
    if (line.dataset.state === named && line.textContent === text) return;
    line.dataset.state = named;
    line.replaceChildren(...words);
  }

  function link(href, words) {
    const made = document.createElement("a");
    made.href = href;
    made.textContent = words;
    return made;
  }

  /** All that was sent is in the books. *Saved* is said only where nothing else stands on the page. */
  function settled(byOthers) {
    const { asked, refused, typed } = unsaved();
    const are = (count) => (count === 1 ? "1 value is" : `${count} values are`);
    if (asked) return say("open", `▲ ${are(asked)} not saved yet: answer the question first.${byOthers}`);
    if (refused) return say("open", `▲ ${are(refused)} not saved: what is wrong stands at the cell.${byOthers}`);
    if (!typed) return say("saved", `✓ Every value is saved.${byOthers}`);
    // seen, not spoken: it would be said at each figure
    const words = document.createElement("span");
    words.ariaHidden = "true";
    words.textContent = "The value in hand is not saved yet.";
    say("typing", words);
  }

  let told = "";
  return {
    /** How it stands, as the sender says it. */
    tell({ state: now, count, others }) {
      const values = count === 1 ? "1 value" : `${count} values`;
      const wait = count === 1 ? "waits" : "wait";
      const words = {
        sending: `Saving ${values}…`,
        offline: `▲ No connection: ${values} ${wait} on this tablet, safe. Go on.`,
        "signed-out": `▲ Signed out: ${values} ${wait} on this tablet, safe. `,
      }[now];
      const byOthers = others.length ? ` ${others.length} by ${others[0].staffName} wait here until they sign in.` : "";
      // a word at each value would drown the others: only a change is said
      if (now === "sending" && state !== "saved") return;
      state = now;
      told = byOthers;
      if (state === "saved") return settled(byOthers);
      say(state, words + byOthers);
      if (state === "signed-out") line.append(link(`/sign-in?then=${encodeURIComponent(location.pathname)}`, "Sign in"));
    },
    /** Something on the page has changed. */
    look() {
      if (state === "saved") settled(told);
    },
    taken: () => say("taken", "▲ The set was taken down on another tablet. ", link(location.pathname, "Show it")),
    noRoom: () => say("no-room", "▲ This browser has no room to keep values: save with the button below."),
    isCut: () => ["offline", "signed-out"].includes(state),
    leads() {
      reveal(line);
      line.scrollIntoView({ block: "center" });
    },
    /** Steps that were done on another tablet; answers whether that is news. */
    done(steps) {
      const place = document.querySelector("[data-done]");
      if (steps === undefined || place.dataset.done === steps) return false;
      place.dataset.done = steps;
      place.className = "again";
      place.hidden = !steps;
      const strong = document.createElement("strong");
      strong.textContent = `Done on another tablet: ${steps}.`;
      place.replaceChildren(strong, " What it made stale is read again. ", link(location.pathname, "Show it"));
      return true;
    },
  };
}

/** Answers how to ask for the plan anew. What cannot be asked for is marked: the plan is an old one. */
export function planBeside(job) {
  let shown = document.querySelector("#plan").outerHTML;
  let timer;
  let asked = 0;
  const mark = (old) => document.querySelector("#plan").toggleAttribute("data-old", old);

  async function refresh() {
    asked += 1;
    const mine = asked;
    try {
      const response = await fetch(`/bench/jobs/${job}/plan`);
      const page = response.ok && !response.redirected ? await response.text() : "";
      const fresh = new DOMParser().parseFromString(page, "text/html").querySelector("#plan");
      // a press comes first: the plan is put in place between two of them
      await new Promise((resolve) => (window.requestIdleCallback ?? setTimeout)(resolve, { timeout: 1000 }));
      if (mine !== asked) return;
      const same = shown === fresh?.outerHTML;
      const old = document.querySelector("#plan");
      if (same || !fresh || old.contains(document.activeElement)) return mark(!same);
      shown = fresh.outerHTML;
      old.replaceWith(fresh);
    } catch {
      mark(true);
    }
  }

  return () => {
    clearTimeout(timer);
    timer = setTimeout(refresh, 250);
  };
}

/** Has the worker keep this page, where there is one. */
export async function keepPage(form) {
  if (!("serviceWorker" in navigator)) {
    const note = document.createElement("p");
    note.className = "hint";
    note.textContent = "Over plain http this page cannot be opened again without the server. What you type stays on this tablet all the same.";
    form.append(note);
    return;
  }
  try {
    await navigator.serviceWorker.register(form.dataset.worker, { scope: "/bench/" });
    const ready = await navigator.serviceWorker.ready;
    const files = performance.getEntriesByType("resource").map((file) => new URL(file.name).pathname);
    ready.active.postMessage({ keep: location.pathname, files: files.filter((path) => path.startsWith("/static/")) });
  } catch {
    // a browser that keeps nothing opens no page without the server either
  }
}
