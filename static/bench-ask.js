// Questions about values: each waits at its cell, one is open at a time.

/** `show(field, state, words)` marks a field. */
export function questions(show) {
  const box = document.querySelector("[data-ask]");
  const boxWords = box.querySelector("[data-ask-words]");
  const boxAnswers = box.querySelector("[data-ask-answers]");
  const asked = new Map();
  let open = null;

  /** `wait` has: field, words, answers as [words, deed], and the `dispute` or the `typed` it is about. */
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
    box.hidden = false;
  }

  /** The field's question is answered, or no longer one. */
  function close(field) {
    asked.delete(field.name);
    if (open?.field !== field) return;
    open = null;
    box.hidden = true;
    const [next] = asked.values();
    if (next) openIt(next);
  }

  return {
    ask,
    close,
    of: (name) => asked.get(name),
    all: () => [...asked],
    holds: (element) => box.contains(element),
    /** Shows the question of a cell that is entered. */
    reopen(field) {
      const wait = asked.get(field.name);
      if (wait && open !== wait) openIt(wait);
    },
    /** Says whether something is asked, and leads there: nobody leaves past an open question. */
    keepsHere() {
      if (!asked.size) return false;
      box.scrollIntoView({ block: "center" });
      boxAnswers.querySelector("button")?.focus();
      return true;
    },
  };
}
