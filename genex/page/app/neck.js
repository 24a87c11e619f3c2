// The neck: the places of the line over the chord that sounds, the note that sounds, the next one.

import { draw, el } from "#dom";
import { say } from "#words";

/** @typedef {import("#types").NoteEvent} NoteEvent */
/** @typedef {import("#main").Scene} Scene */

const STEP = 34; // drawing units from string to string
const WIDE = 46; // from fret to fret
const LEFT = 34;
const TOP = 20;
const INLAYS = new Set([3, 5, 7, 9, 12, 15, 17, 19, 21, 24]);

export class Neck {
  /** @param {(key: number, place: string) => void} played when somebody chooses a place */
  constructor(played) {
    this.played = played;
    this.box = el("div", { class: "neck-box" });
    this.words = el("p", { class: "hint" });
    this.node = el("div", { class: "neck" }, this.box, this.words);
    /** @type {Map<string, SVGElement>} */
    this.dots = new Map();
    /** @type {NoteEvent[]} */
    this.notes = [];
    this.last = "";
  }

  /** @param {Scene} scene */
  show(scene) {
    this.scene = scene;
    const { part } = scene;
    this.notes = part ? part.notes.filter((note) => note.string > 0) : [];
    this.last = "";
    if (!part || !part.strings.length || !this.notes.length) {
      this.box.replaceChildren();
      this.words.textContent = say("neck_none");
      return;
    }
    this.words.textContent = "";
    const move = part.shifts[scene.shift];
    const frets = this.notes.map((note) => note.fret + move);
    const low = Math.min(...frets);
    this.first = low <= 2 ? 0 : low - 1;
    this.end = Math.max(Math.max(...frets) + 1, this.first + 5);
    this.move = move;
    this.draw(part.strings.length);
    this.at(scene.tick, true);
  }

  /** @param {number} string @param {number} fret */
  place(string, fret) {
    const first = this.first ?? 0;
    const end = this.end ?? 5;
    const steps = fret - first;
    const x = LEFT + (fret === first && first === 0 ? -WIDE * 0.35 : (steps - 0.5) * WIDE);
    const width = LEFT * 2 + (end - first) * WIDE;
    return { x: this.scene?.left ? width - x : x, y: TOP + (string - 1) * STEP };
  }

  /** @param {number} strings */
  draw(strings) {
    const [first, end] = [this.first ?? 0, this.end ?? 5];
    const width = LEFT * 2 + (end - first) * WIDE;
    const height = TOP * 2 + (strings - 1) * STEP + 18;
    const sideways = (/** @type {number} */ x) => (this.scene?.left ? width - x : x);
    const picture = draw("svg", {
      viewBox: `0 0 ${width} ${height}`, class: "neck-picture", role: "img",
      "aria-label": say("neck_text", first, end),
    });
    const bottom = TOP + (strings - 1) * STEP;
    for (let fret = first; fret <= end; fret++) {
      const x = sideways(LEFT + (fret - first) * WIDE);
      picture.append(draw("line", { x1: x, x2: x, y1: TOP, y2: bottom, class: fret ? "fret" : "nut" }));
      if (fret > first) {
        const middle = this.place(1, fret).x;
        const inlay = INLAYS.has(fret + (this.scene?.part?.capo ?? 0));
        if (inlay) picture.append(draw("circle", { cx: middle, cy: TOP + ((strings - 1) * STEP) / 2, r: 6, class: "inlay" }));
        picture.append(draw("text", { x: middle, y: bottom + 30, class: inlay ? "fret-number strong" : "fret-number" }, String(fret)));
      }
    }
    for (let string = 1; string <= strings; string++) {
      const y = TOP + (string - 1) * STEP;
      picture.append(draw("line", {
        x1: sideways(LEFT), x2: sideways(LEFT + (end - first) * WIDE), y1: y, y2: y, class: "string",
        "stroke-width": 1 + string * 0.35,
      }));
    }
    this.layer = draw("g", {});
    picture.append(this.layer);
    picture.addEventListener("click", (event) => this.clicked(/** @type {MouseEvent} */ (event), picture, width, strings));
    this.box.replaceChildren(picture);
  }

  /** @param {MouseEvent} event @param {SVGElement} picture @param {number} width @param {number} strings */
  clicked(event, picture, width, strings) {
    const box = picture.getBoundingClientRect();
    const scale = width / box.width;
    let x = (event.clientX - box.left) * scale;
    if (this.scene?.left) x = width - x;
    const first = this.first ?? 0;
    const string = Math.round(((event.clientY - box.top) * scale - TOP) / STEP) + 1;
    const fret = x < LEFT ? first : first + Math.floor((x - LEFT) / WIDE) + 1;
    if (string < 1 || string > strings || !this.scene?.part) return;
    const { part } = this.scene;
    this.played(part.strings[string - 1] + part.capo + fret, say("string_fret", string, fret));
  }

  /** What is written on a dot. @param {NoteEvent} note */
  text(note) {
    const label = this.scene?.label;
    if (label === "fingers") return note.finger < 0 || (note.finger === 0 && this.move) ? "" : String(note.finger);
    if (label === "notes") return note.name < 0 ? "" : (this.scene?.key.names[note.name] ?? "");
    return note.degree || (note.name < 0 ? "" : (this.scene?.key.names[note.name] ?? ""));
  }

  /** @param {number} tick @param {boolean} [anew] */
  at(tick, anew = false) {
    const { scene, notes, layer } = this;
    if (!scene || !layer || !notes.length) return;
    const span = scene.setting.chords.findLast((one) => one.at <= Math.max(0, tick)) ?? scene.setting.chords[0];
    const shape = notes.filter((note) => note.at >= span.at && note.at < span.at + span.length);
    const sounding = notes.filter((note) => note.at + note.start <= tick && tick < note.at + note.start + note.length);
    const after = notes.find((note) => note.at + note.start > tick && note.at < scene.to) ?? notes.find((note) => note.at >= scene.from);
    const next = after ? notes.filter((note) => note.at === after.at) : [];
    const covered = scene.isCovered(tick);
    const state = [span.at, covered, sounding.map((n) => n.at), after?.at, scene.playing].join("|");
    if (state === this.last && !anew) return;
    this.last = state;
    if (covered) {
      layer.replaceChildren();
      this.words.textContent = say("covered");
      return;
    }
    /** @type {Map<string, {note: NoteEvent, kind: string}>} */
    const places = new Map();
    const put = (/** @type {NoteEvent} */ note, /** @type {string} */ kind) => {
      places.set(`${note.string}/${note.fret}`, { note, kind });
    };
    for (const note of shape) put(note, "shape");
    if (scene.playing) for (const note of next) put(note, "next");
    for (const note of sounding) put(note, "now");
    layer.replaceChildren(...[...places.values()].map(({ note, kind }) => this.dot(note, kind)));
    const move = next[0]?.move;
    const text = scene.playing && next[0] ? [say("next"), say("string_fret", next[0].string, next[0].fret + (this.move ?? 0))] : [];
    if (text.length && move) text.push(say(move));
    this.words.textContent = text.join(" · ");
  }

  /** @param {NoteEvent} note @param {string} kind */
  dot(note, kind) {
    const { x, y } = this.place(note.string, note.fret + (this.move ?? 0));
    const root = note.degree === "1";
    return draw(
      "g",
      { class: `dot ${kind}${root ? " root" : ""}`, transform: `translate(${x} ${y})` },
      kind === "now" ? draw("circle", { r: 21, class: "halo" }) : null,
      root ? draw("rect", { x: -14, y: -14, width: 28, height: 28, rx: 4 }) : draw("circle", { r: 15 }),
      draw("text", { y: 5.5 }, this.text(note)),
    );
  }
}
