// Notation and tab with a mark that moves: as engraved for the sheet, or the page's own tab.

import { follow } from "#chart";
import { unpack } from "#data";
import { el } from "#dom";
import { tabSystems } from "#tab";
import { say } from "#words";

/** @typedef {import("#main").Scene} Scene */
/** @typedef {{node: HTMLElement, mark: HTMLElement, places: [number, number][], from: number, to: number}} Row */

/** Where a time stands between the places of a system. @param {[number, number][]} places
 * @param {number} tick @param {number} end tick at the system's end */
export function shareAt(places, tick, end) {
  const index = places.findLastIndex(([at]) => at <= tick);
  if (index < 0) return places.length ? places[0][1] : 0;
  const [at, share] = places[index];
  const [after, next] = places[index + 1] ?? [end, 0.99];
  return after > at ? share + ((next - share) * (tick - at)) / (after - at) : share;
}

export class Music {
  constructor() {
    this.words = el("p", { class: "hint" });
    this.box = el("div", { class: "music-box", tabindex: "0", role: "group", "aria-label": say("music") });
    this.hint = el("p", { class: "hint" });
    this.node = el("div", { class: "music" }, this.hint, this.box, this.words);
    /** @type {Row[]} */
    this.rows = [];
    this.shown = "";
    this.turn = 0;
    this.row = -1;
    /** @type {WeakMap<object, Promise<import("#types").System[]>>} */
    this.unpacked = new WeakMap();
  }

  /** @param {Scene} scene */
  async show(scene) {
    this.scene = scene;
    const { setting, shift, part } = scene;
    const name = `${setting.key}/${shift}/${part?.name}/${scene.narrow}`;
    if (name === this.shown) return;
    this.shown = name;
    const turn = ++this.turn;
    const own = shift === setting.home;
    this.words.textContent = "";
    if (!part || !part.notes.length) {
      this.rows = [];
      this.box.replaceChildren();
      this.box.hidden = true;
      this.words.textContent = say("music_none");
      return;
    }
    this.box.hidden = false;
    if (own && setting.music && scene.isFirstLine) {
      try {
        const waiting = this.unpacked.get(setting) ?? unpack(setting.music.packed);
        this.unpacked.set(setting, waiting);
        const systems = await waiting;
        if (turn === this.turn) this.engraved(systems, setting.length);
        return;
      } catch {
        this.words.textContent = say("music_plain");
      }
    } else {
      this.words.textContent = own ? (part.strings.length ? say("music_plain") : say("music_none")) : say("music_moved", scene.key.name);
    }
    if (turn !== this.turn) return;
    const systems = tabSystems(scene, scene.narrow ? 2 : 4);
    this.put(systems, "system plain");
  }

  /** @param {import("#types").System[]} systems @param {number} length */
  engraved(systems, length) {
    const reader = new DOMParser();
    const starts = systems.map(({ places }) => places[0]?.[0] ?? 0);
    this.put(
      systems.map((system, index) => {
        const read = reader.parseFromString(system.svg, "image/svg+xml").documentElement;
        const picture = document.importNode(read, true);
        picture.setAttribute("aria-hidden", "true");
        return { picture, places: system.places, from: starts[index], to: starts[index + 1] ?? length };
      }),
    );
  }

  /** @param {{picture: Element, places: [number, number][], from: number, to: number}[]} systems
   * @param {string} [kind] */
  put(systems, kind = "system") {
    this.rows = systems.map(({ picture, places, from, to }) => {
      const mark = el("div", { class: "mark", hidden: true });
      return { node: el("div", { class: kind }, picture, mark), mark, places, from, to };
    });
    this.box.replaceChildren(...this.rows.map(({ node }) => node));
    if (this.scene) this.at(this.scene.tick);
  }

  /** @param {number} tick */
  at(tick) {
    const { scene } = this;
    if (!scene) return;
    const covered = scene.isCovered(tick);
    this.box.classList.toggle("covered", covered);
    const hint = covered && this.rows.length ? say("covered") : "";
    if (this.hint.textContent !== hint) this.hint.textContent = hint;
    const now = this.rows.findIndex(({ from, to }) => tick >= from && tick < to);
    this.rows.forEach((row, index) => (row.mark.hidden = index !== now || tick < 0));
    if (now < 0) return;
    /** @type {Row} */
    const row = this.rows[now];
    row.mark.style.left = `${100 * shareAt(row.places, tick, row.to)}%`;
    if (scene.playing) follow(this.box, now === this.row ? row.mark : row.node);
    this.row = now;
  }
}
