// Questions about values: each stands at its cell, one is open at a time.

import { reveal } from "./bench-workspace.js";

/** `show(field, state, words)` marks a field; `opened(field, yes)` hears what is asked, null once nothing is. */
export function questions(show, opened) {
  const box = document.querySelector("[data-ask]");
  const boxWords = box.querySelector("[data-ask-words]");
  const boxAnswers = box.querySelector("[data-ask-answers]");
  const asked = new Map();
  const place = document.createElement("tr");
  place.className = "asked";
  place.append(document.createElement("td"));
  let open = null;

  /**
   * `wait` has: field, words, answers as [words, deed], and the `dispute` or the `typed` it is about; `yes` where the
   * first answer is what was likely meant.
   */
  function ask(wait) {
    asked.set(wait.field.name, wait);
    show(wait.field, wait.dispute ? "disputed" : "questioned", wait.dispute ? "which?" : "?");
    if (!open || open.field === wait.field) openIt(wait);
  }

  function openIt(wait) {
    open = wait;
    boxWords.textContent = wait.words;
    const buttons = wait.answers.map(([words, deed]) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "button large";
      button.textContent = words;
      button.addEventListener("pointerdown", (event) => event.preventDefault());
      button.addEventListener("click", () => {
        close(wait.field);
        wait.field.focus();
        deed();
      });
      return button;
    });
    boxAnswers.replaceChildren(...buttons);
    stand(wait.field);
    box.hidden = false;
    opened(wait.field, wait.yes ? wait.answers[0][0] : "");
  }

  /** Under the row of its cell, or under a cell that stands by itself. */
  function stand(field) {
    const row = field.closest("tr");
    place.remove();
    if (row) {
      place.firstElementChild.colSpan = row.cells.length;
      place.firstElementChild.append(box);
      row.after(place);
    } else {
      field.closest(".field").append(box);
    }
  }

  /** The field's question is answered, or no longer one. */
  function close(field) {
    asked.delete(field.name);
    if (["questioned", "disputed"].includes(field.dataset.state)) show(field, "", "");
    if (open?.field !== field) return;
    open = null;
    box.hidden = true;
    opened(field, null);
    const [next] = asked.values();
    if (next) openIt(next);
  }

  return {
    ask,
    close,
    of: (name) => asked.get(name),
    all: () => [...asked],
    holds: (element) => box.contains(element),
    /** Something else stands in a cell than what was asked about. */
    outdated(field, typed) {
      const wait = asked.get(field.name);
      if (!wait || wait.dispute || wait.typed === typed) return;
      field.removeAttribute("aria-invalid");
      close(field);
    },
    /** Takes the first answer, where that is what was likely meant and still stands there. */
    saysYes(field, typed) {
      const wait = asked.get(field.name);
      if (!wait?.yes || wait.typed !== typed) return false;
      close(field);
      wait.answers[0][1]();
      return true;
    },
    /** Shows the question of a cell that is entered. */
    reopen(field) {
      const wait = asked.get(field.name);
      if (wait && open !== wait) openIt(wait);
    },
    /** Says whether something is asked, and leads there: nobody leaves past an open question. */
    keepsHere() {
      if (!asked.size) return false;
      reveal(box);
      box.scrollIntoView({ block: "center" });
      boxAnswers.querySelector("button")?.focus();
      return true;
    },
  };
}
