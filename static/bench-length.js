// Lengths as they are typed, for the echo and the question that must not wait for the server. The server reads
// every value again and has the last word.

const INCH = 25400;

/** Micrometres of one value; NaN where it cannot be read here. `unit` is "mm" or "inches". */
export function micrometres(text, unit) {
  const match = text.trim().toLowerCase().match(/^([+\-−]?)\s*(?:(\d+)\s+)?([\d.,]+)(?:\s*\/\s*(\d+))?\s*(mm|in|inch|inches|")?$/);
  if (!match) return NaN;
  const [, sign, whole, number, bottom, named] = match;
  if (whole && !bottom) return NaN;
  const value = Number(number.replace(",", ".")) / Number(bottom ?? 1) + Number(whole ?? 0);
  const inches = named ? named !== "mm" : Boolean(bottom) || unit === "inches";
  const length = Math.round(value * (inches ? INCH : 1000));
  return sign && sign !== "+" ? -length : length;
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

/** "1.75 mm · 0.069 in". */
export function inBoth(length) {
  // a number is not parted from its unit
  const mm = (length / 1000).toFixed(3).replace(/0$/, "");
  return `${mm}\u00a0mm · ${(length / INCH).toFixed(3)}\u00a0in`.replaceAll("-", "−");
}

/** What was typed, in both systems; of repeats their mean. Empty where it cannot be read here. */
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
    const meant = [value / 10, value / 100, (value / 1000) * 25.4, value * 25.4, value / 25.4, value * 10, value * 100];
    const likely = meant.map(Math.round).find((length) => length >= usualLeast && length <= usualMost);
    return { part, value, likely };
  }
  return null;
}
