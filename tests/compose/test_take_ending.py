"""How a take ends, as players end tunes [common practice]."""

from fractions import Fraction as F
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose, usual_of_feel
from genex.compose.take_ending import at_home, is_tonic, tonic_chord
from genex.lines.guide_path import falls_by_fifth
from genex.recipe import Series, parse_recipe, read_lessons
from genex.resources import example_recipes
from genex.score import Meter
from tests.lines.line_charts import chart


def symbols(timeline):
    return " | ".join(
        " ".join(str(span.chord or "N.C.") for span in timeline.chords_in(bar)) for bar in timeline.bars
    )


@pytest.mark.parametrize(
    ("key", "written", "taken"),
    [
        # at home already
        ("C", "Dm7 | G7 | Cmaj7 | Cmaj7", "Dm7 | G7 | Cmaj7 | Cmaj7"),
        ("A minor", "Dm7 | E7 | Am6 | Am6", "Dm7 | E7 | Am6 | Am6"),
        # a turnaround gives way to the tonic that it began on
        ("F", "Gm7 | C7 | Fmaj7 | D7b9", "Gm7 | C7 | Fmaj7 | Fmaj7"),
        ("F", "Gm7 | C7 | Fmaj7 D7 | Gm7 C7", "Gm7 | C7 | Fmaj7 | Fmaj7"),
        ("Bb", "Bb6 | G7 | Bb6 G7 | Cm7 F7", "Bb6 | G7 | Bb6 | Bb6"),
        # a fifth in the last bar is heard before the tonic
        ("C", "C | Am | F | G", "C | Am | F G | C"),
        ("C", "Cmaj7 | Am7 | Dm7 | G7", "Cmaj7 | Am7 | Dm7 G7 | Cmaj7"),
        ("C", "Cmaj7 | A7 | Dm7 | Db7", "Cmaj7 | A7 | Dm7 Db7 | Cmaj7"),
        # a fifth that comes before is cadence enough
        ("C", "C | F | G | G7", "C | F | G | C"),
        ("G", "G | D7 | Em | C", "G | D7 | Em C | G"),
        # a chord that goes nowhere makes room
        ("C", "C | G | F | Am", "C | G | F | C"),
        ("C", "C | F | C | C7", "C | F | C | C"),
        # a blues ends on its tonic seventh
        ("C", "C7 | F7 | C7 A7 | Dm7 G7", "C7 | F7 | C7 | C7"),
        ("C", "C7 | G7 | F7 | G7", "C7 | G7 | F7 G7 | C7"),
        # modes have their own home
        ("D dorian", "Dm7 | G7 | Dm7 | G7", "Dm7 | G7 | Dm7 | Dm7"),
        ("G mixolydian", "G | F | C | F", "G | F | C F | G"),
        # no tonic anywhere: the mode's own
        ("C", "Dm7 | G7 | Dm7 | G7", "Dm7 | G7 | Dm7 G7 | Cmaj7"),
        ("A minor", "Dm | E | Dm | E", "Dm | E | Dm E | Am"),
        ("F lydian", "G | G | G | G", "G | G | G | F"),
        # one bar, silence
        ("C", "G7", "Cmaj7"),
        ("C", "C | G7 | N.C.", "C | G7 | N.C."),
    ],
)
def test_the_last_bars_of_a_take(key, written, taken):
    assert symbols(at_home(chart(written, key=key))) == taken


def test_a_fifth_moves_to_the_last_beats_of_the_bar_before():
    for meter, beat in (("4/4", 2), ("3/4", 2), ("6/8", 1.5), ("5/4", 3)):
        taken = at_home(chart("C | Am7 | Dm7 | G7", meter=meter))
        bar = taken.bars[-2]
        first, second = taken.chords_in(bar)
        assert (str(first.chord), str(second.chord)) == ("Dm7", "G7")
        assert second.onset_beats - bar.onset_beats == beat
        assert second.onset_beats - bar.onset_beats in Meter.parse(meter).pulses


@pytest.mark.parametrize(
    ("key", "changes", "tonic"),
    [
        ("C", "C6 | Cmaj7 | Cmaj7 | G7", "Cmaj7"),
        ("C", "C | C7 | C7 | F", "C"),  # C7 is the fifth of F, however long it lasts
        ("C", "C7 | F7 | G7", "C7"),
        ("C minor", "Cm | Cm(maj7) | Cm7 | Cm6", "Cm"),
        ("C", "C/E | F | G", "C"),
        ("B dorian", "E7 | A", "Bm"),
        ("B phrygian", "Cmaj7 | Am7 | Em7", "Bm7"),
    ],
)
def test_the_chord_that_a_chart_rests_on(key, changes, tonic):
    timeline = chart(changes, key=key)
    assert str(tonic_chord(timeline.chords, timeline.key)) == tonic


words = st.sampled_from("C Dm7 Em7 F G7 Am Bm7b5 C7 Fm Db7 Cmaj7 G7sus4 N.C.".split())
bars = st.one_of(words, words, st.builds("{} {}".format, words, words))


@given(st.lists(bars, min_size=1, max_size=9), st.sampled_from(["4/4", "3/4", "6/8", "2/2"]))
@settings(max_examples=150, deadline=None)
def test_every_take_ends_at_home_and_is_as_long_as_before(cells, meter):
    timeline = chart(" | ".join(cells), meter=meter)
    taken = at_home(timeline)
    last = [span.chord for span in taken.chords_in(taken.bars[-1])]
    assert all(chord is None or is_tonic(chord, taken.key) for chord in last) or None in last
    assert taken.bars == timeline.bars
    kept = timeline.bars[max(0, len(cells) - 2)].onset_beats
    before, after = ([s for s in t.chords if s.onset_beats < kept] for t in (timeline, taken))
    assert before == after


RECIPES = sorted(example_recipes().glob("*.yaml"))


def examples():
    for path in RECIPES:
        read = read_lessons(path, usual_of_feel)
        for lesson in read.lessons if isinstance(read, Series) else [read]:
            yield from lesson.exercises or [lesson]


@pytest.mark.parametrize("recipe", list(examples()), ids=lambda recipe: recipe.slug)
def test_every_examples_take_ends_at_home_or_on_its_last_shape(recipe):
    taken = compose(recipe, ending=True).score
    last = taken.timeline.bars[-1]
    chord = taken.timeline.chord_at(last.onset_beats).chord
    exercise = recipe.fields.exercise
    own = exercise is not None and exercise.has_own_chart and "exercise" in recipe.parts
    if chord is None or (own and not exercise.asks):
        return
    assert is_tonic(chord, taken.timeline.key), f"{chord} is not home in {taken.timeline.key}"
    if own:
        return
    for part in taken.lead_parts:
        end = part.notes[-1]
        assert end.written_end_beats == taken.timeline.length_beats
        assert end.degree in chord.degrees
        assert end.onset_beats <= last.onset_beats


@pytest.mark.parametrize("recipe", list(examples()), ids=lambda recipe: recipe.slug)
def test_the_guide_lines_of_all_examples_step_at_every_falling_fifth(recipe):
    score = compose(recipe).score
    for part in score.parts:
        if not part.name.startswith("guide"):
            continue
        for before, after in pairwise(part.notes):
            # A change that comes early is heard before its chord: the end of a note tells it.
            ends = [note.written_end_beats - F(1, 8) for note in (before, after)]
            chords = [score.timeline.chord_at(beats).chord for beats in ends]
            if None not in chords and falls_by_fifth(*chords):
                assert abs(after.midi - before.midi) <= 2, f"{chords} at {after.onset_beats}"


def test_a_ritardando_is_heard_in_the_take_only():
    text = "key: F\ntempo: 120\nchords: Gm7 | C7 | Fmaj7 | D7b9 |\nritardando: true\n"
    recipe = parse_recipe(text)
    assert len(compose(recipe).score.tempo.changes) == 1
    tempos = [change.tempo_bpm for change in compose(recipe, ending=True).score.tempo.changes]
    assert tempos[0] == 120 and tempos[-1] == 72
