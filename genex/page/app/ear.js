// Ear training: covered answers, questions asked in an order of choice, a tally that stays here.

import { checkbox, csv, el, labelled, save, select } from "#dom";
import { choices, counted, item, label, nextQuestion, played } from "#drill";
import { say } from "#words";

/** @typedef {import("#types").Question} Question */
/** @typedef {import("#main").Scene} Scene */

export class Ear {
  /**
   * @param {import("#store").Store<import("#store").State>} store
   * @param {import("#store").Shelf} shelf
   * @param {{ask: (question: Question) => void, refresh: () => void}} actions
   */
  constructor(store, shelf, actions) {
    this.store = store;
    this.shelf = shelf;
    this.actions = actions;
    /** @type {import("#drill").Tally} */
    this.tally = shelf.read("tally", {});
    /** @type {Question | null} */
    this.question = null;
    /** @type {Set<number>} numbers of questions whose answer is shown */
    this.open = new Set();
    /** @type {number[]} */
    this.chosen = [];
    this.isAnswered = false;
    this.result = el("p", { class: "result", role: "status" });
    this.buttons = el("div", { class: "choices" });
    this.rows = el("ul", { class: "tally" });
    // Calls are answered on a guitar: who played says how it went.
    this.judge = el(
      "div",
      { class: "row", hidden: true },
      el("button", { type: "button", click: () => this.settle(true) }, say("had_it")),
      el("button", { type: "button", click: () => this.settle(false) }, say("not_yet")),
    );
    this.cover = checkbox(say("cover"), store.values.cover, (cover) => {
      this.open.clear();
      store.set({ cover });
    });
    const orders = ["weighted", "random", "written"].map((one) => /** @type {[string, string]} */ ([one, say(`order_${one}`)]));
    this.ask = el("button", { type: "button", class: "strong", click: () => this.next() }, say("ask"));
    this.again = el("button", { type: "button", disabled: true, click: () => this.question && actions.ask(this.question) }, say("ask_again"));
    this.reveal = el("button", { type: "button", disabled: true, click: () => this.show_answer() }, say("show_answer"));
    this.node = el(
      "div",
      { class: "ear" },
      this.cover.node,
      labelled(say("order"), select(orders, store.values.order, (order) => store.set({ order }))),
      el("div", { class: "row" }, this.ask, this.again, this.reveal),
      el("p", { class: "field-name" }, say("answer")),
      this.buttons,
      this.result,
      this.judge,
      this.rows,
      el(
        "div",
        { class: "row" },
        el("button", { type: "button", click: () => this.export() }, say("export")),
        el("button", { type: "button", click: () => this.clear() }, say("clear")),
      ),
    );
    this.shown = "";
  }

  /** @param {Scene} scene */
  show(scene) {
    this.scene = scene;
    this.cover.box.checked = scene.state.cover;
    const names = choices(scene.setting.questions);
    if (names.join() === this.shown) return;
    this.shown = names.join();
    this.buttons.replaceChildren(
      ...names.map((name) => el("button", { type: "button", click: () => this.answer(name) }, name)),
    );
    this.write();
  }

  /** Whether the picture would tell an answer that is still asked for. @param {number} tick */
  isCovered(tick) {
    const { scene } = this;
    if (!scene || !scene.state.cover) return false;
    const asked = scene.setting.questions.find((one) => tick >= one.at && tick < one.at + one.length);
    return Boolean(asked && !this.open.has(asked.number));
  }

  next() {
    const { scene } = this;
    if (!scene) return;
    this.question = nextQuestion(scene.setting.questions, this.question, scene.state.order, this.tally, Math.random);
    this.open.delete(this.question.number);
    this.isAnswered = false;
    this.judge.hidden = true;
    this.chosen = [];
    this.again.disabled = this.reveal.disabled = false;
    const onNeck = !item(this.question) || !this.shown;
    this.result.textContent = onNeck && scene.part?.strings.length ? say("on_neck", this.question.keys.length) : "";
    this.actions.ask(this.question);
  }

  /** @param {string} name */
  answer(name) {
    const { question } = this;
    if (!question || this.isAnswered) return;
    this.settle(item(question) === name);
  }

  /** A place of the neck was chosen. @param {number} key */
  onNeck(key) {
    const { question, scene } = this;
    if (!question || this.isAnswered || !scene?.part) return;
    const wanted = question.keys.map((one) => one + (scene.part?.shifts[scene.shift] ?? 0));
    this.chosen.push(key);
    if (this.chosen.length < wanted.length) {
      this.result.textContent = say("on_neck_state", this.chosen.length, wanted.length);
      return;
    }
    this.settle(played(this.chosen, wanted));
    this.chosen = [];
  }

  /** @param {boolean} right */
  settle(right) {
    const { question } = this;
    if (!question) return;
    this.isAnswered = true;
    this.judge.hidden = true;
    this.tally = counted(this.tally, label(question), right);
    this.shelf.write("tally", this.tally);
    this.result.textContent = say(right ? "right" : "wrong", question.text);
    this.open.add(question.number);
    this.write();
    this.actions.refresh();
  }

  show_answer() {
    if (!this.question) return;
    const judges = !item(this.question) && !this.isAnswered;
    this.judge.hidden = !judges;
    this.isAnswered ||= !judges;
    this.open.add(this.question.number);
    this.result.textContent = this.question.text;
    this.actions.refresh();
  }

  write() {
    const rows = Object.entries(this.tally);
    const [asked, right] = rows.reduce(([a, r], [, one]) => [a + one.asked, r + one.right], [0, 0]);
    this.rows.replaceChildren(
      ...(asked ? [el("li", {}, say("tally", right, asked))] : []),
      ...rows.map(([name, one]) => el("li", {}, say("tally_row", name, one.right, one.asked))),
    );
  }

  export() {
    const rows = Object.entries(this.tally).map(([name, { asked, right }]) => [name, asked, right]);
    save("tally.csv", csv([["item", "asked", "right"], ...rows]), "text/csv");
  }

  clear() {
    this.tally = {};
    this.shelf.write("tally", {});
    this.write();
  }
}
