// What the neck shows beside the line: a chord's shape in one form, or its tones over the whole neck.

import { say } from "#words";

/** @typedef {import("#types").Lesson} Lesson */
/** @typedef {import("#types").Setting} Setting */
/** @typedef {import("#types").NeckData} NeckData */
/** @typedef {{string: number, fret: number, finger: number, degree: string, name: number}} Dot */

export const LINE = "line";
export const WHOLE = "whole";

/** What may be shown. @param {NeckData | null} neck */
export function views(neck) {
  return neck ? [LINE, ...neck.forms, WHOLE] : [LINE];
}

/** What a view is called. @param {string} view */
export function viewName(view) {
  if (view === LINE) return say("neck_line");
  if (view === WHOLE) return say("neck_whole");
  return /^\d+$/.test(view) ? say("neck_form_number", view) : say("neck_form", view);
}

/** The shape of a chord in a form; undefined where this neck has none.
 * @param {NeckData} neck @param {Setting} setting @param {number} shift index of the key
 * @param {number} chord @param {string} form */
export function shapeOf(neck, setting, shift, chord, form) {
  const set = neck.sets[setting.keys[shift].shapes[chord]] ?? [];
  return set.find(([name]) => name === form);
}

/** Places of a chord in a view, in the key chosen.
 * @param {NeckData} neck @param {Setting} setting @param {number} shift index of the key
 * @param {number} chord @param {string} view @returns {Dot[]} */
export function dotsOf(neck, setting, shift, chord, view) {
  if (chord < 0) return [];
  const steps = shift - setting.home;
  const tones = new Map(setting.tones[chord].map(([degree, name, pitch]) => [(((pitch + steps) % 12) + 12) % 12, { degree, name }]));
  const toneAt = (/** @type {number} */ string, /** @type {number} */ fret) =>
    tones.get((neck.strings[string - 1] + neck.capo + fret) % 12);
  /** @type {[number, number, number][]} */
  const places = [];
  if (view === WHOLE) {
    for (let string = 1; string <= neck.strings.length; string++) {
      for (let fret = 0; fret <= neck.frets; fret++) places.push([string, fret, -1]);
    }
  } else places.push(...(shapeOf(neck, setting, shift, chord, view)?.[2] ?? []));
  return places.flatMap(([string, fret, finger]) => {
    const tone = toneAt(string, fret);
    return tone ? [{ string, fret, finger, ...tone }] : [];
  });
}

/** Places in words: string by string, from the lowest. @param {Dot[]} dots */
export function spoken(dots) {
  const strings = [...new Set(dots.map(({ string }) => string))].sort((a, b) => b - a);
  return strings
    .map((string) => {
      const frets = dots.filter((dot) => dot.string === string).map(({ fret }) => fret);
      return say("string_frets", string, frets.sort((a, b) => a - b).join(", "));
    })
    .join("; ");
}
