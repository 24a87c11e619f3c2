// The page's words, in the recipe's language.

/** @type {Record<string, string>} */
let known = {};

/** @param {Record<string, string>} words */
export function speak(words) {
  known = words;
}

/** A text with its blanks filled in. @param {string} key @param {...(string | number)} values */
export function say(key, ...values) {
  const text = known[key];
  if (text === undefined) throw new Error(`no word for ${key}`);
  return text.replace(/\{(\d)\}/g, (_, index) => String(values[Number(index)] ?? ""));
}

/** A number with one decimal, with the point or comma of the page's language. @param {number} value */
export function decimal(value) {
  const digits = { minimumFractionDigits: 1, maximumFractionDigits: 1, useGrouping: false };
  return value.toLocaleString(document.documentElement.lang || "en", digits);
}
