"""The page as a student has it: opened from a file in Chromium, by mouse, by keyboard, on a phone."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from genex.fretboard import STANDARD, chord_shape
from genex.page.document import page_html, words
from genex.page.lesson import PageLesson, PageSetting
from genex.resources import default_soundfont
from genex.theory import parse_chord
from tests.page.pages import CALLS, DRILL, TUNE, lesson, page, piece, tune

Open = Callable[..., Any]
SAYS = words("en")
WITHIN_A_FRAME_MS = 17.0


def played(tab: Any, seconds: float) -> None:
    """Let it play until so much of the music has been heard."""
    tab.wait_for_function(
        "until => page.player.isPlaying && page.player.context.currentTime > until",
        arg=seconds,
        timeout=15_000,
    )


def value(tab: Any, script: str) -> Any:
    return tab.evaluate(script)


def test_it_opens_from_a_file_asks_for_nothing_and_plays(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    tab.evaluate("page.store.set({count: 0})")
    tab.click(".play")
    played(tab, 1.5)
    assert value(tab, "page.player.transport.started") > 10
    assert value(tab, "page.player.transport.late") == 0
    assert value(tab, "page.tick") > 960
    assert tab.text_content(".place").startswith("Bar 1 · Gm7")
    assert tab.query_selector(".bar[aria-current]") is not None
    assert tab.query_selector(".dot.now") is not None or tab.query_selector(".dot.next") is not None
    tab.click(".play")
    assert value(tab, "page.player.isPlaying") is False
    outside = [url for url in tab.requests if not url.startswith(("file:", "data:", "blob:"))]
    assert outside == [] and tab.faults == []


def test_the_picture_is_with_the_sound_by_the_audio_clock(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    tab.evaluate("page.store.set({count: 0})")
    tab.click(".play")
    played(tab, 0.6)
    gaps = tab.evaluate(
        """async () => {
          const gaps = [];
          for (let i = 0; i < 20; i++) {
            await new Promise(requestAnimationFrame);
            const shown = page.tick;
            const now = page.player.position().tick;
            gaps.push((now - shown) * 60000 / (960 * 132));
          }
          return gaps;
        }"""
    )
    assert sorted(gaps)[len(gaps) // 2] < WITHIN_A_FRAME_MS


def test_tempo_key_loop_and_players_change_while_it_plays(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    tab.evaluate("page.store.set({count: 0})")
    tab.click(".play")
    played(tab, 0.3)
    tab.click(f"[aria-label='{SAYS['slower']}']")
    tab.click(f"[aria-label='{SAYS['slower']}']")
    assert "90 %" in tab.text_content(".tempo-text") and "119" in tab.text_content(".tempo-text")
    tab.select_option("#practice select >> nth=2", label="F minor")
    assert tab.text_content(".bar .chord") == "Fm7"
    assert SAYS["key_moved"] in tab.text_content("#practice")
    tab.click(".bar >> nth=1")
    tab.keyboard.press("Shift+ArrowRight")
    assert value(tab, "[page.store.values.from, page.store.values.to]") == [3840, 3 * 3840]
    tab.click(f"[aria-label='{SAYS['mute_part'].replace('{0}', 'Drums')}']")
    assert value(tab, "[...page.player.transport.mixer.strips.keys()].includes('drums')")
    tab.wait_for_function(
        "() => page.player.transport.mixer.strips.get('drums').fader.gain.value < 0.01"
    )
    tab.check("#players input[type=checkbox]")
    tab.wait_for_function(
        "() => page.player.transport.mixer.strips.get('exercise').fader.gain.value < 0.01"
    )
    assert value(tab, "page.player.transport.wishes.percent") == 90
    assert tab.faults == []


def test_a_loop_is_drawn_by_dragging_over_the_chart(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    first, last = (tab.locator(".bar").nth(n).bounding_box() for n in (1, 3))
    tab.mouse.move(first["x"] + 20, first["y"] + 20)
    tab.mouse.down()
    tab.mouse.move(last["x"] + 20, last["y"] + 20, steps=6)
    tab.mouse.up()
    assert value(tab, "[page.store.values.from, page.store.values.to]") == [3840, 4 * 3840]
    assert tab.locator(".bar.looped").count() == 3
    assert value(tab, "page.player.isPlaying") is False


def test_the_ladder_raises_the_tempo(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    ladder = "{on: true, start: 140, end: 150, step: 5, passes: 1, clean: false}"
    tab.evaluate(f"page.store.set({{count: 0, percent: 140, ladder: {ladder}}}); page.loop(1, 1)")
    tab.click(".play")
    tab.wait_for_function("() => page.store.values.percent === 150", timeout=15_000)


def test_everything_by_keyboard(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.textContent") == SAYS["skip"]
    tab.keyboard.press("Tab")
    assert tab.evaluate("document.activeElement.className") == "play strong"
    tab.keyboard.press("Enter")
    tab.wait_for_function("() => page.player.isPlaying")
    tab.keyboard.press("Space")
    assert value(tab, "page.player.isPlaying") is False
    reached = set()
    for _ in range(60):
        tab.keyboard.press("Tab")
        reached.add(
            tab.evaluate("document.activeElement.closest('section, .transport')?.id || 'transport'")
        )
        hidden = tab.evaluate("document.activeElement.getBoundingClientRect().width === 0")
        assert not hidden
    sections = tab.evaluate("[...document.querySelectorAll('section')].map(one => one.id)")
    assert set(sections) - reached <= {"guides", "neck"} - reached
    tab.evaluate("document.activeElement.blur()")
    for key, script, wanted in (
        (",", "page.store.values.percent", 95),
        (".", "page.store.values.percent", 100),
        ("m", "page.store.values.minus", True),
        ("c", "page.store.values.click", True),
        ("l", "page.store.values.label", "fingers"),
        ("[", "page.store.values.to", 3840),
        ("]", "page.store.values.to", 4 * 3840),
    ):
        tab.keyboard.press(key)
        assert value(tab, script) == wanted, key
    tab.evaluate("page.store.set({shortcuts: false})")
    tab.keyboard.press(",")
    assert value(tab, "page.store.values.percent") == 100


def test_changes_are_told_to_screen_readers(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    tab.evaluate("page.store.set({count: 0, announce: true})")
    tab.evaluate("page.loop(2, 3)")
    assert tab.text_content(".unseen") == "Looping bars 2 to 3"
    tab.click(".play")
    tab.wait_for_function("() => document.querySelector('.unseen').textContent.startsWith('Bar 2, Am7')")


@pytest.mark.parametrize(
    ("width", "scheme", "text", "language"),
    [
        (1200, "light", TUNE, "en"),
        (320, "dark", TUNE, "de-x-german"),  # the longest words
        (320, "light", DRILL, "fr-x-solfege"),
    ],
)
def test_no_barrier_that_a_checker_finds_and_no_scrolling_sideways(
    browser: Any, opened: Open, width: int, scheme: str, text: str, language: str
) -> None:
    # [package: axe-core of axe-playwright-python] WCAG 2.1 A and AA, best practices.
    if browser is None:
        return
    tab = opened(
        page(text, language=language),
        viewport={"width": width, "height": 800},
        color_scheme=scheme,
        reduced_motion="reduce",
        bypass_csp=True,  # the checker itself is a script from outside
    )
    tab.evaluate("page.loop(1, 2)")
    found = Axe().run(tab)
    assert found.violations_count == 0, found.generate_report()
    assert value(tab, "document.documentElement.scrollWidth") <= width
    small = tab.evaluate(
        """() => [...document.querySelectorAll("button, select, input:not([type=checkbox]), .check")]
          .filter(one => one.offsetParent && one.getBoundingClientRect().height < 43)
          .map(one => one.outerHTML.slice(0, 80))"""
    )
    wide = tab.evaluate(
        """() => [...document.querySelectorAll("button, select, label, h2, legend, .check")]
          .filter(one => one.offsetParent && one.scrollWidth > one.clientWidth + 1 && one.clientWidth)
          .map(one => one.outerHTML.slice(0, 80))"""
    )
    assert wide == []  # no word sticks out of its box
    assert small == []  # touch targets of 44 CSS pixels [published: WCAG 2.1, 2.5.5]


def test_a_drill_is_asked_answered_and_counted(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page(DRILL))
    tab.evaluate("page.store.set({count: 0, order: 'written'})")
    tab.click(f"text={SAYS['ask']}")
    tab.wait_for_function("() => page.player.isPlaying")
    tab.wait_for_function("() => page.views.music.box.classList.contains('covered')")
    right = value(tab, "page.lesson.settings[0].questions[0].text")
    tab.click(f".choices button:has-text('{right.split(':')[0]}')")
    assert tab.text_content(".result") == f"Right: {right}."
    tab.click(f"text={SAYS['ask']}")
    other = value(tab, "page.lesson.settings[0].questions[1].text")
    wrong = value(
        tab,
        f"[...document.querySelectorAll('.choices button')].map(b => b.textContent)"
        f".find(t => !{json.dumps(other)}.startsWith(t))",
    )
    tab.click(f".choices button:has-text('{wrong}')")
    assert tab.text_content(".result") == f"Not this time: it was {other}."
    assert tab.text_content(".tally li") == "1 of 2 right"
    with tab.expect_download() as waiting:
        tab.click(f"#ear >> text={SAYS['export']}")
    text = waiting.value.path().read_text()
    assert text.splitlines()[0] == "item,asked,right" and len(text.splitlines()) == 3
    tab.reload()
    assert tab.text_content(".tally li") == "1 of 2 right"
    assert tab.faults == []


def test_the_neck_shows_a_form_or_all_of_it_in_every_key(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page(), viewport={"width": 320, "height": 800}, bypass_csp=True)
    chooser = tab.get_by_label(SAYS["neck_show"], exact=True)
    chooser.focus()
    tab.keyboard.press("e")  # a form's letter, as in any list
    assert chooser.evaluate("one => one.value") == "E"
    places = "[...document.querySelectorAll('.neck-picture .dot')].length"
    name = "document.querySelector('.neck-picture').getAttribute('aria-label')"
    gm7 = chord_shape(parse_chord("Gm7"), STANDARD, "E")
    assert value(tab, places) == len(gm7.notes)
    assert "Gm7: E form. string 6, frets 3, 6;" in value(tab, name)
    for shift, symbol in ((2, "Em7"), (10, "Cm7")):  # three half steps down, five up
        tab.evaluate(f"page.store.set({{key: {shift}}})")
        shape = chord_shape(parse_chord(symbol), STANDARD, "E")
        frets = sorted(note.fret for note in shape.notes if note.string == 6)
        assert f"{symbol}: E form. string 6, frets {', '.join(map(str, frets))}" in value(tab, name)
        assert value(tab, places) == len(shape.notes)
    tab.evaluate("page.store.set({key: 5})")
    tab.reload()
    tab.wait_for_selector(".dot")
    assert value(tab, "page.store.values.view") == "E"  # kept
    tab.evaluate("document.activeElement.blur()")
    for _ in range(2):
        tab.keyboard.press("v")
    assert value(tab, "page.store.values.view") == "whole"
    assert tab.text_content(".unseen") == SAYS["neck_whole"]
    tones = {pitch.pitch_class for pitch in parse_chord("Gm7").notes}
    wanted = sum((s + f) % 12 in tones for s in STANDARD.open_midi for f in range(STANDARD.frets + 1))
    assert value(tab, places) == wanted
    assert value(tab, "document.documentElement.scrollWidth") <= 320
    assert Axe().run(tab).violations_count == 0
    tab.evaluate("page.store.set({count: 0})")
    tab.evaluate("page.start(0)")
    tab.wait_for_selector(".dot.now")
    tab.keyboard.press("v")
    assert value(tab, "page.store.values.view") == "line"
    assert tab.faults == []


def test_a_drill_is_answered_on_the_neck(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page(DRILL))
    tab.evaluate("page.store.set({count: 0, order: 'written'})")
    tab.click(f"text={SAYS['ask']}")
    for key in value(tab, "page.lesson.settings[0].questions[0].keys"):
        tab.evaluate(f"page.views.neck.played({key}, '')")
    assert tab.text_content(".result").startswith("Right")


def test_calls_are_covered_and_whoever_played_says_how_it_went(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page(CALLS))
    tab.evaluate("page.store.set({count: 0, order: 'written'})")
    tab.click(f"text={SAYS['ask']}")
    tab.wait_for_function(
        "() => page.player.isPlaying && page.views.music.box.classList.contains('covered')"
    )
    tab.wait_for_function("() => /Your turn: \\d/.test(document.querySelector('.cue').textContent)")
    assert not tab.is_visible(f"text={SAYS['had_it']}")
    tab.click(f"text={SAYS['show_answer']}")
    assert tab.text_content(".result") == value(tab, "page.setting.questions[0].text")
    tab.click(f"text={SAYS['had_it']}")
    assert tab.text_content(".tally li") == "1 of 1 right"
    tab.wait_for_function("() => !page.player.isPlaying", timeout=15_000)  # after its one pass
    assert tab.faults == []


def test_the_log_fills_and_can_be_saved(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    tab.evaluate("page.store.set({count: 0})")
    tab.click(".play")
    played(tab, 1.3)
    tab.click(".play")
    row = tab.locator("#log td").all_text_contents()
    assert row[1:] == ["Paper Lanterns", "G minor", "132", "1"]
    with tab.expect_download() as waiting:
        tab.click(f"#log >> text={SAYS['export']}")
    assert waiting.value.path().read_bytes().startswith(b"date,lesson,key,tempo,minutes\r\n")


def test_the_sheet_is_what_is_printed(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page())
    tab.emulate_media(media="print")
    assert not tab.is_visible(".transport") and not tab.is_visible("#practice")
    assert tab.is_visible("#chart") and tab.is_visible(".system svg")


FORBIDDEN = "Object.defineProperty(window, 'localStorage', {get() { throw new Error('forbidden'); }});"
NO_AUDIO = "delete window.AudioContext; delete window.webkitAudioContext;"
NO_UNPACKING = "delete window.DecompressionStream;"


def test_a_browser_that_lacks_something_says_so_and_shows_the_rest(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    tab = opened(page(), before=FORBIDDEN + NO_AUDIO + NO_UNPACKING)
    note = tab.text_content(".note")
    assert SAYS["not_kept"] in note and SAYS["no_audio"] in note
    assert tab.locator(".bar").count() == 4
    tab.wait_for_selector(".tab-picture")
    assert SAYS["music_plain"] in tab.text_content("#music")
    tab.click(".play")
    assert tab.faults == []


def test_text_of_a_recipe_is_shown_and_never_run(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    title = "<img src=x onerror=\"document.title='run'\"> 'quotes' & </script>"
    named = replace(lesson(), title=title)
    tab = opened(page_html(title, [named], default_soundfont()))
    assert tab.text_content("h1") == title
    assert tab.title() == title and tab.faults == []


def test_a_lesson_without_sound_says_so(browser: Any, opened: Open, tmp_path: Any) -> None:
    if browser is None:
        return
    silent = PageLesson("Still", "still", (PageSetting(tune().score.only()),))
    tab = opened(page_html("Still", [silent], tmp_path / "no.sf2"))
    assert SAYS["no_sound"] in tab.text_content(".note")
    tab.click(".play")
    assert tab.locator(".bar").count() == 4 and tab.faults == []


def test_a_thousand_bars_are_shown_and_played(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    row = " | ".join(["Gm7", "C7", "Fmaj7", "D7"] * 16)
    long = piece(
        f"title: Long\nkey: F\ntempo: 140\nchords: '{row}'\nrepeats: 16\nparts: bass exercise\n"
        "exercise: {kind: arpeggio, rhythm: quarters}\n"
    )
    data = page_html(
        "Long", [PageLesson("Long", "long", (PageSetting(long.score),))], default_soundfont()
    )
    tab = opened(data)
    assert tab.locator(".bar").count() == 1024
    tab.evaluate("page.jump(1000)")
    tab.evaluate("page.store.set({count: 0})")
    tab.click(".play")
    tab.wait_for_function("() => page.player.isPlaying && page.tick > page.setting.bars[1000].at")
    assert tab.text_content(".place").startswith("Bar 1001")
    assert value(tab, "page.player.transport.late") == 0 and tab.faults == []


def test_several_lessons_share_a_page_and_its_sounds(browser: Any, opened: Open) -> None:
    if browser is None:
        return
    lessons = [lesson(), lesson(DRILL)]
    tab = opened(page_html("Term", lessons, default_soundfont()))
    tab.select_option("header select", label="Name It")
    assert tab.text_content("h1") == "Name It" and tab.is_visible("#ear")
    tab.select_option("header select", label="Paper Lanterns")
    assert tab.locator(".bar").count() == 4 and tab.faults == []
