"""The practice page in figures: size, time, and how near its sound is to genex's own files.

    python -m tests.bench.bench_page [RECIPE…] [--keys]

Each recipe is built as a page and opened in Chromium; its audio graph is rendered by the page's own
scheduler at half, full and one and a half tempo, the mix and every part (``--keys``: and the mix in all
twelve keys), and compared with what genex renders of the same score.
"""

from __future__ import annotations

import re
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright

from genex.audio import Renderer
from genex.compose import Composer, usual_of_feel
from genex.page.document import page_html
from genex.page.moves import SHIFTS
from genex.publishing.page_files import page_lesson
from genex.recipe import read_recipe
from genex.resources import default_soundfont, example_recipes
from tests.page.listening import RATE_HZ, distance_db, lag_frames
from tests.page.pages import FLAGS, chromium, moved, rendered, write

BEGUN = RATE_HZ


def main() -> None:
    named = [word for word in sys.argv[1:] if not word.startswith("-")]
    recipes = [Path(word) for word in named] or [example_recipes() / "window-seat.yaml"]
    font = default_soundfont()
    folder = Path(tempfile.mkdtemp())
    with sync_playwright() as driver, Renderer(font) as renderer:
        browser = driver.chromium.launch(executable_path=chromium(), args=list(FLAGS))
        for path in recipes:
            recipe = read_recipe(path, usual_of_feel)
            composer = Composer(recipe)
            first = composer.piece()
            begun, processor = time.perf_counter(), time.process_time()
            data = page_html(recipe.title, [page_lesson(recipe, first, composer)], font)
            took = time.perf_counter() - begun, time.process_time() - processor
            sounds = sum(map(len, re.findall(rb'"data":"([^"]*)"', data)))
            print(
                f"{recipe.title}: page {len(data) / 1000:.0f} kB, audio {sounds / 1000:.0f} kB as text, "
                f"made in {took[0]:.1f} s ({took[1]:.1f} s of processor)"
            )
            tab = browser.new_page()
            begun = time.perf_counter()
            tab.goto(write(folder, data).as_uri())
            tab.evaluate("page.player.load()")
            print(f"  ready after {time.perf_counter() - begun:.2f} s")
            cases = [(percent, 0) for percent in (50, 100, 150)]
            if "--keys" in sys.argv:
                cases += [(100, shift) for shift in SHIFTS if shift]
            for percent, shift in cases:
                score = moved(first.score, shift, percent)
                names = [None, *(part.name for part in score.parts)] if not shift else [None]
                told = []
                for name in names:
                    meant = renderer.loop(score.only(name) if name else score).planes
                    heard = rendered(tab, percent=percent, shift=shift, only=[name] if name else None)
                    same = heard.shape == meant.shape
                    heard, meant = heard[:, BEGUN:], meant[:, BEGUN:]
                    level = 10 * np.log10((heard**2).mean() / (meant**2).mean())
                    lag = lag_frames(heard, meant)
                    told.append(
                        f"{name or 'mix'} {distance_db(heard, meant):.2f} ({level:+.2f} dB"
                        f"{'' if same and not lag else f', LAG {lag}, LENGTH {same}'})"
                    )
                print(f"  {percent} % {shift:+d}: " + ", ".join(told), flush=True)
            tab.close()
        browser.close()


if __name__ == "__main__":
    main()
