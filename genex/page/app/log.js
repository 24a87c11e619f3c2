// The log of practice: one line a day, lesson and key, with the tempo reached and the minutes.

import { csv, el, save } from "#dom";
import { say } from "#words";

/** @typedef {{date: string, lesson: string, key: string, tempo: number, seconds: number}} Entry */

const MOST = 2000;

/** @param {Entry[]} entries @param {Omit<Entry, "seconds" | "tempo"> & {tempo: number, seconds: number}} played
 * @returns {Entry[]} */
export function noted(entries, played) {
  const same = (/** @type {Entry} */ one) =>
    one.date === played.date && one.lesson === played.lesson && one.key === played.key;
  const found = entries.find(same);
  if (!found) return [...entries, played].slice(-MOST);
  const more = {
    ...found,
    tempo: Math.max(found.tempo, played.tempo),
    seconds: found.seconds + played.seconds,
  };
  return entries.map((one) => (one === found ? more : one));
}

/** A day as people of any country can read it and tables can sort it [published: ISO 8601].
 * @param {Date} date */
export function day(date) {
  const two = (/** @type {number} */ number) => String(number).padStart(2, "0");
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}`;
}

/** What storage holds, as far as it is what was written there. @param {any} kept @returns {Entry[]} */
export function entriesOf(kept) {
  if (!Array.isArray(kept)) return [];
  return kept.filter(
    (one) =>
      one && ["date", "lesson", "key"].every((name) => typeof one[name] === "string") &&
      Number.isFinite(one.tempo) && Number.isFinite(one.seconds),
  );
}

export class Log {
  /** @param {import("#store").Shelf} shelf */
  constructor(shelf) {
    this.shelf = shelf;
    this.entries = entriesOf(shelf.read("log", []));
    this.body = el("tbody", {});
    this.empty = el("p", { class: "hint" }, say("log_empty"));
    const heads = ["date", "lesson", "key", "tempo", "minutes"].map((name) => el("th", { scope: "col" }, say(`log_${name}`)));
    this.table = el("table", {}, el("thead", {}, el("tr", {}, ...heads)), this.body);
    this.node = el(
      "div",
      { class: "log" },
      this.empty,
      el("div", { class: "wide", tabindex: "0", role: "group", "aria-label": say("log") }, this.table),
      el(
        "div",
        { class: "row" },
        el("button", { type: "button", click: () => this.export() }, say("export")),
        el("button", { type: "button", click: () => print() }, say("print")),
        el("button", { type: "button", click: () => this.clear() }, say("clear")),
      ),
      el("p", { class: "hint" }, say("private")),
    );
    this.write();
  }

  /** @param {Entry} played */
  add(played) {
    if (played.seconds < 1) return;
    this.entries = noted(this.entries, played);
    this.shelf.write("log", this.entries);
    this.write();
  }

  cells(/** @type {Entry} */ { date, lesson, key, tempo, seconds }) {
    return [date, lesson, key, Math.round(tempo), Math.max(1, Math.round(seconds / 60))];
  }

  write() {
    this.empty.hidden = this.entries.length > 0;
    this.table.hidden = !this.entries.length;
    this.body.replaceChildren(
      ...this.entries.map((entry) => el("tr", {}, ...this.cells(entry).map((cell) => el("td", {}, String(cell))))),
    );
  }

  export() {
    const rows = this.entries.map((entry) => this.cells(entry));
    save("practice.csv", csv([["date", "lesson", "key", "tempo", "minutes"], ...rows]), "text/csv");
  }

  clear() {
    this.entries = [];
    this.shelf.write("log", []);
    this.write();
  }
}
