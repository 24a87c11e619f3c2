"""Practice notes: what is read off the notes and chords of a score."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from genex.compose import compose
from genex.export.handout.practice_notes import ears, tempo_ladder
from genex.export.phrases import words
from genex.recipe import parse_recipe
from genex.score import Part, Role, Score, TempoChange, TempoMap
from genex.theory import Pitch
from tests.export.builders import small_score
from tests.export.handout.sheets import block, empty, row


def composed(chords: str, more: str = "parts: guide", key: str = "C") -> Score:
    return compose(parse_recipe(f"chords: '{chords}'\nkey: {key}\n{more}")).score


def listened(score: Score) -> list[dict[str, Any]]:
    return list(row(score, "ears")["items"])


def test_in_two_five_one_each_seventh_falls_to_the_next_third() -> None:
    # [common practice]
    items = listened(composed("Dm7 | G7 | Cmaj7 | %", "parts: guide\nguide: {start: seventh}"))
    assert [item["what"] for item in items[:2]] == [
        "C (♭7) falls a half step to B (3)",
        "B stays: 3, then 7",
    ]
    assert [(item["bars"], item["chords"]) for item in items[:2]] == [
        ("2", "Dm7 – G7"),
        ("3", "G7 – Cmaj7"),
    ]


def test_of_two_voices_the_one_that_falls_is_told() -> None:
    items = listened(composed("Dm7 | G7 | Cmaj7 | %", "parts: guide\nguide: {voices: 2}"))
    assert [item["what"] for item in items[:2]] == [
        "C (♭7) falls a half step to B (3)",
        "F (♭7) falls a half step to E (3)",
    ]


SAID = re.compile(r"(\S+) (?:\((\S+)\)|stays: )")
CHARTS = (
    ("Dm7 | G7 | Cmaj7 | A7", "C"),
    ("F7 | Bb7 | F7 | F7 | Bb7 | Bdim7 | F7 | D7b9 | Gm7 | C7 | F7 D7 | Gm7 C7", "F"),
    ("Cm7 F7 | Bbmaj7 | Bbm7 Eb7 | Abmaj7 | Dm7b5 G7b9 | Cm6 | N.C. | G7sus4 G7", "C minor"),
    ("C | G | Am | F", "C"),
)


@pytest.mark.parametrize("more", ["", "guide: {voices: 2}", "guide: {contour: rising}"])
@pytest.mark.parametrize(("chart", "key"), CHARTS)
def test_what_is_told_is_what_the_guide_line_plays(chart: str, key: str, more: str) -> None:
    score = composed(chart, f"parts: guide\n{more}", key)
    guide = [note for part in score.parts if part.role is Role.GUIDE for note in part.notes]
    items = listened(score)
    assert items
    for item in items:
        for number in map(int, item["bars"].split(", ")):
            bar = score.timeline.bars[number - 1]
            symbol = item["chords"].split(" – ")[1].replace("♭", "b").replace("♯", "#")
            onset = next(s.onset_beats for s in score.timeline.chords_in(bar) if str(s.chord) == symbol)
            after = [n for n in guide if n.onset_beats <= onset < n.written_end_beats]
            until = onset or score.timeline.length_beats
            before = [n for n in guide if n.onset_beats < until <= n.written_end_beats]
            names = [text.replace("♭", "b").replace("♯", "#") for text in SAID.findall(item["what"])[0]]
            assert names[0] in {str(note.pitch.name) for note in before}
            if "stays" not in item["what"]:
                last = item["what"].split(" to ")[1].split()[0].replace("♭", "b").replace("♯", "#")
                assert last in {str(note.pitch.name) for note in after}
                assert {a.midi - b.midi for a in after for b in before} & {-2, -1, 1, 2}


def test_a_leap_of_the_guide_line_is_not_told_as_a_step() -> None:
    score = composed("Dm7 | G7 | Cmaj7 | %", "parts: guide\nguide: {start: seventh}")
    guide = score.part("guide")
    low = [
        replace(note, pitch=Pitch(note.pitch.name, note.pitch.octave - (note.onset_beats >= 4)))
        for note in guide.notes
    ]
    leaping = Part.of("guide", Role.GUIDE, guide.program, low, strings=guide.strings)
    told = [ear.chords for ear in ears([leaping], score.timeline, words())]
    assert "Dm7 – G7" not in told and "G7 – Cmaj7" in told


def test_without_a_guide_line_the_exercise_s_own_resolutions_are_told() -> None:
    more = "parts: exercise\nexercise: {kind: targets, approaches: below, density: 1}"
    items = listened(composed("Dm7 | G7 | Cmaj7 | %", more))
    assert [item["what"] for item in items[:2]] == [
        "A♯ (♯5) rises a half step to B (3)",
        "D♯ (♯5) rises a half step to E (3)",
    ]


def test_without_a_line_nothing_is_told() -> None:
    rows = block(empty("Dm7 | G7 | Cmaj7"), "practice")["rows"]
    assert all(r["kind"] != "ears" for r in rows)


def test_a_change_is_listed_once_with_all_its_bars() -> None:
    items = listened(composed("Dm7 | G7 | Dm7 | G7"))
    assert [(item["bars"], item["chords"]) for item in items] == [
        ("2, 4", "Dm7 – G7"),
        ("1, 3", "G7 – Dm7"),
    ]


def test_a_chord_that_goes_on_round_the_loop_is_no_change() -> None:
    items = listened(composed("Dm7 | G7 | Dm7"))
    assert [item["chords"] for item in items] == ["Dm7 – G7", "G7 – Dm7"]


def test_the_place_on_the_neck_is_read_off_the_line() -> None:
    text = row(small_score(), "text")["text"]
    assert text.startswith("Frets 3 to 8; first finger mostly at fret 3")
    assert "begins with finger 3 on string 4, fret 5 (G)" in text
    assert "the hand stays where it is" in text


def test_the_tempo_ladder_ends_at_the_tempo() -> None:
    assert row(small_score(), "tempos")["tempos"] == ["♩ = 72", "♩ = 84", "♩ = 96", "♩ = 108", "♩ = 120"]
    one = row(small_score(), "tempos", tempo_steps=1)["tempos"]
    assert one == ["♩ = 120"]
    rows = block(small_score(), "practice", tempo_steps=0)["rows"]
    assert all(r["kind"] != "tempos" for r in rows)


def test_a_lesson_that_gets_faster_has_its_own_tempos_as_ladder() -> None:
    changes = (TempoChange(Fraction(0), Fraction(80)), TempoChange(Fraction(4), Fraction(95)))
    score = empty("Gm7 | C7", tempo_map=TempoMap(changes))
    assert tempo_ladder(score, 5) == [80, 95]
    assert tempo_ladder(score, 0) == []
