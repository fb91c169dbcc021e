// The grid's fields: what each holds on the page, on this tablet and in the books, and how it shows that.

import { echo, withUnits } from "./bench-length.js";

const CANNOT = "not measurable:";

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
    if (!place || place.textContent === words) return;
    place.textContent = words;
    place.toggleAttribute("data-mark", words.length === 1);
  };

  showEcho = (field) => {
    const place = field.parentElement.querySelector("[data-echo]");
    if (!place) return;
    const typed = this.valueOf(field);
    const words = typed.startsWith(CANNOT) ? typed : echo(this.withUnit(field, typed), this.unit, isCents(field));
    if (place.textContent !== words) place.textContent = words;
    field.classList.toggle("cannot-be-read", typed.startsWith(CANNOT));
    field.classList.toggle("read", typed !== "");
    field.classList.toggle("with-unit", /\d (mm|in)$|\d\/64$/.test(typed));
    field.classList.toggle("long", typed.length > 9);
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
