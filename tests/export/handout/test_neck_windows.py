"""The shape in use, and how guide tones resolve [common practice]."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise
from typing import Any

import pytest

from genex import compose_recipe, parse_recipe
from genex.export.handout import HandoutSettings
from genex.export.handout.content import handout_data
from genex.export.handout.neck_windows import resolution, resolutions, shape_in_use
from genex.export.handout.settings import SETTINGS
from genex.fretboard import STANDARD, chord_shapes
from genex.score import Score
from genex.theory import parse_chord
from tests.export.builders import fretted, lead, timeline


def places(*found: tuple[int, int]) -> Any:
    return lead([fretted(F(at, 2), "1/2", *place, 1) for at, place in enumerate(found)])


def test_the_shape_that_is_played_is_found_for_every_form():
    chord = parse_chord("C7")
    shapes = tuple(chord_shapes(chord, STANDARD))
    span = timeline("C7 | F").chords[0]
    for shape in shapes:
        part = places(*[(note.string, note.fret) for note in shape.notes][:8])
        assert shape_in_use(span, part, shapes) is shape


def test_no_shape_is_named_for_a_line_that_leaves_them():
    shapes = tuple(chord_shapes(parse_chord("C7"), STANDARD))
    assert shape_in_use(timeline("C7").chords[0], places((1, 2), (1, 4), (2, 2)), shapes) is None


def spans(chart: str) -> Any:
    return timeline(chart, key="C").chords


@pytest.mark.parametrize(
    ("change", "moves"),
    [
        ("Dm7 | G7", {("b7", "3", -1), ("b3", "b7", 0)}),
        ("G7 | Cmaj7", {("b7", "3", -1), ("3", "7", 0)}),
        ("G7 | Cm7", {("b7", "b3", -2), ("3", "b7", -1)}),
        ("Cmaj7 | F7", {("3", "b7", -1), ("7", "3", -2)}),
        ("Dm7b5 | G7b9", {("b7", "3", -1), ("b3", "b7", 0)}),
    ],
)
def test_guide_tones_go_to_the_nearest_ones(change, moves):
    """Third and seventh change places by a half step or stay, root falling a fifth [common practice]."""
    before, after = spans(change)
    found = resolution(before, after, places((3, 5), (2, 6)), STANDARD, left_handed=False)
    assert found is not None
    told = {(str(a).replace("♭", "b"), str(b).replace("♭", "b"), step) for a, b, step in found.moves}
    assert told == moves


def test_chords_without_a_near_guide_tone_have_no_picture():
    before, after = spans("C5 | F#5")
    found = resolution(before, after, places((3, 5)), STANDARD, left_handed=False)
    assert found is None or all(abs(step) <= 2 for *_, step in found.moves)


def test_a_sheet_draws_each_change_once():
    text = "chords: Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | A7\nexercise: {kind: targets}"
    score = compose_recipe(parse_recipe(text)).score
    found = resolutions(score, score.lead_parts, HandoutSettings())
    named = [tuple(chord.symbol for chord in one.chords) for one in found]
    assert named == [("Dm7", "G7"), ("G7", "Cmaj7"), ("Cmaj7", "A7"), ("A7", "Dm7")]


def windows_of(score: Score, **more: Any) -> list[dict[str, Any]]:
    data = handout_data(score, HandoutSettings(blocks=("lines",)), **more)
    systems = [system for part in data["blocks"][0]["parts"] for system in part["systems"]]
    return [window for system in systems for window in system["windows"]]


def test_windows_stand_over_their_chords_and_never_meet():
    text = "chords: Dm7 G7 | Cmaj7 A7 | Dm7 G7 | Cmaj7\nexercise: {kind: etude, level: 3}"
    score = compose_recipe(parse_recipe(text)).score
    data = handout_data(score, HandoutSettings(blocks=("lines",)))
    for part in data["blocks"][0]["parts"]:
        for system in part["systems"]:
            row = sorted(system["windows"], key=lambda window: window["left_mm"])
            for a, b in pairwise(row):
                assert a["left_mm"] + a["width_mm"] < b["left_mm"]
            assert all(w["left_mm"] + w["width_mm"] <= system["width_mm"] + 0.1 for w in row)
    alts = [window["alt"] for window in windows_of(score)]
    assert alts and len(alts) == len(set(alts))


def test_the_smallest_setting_leaves_windows_out():
    text = "chords: Dm7 | G7\nexercise: {kind: targets}"
    score = compose_recipe(parse_recipe(text)).score
    assert windows_of(score)
    smallest = min(SETTINGS, key=lambda each: (each.staff_space_mm, each.has_windows))
    assert not windows_of(score, setting=smallest)
