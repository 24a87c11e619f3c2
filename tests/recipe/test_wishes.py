"""Scales that the recipe wants in place of those that the harmony asks for."""

from __future__ import annotations

import pytest

from genex.compose import build_timeline, compose
from genex.errors import RecipeError
from genex.recipe import parse_recipe
from genex.recipe.wishes import PlaceInForm
from genex.score import Timeline

CHART = "key: F\nchords: Gm7 C7 | Fmaj7 | Gm7 C7 | Fmaj7 D7 |\n"


def timeline_of(text: str, version: int = 0) -> Timeline:
    recipe = parse_recipe(text)
    return build_timeline(recipe, recipe.versions[version])


def scales_of(timeline: Timeline) -> list[str]:
    return [str(reading.scale) for reading in timeline.readings]


def test_without_wishes_the_harmony_decides():
    # [common practice]
    assert scales_of(timeline_of(CHART)) == [
        "dorian", "mixolydian", "major", "dorian", "mixolydian", "major", "phrygian dominant",
    ]  # fmt: skip


@pytest.mark.parametrize("field", ["{Gm7: phrygian}", "{G-7: Phrygian}"])
def test_by_chord(field: str):
    assert scales_of(timeline_of(CHART + f"scales: {field}"))[::3] == [
        "phrygian",
        "phrygian",
        "phrygian dominant",
    ]


def test_by_bar_and_by_beat_in_every_chorus():
    found = scales_of(
        timeline_of(CHART + "scales: {2: lydian, 3.3: altered, 'bar 4 beat 3': mixolydian}\nrepeats: 2")
    )
    assert found[:7] == found[7:]
    assert found[:7] == ["dorian", "mixolydian", "lydian", "dorian", "altered", "major", "mixolydian"]


def test_wishes_move_with_the_key():
    text = CHART + "keys: [Eb, B]\nscales: {Gm7: phrygian, 2: lydian}"
    for version in (0, 1):
        timeline = timeline_of(text, version)
        assert scales_of(timeline)[:3] == ["phrygian", "mixolydian", "lydian"]
    assert str(timeline.readings[0].chord) == "C#m7"


def test_places_are_read_as_people_write_them():
    assert PlaceInForm.parse("5") == PlaceInForm.parse("bar 5") == PlaceInForm(5)
    assert PlaceInForm.parse("5.3") == PlaceInForm.parse("Bar 5 beat 3") == PlaceInForm(5, 3)
    assert PlaceInForm.parse("C7") is None


@pytest.mark.parametrize(
    ("written", "place", "said", "hint"),
    [
        ("{Gm7: phrigian}", "3:15", "'phrigian' is not a scale", "did you mean phrygian?"),
        ("{Am7: dorian}", "3:10", "'scales' names Am7, which is not in the chart", "Gm7 C7 Fmaj7 D7"),
        ("{9: dorian}", "3:10", "bar 9, where no chord begins", "from 1 to 4"),
        ("{1.2: dorian}", "3:10", "bar 1, beat 2, where no chord begins", "write 1.1 or 1.3"),
        ("{5x: dorian}", "3:10", "neither a chord nor a place", "5.3"),
        ("{Hm7: dorian}", "3:10", "not a chord symbol", "did you mean Bm7?"),
    ],
)
def test_wishes_that_cannot_be_met(written: str, place: str, said: str, hint: str):
    with pytest.raises(RecipeError) as caught:
        parse_recipe(CHART + f"scales: {written}\n", "r.yaml")
    message = str(caught.value)
    assert message.startswith(f"r.yaml:{place}: ")
    assert said in message
    assert hint in message


def test_a_section_in_another_key():
    text = (
        "key: C\nsections:\n  A: C | Am | Dm7 | G7\n"
        "  B: {chords: 'ii7 | V7 | Imaj7 | %', key: Ab}\nform: A B A\nkeys: [C, E]"
    )
    timeline = timeline_of(text)
    assert [str(span.chord) for span in timeline.chords][4:7] == ["Bbm7", "Eb7", "Abmaj7"]
    assert {str(r.key) for r in timeline.readings[4:8]} == {"Ab major"}
    assert all(reading.is_home for reading in timeline.readings)
    assert {str(r.key) for r in timeline_of(text, 1).readings[4:8]} == {"C major"}


def test_a_section_key_that_cannot_be_read():
    with pytest.raises(RecipeError, match=r"r.yaml:1:32: 'H' is not a key"):
        parse_recipe("sections: {A: {chords: C, key: H}}", "r.yaml")


def test_readings_are_on_every_span_and_survive_merging_and_studies():
    text = CHART + "scales: {Gm7: phrygian}\nexercise: calls"
    timeline = compose(parse_recipe(text)).score.timeline
    of_chart = {str(r.chord): str(r.scale) for r in timeline.readings if r.chord is not None}
    assert of_chart["Gm7"] == "phrygian"
    for span in timeline.merged_chords:
        assert timeline.reading_of(span).chord == span.chord
        assert (timeline.reading_of(span).scale is None) == (span.chord is None)


def test_the_take_and_the_outro_are_read_too():
    text = (
        "key: C\nsections: {in: G7, A: C | A7 | Dm7 | G7, out: Fm | C}\nintro: in\nform: A\noutro: out\n"
        "turnaround: Dm7 G7\nrepeats: 2"
    )
    recipe = parse_recipe(text)
    timeline = build_timeline(recipe, recipe.versions[0], ending=True)
    assert len(timeline.readings) == len(timeline.chords)
    assert all(r.chord == s.chord for r, s in zip(timeline.readings, timeline.chords, strict=True))
    assert [r.numeral for r in timeline.readings][-2:] == ["iv", "I"]
    assert timeline.readings[0].numeral == "V7"
