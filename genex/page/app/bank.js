// The recordings of a page, decoded, and the voices that play them.

/** @typedef {import("#types").Sounds} Sounds */
/** @typedef {import("#types").Voice} Voice */
/** @typedef {import("#types").Envelope} Envelope */
/** @typedef {import("#types").FilterMoves} FilterMoves */

const DECODED_HZ = 96000; // twice what is played: players draw straight lines between samples
const SILENCE_DB = -100;

/** @param {string} text base64 @returns {ArrayBuffer} */
export function bytes(text) {
  const plain = atob(text);
  const found = new Uint8Array(plain.length);
  for (let i = 0; i < plain.length; i++) found[i] = plain.charCodeAt(i);
  return found.buffer;
}

/** @param {number} db */
export function factor(db) {
  return 10 ** (db / 20);
}

/** Level of an envelope in dB below its top, so long after the start of a held note.
 * @param {Envelope} envelope @param {number} seconds */
export function heldDb(envelope, seconds) {
  const { delay, attack, hold, decay, sustain, range_db } = envelope;
  if (seconds < delay) return SILENCE_DB;
  const rising = seconds - delay;
  if (rising < attack) return Math.max(SILENCE_DB, 20 * Math.log10(Math.max(rising / attack, 1e-9)));
  const fallen = rising - attack - hold;
  if (fallen <= 0) return 0;
  const level = decay > 0 ? Math.max(sustain, 1 - fallen / decay) : sustain;
  return -(1 - level) * range_db;
}

/** When a note that is let go is silent, in seconds after its start.
 * @param {Envelope} envelope @param {number} held */
export function endOf(envelope, held) {
  const left = 1 + heldDb(envelope, held) / envelope.range_db;
  return held + envelope.release * Math.max(0, Math.min(1, left));
}

/** Write an envelope into a gain. @param {AudioParam} gain @param {Envelope} envelope
 * @param {number} peak @param {number} when @param {number} held @returns {number} its end */
export function writeEnvelope(gain, envelope, peak, when, held) {
  const { delay, attack, hold, decay, sustain, range_db } = envelope;
  const top = delay + attack;
  gain.setValueAtTime(0, when);
  if (delay) gain.setValueAtTime(0, when + delay);
  const off = Math.max(held, 0.001);
  const at = peak * factor(heldDb(envelope, off));
  if (off <= top) {
    if (off > delay) gain.linearRampToValueAtTime(Math.max(at, 1e-7), when + off);
  } else {
    gain.linearRampToValueAtTime(peak, when + top);
    if (off > top + hold) {
      gain.setValueAtTime(peak, when + top + hold);
      const bottom = top + hold + decay * (1 - sustain);
      if (off < bottom) {
        gain.exponentialRampToValueAtTime(at, when + off);
      } else {
        const low = peak * factor(-(1 - sustain) * range_db);
        gain.exponentialRampToValueAtTime(Math.max(low, 1e-7), when + bottom);
        gain.setValueAtTime(Math.max(low, 1e-7), when + off);
      }
    } else {
      gain.setValueAtTime(peak, when + off);
    }
  }
  const end = Math.max(endOf(envelope, off), off + 0.005);
  gain.exponentialRampToValueAtTime(Math.max(peak * factor(-range_db), 1e-9), when + end);
  return end;
}

/** Straight lines in pitch from point to point. @param {AudioParam} detune
 * @param {[number, number][]} points @param {number} when */
function writeCurve(detune, points, when) {
  points.forEach(([seconds, up], index) => {
    if (index) detune.linearRampToValueAtTime(100 * up, when + seconds);
    else detune.setValueAtTime(100 * up, when + seconds);
  });
}

/** Let a low-pass follow its own envelope. @param {AudioParam} frequency @param {number} hz
 * @param {FilterMoves} moves @param {number} when @param {number} held @param {number} top_hz */
function writeFilter(frequency, hz, moves, when, held, top_hz) {
  /** @param {number} share */
  const at = (share) => Math.min(top_hz, hz * 2 ** ((moves.cents * share) / 1200));
  const { delay, attack, hold, decay, sustain, release } = moves;
  const top = delay + attack;
  const level = (/** @type {number} */ seconds) => {
    if (seconds <= delay) return 0;
    if (seconds < top) return (seconds - delay) / attack;
    const fallen = seconds - top - hold;
    return fallen <= 0 || !decay ? (fallen <= 0 ? 1 : sustain) : Math.max(sustain, 1 - fallen / decay);
  };
  const points = [delay, top, top + hold, top + hold + decay * (1 - sustain)].filter((p) => p < held);
  frequency.setValueAtTime(at(0), when);
  for (const point of [...points, held]) {
    frequency.exponentialRampToValueAtTime(at(level(point)), when + Math.max(point, 0.001));
  }
  frequency.exponentialRampToValueAtTime(at(0), when + held + Math.max(0.01, release * level(held)));
}

export class Bank {
  /** @param {Sounds} sounds */
  constructor(sounds) {
    this.sounds = sounds;
    /** @type {Map<string, AudioBuffer>} */
    this.buffers = new Map();
    /** @type {Map<string, number>} seconds by which decoding has moved recordings of a rate */
    this.moved = new Map();
    /** @type {AudioBuffer | null} */
    this.room = null;
  }

  /** Decode everything. @returns {Promise<void>} */
  async load() {
    const decoder = makeDecoder();
    const { pilots, pilot_at, recordings, room } = this.sounds;
    for (const [rate, data] of Object.entries(pilots)) {
      const heard = await decoder.decodeAudioData(bytes(data));
      this.moved.set(rate, peakSeconds(heard) - pilot_at / Number(rate));
    }
    await Promise.all(
      Object.entries(recordings).map(async ([name, { data }]) => {
        this.buffers.set(name, await decoder.decodeAudioData(bytes(data)));
      }),
    );
    this.room = await decoder.decodeAudioData(bytes(room.data));
  }

  /** The room's answer at a context's own rate. @param {BaseAudioContext} context */
  async roomFor(context) {
    const { data, scale, rate } = this.sounds.room;
    const buffer = await context.decodeAudioData(bytes(data));
    for (let side = 0; side < buffer.numberOfChannels; side++) {
      const samples = buffer.getChannelData(side);
      const weight = (scale * rate) / buffer.sampleRate;
      for (let i = 0; i < samples.length; i++) samples[i] *= weight;
    }
    return buffer;
  }

  /** The voices that a strike starts. @param {string} preset @param {number} key @param {number} velocity */
  voices(preset, key, velocity) {
    const found = this.sounds.presets[preset];
    if (!found) return [];
    return found.voices.filter(
      ({ keys, velocities }) =>
        keys[0] <= key && key <= keys[1] && velocities[0] <= velocity && velocity <= velocities[1],
    );
  }

  /** dB of a strike: the square of its velocity, and what levels its key.
   * @param {string} preset @param {number} key @param {number} velocity */
  strikeDb(preset, key, velocity) {
    const own = 40 * Math.log10(velocity / 127);
    const levels = this.sounds.presets[preset]?.levels;
    if (!levels) return own;
    const place = Math.min(Math.max(key - levels.lowest, 0), levels.gains[0].length - 1);
    let after = levels.velocities.findIndex((one) => one > velocity);
    if (after < 0) after = levels.velocities.length;
    const before = Math.max(0, after - 1);
    after = Math.min(after, levels.velocities.length - 1);
    const [low, high] = [levels.velocities[before], levels.velocities[after]];
    const share = high > low ? (velocity - low) / (high - low) : 0;
    const [one, other] = [levels.gains[before][place], levels.gains[after][place]];
    return own + one + (other - one) * share;
  }

  /**
   * Start one voice. Returns its source and the time at which it ends.
   * @param {BaseAudioContext} context @param {Voice} voice
   * @param {{key: number, db: number, when: number, held: number, slide: [number, number] | null,
   *   curve: [number, number][] | null}} strike
   *   slide: half steps from which it comes, seconds that takes; curve: seconds after the start, half steps
   * @param {AudioNode} output
   */
  start(context, voice, strike, output) {
    const buffer = this.buffers.get(voice.recording);
    if (!buffer || !voice.envelope) return null;
    const { when, held } = strike;
    const source = new AudioBufferSourceNode(context, { buffer });
    const moved = this.moved.get(String(this.sounds.recordings[voice.recording].rate)) ?? 0;
    source.playbackRate.value = 2 ** ((voice.cents[0] + voice.cents[1] * strike.key) / 1200);
    if (voice.loop) {
      source.loop = true;
      source.loopStart = voice.loop[0] + moved;
      source.loopEnd = voice.loop[1] + moved;
    }
    if (strike.slide) {
      const [from, length] = strike.slide;
      source.detune.setValueAtTime(100 * from, when);
      source.detune.linearRampToValueAtTime(0, when + length);
    }
    writeCurve(source.detune, strike.curve ?? [], when);
    const gain = new GainNode(context, { gain: 0 });
    const end = when + writeEnvelope(gain.gain, voice.envelope, factor(voice.db + strike.db), when, held);
    /** @type {AudioNode} */
    let last = source;
    if (voice.low_pass) {
      const { hz, db, moves } = voice.low_pass;
      const top = 0.45 * context.sampleRate;
      const filter = new BiquadFilterNode(context, { type: "lowpass", frequency: Math.min(hz, top), Q: db });
      if (moves) writeFilter(filter.frequency, hz, moves, when, held, top);
      last = last.connect(filter);
    }
    last = last.connect(gain);
    for (const wave of voice.waves ?? []) {
      if (when + wave.delay >= end) continue;
      const moved = swaying(context, wave, when, end, source.detune);
      if (moved) last = last.connect(moved);
    }
    /** @type {GainNode | null} */
    let choke = null;
    if (voice.choke) {
      choke = new GainNode(context);
      last = last.connect(choke);
    }
    last.connect(output);
    source.start(when, Math.max(0, voice.at + moved));
    source.stop(end);
    source.onended = () => last.disconnect();
    return { source, end, choke, cut: voice.envelope.choke };
  }
}

/** @returns {BaseAudioContext} */
function makeDecoder() {
  try {
    return new OfflineAudioContext(1, 1, DECODED_HZ);
  } catch {
    return new OfflineAudioContext(1, 1, 48000);
  }
}

/** Where the largest sample lies, between samples too. @param {AudioBuffer} buffer */
export function peakSeconds(buffer) {
  const samples = buffer.getChannelData(0);
  let best = 1;
  for (let i = 1; i + 1 < samples.length; i++) if (Math.abs(samples[i]) > Math.abs(samples[best])) best = i;
  const [a, b, c] = [samples[best - 1], samples[best], samples[best + 1]];
  const bend = a - 2 * b + c;
  return (best + (bend ? (0.5 * (a - c)) / bend : 0)) / buffer.sampleRate;
}

/** A slow wave on pitch, on level or on both. Returns what the sound has to go through for its level.
 * @param {BaseAudioContext} context @param {import("#types").Wave} how
 * @param {number} when @param {number} end @param {AudioParam} detune */
function swaying(context, how, when, end, detune) {
  const wave = new OscillatorNode(context, { type: "triangle", frequency: how.hz });
  if (how.cents) wave.connect(new GainNode(context, { gain: how.cents })).connect(detune);
  const node = how.db ? new GainNode(context) : null;
  if (node) wave.connect(new GainNode(context, { gain: factor(how.db) - 1 })).connect(node.gain);
  wave.start(when + how.delay);
  wave.stop(end);
  return node;
}
