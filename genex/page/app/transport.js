// The scheduler: which note sounds at which frame, a little ahead of the clock. What has been handed
// to the audio graph stays; everything later follows tempo, key, loop and swing as they are by then.

import { TICKS, TempoMap, swung } from "#clock";

/** @typedef {import("#types").Setting} Setting */
/** @typedef {import("#types").Part} Part */
/** @typedef {import("#types").NoteEvent} NoteEvent */
/** @typedef {{part: Part, note: NoteEvent, start: number}} Planned */
/** @typedef {{setting: Setting, percent: number, shift: number, from: number, to: number,
 *             swing: number, own_swing: number, click: boolean}} Wishes
 *  from, to: the loop in ticks; shift: which of the twelve keys; swing: long against short eighth */
/** @typedef {{kind: "count" | "pass", pass: number, wishes: Wishes, frame: number, tick: number,
 *             end: number, end_tick: number, events: Planned[], cursor: number}} Segment */

const BLOCK = 64 / 48000; // lengths of notes are whole blocks of genex's synthesizer
const SHORTEST = 0.01;
const LATE = 0.03;
const WAVE_STEPS = 8; // straight lines that a wave of vibrato is made of, as in genex's own files
const EARLY_TICKS = TICKS / 4; // no note sounds earlier than so much before it is written

export class Transport {
  /**
   * @param {BaseAudioContext} context
   * @param {import("#mixer").Mixer} mixer
   * @param {import("#bank").Bank} bank
   */
  constructor(context, mixer, bank) {
    this.context = context;
    this.mixer = mixer;
    this.bank = bank;
    this.rate = context.sampleRate;
    /** @type {Segment[]} */
    this.segments = [];
    this.isPlaying = false;
    this.late = 0;
    this.started = 0;
    /** @type {Set<{source: AudioScheduledSourceNode, end: number}>} */
    this.sounding = new Set();
    /** @type {Map<string, {choke: GainNode, source: AudioScheduledSourceNode, cut: number}[]>} */
    this.chokes = new Map();
    /** @type {WeakMap<Setting, TempoMap>} */
    this.maps = new WeakMap();
    /** @type {WeakMap<Setting, Planned[]>} */
    this.plans = new WeakMap();
    /** @type {Part | null} */
    this.clickPart = null;
    /** Asked before each pass for what changes with it. @type {(pass: number) => Partial<Wishes>} */
    this.beforePass = () => ({});
    /** @type {Wishes | null} */
    this.wishes = null;
    this.scheduled = 0; // the frame up to which everything has been handed over
    this.limit = Infinity; // passes after which nothing follows
  }

  /** @param {Setting} setting */
  map(setting) {
    let map = this.maps.get(setting);
    if (!map) this.maps.set(setting, (map = new TempoMap(setting.tempo)));
    return map;
  }

  /** Every note of a setting in the order of sounding. @param {Setting} setting */
  plan(setting) {
    let plan = this.plans.get(setting);
    if (!plan) {
      plan = setting.parts.flatMap((part) =>
        part.notes.map((note) => ({ part, note, start: note.at + note.start })),
      );
      plan.sort((a, b) => a.start - b.start);
      this.plans.set(setting, plan);
    }
    return plan;
  }

  /** Play from a tick of the loop, after so many bars of count-in, for ever or so many passes.
   * @param {Wishes} wishes @param {number} tick @param {number} count_bars @param {number} when seconds
   * @param {number} [limit] */
  play(wishes, tick, count_bars, when, limit = Infinity) {
    this.wishes = wishes;
    this.limit = limit;
    this.segments = [];
    this.scheduled = Math.round(when * this.rate);
    this.isPlaying = true;
    let frame = this.scheduled;
    const bar = wishes.setting.bars.findLast((one) => one.at <= tick) ?? wishes.setting.bars[0];
    if (count_bars > 0) {
      const start = tick - count_bars * bar.length;
      const events = clicks(this.tickPart(wishes.setting), start, tick, bar.length, bar.pulses);
      const segment = this.segment("count", 0, wishes, frame, start, tick, events);
      this.segments.push(segment);
      frame = segment.end;
    }
    this.segments.push(this.pass(1, wishes, frame, tick));
    this.pump(when);
  }

  /** The click as a part of its own. @param {Setting} setting */
  tickPart(setting) {
    if (!this.clickPart || this.clickPart.preset !== setting.tick?.preset) {
      this.clickPart = /** @type {Part} */ ({
        name: " click", title: "", sound: "", rows: [], role: "click", preset: setting.tick?.preset ?? "", strings: [],
        capo: 0, level_db: 0, pan: 0, room: 0.05, shifts: new Array(12).fill(0), notes: [], is_lead: false,
      });
      this.clickPart.notes = setting.tick
        ? [setting.tick.accent, setting.tick.plain].map(([key, velocity]) => clickNote(key, velocity))
        : [];
    }
    return this.clickPart;
  }

  /** @param {"count" | "pass"} kind @param {number} pass @param {Wishes} wishes @param {number} frame
   * @param {number} tick @param {number} end_tick @param {Planned[]} events @returns {Segment} */
  segment(kind, pass, wishes, frame, tick, end_tick, events) {
    /** @type {Segment} */
    const segment = { kind, pass, wishes, frame, tick, end: 0, end_tick, events, cursor: 0 };
    segment.end = this.frameIn(segment, end_tick);
    return segment;
  }

  /** One time through the loop, from a tick on. @param {number} pass @param {Wishes} wishes
   * @param {number} frame @param {number} tick @returns {Segment} */
  pass(pass, wishes, frame, tick) {
    const { setting, from, to, click } = wishes;
    let events = this.plan(setting).filter(({ note }) => note.at >= Math.max(from, tick) && note.at < to);
    if (click) {
      const part = this.tickPart(setting);
      const added = setting.bars
        .filter((bar) => bar.at < to && bar.at + bar.length > tick)
        .flatMap((bar) => clicks(part, bar.at, bar.at + bar.length, bar.length, bar.pulses));
      events = [...events, ...added.filter(({ start }) => start >= tick && start < to)];
      events.sort((a, b) => a.start - b.start);
    }
    return this.segment("pass", pass, wishes, frame, tick, to, events);
  }

  /** The frame of a tick in a segment. @param {Segment} segment @param {number} tick */
  frameIn({ wishes, frame, tick: first }, tick) {
    const { setting, percent, own_swing, swing } = wishes;
    const map = this.map(setting);
    const [here, start] = [tick, first].map((one) => map.frameAt(swung(one, own_swing, swing), this.rate, percent));
    return frame + here - start;
  }

  /** The tick that a frame has in a segment. @param {Segment} segment @param {number} frame */
  tickIn({ wishes, frame: first, tick }, frame) {
    const { setting, percent, own_swing, swing } = wishes;
    const map = this.map(setting);
    const start = map.secondsAt(swung(tick, own_swing, swing), percent);
    return swung(map.ticksAt(start + (frame - first) / this.rate, percent), swing, own_swing);
  }

  /** Change what is wished: from the next frame that is still free. @param {Partial<Wishes>} change */
  change(change) {
    if (!this.wishes) return;
    const wishes = { ...this.wishes, ...change };
    this.wishes = wishes;
    if (!this.isPlaying) return;
    const now = this.segments.findIndex((one) => one.end > this.scheduled);
    if (now < 0 || this.segments[now].kind === "count") {
      const first = this.segments.findIndex((one) => one.kind === "pass");
      if (first >= 0) {
        const old = this.segments[first];
        const tick = Math.min(Math.max(old.tick, wishes.from), wishes.to - 1);
        this.segments.splice(first, Infinity, this.pass(old.pass, wishes, old.frame, tick));
      }
      return;
    }
    const old = this.segments[now];
    const frame = Math.max(this.scheduled, old.frame);
    const here = this.tickIn(old, frame);
    const before = old.wishes.setting;
    const tick = wishes.setting === before ? here : (here / before.length) * wishes.setting.length;
    const same = tick >= wishes.from && tick < wishes.to;
    // What belongs to this pass and has not been handed over: by its sounding start.
    const later = this.pass(old.pass, wishes, frame, same ? tick : wishes.from);
    if (same && wishes.setting === before) {
      const left = new Set(old.events.slice(old.cursor).map(({ note }) => note));
      const all = this.pass(old.pass, wishes, frame, wishes.from).events;
      const clicked = wishes.click ? later.events.filter(({ part }) => part === this.clickPart) : [];
      later.events = [...all.filter(({ note, part }) => part !== this.clickPart && left.has(note)), ...clicked];
      later.events.sort((a, b) => a.start - b.start);
    }
    old.end = frame;
    old.events = old.events.slice(0, old.cursor);
    this.segments.splice(now + 1, Infinity, later);
  }

  /** Hand over everything that sounds before a time. @param {number} until seconds */
  pump(until) {
    if (!this.isPlaying) return;
    const frame = Math.round(until * this.rate);
    const early = Math.round((EARLY_TICKS / TICKS) * this.rate);
    for (;;) {
      const last = this.segments[this.segments.length - 1];
      if (last.end - early > frame || last.pass >= this.limit) break;
      this.wishes = { .../** @type {Wishes} */ (this.wishes), ...this.beforePass(last.pass + 1) };
      this.segments.push(this.pass(last.pass + 1, this.wishes, last.end, this.wishes.from));
    }
    for (const segment of this.segments) {
      while (segment.cursor < segment.events.length) {
        const planned = segment.events[segment.cursor];
        const at = this.frameIn(segment, planned.start);
        if (at >= frame) break;
        segment.cursor += 1;
        this.strike(segment, planned, at);
      }
    }
    this.scheduled = Math.max(this.scheduled, frame);
    const passed = (this.context.currentTime - 2) * this.rate;
    while (this.segments.length > 1 && this.segments[0].end < passed) this.segments.shift();
  }

  /** @param {Segment} segment @param {Planned} planned @param {number} frame */
  strike(segment, { part, note, start }, frame) {
    const first = this.segments[0];
    const at = Math.max(frame, first.frame) / this.rate;
    const now = this.context.currentTime;
    if (at < now - LATE) {
      this.late += 1;
      return;
    }
    this.started += 1;
    const { wishes } = segment;
    const until = this.frameIn(segment, start + note.length);
    const blocks = Math.max(1, Math.floor((until - frame) / this.rate / BLOCK + 0.5));
    const held = Math.max(blocks * BLOCK, SHORTEST);
    const key = note.key + part.shifts[wishes.shift];
    const db = this.bank.strikeDb(part.preset, key, note.velocity);
    /** @type {[number, number] | null} */
    let slide = null;
    if (note.slide) {
      const end = this.frameIn(segment, start + note.slide[1]);
      slide = [note.slide[0], Math.max(BLOCK, (end - frame) / this.rate)];
    }
    const curve = note.curve ? this.curve(segment, note.curve, start, held) : null;
    const strip = this.mixer.strip(part);
    const cut = new Set();
    for (const voice of this.bank.voices(part.preset, key, note.velocity)) {
      const started = this.bank.start(this.context, voice, { key, db, when: at, held, slide, curve }, strip.place(voice.pan));
      if (!started) continue;
      const one = { source: started.source, end: started.end };
      this.sounding.add(one);
      started.source.addEventListener("ended", () => this.sounding.delete(one));
      if (voice.choke && started.choke) {
        const name = `${part.name}/${voice.choke}`;
        if (!cut.has(name)) {
          for (const before of this.chokes.get(name) ?? []) cutOff(before, at);
          this.chokes.set(name, []);
          cut.add(name);
        }
        this.chokes.get(name)?.push({ choke: started.choke, source: started.source, cut: started.cut });
      }
    }
  }

  /** How a note's pitch moves: seconds after its start, half steps. Bends go with the tempo, vibrato keeps
   * its speed.
   * @param {Segment} segment @param {import("#types").PitchCurve} curve @param {number} start
   * @param {number} held @returns {[number, number][]} */
  curve(segment, [bend, vibrato], start, held) {
    const frame = this.frameIn(segment, start);
    // A block keeps its pitch in genex's own files: half a block is what they are behind on average.
    const seconds = (/** @type {number} */ tick) =>
      (this.frameIn(segment, start + tick) - frame) / this.rate + BLOCK / 2;
    /** @type {[number, number][]} */
    const points = bend.map(([tick, up]) => [seconds(tick), up]);
    if (!vibrato) return points;
    const [tick, height, hz, up] = vibrato;
    const first = seconds(tick);
    const count = Math.floor((held - first) * hz * WAVE_STEPS);
    for (let step = 0; step < count; step++) {
      const wave = (1 - Math.cos((2 * Math.PI * step) / WAVE_STEPS)) / 2;
      points.push([first + step / (hz * WAVE_STEPS), height + up * wave]);
    }
    return points;
  }

  /** Where the music is at a time of the context. @param {number} seconds
   * @returns {{tick: number, pass: number, kind: "count" | "pass", segment: Segment} | null} */
  position(seconds) {
    const frame = seconds * this.rate;
    const segment = this.segments.findLast((one) => one.frame <= frame) ?? this.segments[0];
    if (!segment || !this.isPlaying) return null;
    const tick = this.tickIn(segment, Math.max(frame, segment.frame));
    return { tick: Math.min(tick, segment.end_tick), pass: segment.pass, kind: segment.kind, segment };
  }

  /** Be silent. */
  stop() {
    this.isPlaying = false;
    for (const { source } of this.sounding) {
      try {
        source.stop();
      } catch {
        // It has not begun, or has ended: both are silent.
      }
    }
    this.sounding.clear();
    this.chokes.clear();
    this.segments = [];
  }
}

/** @param {{choke: GainNode, source: AudioScheduledSourceNode, cut: number}} before @param {number} when */
function cutOff({ choke, source, cut }, when) {
  choke.gain.setValueAtTime(1, when);
  choke.gain.exponentialRampToValueAtTime(1.6e-5, when + cut);
  source.stop(when + cut);
}

/** @param {number} key @param {number} velocity @returns {NoteEvent} */
function clickNote(key, velocity) {
  return {
    at: 0, start: 0, length: TICKS / 8, key, velocity, string: 0, fret: 0, finger: -1, degree: "",
    name: -1, written: TICKS / 8, move: "", slide: null, curve: null, said: "",
  };
}

/** A click on every pulse from `start` to `end`, the first of each bar accented.
 * @param {Part} part @param {number} start @param {number} end @param {number} bar @param {number[]} pulses
 * @returns {Planned[]} */
export function clicks(part, start, end, bar, pulses) {
  if (!part.notes.length) return [];
  /** @type {Planned[]} */
  const found = [];
  for (let at = start; at < end; at += bar) {
    pulses.forEach((pulse, index) => {
      if (at + pulse < end) found.push({ part, note: part.notes[index ? 1 : 0], start: at + pulse });
    });
  }
  return found;
}
