from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Arpeggio
from genex.fretboard.tunings import tuning
from genex.lines.arpeggio import arpeggio_exercise, climb, round_trips
from genex.lines.placement import in_position
from genex.score import Role
from genex.score.checks import line_overlaps
from genex.theory import Degree, parse_chord
from tests.lines.line_charts import chart

SYMBOLS = ("C", "Gm", "F#7", "Abmaj7", "Em7", "Bm7b5", "Bbdim7", "D6", "A7sus4", "Ebaug", "G9", "B7b9")


def names(part, start=0, count=None):
    return " ".join(
        str(note.pitch) for note in part.notes[start : None if count is None else start + count]
    )


def test_a_bar_of_eighths_goes_up_four_steps_and_down_again():
    part = arpeggio_exercise(chart("Am7 | Dm7", key="A minor"), Arpeggio(position=5), Player())
    assert names(part, 0, 8) == "A2 C3 E3 G3 A3 G3 E3 C3"
    assert names(part, 8, 8) == "D3 F3 A3 C4 D4 C4 A3 F3"
    assert [str(note.degree) for note in part.notes[:8]] == "1 b3 5 b7 1 b7 5 b3".split()


def test_the_first_bars_lie_under_the_hand_in_fifth_position():
    # A minor seventh in fifth position: 6/5 6/8 5/7 4/5 4/7 [common practice]
    part = arpeggio_exercise(chart("Am7"), Arpeggio(position=5), Player())
    assert [(n.fretting.string, n.fretting.fret, n.fretting.finger) for n in part.notes[:5]] == [
        (6, 5, 1), (6, 8, 4), (5, 7, 3), (4, 5, 1), (4, 7, 3),
    ]  # fmt: skip
    down = [(n.fretting.string, n.fretting.fret) for n in part.notes[5:]]
    assert down == [(4, 5), (5, 7), (6, 8)]


def test_a_long_chord_becomes_the_practice_path():
    # lowest root, highest tone, lowest tone, lowest root [common practice]
    part = arpeggio_exercise(chart("Dm7 | % | % | %"), Arpeggio(position=5), Player())
    midis = [note.midi for note in part.notes]
    root, top, bottom = midis[0], max(midis), min(midis)
    assert root % 12 == 2
    assert midis.index(top) < midis.index(bottom)
    assert root in midis[midis.index(bottom) :]
    tones = [m for m in in_position(tuning("standard"), 5) if m % 12 in {2, 5, 9, 0}]
    assert sorted(set(midis)) == tones
    ladder = [tones.index(midi) for midi in midis]
    assert all(abs(a - b) == 1 for a, b in pairwise(ladder))


def test_a_ninth_chord_stacks_thirds():
    part = arpeggio_exercise(chart("C9"), Arpeggio(position=7), Player())
    assert names(part, 0, 5) == "C3 E3 G3 Bb3 D4"


def test_short_chords_are_climbed_from_the_nearest_tone():
    part = arpeggio_exercise(chart("Dm7 G7 | Cmaj7"), Arpeggio(position=5), Player())
    first, second = part.notes[:4], part.notes[4:8]
    assert [n.midi for n in first] == sorted(n.midi for n in first)
    assert [n.midi for n in second] == sorted(n.midi for n in second)
    assert 0 < abs(second[0].midi - first[-1].midi) <= 2


@given(
    st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=6),
    st.sampled_from(["quarters", "eighths", "triplets", "sixteenths", "dotted"]),
    st.sampled_from(["4/4", "3/4", "6/8", "7/8"]),
    st.sampled_from([None, 1, 2, 5, 7, 9, 12]),
)
@settings(max_examples=60, deadline=None)
def test_every_note_is_a_chord_tone_in_the_position(symbols, rhythm, meter, position):
    timeline = chart(" | ".join(symbols), meter=meter)
    part = arpeggio_exercise(timeline, Arpeggio(rhythm=rhythm, position=position), Player())

    assert part.role is Role.EXERCISE
    assert line_overlaps(part) == []
    assert part.notes[0].onset_beats == 0
    assert part.notes[-1].written_end_beats == timeline.length_beats
    for before, after in pairwise(part.notes):
        assert before.written_end_beats == after.onset_beats
    frets = [note.fretting.fret for note in part.notes]
    assert max(frets) - min(frets) <= 5
    if position is not None:
        assert all(max(0, position - 1) <= fret <= position + 4 for fret in frets)
    for note in part.notes:
        chord = timeline.chord_at(note.onset_beats).chord
        assert note.midi % 12 in chord.pitch_classes
        assert note.degree == chord.degree_of(note.midi)
        assert note.pitch.name == chord.root.degree(note.degree)
        assert note.midi == part.strings[note.fretting.string - 1].midi + note.fretting.fret
        assert (note.fretting.finger == 0) == (note.fretting.fret == 0)


def test_on_two_strings_a_chord_begins_where_the_hand_is():
    # G minor comes back to Bb4 at fret 11: C7 begins at fret 13, not on its lowest root at fret 1
    part = arpeggio_exercise(chart("Gm7 | C7 | Fmaj7", key="F"), Arpeggio(strings=(1, 2)), Player())
    firsts = [part.notes[index] for index in (0, 8, 16)]
    assert [str(note.pitch) for note in firsts] == ["G4", "C5", "F4"]
    assert [note.fretting.fret for note in firsts] == [8, 13, 6]
    # from C#4 on string 3 the one G is a tritone away: the nearest tone is taken, D4
    part = arpeggio_exercise(chart("A | G"), Arpeggio(strings=(3,)), Player())
    assert [str(note.pitch) for note in part.notes[7:9]] == ["C#4", "D4"]


@given(
    st.lists(st.sampled_from((*SYMBOLS, "F", "Dm", "E7", "Cm7")), min_size=2, max_size=8),
    st.sampled_from(["quarters", "eighths", "triplets", "sixteenths"]),
    st.sampled_from([(1, 2), (2, 3), (3, 4), (4, 5), (5, 6), (1, 2, 3), (4, 5, 6)]),
)
@settings(max_examples=60, deadline=None)
def test_on_chosen_strings_the_hand_never_jumps(symbols, rhythm, strings):
    part = arpeggio_exercise(
        chart(" | ".join(symbols)), Arpeggio(rhythm=rhythm, strings=strings), Player()
    )
    for before, after in pairwise(part.notes):
        assert abs(after.fretting.fret - before.fretting.fret) <= 6
        assert before.midi != after.midi


@given(
    st.integers(2, 12).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n - 1))),
    st.integers(1, 64),
)
def test_round_trips_step_and_return(ladder, count):
    steps, root = ladder
    path = round_trips(range(steps), root, count)
    assert len(path) == count
    assert path[0] == root
    assert all(abs(a - b) == 1 for a, b in pairwise(path))
    assert abs(path[-1] - root) <= 1  # the next chord, or the next time round, starts at hand


@given(
    st.integers(2, 12).flatmap(lambda n: st.tuples(st.just(n), st.integers(0, n - 1))), st.integers(1, 8)
)
def test_climbing_moves_by_steps(ladder, count):
    steps, start = ladder
    path = climb(range(steps), start, count)
    assert len(path) == count and path[0] == start
    assert all(abs(a - b) == 1 for a, b in pairwise(path))
    if start + count <= steps:
        assert path == sorted(path)


def test_no_chord_is_a_rest_and_rests_are_kept():
    part = arpeggio_exercise(
        chart("N.C. | Am7 | N.C."), Arpeggio(rhythm="quarters", rest_every=4), Player()
    )
    assert [note.onset_beats for note in part.notes] == [4, 5, 6]


@pytest.mark.parametrize("name", ["drop D", "DADGAD", "half-step down", "four-string bass", "ukulele"])
def test_other_instruments(name):
    neck = tuning(name)
    timeline = chart("Am7 | D7 | Gmaj7 | C6")
    part = arpeggio_exercise(timeline, Arpeggio(), Player(tuning=neck))
    assert len(part.notes) == 32
    assert part.strings == neck.strings


def test_a_capo_raises_what_sounds():
    part = arpeggio_exercise(
        chart("Am7"), Arpeggio(position=3), Player(tuning=tuning("standard", capo=2))
    )
    assert (part.strings, part.capo) == (tuning("standard").strings, 2)
    for note in part.notes:
        assert note.midi == part.strings[note.fretting.string - 1].midi + 2 + note.fretting.fret


def test_bad_positions_are_refused():
    with pytest.raises(LineError, match="no position 24"):
        arpeggio_exercise(chart("Am7"), Arpeggio(position=24), Player())
    with pytest.raises(LineError, match="fewer than two notes"):
        unisons = tuning("E2 E2")
        arpeggio_exercise(chart("A"), Arpeggio(position=4), Player(tuning=unisons))


def test_onsets_lie_on_an_exact_grid():
    part = arpeggio_exercise(chart("Am7"), Arpeggio(rhythm="triplets"), Player())
    assert [note.onset_beats for note in part.notes] == [Fraction(n, 3) for n in range(12)]


@settings(max_examples=25)
@given(st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=4), st.integers(1, 9))
def test_a_pitch_has_one_place_within_a_chord(symbols: list[str], position: int) -> None:
    part = arpeggio_exercise(chart(" | ".join(symbols)), Arpeggio(position=position), Player())
    for bar in range(len(symbols)):
        inside = [note for note in part.notes if 4 * bar <= note.onset_beats < 4 * bar + 4]
        places = {(note.midi, note.fretting.string, note.fretting.fret) for note in inside}
        assert len(places) == len({note.midi for note in inside})


def test_a_chord_that_comes_again_is_fingered_as_before():
    part = arpeggio_exercise(chart("C | A7 | C | F | C"), Arpeggio(position=7), Player())
    bars = [
        [(n.fretting.string, n.fretting.fret, n.fretting.finger) for n in part.notes[8 * b : 8 * b + 8]]
        for b in (0, 2, 4)
    ]
    assert bars[0] == bars[1] == bars[2]


EXTENDED = "9 maj9 m9 m9b5 11 m11 maj7#11 13 maj13 m13 13#11 7b9 7#9 7b13 7#9b13 7alt 6/9 add9 13sus4"


@pytest.mark.parametrize("quality", EXTENDED.split())
@pytest.mark.parametrize("rhythm", ["quarters", "eighths", "triplets", "sixteenths"])
@pytest.mark.parametrize("text", ["C{0}", "Dm7 C{0}", "C{0} | F7"])
def test_what_a_symbol_names_sounds_wherever_the_position_has_it(quality, rhythm, text):
    """The highest extension and every altered one of the symbol; a 13th has no natural 11 beside its
    major third [common practice]."""
    chord = parse_chord(f"C{quality}")
    highest = max(degree.number for degree in chord.degrees)
    named = {d for d in chord.degrees if d.number == highest or (d.number > 8 and d.alter)}
    for position in range(1, 13):
        wanted = Arpeggio(position=position, rhythm=rhythm)
        timeline = chart(text.format(quality))
        part = arpeggio_exercise(timeline, wanted, Player())
        notes = [n for n in part.notes if timeline.chord_at(n.onset_beats).chord.same_as(chord)]
        assert {n.midi % 12 for n in notes} <= chord.pitch_classes
        if highest == 13 and Degree(3) in chord.degrees:
            assert Degree(11) not in {n.degree for n in notes}
        if len(notes) > len(named):
            classes = {chord.root.degree(degree).pitch_class for degree in named}
            assert classes <= {n.midi % 12 for n in notes}, position


def test_a_thirteenth_is_climbed_to_its_thirteenth():
    """[common practice]: 1 3 5 b7 9 13 and back"""
    part = arpeggio_exercise(chart("C13"), Arpeggio(position=7), Player())
    assert " ".join(str(note.degree) for note in part.notes) == "1 3 5 b7 9 13 9 b7"
