// The grid's fields: what each holds on the page, on this tablet and in the books, and how it shows that.

import { echo, withUnits } from "./bench-length.js";

const CANNOT = "not measurable:";
/** More characters do not fit into a cell in a size that can be read; the page's own count is the same. */
const MOST_CHARACTERS = 12;

/** A cell that cannot be measured holds the reason in place of a value. */
export const notMeasurable = (reason) => `${CANNOT} ${reason}`;

export class Grid {
  // the value a field was last kept with, and the key of the entry it has as far as this tablet knows
  kept = new Map();
  key = new Map();
  // what the books have in a cell, as they last said it
  inBooks = new Map();
  // keys of values that have not reached the books
  waiting = new Map();
  // text that was refused or found no room: it is not tried again for being left, which would move the page under a finger
  failed = new Map();
  // a button that leaves was pressed: nothing is asked or taken over any more
  isLeaving = false;
  // hears that something on the page has changed
  changed = () => {};

  constructor(form) {
    const { job, staff, staffName, unit } = form.dataset;
    Object.assign(this, { form, job, staff, staffName, unit });
    this.cells = [...form.querySelectorAll("input[data-cell]")];
    const alongside = form.querySelectorAll("[data-alongside] input, [data-alongside] select");
    this.fields = [...this.cells, ...alongside];
    // figures too, though no places of the grid
    this.air = ["temperature", "humidity"].map((name) => form.elements[name]);
    this.numbers = [...this.cells, ...this.air];
    this.after = form.elements.after.value;
    this.seen = Number(form.elements.seen.value);
    for (const field of this.fields) {
      this.kept.set(field.name, this.valueOf(field));
      this.key.set(field.name, field.dataset.key ?? field.closest("[data-alongside]")?.dataset.alongside ?? "");
    }
  }

  valueOf = (field) => (field.type === "radio" ? this.form.elements[field.name].value : field.value.trim());
  fieldOf = (name) => this.fields.find((field) => field.name === name);
  labelOf = (field) => this.form.querySelector(`label[for="${field.id}"]`)?.textContent ?? field.name;
  /** What stands in it has been kept nowhere yet. */
  isLoose = (field) => field.type !== "radio" && this.valueOf(field) !== this.kept.get(field.name);

  /** The page knows the books up to this entry. */
  sawUpTo(seen) {
    this.seen = Math.max(this.seen, seen ?? 0);
    this.form.elements.seen.value = this.seen;
  }

  show = (field, state, words) => {
    const place = field.parentElement.querySelector("[data-kept]");
    field.dataset.state = state;
    if (place && place.textContent !== words) {
      place.textContent = words;
      place.toggleAttribute("data-mark", words.length === 1);
    }
    this.changed();
  };

  /** Shows again what a field was kept with: nothing is asked about it any more. */
  showKept(field) {
    const isKept = Boolean(this.kept.get(field.name));
    if (this.waiting.has(field.name)) this.show(field, "waiting", "kept here");
    else this.show(field, isKept ? "saved" : "", isKept ? "✓" : "");
  }

  /** How many values on the page are asked about, were not taken, and are being typed. */
  unsaved() {
    const count = { asked: 0, refused: 0, typed: 0 };
    for (const field of this.fields) {
      const { state } = field.dataset;
      if (state === "questioned" || state === "disputed") count.asked += 1;
      else if (state === "problem") count.refused += 1;
      else if (this.isLoose(field)) count.typed += 1;
    }
    return count;
  }

  showEcho = (field) => {
    this.changed();
    const place = field.parentElement.querySelector("[data-echo]");
    if (!place) return;
    const typed = this.valueOf(field);
    const words = typed.startsWith(CANNOT) ? typed : echo(this.withUnit(field, typed), this.unit, isCents(field));
    if (place.textContent !== words) place.textContent = words;
    field.classList.toggle("cannot-be-read", typed.startsWith(CANNOT));
    field.classList.toggle("read", typed !== "");
    // as large as its cell has room for; what has no room in one line stands whole below it
    field.dataset.chars = Math.min(typed.length, MOST_CHARACTERS);
    const whole = field.parentElement.querySelector("[data-whole]");
    if (whole) whole.textContent = typed.length > MOST_CHARACTERS && !typed.startsWith(CANNOT) ? typed : "";
  };

  /** Shows a value that is kept. */
  put(field, typed) {
    if (field.type === "radio") {
      this.form.elements[field.name].value = typed;
    } else {
      field.value = typed;
    }
    this.kept.set(field.name, typed);
    this.showEcho(field);
  }

  /** Marks a value that was not taken: it stays in its cell, kept nowhere. */
  mark(field, words) {
    this.kept.set(field.name, null);
    this.failed.set(field.name, this.valueOf(field));
    this.show(field, "problem", words);
  }

  /** As it is kept: what stood there before is in the shop's unit, what this person typed in their calliper's. */
  withUnit(field, typed) {
    if (isCents(field) || !field.dataset.limits || typed.startsWith(CANNOT)) return typed;
    return withUnits(typed, this.kept.get(field.name) ?? "", calliperUnit(), this.unit);
  }
}

const isCents = (field) => field.name.startsWith("cents");

/** The unit the person in hand types bare figures in: "mm", "inch" or "64ths". */
const calliperUnit = () => document.querySelector("input[name=typing]:checked")?.value ?? "mm";
