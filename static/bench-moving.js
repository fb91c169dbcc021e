// Going through the grid: from cell to cell by keypad, calliper and Tab, and what a cell does that is entered or left.

import { notMeasurable } from "./bench-cells.js";
import { keypad } from "./bench-keypad.js";

/** Nobody presses Enter twice so fast; a calliper that sends CR and LF does. */
const SAME_VALUE_MS = 50;

/** The cells in the order of travel: row by row as they stand, or "by-place" column by column. */
export function inOrder(cells, travel, columnOf) {
  if (travel === "by-string") return cells;
  return [...cells].sort((one, other) => columnOf(one) - columnOf(other));
}

/** The next place without a value, or with a step of -1 the one before, whatever it holds; undefined behind the ends. */
export function following(path, place, step, isEmpty) {
  const at = path.indexOf(place);
  return step < 0 ? path[at - 1] : path.slice(at + 1).find(isEmpty);
}

export function startMoving(grid, asking, { commit, leave }) {
  const { form, cells, numbers, fields } = grid;
  const columnOf = (field) => field.closest("td")?.cellIndex ?? Infinity;

  /** To the next empty cell; after the last one to the air, and then to the button. */
  function goOn(field, step = 1) {
    const path = [...inOrder(cells, pad.travel(), columnOf), ...grid.air];
    const next = following(path, field, step, (cell) => !cell.value.trim());
    if (next) next.focus();
    else if (step > 0) form.querySelector("button.primary").focus();
  }

  /** The caret behind what stands there, which is added to. */
  function goOnTyping(field) {
    pad.goesOn();
    field.setSelectionRange(field.value.length, field.value.length);
  }

  /** Something was typed into a cell. */
  function touched(field) {
    grid.showEcho(field);
    asking.outdated(field, grid.valueOf(field));
    pad.tells(field);
  }

  const pad = keypad({
    changed: touched,
    next: (field) => asking.saysYes(field, grid.valueOf(field)) || (commit(field) && goOn(field)),
    skip: (field) => {
      grid.put(field, grid.kept.get(field.name) ?? "");
      field.removeAttribute("aria-invalid");
      if (!asking.of(field.name)?.dispute) {
        asking.close(field);
        grid.showKept(field);
      }
      goOn(field);
    },
    again: (field) => {
      if (!commit(field) || !field.value) return;
      field.value += "; ";
      field.focus();
      goOnTyping(field);
    },
    cannot: (field, reason) => {
      field.value = notMeasurable(reason);
      commit(field);
      goOn(field);
    },
    settled: (travel, unit) => {
      const remembered = { travel, unit, job: grid.job };
      fetch("/bench/habit", { method: "POST", redirect: "manual", body: new URLSearchParams(remembered) }).catch(() => {});
      fields.forEach(grid.showEcho);
    },
  });

  // the page's own keypad takes the place of the system's; a calliper still types
  for (const field of numbers) field.inputMode = "none";

  form.addEventListener("focusin", (event) => {
    const field = event.target;
    if (!numbers.includes(field)) return;
    pad.takes(field, grid.labelOf(field));
    field.select();
    asking.reopen(field);
  });

  // a value that is left with the finger is typed to its end; a window that loses the focus leaves nothing
  form.addEventListener("focusout", (event) => {
    const field = event.target;
    if (!numbers.includes(field) || document.activeElement === field || document.hidden) return;
    if (pad.holds(event.relatedTarget) || asking.holds(event.relatedTarget)) return;
    if (grid.isLoose(field)) leave(field);
  });

  form.addEventListener("input", (event) => {
    if (numbers.includes(event.target)) touched(event.target);
  });

  form.addEventListener("change", (event) => {
    if (fields.includes(event.target)) leave(event.target);
  });

  // callipers end each value with Enter, and some with two: the second one belongs to the same value
  let entered = -Infinity;
  document.addEventListener(
    "keydown",
    (event) => {
      if (event.key !== "Enter" || event.isComposing) {
        entered = -Infinity;
        return;
      }
      const isSecond = event.timeStamp - entered < SAME_VALUE_MS;
      const field = event.target;
      if (!isSecond && !numbers.includes(field)) return;
      event.preventDefault();
      event.stopPropagation();
      if (isSecond) return;
      entered = event.timeStamp;
      if (commit(field)) goOn(field, event.shiftKey ? -1 : 1);
    },
    true,
  );

  restsWithTheFinger(pad, (element) => numbers.includes(element) || asking.holds(element), form);
  return { goOn, goOnTyping, asks: pad.asks };
}

/** The keypad goes away with the finger; who travels by Tab finds it after the form. */
function restsWithTheFinger(pad, needsIt, form) {
  let byTab = false;
  let isPressing = false;

  // never under the finger: the page would move, and something else be pressed
  function rest() {
    const at = document.activeElement;
    if (at === document.body || isPressing || needsIt(at) || pad.holds(at) || (byTab && form.contains(at))) return;
    pad.rests();
  }

  document.addEventListener("keydown", (event) => {
    byTab = event.key === "Tab";
  });
  document.addEventListener("pointerdown", () => {
    byTab = false;
    isPressing = true;
  });
  document.addEventListener("focusin", () => setTimeout(rest));
  for (const ended of ["pointerup", "pointercancel"]) {
    document.addEventListener(ended, () => {
      isPressing = false;
      setTimeout(rest);
    });
  }
}
