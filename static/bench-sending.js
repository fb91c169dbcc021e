// A value's way from its cell to this tablet's own database and on to the books, and what is asked before it goes.

import { keep, newKey, sender } from "./bench-keep.js";
import { inInches, inMillimetres, question } from "./bench-length.js";

/**
 * `answered(entry, answer)` hears what the books say to a value, `changed` how the sending goes, `goOn(field)` that a
 * question was answered.
 */
export function startSending(grid, asking, { answered, changed, goOn }) {
  const post = sender(grid.staff, { since: () => grid.seen, answered, changed });
  // what is still on its way to this tablet's own database
  const keeping = new Set();

  /** Keeps what this person typed into a field; answers false where it is questioned first. */
  function commit(field, { sure = false } = {}) {
    if (grid.valueOf(field) === grid.kept.get(field.name)) return true;
    const typed = grid.withUnit(field, grid.valueOf(field));
    if (!sure && field.dataset.limits) {
      const found = question(typed, grid.unit, field.dataset.limits.split(" ").map(Number));
      if (found) {
        askMeaning(field, typed, found);
        return false;
      }
    }
    grid.put(field, typed);
    field.removeAttribute("aria-invalid");
    asking.close(field);
    send(field, typed, sure, 0);
    return true;
  }

  function send(field, typed, sure, settles) {
    const entry = {
      job: grid.job,
      after: grid.after,
      staff: grid.staff,
      staffName: grid.staffName,
      cell: field.name,
      typed,
      sure,
      settles,
      key: newKey(),
      replaces: grid.key.get(field.name),
    };
    grid.key.set(field.name, entry.key);
    grid.waiting.set(field.name, entry.key);
    grid.show(field, "keeping", "");
    const isNewest = () => grid.waiting.get(field.name) === entry.key;
    const kept = keep(entry).then(
      () => {
        if (isNewest()) grid.show(field, "waiting", "kept here");
        post.kick();
      },
      () => {
        const words = "not kept: this browser has no room. Use the save button.";
        if (!isNewest()) return grid.show(field, "problem", words);
        grid.waiting.delete(field.name);
        grid.key.set(field.name, entry.replaces);
        grid.mark(field, words);
      },
    );
    keeping.add(kept);
    kept.finally(() => keeping.delete(kept));
  }

  /** Asked as somebody at the next bench would, and in the unit that it was typed in. */
  function askMeaning(field, typed, { part, isTooMuch, likely }) {
    const inOwn = part.endsWith("mm") || grid.unit === "mm" ? inMillimetres : inInches;
    const meant = likely === undefined ? null : inOwn(likely).replace("\u00a0", " ");
    const is = `${grid.labelOf(field)}: ${part} is far too ${isTooMuch ? "much" : "little"} here.`;
    const words = meant ? `${is} Did you mean ${meant}?` : `${is} Read it again.`;
    field.setAttribute("aria-invalid", "true");
    asking.ask({
      field,
      typed: grid.valueOf(field),
      words,
      yes: Boolean(meant),
      answers: [
        ...(meant ? [[`Yes, ${meant}`, () => retype(field, typed.replace(part, meant))]] : []),
        [`No, it is ${part}`, () => retype(field, typed, { sure: true })],
        ["Read it again", () => field.select()],
      ],
    });
    field.select();
  }

  function retype(field, typed, options) {
    field.value = typed;
    field.removeAttribute("aria-invalid");
    if (commit(field, options)) goOn(field);
  }

  /** Keeps a field that is left, unless just that was questioned or refused already. */
  function leave(field) {
    const tried = [asking.of(field.name)?.typed, grid.failed.get(field.name)];
    if (!tried.includes(grid.valueOf(field))) commit(field);
  }

  return {
    commit,
    send,
    retype,
    leave,
    kick: post.kick,
    isKeeping: () => keeping.size > 0,
    allKept: () => Promise.allSettled(keeping),
  };
}
