// The players: level, mute and solo of each part.

import { checkbox, el, slider } from "#dom";
import { say } from "#words";

/** @typedef {import("#store").State} State */
/** @typedef {import("#main").Scene} Scene */

export class Desk {
  /** @param {import("#store").Store<State>} store */
  constructor(store) {
    this.store = store;
    this.list = el("div", { class: "parts" });
    const minus = checkbox(say("without_line"), store.values.minus, (minus) => store.set({ minus }));
    this.minus = minus.box;
    this.minusNode = minus.node;
    this.volume = slider(-40, 6, 1, store.values.volume, (volume) => store.set({ volume }), say("volume"));
    this.node = el(
      "div",
      { class: "desk" },
      minus.node,
      this.list,
      el("div", { class: "part" }, el("span", { class: "part-name" }, say("volume")), this.volume),
      el("p", { class: "hint" }, say("ears")),
    );
    this.shown = "";
  }

  /** @param {Scene} scene */
  show({ setting, firstLine }) {
    const { values } = this.store;
    this.minus.checked = values.minus;
    this.minusNode.hidden = !firstLine;
    this.volume.value = String(values.volume);
    const names = setting.parts.map((part) => part.name).join("/");
    if (this.shown !== names) {
      this.shown = names;
      this.list.replaceChildren(...setting.parts.map((part) => this.strip(part)));
    }
    for (const part of setting.parts) {
      const strip = this.list.querySelector(`[data-part="${CSS.escape(part.name)}"]`);
      if (!strip) continue;
      const [mute, solo] = strip.querySelectorAll("button");
      mute.setAttribute("aria-pressed", String(Boolean(values.muted[part.name])));
      solo.setAttribute("aria-pressed", String(Boolean(values.solo[part.name])));
      const level = strip.querySelector("input");
      if (level) level.value = String(values.levels[part.name] ?? 0);
    }
  }

  /** @param {import("#types").Part} part */
  strip(part) {
    const { store } = this;
    const toggle = (/** @type {"muted" | "solo"} */ what) => {
      const now = store.values[what];
      store.set({ [what]: { ...now, [part.name]: !now[part.name] } });
    };
    return el(
      "div",
      { class: "part", "data-part": part.name },
      el("span", { class: "part-name" }, part.title, el("small", {}, part.sound)),
      slider(-30, 12, 1, store.values.levels[part.name] ?? 0, (db) => store.set({ levels: { ...store.values.levels, [part.name]: db } }), say("level", part.title)),
      el("button", { type: "button", class: "toggle", "aria-label": say("mute_part", part.title), click: () => toggle("muted") }, say("mute")),
      el("button", { type: "button", class: "toggle", "aria-label": say("solo_part", part.title), click: () => toggle("solo") }, say("solo")),
    );
  }
}
