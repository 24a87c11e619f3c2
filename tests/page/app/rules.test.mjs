// What needs no picture and no sound: ladder, loop, keys, drills, log, what is kept, guide tones.
import assert from "node:assert/strict";
import test from "node:test";
import { csv } from "../../../genex/page/app/dom.js";
import { choices, counted, item, nextQuestion, played, weight } from "../../../genex/page/app/drill.js";
import { led, nearer } from "../../../genex/page/app/guides.js";
import { day, entriesOf, noted } from "../../../genex/page/app/log.js";
import { shareAt } from "../../../genex/page/app/music.js";
import { Climb, barsOf, heard, loopOf, settingFor, studied, within } from "../../../genex/page/app/practice.js";
import { dotsOf, shapeOf, views } from "../../../genex/page/app/shapes.js";
import { Shelf, Store, mended } from "../../../genex/page/app/store.js";

const bars = [1, 2, 3, 4].map((number) => ({ number, at: (number - 1) * 3840, length: 3840 }));
const part = (name, more = {}) => ({ name, strings: [], is_lead: false, ...more });
const setting = {
  key: "C major", home: 5, bars, length: 4 * 3840,
  parts: [part("guide", { is_lead: true }), part("exercise", { is_lead: true, strings: [1] }), part("bass")],
};

test("the ladder rises after so many passes and stays at its end", () => {
  const climb = new Climb();
  const ladder = { on: true, start: 60, end: 70, step: 8, passes: 2, clean: false };
  let percent = 60;
  const seen = [];
  for (let pass = 0; pass < 7; pass++) seen.push((percent = climb.after(ladder, percent, true)));
  assert.deepEqual(seen, [60, 68, 68, 70, 70, 70, 70]);
});

test("a pass that does not count does not raise it, and a ladder may go down", () => {
  const climb = new Climb();
  const ladder = { on: true, start: 100, end: 80, step: 15, passes: 1, clean: true };
  assert.equal(climb.after(ladder, 100, false), 100);
  assert.equal(climb.after(ladder, 100, true), 85);
  assert.equal(climb.after(ladder, 85, true), 80);
  assert.equal(climb.after({ ...ladder, on: false }, 80, true), 80);
});

test("loops are whole bars inside the piece, whichever end is chosen first", () => {
  assert.deepEqual(loopOf(setting, 2, 3), { from: 3840, to: 3 * 3840 });
  assert.deepEqual(loopOf(setting, 3, 2), loopOf(setting, 2, 3));
  assert.deepEqual(loopOf(setting, -5, 99), { from: 0, to: setting.length });
  assert.deepEqual(barsOf(setting, 3840, 3 * 3840), [2, 3]);
});

test("tempos stay within half and one and a half", () => {
  assert.deepEqual([10, 99.6, 400].map(within), [50, 100, 150]);
});

test("the line with strings is studied, and minus-one leaves it out", () => {
  assert.equal(studied(setting).name, "exercise");
  const none = { muted: {}, solo: {}, minus: true };
  assert.deepEqual([...heard(setting, none, "exercise")], ["guide", "bass"]);
  const state = { muted: { bass: true }, solo: {}, minus: false };
  assert.deepEqual([...heard(setting, state, "exercise")], ["guide", "exercise"]);
  const alone = { muted: { bass: true }, solo: { bass: true }, minus: false };
  assert.deepEqual([...heard(setting, alone, "exercise")], ["bass"]);
});

test("a key that was composed is taken as it was composed, others are moved", () => {
  const keys = ["C major", "F major", "G major"].map((name) => ({ name }));
  const first = { ...setting, key: "C major", home: 0, keys };
  const other = { ...setting, key: "F major", home: 0, keys };
  const lesson = { settings: [first, other] };
  assert.deepEqual(settingFor(lesson, 1), { setting: other, shift: 0 });
  assert.deepEqual(settingFor(lesson, 2), { setting: first, shift: 2 });
});

const questions = ["fifth up: C G", "third up: C E", "fifth up: D A"].map((text, index) => ({ number: index + 1, text, keys: [60, 67] }));

test("a question asks for what stands before the notes", () => {
  assert.equal(item(questions[0]), "fifth up");
  assert.equal(item({ text: "C (1) E (3)" }), "");
  assert.deepEqual(choices(questions), ["fifth up", "third up"]);
});

test("what was missed is asked more often than what is known", () => {
  let tally = counted({}, "fifth up", false);
  for (let i = 0; i < 4; i++) tally = counted(tally, "third up", true);
  assert.ok(weight(questions[0], tally) > 5 * weight(questions[1], tally));
  const asked = { 1: 0, 2: 0, 3: 0 };
  let seed = 1;
  const random = () => (seed = (seed * 16807) % 2147483647) / 2147483647;
  for (let i = 0; i < 600; i++) asked[nextQuestion(questions, null, "weighted", tally, random).number] += 1;
  assert.ok(asked[1] > 3 * asked[2]);
});

test("a question is never asked twice running, and written order goes round", () => {
  for (let i = 0; i < 50; i++) assert.notEqual(nextQuestion(questions, questions[1], "random", {}, Math.random), questions[1]);
  assert.equal(nextQuestion(questions, questions[2], "written", {}, Math.random), questions[0]);
  assert.equal(nextQuestion([questions[0]], questions[0], "random", {}, Math.random), questions[0]);
});

test("an answer on the neck is the same notes in the same order", () => {
  assert.ok(played([60, 67], [60, 67]));
  assert.ok(!played([67, 60], [60, 67]));
  assert.ok(!played([60], [60, 67]));
});

test("the log has a line a day, lesson and key, with the highest tempo and all minutes", () => {
  const one = { date: "2026-03-01", lesson: "x", key: "C", tempo: 90, seconds: 60 };
  let entries = noted([], one);
  entries = noted(entries, { ...one, tempo: 80, seconds: 30 });
  assert.deepEqual(entries, [{ ...one, seconds: 90 }]);
  assert.equal(noted(entries, { ...one, key: "F" }).length, 2);
  assert.equal(day(new Date(2026, 0, 5)), "2026-01-05");
});

test("what storage holds is only believed where it is what was written", () => {
  assert.deepEqual(entriesOf("nonsense"), []);
  assert.deepEqual(entriesOf([null, { date: 1 }]), []);
  const usual = { percent: 100, click: false, levels: {} };
  assert.deepEqual(mended(usual, { percent: "loud", click: true, more: 1 }), { percent: 100, click: true, levels: {} });
  assert.deepEqual(mended(usual, { percent: NaN, levels: null }), usual);
  assert.deepEqual(mended(usual, 7), usual);
});

test("storage that is forbidden, full or spoiled is done without", () => {
  const forbidden = new Shelf(() => { throw new Error("no"); }, "x/");
  forbidden.write("a", 5);
  assert.equal(forbidden.read("a", 1), 5);
  assert.equal(forbidden.isKept, false);
  const full = { setItem() { throw new Error("full"); }, getItem: () => null, removeItem() {} };
  assert.equal(new Shelf(() => full, "x/").isKept, false);
  const spoiled = { setItem() {}, removeItem() {}, getItem: () => "{" };
  assert.equal(new Shelf(() => spoiled, "x/").read("a", 3), 3);
});

test("a store tells what has changed, once", () => {
  const store = new Store({ a: 1, b: 2 });
  const told = [];
  store.listen((_, changed) => told.push([...changed]));
  store.set({ a: 1 });
  store.set({ a: 3, b: 2 });
  assert.deepEqual(told, [["a"]]);
});

test("the seventh falls to the third where roots fall by a fifth", () => {
  // G7 to Cmaj7: F to E, B stays [common practice].
  const g7 = [{ degree: "3", pitch: 11 }, { degree: "b7", pitch: 5 }];
  const c = [{ degree: "3", pitch: 4 }, { degree: "7", pitch: 11 }];
  assert.deepEqual(led(g7, c).map(({ target, steps }) => [target.degree, steps]), [["7", 0], ["3", -1]]);
  // G to Am: B to C and D to E, so that both tones of the next chord are reached.
  const g = [{ degree: "3", pitch: 11 }, { degree: "5", pitch: 2 }];
  const am = [{ degree: "b3", pitch: 0 }, { degree: "5", pitch: 4 }];
  assert.deepEqual(led(g, am).map(({ target, steps }) => [target.degree, steps]), [["b3", 1], ["5", 2]]);
  assert.equal(nearer(11, 0), 1);
  assert.equal(nearer(0, 11), -1);
});

test("the mark goes straight from note to note", () => {
  const places = [[0, 0.1], [960, 0.3]];
  assert.equal(shareAt(places, 480, 1920).toFixed(3), "0.200");
  assert.equal(shareAt(places, 0, 1920), 0.1);
  assert.ok(shareAt(places, 1900, 1920) > 0.95);
  assert.equal(shareAt([], 5, 10), 0);
});

test("CSV quotes what has to be quoted and no table takes it for a formula", () => {
  assert.equal(csv([["a,b", 'say "x"', "=1+1", -3]]), '"a,b","say ""x""",\'=1+1,-3\r\n');
});

const neck = {
  strings: [64, 59, 55, 50, 45, 40], capo: 0, frets: 22, forms: ["C", "E"],
  sets: [[["E", 3, [[6, 3, 1], [5, 5, 3]]]], [["E", 5, [[6, 5, 1], [5, 7, 3]]]]],
};
const fifths = {
  home: 5, tones: [[["1", 0, 7], ["5", 1, 2]]],
  keys: Array.from({ length: 12 }, (_, index) => ({ shapes: [index === 7 ? 1 : 0] })),
};

test("a form is shown as it lies in the key, with the degrees of its tones", () => {
  assert.deepEqual(dotsOf(neck, fifths, 5, 0, "E"), [
    { string: 6, fret: 3, finger: 1, degree: "1", name: 0 },
    { string: 5, fret: 5, finger: 3, degree: "5", name: 1 },
  ]);
  assert.deepEqual(dotsOf(neck, fifths, 7, 0, "E").map(({ fret, degree }) => [fret, degree]), [[5, "1"], [7, "5"]]);
});

test("a form that a chord lacks and a bar without a chord show nothing", () => {
  assert.equal(shapeOf(neck, fifths, 5, 0, "C"), undefined);
  assert.deepEqual(dotsOf(neck, fifths, 5, 0, "C"), []);
  assert.deepEqual(dotsOf(neck, fifths, 5, -1, "whole"), []);
});

test("the whole neck has every place of every tone", () => {
  const dots = dotsOf(neck, fifths, 5, 0, "whole");
  // G and D on the E string of a guitar [published: twelve-tone equal temperament]
  const top = dots.filter(({ string }) => string === 1).map(({ fret, degree }) => [fret, degree]);
  assert.deepEqual(top, [[3, "1"], [10, "5"], [15, "1"], [22, "5"]]);
  const pitches = dots.map(({ string, fret }) => (neck.strings[string - 1] + fret) % 12);
  assert.deepEqual([...new Set(pitches)].sort(), [2, 7]);
});

test("without a neck only the line can be shown", () => {
  assert.deepEqual(views(null), ["line"]);
  assert.deepEqual(views(neck), ["line", "C", "E", "whole"]);
});
