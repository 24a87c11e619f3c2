// The scheduler with a context, a desk and a bank that only write down what they are told.
import assert from "node:assert/strict";
import test from "node:test";
import { Transport, clicks } from "../../../genex/page/app/transport.js";

const RATE = 48000;
const note = (at, more = {}) => ({
  at, start: 0, length: 480, key: 60, velocity: 80, string: 0, fret: 0, finger: -1, degree: "", name: -1,
  written: 480, move: "", slide: null, ...more,
});
const line = (notes, more = {}) => ({
  name: "line", preset: "p", shifts: [-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 6], notes, is_lead: true, ...more,
});
const piece = (notes, tempo = [[0, 120, 1]]) => ({
  key: "C", home: 5, tempo, length: 3840, pulse: 960,
  bars: [{ number: 1, at: 0, length: 3840, pulses: [0, 960, 1920, 2880] }],
  parts: [line(notes)], tick: { preset: "k", accent: [34, 100], plain: [33, 90] },
});

function stage() {
  const struck = [];
  const context = { sampleRate: RATE, currentTime: 0 };
  const bank = {
    strikeDb: () => 0,
    voices: (preset, key) => [{ preset, key, pan: 0, choke: 0 }],
    start: (_, voice, { key, when, held }) => {
      struck.push({ key, frame: Math.round(when * RATE), held, preset: voice.preset });
      return { source: { addEventListener() {}, stop() {} }, end: when + held, choke: null, cut: 0 };
    },
  };
  const mixer = { strip: () => ({ place: () => null }) };
  return { struck, context, transport: new Transport(context, mixer, bank) };
}
const wishes = (setting, more = {}) => ({
  setting, percent: 100, shift: 5, from: 0, to: setting.length, swing: 1, own_swing: 1, click: false, ...more,
});

test("a loop goes round without losing a frame, 200 passes long", () => {
  const { struck, context, transport } = stage();
  const setting = piece([note(0), note(1920)], [[0, 133, 1]]);
  transport.play(wishes(setting), 0, 0, 0);
  const length = Math.floor((4 * 60 * RATE) / 133 + 0.5);
  for (let second = 0; second <= (201 * length) / RATE; second += 0.25) {
    context.currentTime = second;
    transport.pump(second + 0.3);
  }
  const starts = struck.filter((_, index) => index % 2 === 0).map(({ frame }) => frame);
  assert.ok(starts.length > 200);
  starts.forEach((frame, pass) => assert.equal(frame, pass * length));
  assert.equal(transport.late, 0);
});

test("a note before the bar line sounds before it, in the pass before", () => {
  const { struck, transport } = stage();
  transport.play(wishes(piece([note(0, { start: -48 }), note(960)])), 0, 0, 0.1);
  transport.pump(3);
  assert.deepEqual(struck.map(({ frame }) => frame - 4800), [0, 24000, 96000 - 1200, 96000 + 24000]);
});

test("tempo and key change from the next frame that is free, and nothing is struck twice or left out", () => {
  const { struck, context, transport } = stage();
  const setting = piece([0, 480, 960, 1440, 1920, 2400, 2880, 3360].map((at) => note(at)));
  transport.play(wishes(setting), 0, 0, 0);
  transport.pump(0.6);
  transport.change({ percent: 50, shift: 7 });
  context.currentTime = 0.5;
  transport.pump(3.3);
  const frames = struck.map(({ frame }) => frame);
  assert.deepEqual(frames.slice(0, 5), [0, 12000, 24000, 43200, 67200]);
  assert.deepEqual(struck.map(({ key }) => key).slice(0, 5), [60, 60, 60, 62, 62]);
  assert.equal(struck.length, 8);
});

test("a loop that is drawn while it plays is kept to", () => {
  const { struck, transport } = stage();
  const setting = { ...piece([note(0), note(960), note(4800)]), length: 7680 };
  setting.bars = [setting.bars[0], { ...setting.bars[0], number: 2, at: 3840 }];
  transport.play(wishes(setting), 0, 0, 0);
  transport.pump(0.2);
  transport.change({ from: 3840, to: 7680 });
  transport.pump(6);
  const later = struck.slice(1).map(({ frame }) => frame);
  assert.ok(later.length >= 2);
  assert.equal(later[1] - later[0], 96000);
});

test("the count-in strikes the pulses of its bars, then the piece begins", () => {
  const { struck, transport } = stage();
  transport.play(wishes(piece([note(0)])), 0, 1, 0);
  transport.pump(2.2);
  assert.deepEqual(struck.map(({ key, frame }) => [key, frame]), [[34, 0], [33, 24000], [33, 48000], [33, 72000], [60, 96000]]);
});

test("the click is added to what plays", () => {
  const { struck, transport } = stage();
  transport.play(wishes(piece([note(0)]), { click: true }), 0, 0, 0);
  transport.pump(1.9);
  assert.deepEqual(struck.map(({ key }) => key).sort(), [33, 33, 33, 34, 60]);
});

test("what is too late is not played at all", () => {
  const { struck, context, transport } = stage();
  transport.play(wishes(piece([note(0), note(960), note(2880)])), 0, 0, 0);
  transport.pump(0.3);
  context.currentTime = 1;
  transport.pump(1.6);
  assert.equal(transport.late, 1);
  assert.deepEqual(struck.map(({ frame }) => frame), [0, 72000]);
});

test("the place in the music follows the clock, over passes and changes of tempo", () => {
  const { transport } = stage();
  transport.play(wishes(piece([note(0)])), 0, 0, 0);
  transport.pump(0.5);
  transport.change({ percent: 50 });
  transport.pump(5);
  assert.equal(Math.round(transport.position(0.25).tick), 480);
  assert.equal(Math.round(transport.position(1.5).tick), 960 + 960);
  assert.equal(transport.position(4).pass, 2);
});

test("lengths of notes are whole blocks of the synthesizer", () => {
  const { struck, transport } = stage();
  transport.play(wishes(piece([note(0, { length: 100 })])), 0, 0, 0);
  transport.pump(0.1);
  assert.equal(struck[0].held, (Math.round(2500 / 64) * 64) / RATE);
});

test("clicks stand on the pulses of a bar", () => {
  const part = line([note(0), note(0)]);
  assert.deepEqual(clicks(part, 0, 2880, 1440, [0, 720]).map(({ start }) => start), [0, 720, 1440, 2160]);
  assert.deepEqual(clicks(line([]), 0, 2880, 1440, [0]), []);
});

test("so many passes and no more", () => {
  const { struck, transport } = stage();
  transport.play(wishes(piece([note(0)])), 0, 0, 0, 2);
  transport.pump(20);
  assert.deepEqual(struck.map(({ frame }) => frame), [0, 96000]);
  assert.equal(transport.position(19).tick, 3840);
});

test("a bend goes with the tempo, vibrato keeps its speed", () => {
  const { transport } = stage();
  const setting = piece([note(0)]);
  const curve = [[[0, 0], [480, 2]], [480, 2, 5, 0.5]];
  const points = [100, 50].map((percent) => {
    const segment = transport.pass(1, wishes(setting, { percent }), 0, 0);
    return transport.curve(segment, curve, 0, percent === 100 ? 1 : 2);
  });
  const block = 64 / 48000;
  points.forEach((found, slow) => {
    assert.ok(Math.abs(found[1][0] - block / 2 - (slow ? 0.5 : 0.25)) < 1e-9); // an eighth at 120, at 60
    const tops = found.filter(([, up]) => up === 2.5).map(([at]) => at);
    assert.ok(Math.abs(tops[1] - tops[0] - 1 / 5) < 1e-9);
    assert.ok(found.every(([at]) => at < (slow ? 2 : 1)));
  });
});
