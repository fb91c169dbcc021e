// Lengths as they are typed, for the echo and the question that must not wait for the server. The server reads
// every value again and has the last word; both read alike, by one table of cases (tests/lengths.json).

const INCH = 25400n;
const LONGEST = 10000000n;
const UNITS = {
  "": undefined,
  mm: "mm",
  millimetre: "mm",
  millimetres: "mm",
  millimeter: "mm",
  millimeters: "mm",
  '"': "inches",
  "''": "inches",
  in: "inches",
  inch: "inches",
  inches: "inches",
};

/** Micrometres of one value; NaN where it cannot be read. A bare number is in `unit`, "mm" or "inches". */
export function micrometres(typed, unit) {
  const text = tidy(typed);
  const start = text.search(/[\p{L}"']/u);
  const number = (start < 0 ? text : text.slice(0, start)).trim();
  const named = start < 0 ? "" : text.slice(start).trim().replace(/\.+$/, "");
  if (!text || text.length > 40 || !Object.hasOwn(UNITS, named)) return NaN;
  const isNegative = /^[-−]/.test(number);
  const amount = number.replace(isNegative ? /^[-−]/ : /^\+/, "").trimStart();
  const isFraction = amount.includes("/");
  const read = isFraction ? fraction(amount) : decimal(amount);
  if (!read) return NaN;
  const isInches = (UNITS[named] ?? (isFraction ? "inches" : unit)) === "inches";
  const [top, bottom] = read;
  // half away from zero, exactly
  const length = (top * (isInches ? INCH : 1000n) + bottom / 2n) / bottom;
  if (length > LONGEST) return NaN;
  return isNegative && length ? -Number(length) : Number(length);
}

function tidy(typed) {
  const plain = typed
    .replace(/[\u200b-\u200f\ufeff\u2060]/g, "")
    .replace(/[\u00a0\u202f\u2009]/g, " ")
    .replace(/[″”“]/g, '"')
    .replace(/[⁄∕]/g, "/");
  return plain.trim().toLowerCase();
}

/** A decimal as a fraction of whole numbers, so that 1.75 is 175/100; null where it is none. */
function decimal(number) {
  const match = number.match(/^(\d{0,9})(?:([.,])(\d{0,9}))?$/);
  if (!match) return null;
  const [, whole, point, rest = ""] = match;
  if (!whole && !rest) return null;
  // 1,750 can be one and three quarters or a thousand seven hundred and fifty
  if (point === "," && rest.length === 3 && whole && whole !== "0") return null;
  return [BigInt(whole + rest), 10n ** BigInt(rest.length)];
}

/** `9/128`, `4.5/64`, `1 1/4`. */
function fraction(number) {
  const cut = number.indexOf("/");
  const above = number.slice(0, cut).trim();
  const below = number.slice(cut + 1).trim();
  if (!/^\+?\d{1,4}$/.test(below)) return null;
  const blank = above.lastIndexOf(" ");
  const whole = blank < 0 ? [0n, 1n] : decimal(above.slice(0, blank).trim());
  const top = decimal(above.slice(blank + 1));
  const bottom = BigInt(below.replace("+", ""));
  if (!whole || !top || bottom < 1n || bottom > 1024n) return null;
  return [whole[0] * top[1] * bottom + top[0] * whole[1], whole[1] * top[1] * bottom];
}

/** Repeats stand behind semicolons. */
export function repeats(text) {
  return text.split(";").map((part) => part.trim()).filter(Boolean);
}

/** Each bare figure with its unit, so that nobody reads it in another one: those of `before` in the shop's, new ones in `own`. */
export function withUnits(text, before, own, shop) {
  const stood = repeats(before);
  const parts = repeats(text).map((part) => {
    if (!/^[+\-−]?[\d.,]+$/.test(part)) return part;
    const place = stood.indexOf(part);
    if (place >= 0) stood.splice(place, 1);
    const unit = place >= 0 ? shop : own;
    if (unit === "64ths") return `${part}/64`;
    return unit === "mm" ? `${part} mm` : `${part} in`;
  });
  return parts.join("; ");
}

/** "1.75 mm": as many decimals as the length has, at least two below ten. */
export function inMillimetres(length) {
  const size = Math.abs(length);
  const whole = Math.floor(size / 1000);
  const decimals = String(size % 1000).padStart(3, "0");
  const kept = decimals.replace(/0+$/, "");
  const shown = whole < 10 && kept.length < 2 ? decimals.slice(0, 2) : kept;
  return `${length < 0 ? "−" : ""}${whole}${shown && "."}${shown}\u00a0mm`;
}

/** "0.069 in", to the thousandth. */
export function inInches(length) {
  const thousandths = Math.floor((Math.abs(length) * 1000 + 12700) / 25400);
  const decimals = String(thousandths % 1000).padStart(3, "0");
  return `${length < 0 ? "−" : ""}${Math.floor(thousandths / 1000)}.${decimals}\u00a0in`;
}

/** "1.75 mm · 0.069 in"; a number is not parted from its unit. */
export function inBoth(length) {
  return `${inMillimetres(length)} · ${inInches(length)}`;
}

/** What was typed, in both systems; of repeats their mean. Empty where it cannot be read. */
export function echo(text, unit, isCents) {
  const values = repeats(text).map((part) => (isCents ? cents(part) : micrometres(part, unit)));
  if (!values.length || values.some(Number.isNaN)) return "";
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  const words = isCents ? `${mean < 0 ? "−" : "+"}${Math.abs(mean).toFixed(1)} cents` : inBoth(Math.round(mean));
  return values.length > 1 ? `mean\u00a0of\u00a0${values.length}: ${words}` : words;
}

function cents(text) {
  return /^[+\-−]?[\d.,]+$/.test(text) ? Number(text.replace(",", ".").replace("−", "-")) : NaN;
}

/**
 * Questions a value that cannot stand in its place. `limits` are least, most and what is usual, in micrometres.
 * Answers the first part that is outside, with the likely meaning where there is one.
 */
export function question(text, unit, limits) {
  const [least, most, usualLeast, usualMost] = limits;
  for (const part of repeats(text)) {
    const value = micrometres(part, unit);
    if (Number.isNaN(value) || (value >= least && value <= most)) continue;
    // a lost decimal point, thousandths of an inch, inches typed as mm, mm typed as inches
    const meant = [
      ...(value % 10 ? [] : [value / 10]),
      value / 100,
      (Math.trunc(value / 1000) * 254) / 10,
      (value * 254) / 10,
      (value * 10) / 254,
      value * 10,
      value * 100,
    ];
    const likely = meant.map(Math.trunc).find((length) => length >= usualLeast && length <= usualMost);
    return { part, value, likely, isTooMuch: value > most };
  }
  return null;
}
