// Guide tones: those of the chord that sounds, and how each goes on to the next chord's.

import { el } from "#dom";
import { say } from "#words";

/** @typedef {import("#types").Guide} Guide */
/** @typedef {import("#main").Scene} Scene */

/** The nearer way from one pitch class to another, in half steps. @param {number} from @param {number} to */
export function nearer(from, to) {
  const up = (((to - from) % 12) + 12) % 12;
  return up > 6 ? up - 12 : up;
}

/** Each guide tone with the one of the next chord that it goes to: both are reached, by the shortest way in
 * all; of equal ways the one that falls.
 * @param {Guide[]} tones @param {Guide[]} next @returns {{tone: Guide, target: Guide, steps: number}[]} */
export function led(tones, next) {
  if (!next.length) return [];
  const orders = next.length > 1 ? [next, [...next].reverse()] : [next];
  const ways = orders.map((order) =>
    tones.map((tone, index) => {
      const target = order[index % order.length];
      return { tone, target, steps: nearer(tone.pitch, target.pitch) };
    }),
  );
  const size = (/** @type {{steps: number}[]} */ way) => way.reduce((sum, { steps }) => sum + Math.abs(steps), 0);
  const rise = (/** @type {{steps: number}[]} */ way) => way.reduce((sum, { steps }) => sum + steps, 0);
  ways.sort((a, b) => size(a) - size(b) || rise(a) - rise(b));
  return ways[0];
}

export class Guides {
  constructor() {
    this.node = el("div", { class: "guides" });
    this.last = "";
  }

  /** @param {Scene} scene */
  show(scene) {
    this.scene = scene;
    this.last = "";
    this.at(scene.tick);
  }

  /** @param {number} tick */
  at(tick) {
    const { scene } = this;
    if (!scene) return;
    const { chords } = scene.setting;
    const index = Math.max(0, chords.findLastIndex((one) => one.at <= tick));
    const covered = scene.isCovered(tick);
    const state = `${index}/${scene.key.name}/${covered}`;
    if (state === this.last) return;
    this.last = state;
    const here = chords[index];
    if (!here || here.chord < 0 || covered) {
      this.node.replaceChildren(el("p", { class: "hint" }, covered ? say("covered") : say("no_chords")));
      return;
    }
    const { key } = scene;
    let after = chords[(index + 1) % chords.length];
    if (after.chord < 0) after = here;
    const next = after === here ? [] : after.guides;
    const name = (/** @type {Guide} */ tone) => key.names[tone.name];
    const lines = next.length
      ? led(here.guides, next).map(({ tone, target, steps }) => {
          const size = Math.abs(steps);
          const far = size === 1 ? say("half_step") : size === 2 ? say("whole_step") : say("half_steps", size);
          const way = steps === 0 ? "guide_stays" : steps < 0 ? "guide_down" : "guide_up";
          return say(way, name(tone), tone.degree, target.degree, far, name(target));
        })
      : here.guides.map((tone) => `${name(tone)} (${tone.degree})`);
    const [one, other] = [key.chords[here.chord], after === here ? "" : key.chords[after.chord]];
    this.node.replaceChildren(
      el("p", { class: "change" }, other ? say("to_chord", one, other) : one),
      el("ul", {}, ...lines.map((line) => el("li", {}, line))),
    );
  }
}
