// The page: reads the lesson, builds the views, and ties them to what plays.

import { Bar, Practice } from "#controls";
import { Chart } from "#chart";
import { expand, readData } from "#data";
import { Desk } from "#desk";
import { checkbox, el, labelled, save, select } from "#dom";
import { Ear } from "#ear";
import { Guides } from "#guides";
import { listenToKeys } from "#keys";
import { Log, day } from "#log";
import { Music } from "#music";
import { Neck } from "#neck";
import { GAIN_DB, Player } from "#player";
import { Climb, barsOf, heard, loopOf, settingFor, studied, within } from "#practice";
import { rendered, wav } from "#render";
import { LINE, viewName, views } from "#shapes";
import { Shelf, Store, mended } from "#store";
import { say, speak } from "#words";

/** @typedef {import("#types").Lesson} Lesson */
/** @typedef {import("#types").Setting} Setting */
/** @typedef {import("#types").Part} Part */
/** @typedef {import("#store").State} State */
/** @typedef {{lesson: Lesson, setting: Setting, shift: number, key: Setting["keys"][0], part: Part | null,
 *  firstLine: Part | null, isFirstLine: boolean, state: State, from: number, to: number, tick: number,
 *  playing: boolean, label: string, view: string, left: boolean, narrow: boolean,
 *  isCovered: (tick: number) => boolean}} Scene */

const NARROW = "(max-width: 600px)";

class Page {
  /** @param {HTMLElement} root */
  constructor(root) {
    this.data = readData(document);
    speak(this.data.words);
    this.root = root;
    this.lesson = this.data.lessons[0];
    this.player = new Player(this.data.sounds);
    this.shelf = new Shelf(() => localStorage, `genex/${this.lesson.slug}/`);
    this.climb = new Climb();
    this.isClean = false;
    this.isStarting = false;
    this.tick = 0;
    this.status = el("p", { class: "unseen", role: "status", "aria-live": "polite" });
    this.note = el("p", { class: "note", role: "alert" });
    this.limit = /** @type {number | undefined} */ (undefined);
    this.startedAt = /** @type {number | undefined} */ (undefined);
    this.store = this.restored(this.lesson);
    this.views = this.built();
    this.refresh();
    this.player.addEventListener("change", () => this.refresh());
    this.player.addEventListener("interrupted", () => {
      this.stop();
      this.tell(say("interrupted"));
    });
    this.player.beforePass = (pass) => this.beforePass(pass);
    this.player.mixed = (mixer) => {
      for (const part of this.setting.parts) mixer.strip(part).preset(this.levelOf(part));
      mixer.out.gain.value = 10 ** ((GAIN_DB + this.store.values.volume) / 20);
    };
    matchMedia(NARROW).addEventListener("change", () => this.refresh());
    addEventListener("pagehide", () => this.note_played());
    listenToKeys(this);
    if (!this.shelf.isKept) this.warn(say("not_kept"));
    if (!Player.isPossible) this.warn(say("no_audio"));
    else if (!this.data.sounds) this.warn(say("no_sound"));
    else {
      const idle = /** @type {any} */ (globalThis).requestIdleCallback ?? setTimeout;
      idle(() => this.player.load().catch((error) => this.warn(say("sound_failed", String(error)))));
    }
    this.frame();
  }

  /** @param {string} text */
  warn(text) {
    this.note.append(el("span", {}, text));
  }

  /** @param {string} text */
  tell(text) {
    this.status.textContent = text;
  }

  /** Show another lesson. @param {Lesson} lesson */
  open(lesson) {
    this.stop();
    this.lesson = lesson;
    this.store = this.restored(lesson);
    this.views = this.built();
    this.refresh();
  }

  /** Show what was saved anew, and go on where it plays. @param {import("#types").PageData} data */
  async take(data) {
    const before = this.data;
    const whole = this.store.values.from === 0 && this.store.values.to === this.lesson.settings[0].length;
    this.data = expand(data);
    if (JSON.stringify(before.sounds) !== JSON.stringify(data.sounds)) await this.player.exchange(data.sounds);
    this.lesson = this.data.lessons.find(({ slug }) => slug === this.lesson.slug) ?? this.data.lessons[0];
    const tick = this.tick;
    this.store = this.restored(this.lesson);
    if (whole) Object.assign(this.store.values, { from: 0, to: this.lesson.settings[0].length });
    const { from, to } = this.store.values;
    this.tick = tick >= from && tick < to ? tick : from;
    const { scrollX, scrollY } = globalThis;
    this.views = this.built();
    this.set(new Set(["key"]));
    scrollTo(scrollX, scrollY);
    this.tell(say("taken"));
  }

  /** A lesson's settings as they were left. @param {Lesson} lesson @returns {Store<State>} */
  restored(lesson) {
    this.shelf.prefix = `genex/${lesson.slug}/`;
    const first = lesson.settings[0];
    const slow = lesson.tempos.length > 1 ? lesson.tempos.map((one) => (100 * one) / first.pulses) : [70, 100];
    /** @type {State} */
    const usual = {
      percent: 100, key: first.home, from: 0, to: first.length, count: 1, click: false, swing: 0,
      label: "degrees", left: lesson.left_handed, volume: 0, minus: false, levels: {}, muted: {}, solo: {},
      cover: true, order: "weighted", announce: false, shortcuts: true, line: "", view: LINE,
      ladder: {
        on: false, start: within(Math.min(...slow)), end: within(Math.max(...slow)), step: 5, passes: 2, clean: false,
      },
    };
    const state = mended(usual, this.shelf.read("state", null));
    state.percent = within(state.percent);
    state.key = first.keys[state.key] ? state.key : first.home;
    if (!views(lesson.neck).includes(state.view)) state.view = LINE;
    state.ladder = mended(usual.ladder, state.ladder);
    if (state.to > first.length && state.from < first.length) state.to = first.length;
    const inside = state.from >= 0 && state.to > state.from && state.to <= first.length;
    if (!inside) [state.from, state.to] = [0, first.length];
    const store = new Store(state, (values) => this.shelf.write("state", values));
    store.listen((_, changed) => this.set(changed));
    this.tick = state.from;
    return store;
  }

  get setting() {
    return settingFor(this.lesson, this.store.values.key).setting;
  }

  /** Everything that a view may ask for. @returns {Scene} */
  scene() {
    const state = this.store.values;
    const { setting, shift } = settingFor(this.lesson, state.key);
    const firstLine = studied(setting);
    const part = setting.parts.find((one) => one.name === state.line) ?? firstLine ?? setting.parts.find((one) => one.strings.length && one.notes.some((note) => note.string)) ?? null;
    const [from, to] = state.to <= setting.length ? [state.from, state.to] : [0, setting.length];
    return {
      lesson: this.lesson, setting, shift, key: setting.keys[shift], part, firstLine,
      isFirstLine: part === firstLine, state, from, to, tick: this.tick, playing: this.player.isPlaying,
      label: state.label, view: state.view, left: state.left, narrow: matchMedia(NARROW).matches,
      isCovered: (tick) => this.views?.ear?.isCovered(tick) ?? false,
    };
  }

  built() {
    const { store, lesson } = this;
    const asks = lesson.settings[0].questions.length > 0;
    const bar = new Bar(store, { toggle: () => this.toggle() });
    const chart = new Chart({ jump: (number) => this.jump(number), loop: (from, to) => this.loop(from, to) });
    const ear = asks
      ? new Ear(store, this.shelf, {
          ask: (question) => this.ask(question.at, question.at + question.length),
          refresh: () => this.refresh(),
        })
      : null;
    const neck = new Neck((key) => ear?.onNeck(key));
    const [music, guides, desk, log] = [new Music(), new Guides(), new Desk(store), new Log(this.shelf)];
    const practice = new Practice(store, {
      loop: (from, to) => this.loop(from, to),
      clean: () => this.clean(),
      save: () => this.saveLoop(),
    });
    const first = lesson.settings[0];
    const facts = say("facts", first.key, lesson.meter, Math.round(first.pulses), lesson.feel);
    const many = this.data.lessons.length > 1;
    const lessons = this.data.lessons.map(({ title }, index) => /** @type {[string, string]} */ ([String(index), title]));
    const chooser = select(lessons, String(this.data.lessons.indexOf(lesson)), (index) => this.open(this.data.lessons[Number(index)]));
    this.root.replaceChildren(
      el("a", { class: "skip", href: "#chart" }, say("skip")),
      el("header", {}, el("h1", {}, lesson.title), el("p", { class: "facts" }, facts), many ? labelled(say("lesson"), chooser) : null, this.note),
      bar.node,
      el(
        "main",
        {},
        ear ? section("ear", say("ear"), ear.node) : null,
        section("chart", say("chart"), chart.node, el("p", { class: "hint" }, say("chart_help"))),
        section("neck", say("neck"), this.neckTools(), neck.node),
        first.chords.some((span) => span.chord >= 0) ? section("guides", say("guides"), guides.node) : null,
        section("music", say("music"), music.node),
        section("practice", say("practice"), practice.node),
        section("players", say("players"), desk.node),
        section("log", say("log"), log.node),
        section("settings", say("settings"), this.reading()),
      ),
      this.status,
    );
    return { bar, chart, neck, music, guides, desk, practice, ear, log };
  }

  neckTools() {
    const { store } = this;
    const labels = ["degrees", "fingers", "notes"].map((one) => /** @type {[string, string]} */ ([one, say(one)]));
    const label = select(labels, store.values.label, (value) => store.set({ label: value }));
    this.label = label;
    const shown = select(views(this.lesson.neck).map((view) => [view, viewName(view)]), store.values.view, (view) => store.set({ view }));
    this.view = shown;
    const left = checkbox(say("left_handed"), store.values.left, (on) => store.set({ left: on }));
    const lines = this.lesson.settings[0].parts.filter((part) => part.is_lead);
    const line = select(lines.map(({ name, title }) => [name, title]), store.values.line || (studied(this.lesson.settings[0])?.name ?? ""), (name) => store.set({ line: name }));
    return el("div", { class: "row" }, this.lesson.neck ? labelled(say("neck_show"), shown) : null, labelled(say("neck_label"), label), lines.length > 1 ? labelled(say("line_on_neck"), line) : null, left.node);
  }

  /** Say what the neck shows now. */
  tellView() {
    this.tell(viewName(this.store.values.view));
  }

  reading() {
    const { store } = this;
    const announce = checkbox(say("announce"), store.values.announce, (on) => store.set({ announce: on }));
    const shortcuts = checkbox(say("shortcuts"), store.values.shortcuts, (on) => store.set({ shortcuts: on }));
    return el("div", {}, announce.node, shortcuts.node, el("p", { class: "hint" }, say("shortcut_list")));
  }

  refresh() {
    const scene = this.scene();
    const { bar, chart, neck, music, guides, desk, practice, ear } = this.views;
    for (const view of [bar, chart, neck, guides, desk, practice, ear]) view?.show(scene);
    music.show(scene);
    if (this.label) this.label.value = scene.label;
    if (this.view) this.view.value = scene.view;
    this.draw(scene);
  }

  /** Views that follow time. @param {Scene} scene */
  draw(scene) {
    const { tick, views } = this;
    const isNewBar = views.chart.at(scene.playing || tick > scene.from ? tick : -1);
    views.neck.at(tick);
    views.music.at(tick);
    views.guides.at(tick);
    const position = scene.playing ? this.player.position() : null;
    const bar = scene.setting.bars.findLast((one) => one.at <= Math.max(tick, 0)) ?? scene.setting.bars[0];
    const chord = scene.setting.chords.findLast((one) => one.at <= Math.max(tick, 0));
    const name = chord && chord.chord >= 0 ? scene.key.chords[chord.chord] : "";
    if (position?.kind === "count") {
      const left = Math.ceil((position.segment.end_tick - position.tick) / scene.setting.pulse);
      views.bar.at(say("count_in"), String(left));
      return;
    }
    const pass = position && position.pass > 1 ? say("pass", position.pass) : "";
    views.bar.at([say("bar", bar.number), scene.isCovered(tick) ? "" : name, pass].filter(Boolean).join(" · "), this.cue(scene));
    if (isNewBar && scene.playing && scene.state.announce) this.tell(`${say("bar", bar.number)}, ${name}`);
  }

  /** What the student does now, and for how many pulses still. @param {Scene} scene */
  cue({ setting, isCovered }) {
    const { tick } = this;
    const cue = setting.cues.findLast((one) => one.at <= tick && tick < one.at + one.length);
    if (!cue) return "";
    const left = Math.ceil((cue.at + cue.length - tick) / setting.pulse);
    if (cue.kind === "play") return say("your_turn", left);
    if (cue.kind === "listen") return say("listen", left);
    return cue.kind === "answer" && isCovered(tick) ? say("covered") : cue.text;
  }

  frame() {
    if (this.player.isPlaying) {
      const position = this.player.position();
      if (position) {
        this.tick = position.kind === "count" ? position.segment.end_tick : position.tick;
        if (position.pass >= (this.limit ?? Infinity) && position.tick >= position.segment.end_tick) this.stop();
        else this.draw(this.scene());
      }
    }
    requestAnimationFrame(() => this.frame());
  }

  /** @returns {import("#transport").Wishes} */
  wishes() {
    const { setting, shift, from, to, state, lesson } = this.scene();
    const own = lesson.swing > 1 ? lesson.swing : 1;
    const swing = lesson.swing > 1 && state.swing ? state.swing : own;
    return { setting, shift, percent: state.percent, from, to, swing, own_swing: own, click: state.click && Boolean(setting.tick) };
  }

  /** @param {number} [tick] @param {number} [limit] passes after which it stops */
  async start(tick, limit) {
    const wishes = this.wishes();
    const from = tick ?? (this.tick >= wishes.from && this.tick < wishes.to ? this.tick : wishes.from);
    this.limit = limit;
    this.tick = from;
    if (!this.player.bank?.buffers.size) this.tell(say("loading"));
    // Who jumps while it plays has the beat already.
    const count = wishes.setting.tick && !this.player.isPlaying ? this.store.values.count : 0;
    this.isStarting = true;
    try {
      await this.player.play(wishes, from, count, limit);
    } catch (error) {
      this.warn(say("sound_failed", String(error)));
      return;
    } finally {
      this.isStarting = false;
    }
    this.startedAt = performance.now();
    const bar = wishes.setting.bars.findLast((one) => one.at <= from);
    if (this.player.isPlaying) this.tell(say("started", bar?.number ?? 1));
  }

  stop() {
    this.note_played();
    this.player.stop();
    this.limit = undefined;
    const bar = this.setting.bars.findLast((one) => one.at <= this.tick);
    if (bar) this.tick = bar.at;
    this.tell(say("stopped", bar?.number ?? 1));
    this.refresh();
  }

  toggle() {
    if (this.player.isPlaying || this.isStarting) this.stop();
    else this.start();
  }

  /** Write into the log what was played since the start. */
  note_played() {
    if (this.startedAt === undefined || !this.player.isPlaying) return;
    const seconds = (performance.now() - this.startedAt) / 1000;
    this.startedAt = performance.now();
    const { setting, key, state } = this.scene();
    const tempo = (setting.pulses * state.percent) / 100;
    this.views.log.add({ date: day(new Date()), lesson: this.lesson.title, key: key.name, tempo, seconds });
  }

  /** @param {number} number */
  jump(number) {
    const bar = this.setting.bars[number - 1];
    const { from, to } = this.scene();
    if (bar.at < from || bar.at >= to) this.store.set({ from: 0, to: this.setting.length });
    this.tick = bar.at;
    if (this.player.isPlaying) this.start(bar.at);
    else this.refresh();
  }

  /** @param {number} first @param {number} last */
  loop(first, last) {
    const { from, to } = loopOf(this.setting, first, last);
    this.store.set({ from, to });
    if (this.tick < from || this.tick >= to) this.tick = from;
    const [a, b] = barsOf(this.setting, from, to);
    this.tell(a === b ? say("looping_one", a) : say("looping", a, b));
    this.refresh();
  }

  /** Play a question once. @param {number} from @param {number} to */
  ask(from, to) {
    this.store.set({ from, to });
    this.start(from, 1);
  }

  clean() {
    this.isClean = true;
    this.tell(say("clean"));
  }

  /** @param {number} pass */
  beforePass(pass) {
    const { ladder, percent } = this.store.values;
    const next = this.climb.after(ladder, percent, pass > 1 && (!ladder.clean || this.isClean));
    this.isClean = false;
    if (next !== percent) queueMicrotask(() => this.store.set({ percent: next }));
    if (ladder.on) this.views.practice.state.textContent = say("ladder_state", this.climb.done, ladder.passes, next);
    return { percent: next };
  }

  /** @param {Part} part */
  levelOf(part) {
    const { values } = this.store;
    const on = heard(this.setting, values, studied(this.setting)?.name ?? null).has(part.name);
    return on ? (values.levels[part.name] ?? 0) : -60;
  }

  /** @param {Set<keyof State>} changed */
  set(changed) {
    const { transport } = this.player;
    if (transport?.isPlaying) {
      const graph = ["percent", "key", "from", "to", "swing", "click"];
      if (graph.some((name) => changed.has(/** @type {keyof State} */ (name)))) {
        const wishes = this.wishes();
        const now = transport.wishes;
        const same = now && Object.entries(wishes).every(([name, value]) => /** @type {any} */ (now)[name] === value);
        if (!same) transport.change(wishes);
      }
      for (const part of this.setting.parts) transport.mixer.strip(part).level = this.levelOf(part);
      if (changed.has("volume")) transport.mixer.volume = GAIN_DB + this.store.values.volume;
    }
    if (changed.has("ladder")) this.climb.done = 0;
    this.refresh();
  }

  async saveLoop() {
    this.tell(say("saving"));
    await this.player.load();
    if (!this.player.bank) return;
    const only = this.setting.parts.map((part) => part.name).filter((name) => heard(this.setting, this.store.values, studied(this.setting)?.name ?? null).has(name));
    const sound = await rendered(this.player.bank, this.wishes(), { passes: 2, rate: 48000, gain_db: GAIN_DB, only });
    save(`${this.lesson.slug}.wav`, wav(sound, sound.length / 2), "audio/wav");
  }
}

/** @param {string} name @param {string} title @param {...(Node | null)} children */
function section(name, title, ...children) {
  return el("section", { id: name, "aria-labelledby": `${name}-title` }, el("h2", { id: `${name}-title` }, title), ...children);
}

const root = document.getElementById("page");
if (root) Object.assign(globalThis, { page: new Page(root) });
