"""The practice page as it lives in a browser: ready, from tap to sound, late notes, drift, memory.

    python -m tests.bench.bench_page_live [RECIPE] [--minutes N]

A recipe's page (one of five parts if none is named) is opened from a file in Chromium and played in
real time for so many minutes, one if nothing is said: a loop of one bar, one and a half times as fast,
so that two hundred passes are over in a few minutes. Printed are

- *ready*: from opening to the page that can be touched, and to all sounds decoded;
- *tap to sound*: from a click on play to the time for which the first note is scheduled, by the
  browser's own relation of its audio clock to its other one, with its output latency added; the first
  tap, which makes the audio context, and the median of ten more;
- *late*: notes that the scheduler found too late, as the page counts them, and how long the main
  thread was held up at most between two looks of its timer;
- *drift*: by how many frames the last pass ends beside first frame + passes x length of a pass;
- *memory*: private bytes (PSS) of the page's process before it plays and at the end, less those of a
  process with an empty page, and the heap of JavaScript.
"""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

from genex.compose import Composer, usual_of_feel
from genex.page.document import page_html
from genex.publishing.page_files import page_lesson
from genex.recipe import read_recipe
from genex.resources import default_soundfont, example_recipes
from tests.page.pages import FLAGS, chromium, write

TAPS = 10
PERCENT = 150
_HOOK = """() => {
  globalThis.first = null;
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, ...more) {
    if (globalThis.tapped !== undefined && (globalThis.first === null || when < globalThis.first)) {
      globalThis.first = when;
    }
    return start.call(this, when, ...more);
  };
  globalThis.held = 0;
  let last = performance.now();
  setInterval(() => {
    const now = performance.now();
    globalThis.held = Math.max(globalThis.held, now - last - 20);
    last = now;
  }, 20);
}"""
_TAP = """async () => {
  globalThis.first = null;
  globalThis.tapped = performance.now();
  document.querySelector(".play").click();
  while (globalThis.first === null) await new Promise((done) => setTimeout(done, 1));
  const { context } = page.player;
  const { contextTime, performanceTime } = context.getOutputTimestamp();
  // A context that has just begun has put nothing out yet: then its clock is at nought now.
  const heard = performanceTime
    ? performanceTime + (globalThis.first - contextTime) * 1000
    : performance.now() + (globalThis.first - context.currentTime) * 1000;
  const took = heard - globalThis.tapped;
  return [took, (context.outputLatency || context.baseLatency || 0) * 1000];
}"""
_DRIFT = """() => {
  const { segments } = page.player.transport;
  const last = segments[segments.length - 1];
  const length = last.end - last.frame;
  return { pass: last.pass, off: last.end - globalThis.begun - last.pass * length };
}"""


def pss_mb(process: int) -> float:
    """Memory of a process, what it shares with others in parts, in megabytes."""
    lines = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
    (line,) = (line for line in lines if line.startswith("Pss:"))
    return int(line.split()[1]) / 1024


def renderers(browser: Any) -> list[int]:
    """Processes that hold pages."""
    found = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    return [one["id"] for one in found if one["type"] == "renderer"]


def page_of(path: Path, folder: Path) -> Path:
    recipe = read_recipe(path, usual_of_feel)
    composer = Composer(recipe)
    first = composer.piece()
    data = page_html(recipe.title, [page_lesson(recipe, first, composer)], default_soundfont())
    print(f"{recipe.title}: {len(first.score.parts)} parts, {len(first.score.timeline.bars)} bars")
    return write(folder, data)


def in_chromium(file: Path, minutes: float) -> None:
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        empty = browser.new_context().new_page()
        empty.goto("about:blank")
        known = renderers(browser)
        nothing = min(map(pss_mb, known))
        tab = browser.new_context().new_page()
        faults: list[str] = []
        tab.on("pageerror", lambda error: faults.append(str(error)))
        tab.add_init_script(f"({_HOOK})()")
        begun = time.perf_counter()
        tab.goto(file.as_uri())
        tab.wait_for_selector(".play")
        shown = time.perf_counter() - begun
        tab.evaluate("page.player.load()")
        ready = time.perf_counter() - begun
        process = max(set(renderers(browser)) - set(known), key=pss_mb)  # one more is kept in hand
        at_first = pss_mb(process) - nothing
        tab.evaluate("page.store.set({count: 0})")
        taps = []
        for _ in range(TAPS + 1):
            taps.append(tab.evaluate(_TAP))
            tab.wait_for_timeout(300)
            tab.click(".play")
            tab.wait_for_timeout(100)
        first, *others = (took + latency for took, latency in taps)
        print(f"ready: shown {shown:.2f} s, sounds decoded {ready:.2f} s")
        print(
            f"tap to sound: {first:.0f} ms the first time, then median {statistics.median(others):.0f}, "
            f"at most {max(others):.0f} ms (output latency {taps[-1][1]:.0f} ms in it)"
        )
        tab.evaluate("globalThis.held = 0")
        tab.evaluate(f"page.store.set({{percent: {PERCENT}}}); page.loop(1, 1)")
        tab.evaluate("page.start(0)")
        tab.wait_for_function("() => page.player.isPlaying")
        tab.evaluate("globalThis.begun = page.player.transport.segments[0].frame")
        tab.wait_for_timeout(minutes * 60_000)
        late, started, held = tab.evaluate(
            "[page.player.transport.late, page.player.transport.started, globalThis.held]"
        )
        drift = tab.evaluate(_DRIFT)
        print(
            f"{minutes:g} minutes: {started} voices, {late} late; the main thread held up {held:.0f} ms "
            f"at most; drift after {drift['pass']} passes: {drift['off']} frames; "
            f"load {os.getloadavg()[0]:.1f}"
        )
        heap = tab.evaluate("performance.memory.usedJSHeapSize") / 1e6
        last = pss_mb(process) - nothing
        print(
            f"memory: {at_first:.0f} MB ready, {last:.0f} MB after playing (an empty page: "
            f"{nothing:.0f}); heap of JavaScript {heap:.0f} MB; faults {faults}"
        )
        browser.close()


def main() -> None:
    """Print the figures."""
    words = sys.argv[1:]
    minutes = float(words.pop(words.index("--minutes") + 1)) if "--minutes" in words else 1.0
    named = [word for word in words if not word.startswith("-")]
    recipe = Path(named[0]) if named else example_recipes() / "window-seat.yaml"
    file = page_of(recipe, Path(tempfile.mkdtemp()))
    in_chromium(file, minutes)


if __name__ == "__main__":
    main()
