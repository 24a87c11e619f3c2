// The desk: a strip for each part (place, level, mute), one room, one way out.

import { factor } from "#bank";

/** @typedef {import("#types").Part} Part */

/** Left and right of a part's pan, constant power with unity at the centre. @param {number} pan */
export function panGains(pan) {
  const angle = ((Math.max(-1, Math.min(1, pan)) + 1) * Math.PI) / 4;
  return [Math.SQRT2 * Math.cos(angle), Math.SQRT2 * Math.sin(angle)];
}

/** What makes a part's strip. @param {Part} part */
function settings({ level_db, pan, room }) {
  return [level_db, pan, room].join();
}

class Strip {
  /** @param {BaseAudioContext} context @param {Part} part @param {AudioNode} out @param {AudioNode} send */
  constructor(context, part, out, send) {
    this.context = context;
    this.set = settings(part);
    this.own = factor(part.level_db);
    const [left, right] = panGains(part.pan);
    this.input = new GainNode(context, { channelCount: 2, channelCountMode: "explicit" });
    const sides = new ChannelSplitterNode(context, { numberOfOutputs: 2 });
    const joined = new ChannelMergerNode(context, { numberOfInputs: 2 });
    this.input.connect(sides);
    sides.connect(new GainNode(context, { gain: left }), 0).connect(joined, 0, 0);
    sides.connect(new GainNode(context, { gain: right }), 1).connect(joined, 0, 1);
    this.fader = new GainNode(context, { gain: this.own });
    joined.connect(this.fader).connect(out);
    const share = new GainNode(context, {
      gain: part.room, channelCount: 1, channelCountMode: "explicit", channelInterpretation: "speakers",
    });
    this.fader.connect(share).connect(send);
    /** @type {Map<number, StereoPannerNode>} */
    this.places = new Map();
  }

  /** Where a voice at a place in the stereo image goes in. @param {number} pan */
  place(pan) {
    let node = this.places.get(pan);
    if (!node) {
      node = new StereoPannerNode(this.context, { pan, channelCount: 1, channelCountMode: "explicit" });
      node.connect(this.input);
      this.places.set(pan, node);
    }
    return node;
  }

  /** @param {number} db */
  set level(db) {
    const gain = db <= -60 ? 0 : this.own * factor(db);
    this.fader.gain.setTargetAtTime(gain, this.context.currentTime, 0.01);
  }

  /** At once, before anything sounds. @param {number} db */
  preset(db) {
    this.fader.gain.value = db <= -60 ? 0 : this.own * factor(db);
  }
}

export class Mixer {
  /** @param {BaseAudioContext} context @param {AudioBuffer | null} room @param {number} gain_db */
  constructor(context, room, gain_db = 0) {
    this.context = context;
    this.out = new GainNode(context, { gain: factor(gain_db) });
    this.out.connect(context.destination);
    this.send = new GainNode(context, { channelCount: 1, channelCountMode: "explicit" });
    if (room) {
      const answer = new ConvolverNode(context, { buffer: room, disableNormalization: true });
      this.send.connect(answer).connect(this.out);
    }
    /** @type {Map<string, Strip>} */
    this.strips = new Map();
  }

  /** The strip of a part: a new one where another lesson sets it otherwise. @param {Part} part */
  strip(part) {
    let strip = this.strips.get(part.name);
    if (strip?.set !== settings(part)) {
      strip = new Strip(this.context, part, this.out, this.send);
      this.strips.set(part.name, strip);
    }
    return /** @type {Strip} */ (strip);
  }

  /** @param {number} db */
  set volume(db) {
    this.out.gain.setTargetAtTime(db <= -60 ? 0 : factor(db), this.context.currentTime, 0.01);
  }
}
