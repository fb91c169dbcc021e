// The bench's keypad: types into the cell in hand without taking the focus from it.

/** `does` has: changed(input), next(input), skip(input), again(input), cannot(input, reason), settled(travel, unit). */
export function keypad(does) {
  const pad = document.querySelector("[data-keypad]");
  const cellName = pad.querySelector("[data-keypad-cell]");
  const figure = pad.querySelector("[data-keypad-figure]");
  const inBoth = pad.querySelector("[data-keypad-echo]");
  const next = pad.querySelector("[data-key-does=next]");
  const other = pad.querySelector("[data-cannot-other]");
  let current = null;
  // the first figure pressed into a cell just entered replaces what stood there, as typing over a selection does
  let fresh = false;

  // a pressed key must not take the focus from the cell; its own press by keyboard still works
  pad.addEventListener("pointerdown", (event) => {
    if (event.target.closest("button")) event.preventDefault();
  });

  pad.addEventListener("click", (event) => {
    const button = event.target.closest("button");
    if (!button || !current) return;
    const { keyTypes, keyDoes, cannot } = button.dataset;
    if (keyTypes !== undefined) types(keyTypes);
    else if (keyDoes === "back") rubOut();
    else if (keyDoes) does[keyDoes](current);
    else if (cannot !== undefined) refuse(cannot || other.value.trim());
  });

  const travelChoice = document.querySelector("[data-travel-choice]");
  travelChoice.hidden = false;
  const chosen = (name) => document.querySelector(`input[name=${name}]:checked`)?.value;
  for (const choice of [pad, travelChoice]) {
    choice.addEventListener("change", (event) => {
      if (event.target.type === "radio") does.settled(chosen("travelling"), chosen("typing"));
    });
  }

  function types(key) {
    const value = fresh ? "" : current.value;
    current.value = key === "-" ? (value.startsWith("-") ? value.slice(1) : `-${value}`) : value + key;
    fresh = false;
    does.changed(current);
  }

  function rubOut() {
    current.value = current.value.slice(0, -1).trimEnd();
    fresh = false;
    does.changed(current);
  }

  /** What stands in a cell, as it was typed and in both systems. */
  function tell(input) {
    figure.textContent = input.value;
    inBoth.textContent = input.parentElement.querySelector("[data-echo]")?.textContent ?? "";
  }

  /** What scrolls a cell: its part of the page on one screen, else the page. */
  function scrollerOf(input) {
    const part = input.closest(".places-beside");
    return part && getComputedStyle(part).overflowY === "auto" ? part : document.documentElement;
  }

  /** A cell that lies under the keypad, which stands over the page where that is narrow, comes out above it. */
  function shows(input) {
    const hands = pad.parentElement;
    const isOver = getComputedStyle(hands).position === "fixed";
    const scroller = scrollerOf(input);
    const bottom = scroller === document.documentElement ? innerHeight : scroller.getBoundingClientRect().bottom;
    const covers = isOver ? Math.max(0, bottom - hands.getBoundingClientRect().top) : 0;
    scroller.style.scrollPaddingBottom = `${covers + 8}px`;
    (scroller === document.documentElement ? document.body : scroller).style.paddingBottom = covers ? `${covers + 8}px` : "";
    input.scrollIntoView({ block: "nearest" });
  }

  function refuse(reason) {
    if (!reason) return other.focus();
    other.value = "";
    pad.querySelector(".cannot").open = false;
    does.cannot(current, reason);
  }

  return {
    /** Shows the keypad for a cell. */
    takes(input, label) {
      current = input;
      fresh = true;
      cellName.textContent = label;
      tell(input);
      pad.hidden = false;
      shows(input);
    },
    /** The cell in hand holds something else, typed or put there. */
    tells(input) {
      if (input === current) tell(input);
    },
    /**
     * The next figure replaces what is asked about; `yes` is what the key *next* then answers, null once nothing is asked.
     */
    asks(input, yes) {
      if (input !== current) return;
      next.textContent = yes || "next";
      if (yes === null) return;
      fresh = true;
      shows(input);
    },
    /** What stands in the cell is added to. */
    goesOn() {
      fresh = false;
    },
    /** Puts it away. */
    rests() {
      if (current) {
        const scroller = scrollerOf(current);
        for (const element of [scroller, document.body]) element.style.scrollPaddingBottom = element.style.paddingBottom = "";
      }
      current = null;
      pad.hidden = true;
    },
    holds: (element) => pad.contains(element),
    travel: () => chosen("travelling") ?? "by-string",
  };
}
