"""Lines of the teacher's own, over charts and through them."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from genex.compose import compose
from genex.errors import InputError
from genex.export.tab import tab_text
from genex.recipe import parse_recipe


def recipe_of(exercise: str, *, chords: str = "Dm7 | G7 | Cmaj7 | % |", head: str = "key: C"):
    body = "\n".join(f"  {line}" for line in exercise.strip("\n").splitlines())
    text = f"{head}\nchords: {chords}\nparts: exercise\nexercise:\n{body}\n"
    return parse_recipe(text)


def line_of(exercise: str, version: int = 0, **around: str):
    recipe = recipe_of(exercise, **around)
    (part,) = compose(recipe, recipe.versions[version]).score.lead_parts
    return part


def heard(part):
    return [(note.onset_beats, str(note.pitch), note.duration_beats) for note in part.notes]


def places(part):
    return [(note.fretting.string, note.fretting.fret, note.fretting.finger) for note in part.notes]


TWO_BARS = "kind: line\nabc: D2 F2 A2 c2 | B4 z4 |"


def test_a_line_is_played_as_often_as_it_fits():
    part = line_of(TWO_BARS)
    assert [onset for onset, _, _ in heard(part)] == [0, 1, 2, 3, 4, 8, 9, 10, 11, 12]
    rested = line_of(f"{TWO_BARS}\nrest_bars: 2")
    assert heard(rested) == heard(part)[:5]
    assert places(part)[:5] == places(part)[5:]


def test_a_line_begins_anew_with_each_chorus_or_goes_on_over_it():
    chart = "Dm7 | G7 | Cmaj7 |"
    part = line_of(TWO_BARS, chords=chart, head="key: C\nrepeats: 2")
    assert [note.onset_beats for note in part.notes if str(note.pitch) == "B4"] == [4, 16]
    longer = line_of(
        "kind: line\nabc: D8 | D8 | D8 | D8 | E8 |", chords=chart, head="key: C\nrepeats: 2"
    )
    assert [note.onset_beats for note in longer.notes] == [0, 4, 8, 12, 16]


def test_a_pickup_stands_in_the_bar_before():
    part = line_of("kind: line\nabc: G2 | A8 | z4 c4 |")
    # the last note gives way to the pickup, and the first pickup stands where the loop leads back
    assert heard(part) == [
        (0, "A4", 4), (6, "C5", 1), (7, "G4", 1), (8, "A4", 4), (14, "C5", 1), (15, "G4", 1),
    ]  # fmt: skip


def test_keys_move_the_line():
    first = line_of(TWO_BARS, head="key: C\nkeys: [C, Eb, A]")
    for version, steps in ((1, 3), (2, -3)):
        part = line_of(TWO_BARS, version, head="key: C\nkeys: [C, Eb, A]")
        assert {b.midi - a.midi for a, b in zip(first.notes, part.notes, strict=True)} == {steps}
    eb = line_of(TWO_BARS, 1, head="key: C\nkeys: [C, Eb, A]")
    assert [str(note.pitch) for note in eb.notes[:5]] == ["F4", "Ab4", "C5", "Eb5", "D5"]
    assert [str(note.degree) for note in eb.notes[:5]] == ["1", "b3", "5", "b7", "3"]


TAB = """\
kind: line
tab: |
  mine
      q     q     q     q
  e |-------------------5-----|
  B |-------------6-----------|
  G |-------7-----------------|
  D |-7-----------------------|
  A |-------------------------|
  E |-------------------------|
      4     4     3     1
"""


def test_places_and_fingers_of_a_tab_are_kept_and_move_with_the_key():
    part = line_of(TAB, head="key: C\nkeys: [C, D]", chords="Dm7 |")
    assert places(part) == [(4, 7, 4), (3, 7, 4), (2, 6, 3), (1, 5, 1)]
    moved = line_of(TAB, 1, head="key: C\nkeys: [C, D]", chords="Dm7 |")
    assert places(moved) == [(4, 9, 4), (3, 9, 4), (2, 8, 3), (1, 7, 1)]


def test_the_tab_that_is_printed_is_the_same_lesson():
    first = recipe_of(
        "kind: line\nabc: '\"Dm7\"!2!D2 .F2 [Ac]2 !slide!B2 | (3cBA G2- G4 |'\nposition: 5"
    )
    score = compose(first).score
    text = tab_text(score, ["exercise"])
    block = "\n".join(f"  {line}" for line in text.splitlines())
    again = recipe_of(f"kind: line\ntab: |\n{block}")
    title = f"title: {score.title}\n"
    again = parse_recipe(title + again.source.text)
    assert tab_text(compose(again).score, ["exercise"]) == text


def test_double_stops_are_held_together():
    part = line_of("kind: line\nabc: '[EG]2 [FA]2 [GB]2 [Ac]2 | [CEG]8 |'")
    for onset in {note.onset_beats for note in part.notes}:
        together = [note.fretting for note in part.notes if note.onset_beats == onset]
        frets = [place.fret for place in together if place.fret]
        assert len({place.string for place in together}) == len(together) > 1
        assert max(frets) - min(frets) <= 3
    text = tab_text(compose(recipe_of("kind: line\nabc: '[EG]8 |'")).score, ["exercise"])
    assert "two together: the thinner string's first" in text


def test_a_lick_over_every_chord_by_degree():
    part = line_of("kind: lick\nabc: '\"Dm7\"^CDFA =cB_BA |'")
    degrees = [str(note.degree) for note in part.notes]
    assert degrees[:8] == ["7", "1", "b3", "5", "b7", "6", "b6", "5"]
    names = [str(note.pitch) for note in part.notes]
    assert names[:8] == ["C#4", "D4", "F4", "A4", "C5", "B4", "Bb4", "A4"]  # as it is typed
    assert names[8:16] == ["F#4", "G4", "B4", "D5", "F5", "E5", "Eb5", "D5"]  # the third is major
    assert names[16:] == ["B3", "C4", "E4", "G4", "B4", "A4", "Ab4", "G4"]  # and so the seventh


def test_a_lick_in_another_key_is_the_same_lick():
    lick = "kind: lick\nabc: DFAc B4 |\nchord: Dm7"
    head = "key: C\nkeys: [C, F]"
    first, moved = line_of(lick, head=head), line_of(lick, 1, head=head)
    assert [note.degree for note in first.notes] == [note.degree for note in moved.notes]


def test_a_lick_in_all_twelve_keys():
    recipe = recipe_of('kind: lick\nabc: \'"Dm7"D2F2 "G7"B2A2 | "Cmaj7"G8 |\'\ncycle: fourths')
    score = compose(recipe).score
    (part,) = score.lead_parts
    assert len(score.timeline.bars) == 24
    symbols = [span.chord.symbol for span in score.timeline.chords]
    assert symbols[:6] == ["Dm7", "G7", "Cmaj7", "Gm7", "C7", "Fmaj7"]
    steps = [note.midi - part.notes[0].midi for note in part.notes[:5]]
    for start in range(0, 60, 5):
        turn = part.notes[start : start + 5]
        assert [note.midi - turn[0].midi for note in turn] == steps


@pytest.mark.parametrize(
    ("exercise", "said", "place"),
    [
        ("kind: line\nabc: |\n  D2 F2 |\n  E2 ?2 |", "'?' is no sign of ABC", "8:8"),
        ("kind: line\nabc: D2 F2 |", "the bar holds 2 quarter notes", "6:8"),
        ('kind: line\nabc: "D2 F2 A2 \'2 |"', "is no sign of ABC", "6:18"),
        ("kind: line\nabc: '[M:3/4] D6 |'", "the line is in 3/4 and the chart in 4/4", "5:3"),
        ("kind: line\nabc: C,,8 |", "C2 is not on this instrument", "6:8"),
        ("kind: line\nabc: D8 | D8 | D8 | D8 | D8 |", "the line has 5 bars, and 4 are played", "5:3"),
        ("kind: line\nabc: G2 | D8 | D6 F2 |", "the pickup has no room", "5:3"),
        ("kind: line\nfile: none.abc", "there is no file 'none.abc'", "6:9"),
        ("kind: line", "exactly one of 'abc' and 'tab' and 'file' belongs into", "5:3"),
        ("kind: lick\nabc: D8 |\nchord: H7", "'H7'", "7:10"),
        ("kind: lick\nabc: G2 | D8 |", "a lick begins with its bar", "5:3"),
        ("kind: positions\nabc: '[DF]8 |'", "notes of the phrase are struck together", "5:3"),
        ("kind: line\nabc: D4 !pull-off!E4 |", "E4 is no pull-off", "6:21"),
        ("kind: line\nabc: '!bend!E,8 |'\noctave: -1", "E2 lies on an open string", "6:15"),
        ("kind: line\nabc: '[DD]8 |'", "D4 is struck twice at a time", "5:3"),
        ("kind: positions\nabc: D8 |\nphrase: x.mid", "both have a phrase", "7:11"),
    ],
)
def test_mistakes_with_their_places(exercise, said, place):
    with pytest.raises(InputError) as refused:
        compose(recipe_of(exercise))
    assert said in refused.value.message
    assert str(refused.value.place) == f"recipe.yaml:{place}"


def test_positions_have_a_phrase_of_your_own_in_any_key():
    head = "key: C\nkeys: [C, Eb]"
    first = line_of("kind: positions\nabc: D2 F2 A2 c2 |", head=head)
    moved = line_of("kind: positions\nabc: D2 F2 A2 c2 |", 1, head=head)
    assert [str(note.pitch) for note in first.notes[:4]] == ["D4", "F4", "A4", "C5"]
    assert [str(note.pitch) for note in moved.notes[:4]] == ["F4", "Ab4", "C5", "Eb5"]
    assert F(0) == first.notes[0].onset_beats
