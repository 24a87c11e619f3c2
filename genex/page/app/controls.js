// What is set while playing: play, tempo, key, count-in, click, loop, ladder, swing.

import { checkbox, el, labelled, select, slider } from "#dom";
import { FASTEST, SLOWEST, barsOf, within } from "#practice";
import { decimal, say } from "#words";

/** @typedef {import("#store").State} State */
/** @typedef {import("#main").Scene} Scene */

/** Play, place and tempo: always in sight. */
export class Bar {
  /** @param {import("#store").Store<State>} store @param {{toggle: () => void}} actions */
  constructor(store, actions) {
    this.store = store;
    this.play = el("button", { type: "button", class: "play strong", click: actions.toggle }, say("play"));
    this.place = el("p", { class: "place" });
    this.cue = el("p", { class: "cue" });
    this.text = el("output", { class: "tempo-text" });
    this.slider = slider(SLOWEST, FASTEST, 1, store.values.percent, (percent) => store.set({ percent }), say("tempo"));
    const step = (/** @type {number} */ by) => () => store.set({ percent: within(store.values.percent + by) });
    this.node = el(
      "div",
      { class: "transport", role: "region", "aria-label": say("transport") },
      this.play,
      el("div", { class: "now" }, this.place, this.cue),
      el(
        "div",
        { class: "tempo" },
        el("button", { type: "button", class: "step", "aria-label": say("slower"), click: step(-5) }, "−"),
        this.slider,
        el("button", { type: "button", class: "step", "aria-label": say("faster"), click: step(5) }, "+"),
        this.text,
      ),
    );
  }

  /** @param {Scene} scene */
  show({ setting, state, playing }) {
    this.play.textContent = say(playing ? "stop" : "play");
    this.slider.value = String(state.percent);
    const text = say("tempo_text", state.percent, Math.round((setting.pulses * state.percent) / 100));
    this.text.textContent = text;
    this.slider.setAttribute("aria-valuetext", text);
  }

  /** @param {string} place @param {string} cue */
  at(place, cue) {
    if (this.place.textContent !== place) this.place.textContent = place;
    if (this.cue.textContent !== cue) this.cue.textContent = cue;
  }
}

/** Loop, key, count-in, click, ladder, swing. */
export class Practice {
  /** @param {import("#store").Store<State>} store
   * @param {{loop: (first: number, last: number) => void, clean: () => void, save: () => void}} actions */
  constructor(store, actions) {
    this.store = store;
    this.actions = actions;
    this.node = el("div", { class: "practice" });
    this.shown = "";
    this.state = el("p", { class: "hint" });
  }

  /** @param {Scene} scene */
  show(scene) {
    const { setting, lesson, state } = scene;
    const name = `${lesson.slug}/${setting.key}`;
    if (this.shown !== name) {
      this.shown = name;
      this.build(scene);
    }
    const [first, last] = barsOf(setting, scene.from, scene.to);
    if (this.from && this.to && this.key && this.count) {
      this.from.value = String(first);
      this.to.value = String(last);
      this.key.value = String(state.key);
      this.count.value = String(state.count);
    }
    if (this.click) this.click.checked = state.click;
    if (this.swing && this.swingText) {
      this.swing.value = String(state.swing || lesson.swing);
      this.swingText.textContent = say("swing_text", decimal(state.swing || lesson.swing));
    }
    this.moved?.toggleAttribute("hidden", scene.shift === setting.home);
    const isOpen = scene.part?.notes.some((note) => note.string > 0 && note.fret === 0);
    if (this.moved) this.moved.textContent = isOpen ? say("key_moved_open") : say("key_moved");
    this.clean?.toggleAttribute("hidden", !(state.ladder.on && state.ladder.clean));
    this.ladderFields?.toggleAttribute("hidden", !state.ladder.on);
  }

  /** @param {Scene} scene */
  build({ setting, lesson, state }) {
    const { store, actions } = this;
    const numbers = setting.bars.map((bar) => /** @type {[string, string]} */ ([String(bar.number), String(bar.number)]));
    const chosen = () => [Number(this.from?.value), Number(this.to?.value)];
    this.from = select(numbers, "1", () => actions.loop(chosen()[0], Math.max(...chosen())));
    this.to = select(numbers, String(numbers.length), () => actions.loop(Math.min(...chosen()), chosen()[1]));
    const sections = setting.bars
      .filter((bar, index, all) => bar.section.trim() && bar.chorus === 1 && bar.section !== all[index - 1]?.section)
      .map((bar) => {
        const rest = setting.bars.slice(bar.number - 1);
        const end = rest.findIndex((one) => one.section !== bar.section || one.chorus !== bar.chorus);
        const last = end < 0 ? setting.bars.length : bar.number - 1 + end;
        return el("button", { type: "button", click: () => actions.loop(bar.number, last) }, say("loop_section", bar.section));
      });
    const home = lesson.settings[0].home;
    const keys = lesson.settings[0].keys.map(({ name }, index) =>
      /** @type {[string, string]} */ ([String(index), index === home ? say("key_written", name) : name]),
    );
    this.key = select(keys, String(state.key), (value) => store.set({ key: Number(value) }));
    const counts = [0, 1, 2].map((bars) =>
      /** @type {[string, string]} */ ([String(bars), bars === 0 ? say("count_none") : bars === 1 ? say("count_bar") : say("count_bars", bars)]),
    );
    this.count = select(counts, String(state.count), (value) => store.set({ count: Number(value) }));
    const click = checkbox(say("click"), state.click, (on) => store.set({ click: on }));
    this.click = click.box;
    this.moved = el("p", { class: "hint" }, say("key_moved"));
    this.clean = el("button", { type: "button", class: "strong", click: actions.clean }, say("clean"));
    this.node.replaceChildren(
      el("div", { class: "row" }, labelled(say("loop_from"), this.from), labelled(say("loop_to"), this.to)),
      el("div", { class: "row" }, el("button", { type: "button", click: () => actions.loop(1, setting.bars.length) }, say("loop_all")), ...sections.slice(0, 12)),
      el("div", { class: "row" }, labelled(say("key"), this.key), labelled(say("count_in"), this.count), setting.tick ? click.node : null),
      this.moved,
      ...this.swinging(lesson, state),
      this.ladder(state),
      this.clean,
      this.state,
      el("div", { class: "row" }, el("button", { type: "button", click: actions.save }, say("save"))),
    );
  }

  /** @param {import("#types").Lesson} lesson @param {State} state @returns {HTMLElement[]} */
  swinging(lesson, state) {
    this.swing = this.swingText = undefined;
    if (lesson.swing <= 1) return [];
    this.swing = slider(1, 3.5, 0.1, state.swing || lesson.swing, (swing) => this.store.set({ swing }));
    this.swingText = el("output", {});
    return [el("div", { class: "row" }, labelled(say("swing"), this.swing), this.swingText)];
  }

  /** @param {State} state */
  ladder(state) {
    const { store } = this;
    const set = (/** @type {Partial<State["ladder"]>} */ change) => store.set({ ladder: { ...store.values.ladder, ...change } });
    const number = (/** @type {"start" | "end" | "step" | "passes"} */ name, /** @type {number} */ min, /** @type {number} */ max) => {
      const input = el("input", { type: "number", min, max, step: 1, inputmode: "numeric" });
      input.value = String(state.ladder[name]);
      input.addEventListener("change", () => {
        const value = Math.min(max, Math.max(min, Math.round(Number(input.value)) || min));
        input.value = String(value);
        set({ [name]: value });
      });
      return labelled(say(`ladder_${name}`), input);
    };
    const on = checkbox(say("ladder_on"), state.ladder.on, (value) => {
      set({ on: value });
      if (value) store.set({ percent: store.values.ladder.start });
    });
    const clean = checkbox(say("ladder_clean"), state.ladder.clean, (value) => set({ clean: value }));
    this.ladderFields = el(
      "div",
      {},
      el("div", { class: "row" }, number("start", SLOWEST, FASTEST), number("end", SLOWEST, FASTEST), number("step", 1, 50), number("passes", 1, 32)),
      clean.node,
    );
    return el("fieldset", {}, el("legend", {}, say("ladder")), on.node, this.ladderFields);
  }
}
