// A loop as samples: the same scheduler, run by a context that does not wait for the clock.

import { Mixer } from "#mixer";
import { Transport } from "#transport";

/** @typedef {import("#transport").Wishes} Wishes */

const STEP = 1; // seconds handed over at a time

/**
 * Passes of a loop, the first of which has nothing ringing into it.
 * @param {import("#bank").Bank} bank @param {Wishes} wishes
 * @param {{passes: number, rate: number, gain_db: number, only?: string[], skip?: number}} how
 * @returns {Promise<AudioBuffer>}
 */
export async function rendered(bank, wishes, { passes, rate, gain_db, only }) {
  const probe = new OfflineAudioContext(2, 1, rate);
  const silent = new Mixer(probe, null);
  const length = new Transport(probe, silent, bank).pass(1, wishes, 0, wishes.from).end;
  const context = new OfflineAudioContext(2, length * passes, rate);
  const mixer = new Mixer(context, await bank.roomFor(context), gain_db);
  for (const part of wishes.setting.parts) mixer.strip(part).preset(!only || only.includes(part.name) ? 0 : -60);
  const transport = new Transport(context, mixer, bank);
  transport.play(wishes, wishes.from, 0, 0);
  const seconds = (length * passes) / rate;
  if (typeof context.suspend === "function") {
    for (let at = STEP; at < seconds; at += STEP) {
      context.suspend(at).then(() => {
        transport.pump(at + 2 * STEP);
        context.resume();
      });
    }
    transport.pump(2 * STEP);
  } else {
    transport.pump(seconds);
  }
  return context.startRendering();
}

/** A sound as a WAV file of 16 bit. @param {AudioBuffer} sound @param {number} [first] first frame */
export function wav(sound, first = 0) {
  const frames = sound.length - first;
  const view = new DataView(new ArrayBuffer(44 + 4 * frames));
  /** @param {number} at @param {string} text */
  const put = (at, text) => [...text].forEach((sign, i) => view.setUint8(at + i, sign.charCodeAt(0)));
  put(0, "RIFF");
  view.setUint32(4, 36 + 4 * frames, true);
  put(8, "WAVEfmt ");
  view.setUint32(16, 16, true);
  view.setUint16(20, 1, true);
  view.setUint16(22, 2, true);
  view.setUint32(24, sound.sampleRate, true);
  view.setUint32(28, 4 * sound.sampleRate, true);
  view.setUint16(32, 4, true);
  view.setUint16(34, 16, true);
  put(36, "data");
  view.setUint32(40, 4 * frames, true);
  const sides = [0, 1].map((side) => sound.getChannelData(side));
  for (let i = 0; i < frames; i++) {
    for (const side of [0, 1]) {
      const value = Math.max(-1, Math.min(1, sides[side][first + i]));
      view.setInt16(44 + 4 * i + 2 * side, Math.round(value * 32767), true);
    }
  }
  return view.buffer;
}
