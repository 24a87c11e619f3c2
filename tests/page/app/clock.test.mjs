import assert from "node:assert/strict";
import test from "node:test";
import { TempoMap, swung } from "../../../genex/page/app/clock.js";

const at = (bpm, bottom = 1) => new TempoMap([[0, bpm, bottom]]);

test("frames are whole and rounded half up, as in genex's files", () => {
  assert.equal(at(120).frameAt(960, 48000), 24000);
  assert.equal(at(126).frameAt(960, 48000), Math.floor((60 * 48000) / 126 + 0.5));
  assert.equal(at(120).frameAt(1, 48000), 25);
  assert.equal(at(90).frameAt(-960, 48000), -32000);
});

test("at half the tempo everything lasts twice as long", () => {
  assert.equal(at(120).frameAt(3840, 48000, 50), 2 * at(120).frameAt(3840, 48000));
});

test("ticks and seconds lead back to each other, over changes of tempo too", () => {
  const map = new TempoMap([[0, 120, 1], [3840, 60, 1], [7680, 180, 1]]);
  for (const tick of [0, 100, 3840, 5000, 9999]) {
    for (const percent of [50, 100, 137]) {
      assert.ok(Math.abs(map.ticksAt(map.secondsAt(tick, percent), percent) - tick) < 1e-6);
    }
  }
  assert.equal(map.secondsAt(7680), 2 + 4);
});

test("swing moves the middle of a pair and leaves its ends", () => {
  assert.equal(swung(0, 1, 2), 0);
  assert.equal(swung(960, 1, 2), 960);
  assert.equal(swung(480, 1, 2), 640); // two thirds of the beat [common practice: triplet swing]
  assert.equal(swung(640, 2, 1), 480);
  assert.ok(Math.abs(swung(swung(300, 1.7, 1.2), 1.2, 1.7) - 300) < 1e-9);
});
