"""Lessons for the page's tests, and the browser that opens them.

Everything is shared: one browser, one built page, renders that several tests measure.
"""

from __future__ import annotations

import base64
import shutil
import sys
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from genex.compose import Composition, compose, usual_of_feel
from genex.export.phrases import words
from genex.fretboard import STANDARD
from genex.page.document import page_html
from genex.page.lesson import PageLesson, PageSetting
from genex.page.moves import SHIFTS, shifts_of
from genex.publishing.worded import worded
from genex.recipe.recipe import parse_recipe
from genex.resources import default_soundfont
from genex.score import Part, Score, TempoChange, TempoMap
from genex.theory import Pitch

TUNE = """
title: Paper Lanterns
key: G minor
tempo: 132
feel: swing
chords: Gm7 | Am7b5 D7b9 | Gm7 | D7b9 |
exercise: {kind: arpeggio, rhythm: eighths, position: 3}
count_in: 1
"""
"""Four bars, five parts: a guitar, a clarinet, kit, bass, comping."""

DRILL = """
title: Name It
tempo: 120
exercise: {kind: drill, ask: interval, items: [minor third, perfect fifth], rounds: 1}
seed: 3
"""

CALLS = """
title: Say It Back
key: Bb
tempo: 120
chords: Bbmaj7 | F7 |
exercise: {kind: calls, calls: 2, bars: 1, level: 1, position: 5}
"""

BENT = """
title: Loose Hinge
key: A minor
tempo: 96
feel: click
chords: |
  Segno Am To Coda | <D7 D.S. al Coda |
  Coda Am |
exercise:
  kind: line
  abc: |
    L:1/4
    !bend!d2 !bend-release!g2 | !vibrato!e3 !hammer-on!^f |
    !bend!!vibrato!g4 |
"""
"""A line of nothing but what the hand does to a string, over a chart with a push and a jump."""

CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome")
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--autoplay-policy=no-user-gesture-required",
)


def piece(text: str = TUNE) -> Composition:
    return compose(parse_recipe(text, usual_of=usual_of_feel))


@lru_cache(maxsize=4)
def tune(text: str = TUNE) -> Composition:
    return piece(text)


def lesson(text: str = TUNE, **more: Any) -> PageLesson:
    found = worded(tune(text), more.get("language", "en"))
    title = found.score.title
    setting = PageSetting(found.score, found.cues, found.answers)
    more = {"neck": STANDARD, **more}
    return PageLesson(title, title.lower().replace(" ", "-"), (setting,), **more)


@lru_cache(maxsize=8)
def page(text: str = TUNE, **more: Any) -> bytes:
    one = lesson(text, **more)
    return page_html(one.title, [one], default_soundfont(), language=words(one.language)["language"])


def moved(score: Score, shift: int = 0, percent: int = 100) -> Score:
    """A score as the page plays it in another key, at another tempo."""
    index = SHIFTS.index(shift)

    def by(part: Part) -> Part:
        steps = shifts_of(part)[index]
        return part.map_notes(lambda note: replace(note, pitch=Pitch.from_midi(note.midi + steps)))

    timeline = score.timeline
    changes = [
        TempoChange(one.onset_beats, one.tempo_bpm * percent / 100) for one in timeline.tempo.changes
    ]
    parts = tuple(part if part.is_percussion else by(part) for part in score.parts)
    return replace(score, parts=parts, timeline=replace(timeline, tempo=TempoMap(tuple(changes))))


def chromium() -> str | None:
    """The browser of this machine, if it has one."""
    found = (shutil.which(name) for name in CHROMIUM_NAMES)
    return next((path for path in found if path), None)


NO_BROWSER = f"no browser: none of {', '.join(CHROMIUM_NAMES)} is installed; the page was not opened"


def tell_no_browser() -> None:
    """Say plainly, past pytest's capture, that nothing was opened."""
    print(NO_BROWSER, file=sys.__stderr__)


_RENDER = """async ({percent, shift, only, passes, from, to, gain}) => {
  const { Bank } = await import("#bank");
  const { rendered } = await import("#render");
  if (!window.testBank) { window.testBank = new Bank(page.data.sounds); await testBank.load(); }
  const setting = page.data.lessons[0].settings[0];
  const wishes = {setting, percent, shift, from: from ?? 0, to: to ?? setting.length, swing: 1,
                  own_swing: 1, click: false};
  const sound = await rendered(testBank, wishes, {passes, rate: 48000, gain_db: gain ?? 0, only});
  const out = new Float32Array(2 * sound.length);
  for (const side of [0, 1]) out.set(sound.getChannelData(side), side * sound.length);
  const bytes = new Uint8Array(out.buffer);
  let text = "";
  for (let i = 0; i < bytes.length; i += 32768) {
    text += String.fromCharCode.apply(null, bytes.subarray(i, i + 32768));
  }
  return btoa(text);
}"""


def rendered(
    tab: Any,
    *,
    percent: int = 100,
    shift: int = 0,
    only: Sequence[str] | None = None,
    passes: int = 1,
    span: tuple[int, int] | None = None,
) -> NDArray[np.float32]:
    """What comes out of the page's audio graph, shape (2, frames): its own scheduler, offline."""
    how = {
        "percent": percent,
        "shift": SHIFTS.index(shift),
        "only": only,
        "passes": passes,
        "from": span[0] if span else None,
        "to": span[1] if span else None,
    }
    data = base64.b64decode(tab.evaluate(_RENDER, how))
    return np.frombuffer(data, "<f4").reshape(2, -1)


def write(folder: Path, data: bytes, name: str = "lesson.page.html") -> Path:
    path = folder / name
    path.write_bytes(data)
    return path
