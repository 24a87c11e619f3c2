// A plain tab, drawn here: for keys that were not built, long pieces, and browsers that cannot unpack.

import { chordText } from "#chart";
import { draw } from "#dom";

/** @typedef {import("#main").Scene} Scene */
/** @typedef {import("#types").System} System */

const STEP = 11;
const TOP = 34;
const SAID = 12; // room for a row of words between chords and bar numbers
const WIDTH = 640;

/** Systems of a few bars each, with the places of their notes.
 * @param {Scene} scene @param {number} bars_each
 * @returns {{picture: SVGElement, places: [number, number][], from: number, to: number}[]} */
export function tabSystems({ setting, part, shift, key }, bars_each) {
  if (!part || !part.strings.length) return [];
  const found = [];
  const strings = part.strings.length;
  const move = part.shifts[shift];
  const top = TOP + (part.notes.some(({ said }) => said) ? SAID : 0);
  for (let first = 0; first < setting.bars.length; first += bars_each) {
    const bars = setting.bars.slice(first, first + bars_each);
    const height = top + (strings - 1) * STEP + 16;
    const picture = draw("svg", { viewBox: `0 0 ${WIDTH} ${height}`, class: "tab-picture", "aria-hidden": "true" });
    /** @type {[number, number][]} */
    const places = [];
    const bottom = top + (strings - 1) * STEP;
    for (let string = 0; string < strings; string++) {
      picture.append(draw("line", { x1: 0, x2: WIDTH, y1: top + string * STEP, y2: top + string * STEP, class: "string" }));
    }
    const wide = WIDTH / bars_each;
    bars.forEach((bar, index) => {
      const left = index * wide;
      const inner = wide - 22;
      const x = (/** @type {number} */ tick) => left + 14 + (inner * (tick - bar.at)) / bar.length;
      picture.append(draw("line", { x1: left, x2: left, y1: top, y2: bottom, class: "fret" }));
      picture.append(draw("text", { x: left + 2, y: top - 6, class: "bar-number" }, String(bar.number)));
      for (const { at, chord, pushed } of bar.chords) {
        const text = chordText(chord, key.chords, pushed);
        picture.append(draw("text", { x: x(at), y: 12, class: "chord" }, text));
      }
      for (const note of part.notes) {
        if (note.at < bar.at || note.at >= bar.at + bar.length || !note.string) continue;
        const y = top + (note.string - 1) * STEP;
        const text = String(note.fret + move);
        picture.append(draw("rect", { x: x(note.at) - 3.4 * text.length, y: y - 5, width: 6.8 * text.length, height: 10, class: "paper" }));
        picture.append(draw("text", { x: x(note.at), y: y + 3.8, class: "digit" }, text));
        if (note.said && !places.some(([at]) => at === note.at)) {
          picture.append(draw("text", { x: x(note.at), y: TOP - 8, class: "said" }, note.said));
        }
        places.push([note.at, x(note.at) / WIDTH]);
      }
    });
    const end = Math.min(WIDTH, bars.length * wide);
    picture.append(draw("line", { x1: end, x2: end, y1: top, y2: bottom, class: "fret" }));
    const last = bars[bars.length - 1];
    places.sort((a, b) => a[0] - b[0]);
    found.push({ picture, places, from: bars[0].at, to: last.at + last.length });
  }
  return found;
}
