// Ticks of a piece as frames of sound, at a share of its own tempo. Knows no audio.

export const TICKS = 960;

/**
 * A tempo map: from each tick on so many quarter notes a minute, as a fraction.
 * Frames are rounded half up from exact whole numbers, as genex rounds them in its files.
 */
export class TempoMap {
  /** @param {[number, number, number][]} changes tick, numerator and denominator of the tempo */
  constructor(changes) {
    this.changes = changes;
    /** @type {number[]} seconds at each change, at the piece's own tempo */
    this.seconds = [0];
    for (let i = 1; i < changes.length; i++) {
      const [at, top, bottom] = changes[i - 1];
      this.seconds.push(this.seconds[i - 1] + ((changes[i][0] - at) * 60 * bottom) / (TICKS * top));
    }
  }

  /** @param {number} ticks */
  indexAt(ticks) {
    let index = 0;
    while (index + 1 < this.changes.length && this.changes[index + 1][0] <= ticks) index += 1;
    return index;
  }

  /** Seconds from tick 0 at `percent` of the tempo; negative before it.
   * @param {number} ticks @param {number} [percent] */
  secondsAt(ticks, percent = 100) {
    const index = this.indexAt(ticks);
    const [at, top, bottom] = this.changes[index];
    const later = ((ticks - at) * 60 * bottom) / (TICKS * top);
    return ((this.seconds[index] + later) * 100) / percent;
  }

  /** Frame of a tick. @param {number} ticks @param {number} rate @param {number} [percent] */
  frameAt(ticks, rate, percent = 100) {
    const [, top, bottom] = this.changes[0];
    if (this.changes.length === 1) {
      const frames = (ticks * 60 * bottom * rate * 100) / (TICKS * top * percent);
      return Math.floor(frames + 0.5);
    }
    return Math.floor(this.secondsAt(ticks, percent) * rate + 0.5);
  }

  /** The tick at a time. @param {number} seconds @param {number} [percent] */
  ticksAt(seconds, percent = 100) {
    const own = (seconds * percent) / 100;
    let index = 0;
    while (index + 1 < this.seconds.length && this.seconds[index + 1] <= own) index += 1;
    const [at, top, bottom] = this.changes[index];
    return at + ((own - this.seconds[index]) * TICKS * top) / (60 * bottom);
  }

  /** Quarter notes a minute in force. @param {number} ticks */
  tempoAt(ticks) {
    const [, top, bottom] = this.changes[this.indexAt(ticks)];
    return top / bottom;
  }
}

/**
 * Swing set anew: a place inside a pair of eighths moves as the middle of the pair moves.
 * `from` and `to` are the long eighth against the short one.
 * @param {number} ticks @param {number} from @param {number} to
 */
export function swung(ticks, from, to) {
  if (from === to) return ticks;
  const pair = Math.floor(ticks / TICKS) * TICKS;
  const phase = (ticks - pair) / TICKS;
  const before = from / (1 + from);
  const after = to / (1 + to);
  const moved =
    phase < before ? (phase * after) / before : after + ((phase - before) * (1 - after)) / (1 - before);
  return pair + moved * TICKS;
}
