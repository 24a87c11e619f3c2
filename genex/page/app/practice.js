// Rules of practice without any picture: the ladder of tempos, the loop, the keys, minus-one.

/** @typedef {import("#types").Lesson} Lesson */
/** @typedef {import("#types").Setting} Setting */
/** @typedef {{on: boolean, start: number, end: number, step: number, passes: number, clean: boolean}} Ladder */

export const SLOWEST = 50;
export const FASTEST = 150;

/** @param {number} percent */
export function within(percent) {
  return Math.min(FASTEST, Math.max(SLOWEST, Math.round(percent)));
}

/** Counts passes and says when the tempo rises. */
export class Climb {
  constructor() {
    this.done = 0;
  }

  /** The tempo for what follows a pass. @param {Ladder} ladder @param {number} percent
   * @param {boolean} counts whether the pass counts @returns {number} */
  after(ladder, percent, counts) {
    if (!ladder.on) return percent;
    if (!counts) return percent;
    this.done += 1;
    if (this.done < ladder.passes) return percent;
    this.done = 0;
    const up = ladder.end >= ladder.start;
    const next = percent + (up ? 1 : -1) * Math.abs(ladder.step);
    return within(up ? Math.min(ladder.end, next) : Math.max(ladder.end, next));
  }
}

/** Bars of a loop as ticks, kept inside the piece and at least one bar long.
 * @param {Setting} setting @param {number} first bar number @param {number} last */
export function loopOf(setting, first, last) {
  const { bars } = setting;
  const [low, high] = first <= last ? [first, last] : [last, first];
  const start = bars[Math.min(Math.max(low, 1), bars.length) - 1];
  const end = bars[Math.min(Math.max(high, 1), bars.length) - 1];
  return { from: start.at, to: end.at + end.length };
}

/** Numbers of the first and last bar of a loop. @param {Setting} setting @param {number} from
 * @param {number} to */
export function barsOf(setting, from, to) {
  const inside = setting.bars.filter((bar) => bar.at >= from && bar.at < to);
  return inside.length ? [inside[0].number, inside[inside.length - 1].number] : [1, setting.bars.length];
}

/** The setting and the move for one of the twelve keys: as composed where it was, else moved.
 * @param {Lesson} lesson @param {number} index of the key among those of the first setting */
export function settingFor(lesson, index) {
  const first = lesson.settings[0];
  const wanted = first.keys[index]?.name;
  const composed = lesson.settings.find((one) => one.key === wanted);
  return composed ? { setting: composed, shift: composed.home } : { setting: first, shift: index };
}

/** Which parts are heard. @param {Setting} setting @param {{muted: Record<string, boolean>,
 *  solo: Record<string, boolean>, minus: boolean}} state @param {string | null} studied */
export function heard(setting, { muted, solo, minus }, studied) {
  const alone = setting.parts.some((part) => solo[part.name]);
  return new Set(
    setting.parts
      .filter((part) => (alone ? solo[part.name] : !muted[part.name]))
      .filter((part) => !(minus && part.name === studied))
      .map((part) => part.name),
  );
}

/** The line that is studied: the first lead part with frets, else the first lead part.
 * @param {Setting} setting */
export function studied(setting) {
  const leads = setting.parts.filter((part) => part.is_lead);
  return leads.find((part) => part.strings.length) ?? leads[0] ?? null;
}
