// The sound of the page: a context that may be interrupted, the bank, and the scheduler's timer.

import { Bank } from "#bank";
import { Mixer } from "#mixer";
import { Transport } from "#transport";

const AHEAD = 0.5; // seconds handed over ahead of the clock
const AHEAD_MOST = 1.2; // where the page is held up: twice what it was at the worst, for a while
const CALMING = 0.995;
const AHEAD_HIDDEN = 1.6; // browsers wake hidden pages once a second
const EVERY_MS = 60;
const START = 0.05;
const FIRST = 0.06; // of it handed over before the first note; the rest a moment later

export const GAIN_DB = 8; // a full band peaks a little under full scale with it

/** @typedef {import("#transport").Wishes} Wishes */

export class Player extends EventTarget {
  /** @param {import("#types").Sounds | null} sounds */
  constructor(sounds) {
    super();
    this.sounds = sounds;
    /** @type {AudioContext | null} */
    this.context = null;
    /** @type {Transport | null} */
    this.transport = null;
    /** @type {Bank | null} */
    this.bank = null;
    /** @type {Promise<void> | null} */
    this.loading = null;
    /** @type {AudioBuffer | null} */
    this.room = null;
    /** @type {ReturnType<typeof setInterval> | undefined} */
    this.timer = undefined;
    /** @type {(pass: number) => Partial<Wishes>} */
    this.beforePass = () => ({});
    /** @type {(mixer: Mixer) => void} */
    this.mixed = () => {};
    /** @type {any} */
    this.wake = null;
    this.heldUp = 0; // seconds between two looks, a while back the worst
    this.looked = 0;
    this.turn = 0; // of starts and stops: who waited for a sound that was stopped meanwhile gives up
    globalThis.document?.addEventListener("visibilitychange", () => this.seen());
  }

  static get isPossible() {
    return typeof AudioContext === "function" && typeof OfflineAudioContext === "function";
  }

  get isPlaying() {
    return this.transport?.isPlaying ?? false;
  }

  /** Decode the sounds and lay the desk, once. */
  load() {
    if (!this.sounds || !Player.isPossible) return Promise.resolve();
    this.bank ??= new Bank(this.sounds);
    this.loading ??= this.bank.load().then(() => this.prepare());
    return this.loading;
  }

  /** Other sounds in place of those that are there, while it plays too.
   * @param {import("#types").Sounds | null} sounds */
  async exchange(sounds) {
    const bank = sounds && Player.isPossible ? new Bank(sounds) : null;
    await bank?.load();
    this.sounds = sounds;
    this.bank = bank;
    this.loading = bank ? Promise.resolve() : null;
    if (!bank) this.stop();
    else if (this.transport) this.transport.bank = bank;
  }

  /** A context, which sleeps until a touch wakes it, with its desk: so that a tap is heard at once. */
  async prepare() {
    if (!this.bank) return;
    const turn = this.turn;
    const context = this.living();
    if (!turn) await context.suspend(); // browsers that let pages sound unasked need not stay awake
    this.room ??= await this.bank.roomFor(context);
    if (this.transport || context !== this.context) return;
    const mixer = new Mixer(context, this.room, GAIN_DB);
    this.transport = new Transport(context, mixer, this.bank);
    this.transport.beforePass = (pass) => this.beforePass(pass);
  }

  /** The context, a new one if there is none that lives. */
  living() {
    if (!this.context || this.context.state === "closed") {
      this.context = new AudioContext({ latencyHint: "interactive" });
      this.context.addEventListener("statechange", () => this.changed());
      this.transport = null;
    }
    return this.context;
  }

  /** @param {Wishes} wishes @param {number} tick @param {number} count_bars @param {number} [limit] */
  async play(wishes, tick, count_bars, limit) {
    if (!this.sounds || !Player.isPossible) return;
    const turn = ++this.turn;
    // Woken within the touch that asked for it; what runs already is not waited for.
    const context = this.living();
    const woken = context.state === "running" && turn > 1 ? null : context.resume();
    await this.load();
    if (!this.transport) await this.prepare();
    if (woken) await woken;
    if (turn !== this.turn || !this.transport) return;
    this.mixed(this.transport.mixer);
    this.transport.stop();
    this.transport.play(wishes, tick, count_bars, context.currentTime + START, limit);
    this.transport.pump(context.currentTime + START + FIRST);
    this.looked = performance.now() / 1000;
    setTimeout(() => this.pump());
    clearInterval(this.timer);
    this.timer = setInterval(() => this.pump(), EVERY_MS);
    this.lock();
    this.dispatchEvent(new Event("change"));
  }

  pump() {
    if (!this.context || !this.transport?.isPlaying) return;
    const now = performance.now() / 1000;
    this.heldUp = Math.max(now - this.looked, this.heldUp * CALMING);
    this.looked = now;
    const ahead = Math.min(AHEAD_MOST, Math.max(AHEAD, 2 * this.heldUp));
    this.transport.pump(this.context.currentTime + (document.visibilityState === "hidden" ? AHEAD_HIDDEN : ahead));
  }

  stop() {
    this.turn += 1;
    clearInterval(this.timer);
    this.transport?.stop();
    this.wake?.release?.().catch(() => {});
    this.wake = null;
    this.dispatchEvent(new Event("change"));
  }

  /** The phone rang, or the screen was locked: what was to sound then is gone. */
  changed() {
    const state = /** @type {string} */ (this.context?.state);
    if (this.isPlaying && (state === "interrupted" || state === "closed")) {
      this.dispatchEvent(new Event("interrupted"));
      this.stop();
    }
  }

  /** The page was hidden, or is seen again: hand over more, wake what was put to sleep. */
  seen() {
    if (!this.isPlaying) return;
    this.pump();
    if (document.visibilityState === "visible") {
      this.context?.resume();
      this.lock();
    }
  }

  /** Keep the screen awake while it plays, where that is possible. */
  lock() {
    const { wakeLock } = /** @type {any} */ (navigator);
    wakeLock
      ?.request("screen")
      .then((/** @type {any} */ lock) => {
        this.wake = lock;
      })
      .catch(() => {});
  }

  /** What is heard now: the audio clock less what is on its way to the ear. */
  position() {
    if (!this.context || !this.transport) return null;
    const { context } = this;
    const latency = context.outputLatency || context.baseLatency || 0;
    return this.transport.position(context.currentTime - latency);
  }
}
