// The neck: the places of the line over the chord that sounds, the note that sounds, the next one.

import { draw, el } from "#dom";
import { LINE, WHOLE, dotsOf, spoken, viewName } from "#shapes";
import { say } from "#words";

/** @typedef {import("#types").NoteEvent} NoteEvent */
/** @typedef {import("#shapes").Dot} Dot */
/** @typedef {import("#main").Scene} Scene */

const STEP = 34; // drawing units from string to string
const WIDE = 46; // from fret to fret
const LEFT = 34;
const TOP = 24; // room for the halo of a note on the first string
const INLAYS = new Set([3, 5, 7, 9, 12, 15, 17, 19, 21, 24]);

/** A note of a line where it lies in the key chosen; an open string that is fretted there has no finger.
 * @param {NoteEvent} note @param {number} move frets */
function moved(note, move) {
  return move ? { ...note, fret: note.fret + move, finger: note.finger === 0 ? -1 : note.finger } : note;
}

export class Neck {
  /** @param {(key: number, place: string) => void} played when somebody chooses a place */
  constructor(played) {
    this.played = played;
    this.box = el("div", { class: "neck-box" });
    this.words = el("p", { class: "hint" });
    this.node = el("div", { class: "neck" }, this.box, this.words);
    /** @type {NoteEvent[]} */
    this.notes = [];
    /** @type {number[]} */
    this.strings = [];
    this.capo = 0;
    this.last = "";
  }

  /** @param {Scene} scene */
  show(scene) {
    this.scene = scene;
    const { part, view } = scene;
    const { neck } = scene.lesson;
    const shown = view === LINE ? null : neck;
    const isSame = !shown || (part?.capo === shown.capo && String(part.strings) === String(shown.strings));
    const move = part && isSame ? part.shifts[scene.shift] : 0;
    this.notes = part && isSame ? part.notes.filter((note) => note.string > 0).map((note) => moved(note, move)) : [];
    this.strings = shown ? shown.strings : (part?.strings ?? []);
    this.capo = (shown ?? part)?.capo ?? 0;
    this.last = "";
    this.layer = undefined;
    const frets = this.notes.map(({ fret }) => fret);
    if (shown) for (const chord of scene.setting.tones.keys()) frets.push(...this.dots(chord).map(({ fret }) => fret));
    if (!this.strings.length || !frets.length) {
      this.box.replaceChildren();
      this.words.textContent = say("neck_none");
      return;
    }
    this.words.textContent = "";
    const low = Math.min(...frets);
    this.first = low <= 2 ? 0 : low - 1;
    this.end = view === WHOLE ? Math.max(...frets) : Math.max(Math.max(...frets) + 1, this.first + 5);
    this.draw(this.strings.length);
    this.at(scene.tick, true);
  }

  /** Places of a chord in the view chosen. @param {number} chord @returns {Dot[]} */
  dots(chord) {
    const { scene } = this;
    if (!scene?.lesson.neck || scene.view === LINE) return [];
    return dotsOf(scene.lesson.neck, scene.setting, scene.shift, chord, scene.view);
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
        const inlay = INLAYS.has(fret + this.capo);
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
    this.picture = picture;
    // A long neck keeps its size on a narrow screen; the box is moved, by keyboard too.
    const isLong = end - first > 12;
    picture.style.minWidth = isLong ? `${(end - first) * 1.9}rem` : "";
    for (const [name, value] of [["tabindex", "0"], ["role", "group"], ["aria-label", say("neck")]]) {
      if (isLong) this.box.setAttribute(name, value);
      else this.box.removeAttribute(name);
    }
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
    if (string < 1 || string > strings || !this.scene) return;
    this.played(this.strings[string - 1] + this.capo + fret, say("string_fret", string, fret));
  }

  /** What is written on a dot. @param {Dot} dot */
  text(dot) {
    const label = this.scene?.label;
    if (label === "fingers") return dot.finger < 0 ? "" : String(dot.finger);
    if (label === "notes") return dot.name < 0 ? "" : (this.scene?.key.names[dot.name] ?? "");
    return dot.degree || (dot.name < 0 ? "" : (this.scene?.key.names[dot.name] ?? ""));
  }

  /** @param {number} tick @param {boolean} [anew] */
  at(tick, anew = false) {
    const { scene, notes, layer } = this;
    if (!scene || !layer) return;
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
      this.picture?.setAttribute("aria-label", say("neck_text", this.first ?? 0, this.end ?? 5));
      return;
    }
    /** @type {Map<string, {note: Dot, kind: string}>} */
    const places = new Map();
    const put = (/** @type {Dot} */ note, /** @type {string} */ kind) => {
      places.set(`${note.string}/${note.fret}`, { note, kind });
    };
    const dots = scene.view === LINE ? shape : this.dots(span.chord);
    for (const dot of dots) put(dot, "shape");
    if (scene.playing) for (const note of next) put(note, "next");
    for (const note of sounding) put(note, "now");
    layer.replaceChildren(...[...places.values()].map(({ note, kind }) => this.dot(note, kind)));
    const move = next[0]?.move;
    const isNext = scene.playing && next[0];
    const text = isNext ? [say("next"), say("string_fret", next[0].string, next[0].fret)] : [];
    if (text.length && move) text.push(say(move));
    const about = this.about(span.chord, dots);
    this.words.textContent = [about, ...text].filter(Boolean).join(" · ");
    if (anew || span.at !== this.span) this.box.scrollLeft = this.leftOf(dots);
    this.span = span.at;
  }

  /** What is shown of a chord, in words; the picture's name tells the places of a form too.
   * @param {number} chord @param {Dot[]} dots */
  about(chord, dots) {
    const { scene } = this;
    const range = say("neck_text", this.first ?? 0, this.end ?? 5);
    const name = scene && chord >= 0 ? scene.key.chords[chord] : "";
    let [text, label] = ["", range];
    if (scene && name && scene.view !== LINE) {
      text = dots.length ? say("neck_chord", name, viewName(scene.view)) : say("neck_no_form", name);
      if (scene.view !== WHOLE && dots.length) label = `${range}. ${say("neck_chord_places", name, viewName(scene.view), spoken(dots))}`;
      else label = `${range}. ${text}`;
    }
    this.picture?.setAttribute("aria-label", label);
    return text;
  }

  /** How far the box is moved for the lowest of some dots to be seen. @param {Dot[]} dots */
  leftOf(dots) {
    const [picture, room] = [this.picture?.getBoundingClientRect().width ?? 0, this.box.clientWidth];
    if (picture <= room || !dots.length || this.scene?.view === WHOLE) return this.box.scrollLeft;
    const wide = LEFT * 2 + ((this.end ?? 5) - (this.first ?? 0)) * WIDE;
    const lefts = dots.map(({ string, fret }) => this.place(string, fret).x);
    return Math.max(0, (Math.min(...lefts) * picture) / wide - 40);
  }

  /** @param {Dot} note @param {string} kind */
  dot(note, kind) {
    const { x, y } = this.place(note.string, note.fret);
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
