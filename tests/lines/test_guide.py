from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import GuideLine, Player
from genex.lines.guide import guide_line
from genex.score import Role
from genex.score.checks import line_overlaps
from genex.theory import NoteName, parse_chord
from tests.lines.line_charts import chart

ONCE = Player(loops=False)
QUALITIES = ("", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "m6", "7sus4", "sus2", "aug", "9", "7b9")
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
symbols = st.builds("".join, st.tuples(st.sampled_from(ROOTS), st.sampled_from(QUALITIES)))

# key, ii, its 3 and 7, V, its 3 and 7, I, its 3 and 7  [common practice] [computed]
TWO_FIVE_ONES = """\
C,Dm7,F,C,G7,B,F,Cmaj7,E,B
F,Gm7,Bb,F,C7,E,Bb,Fmaj7,A,E
Bb,Cm7,Eb,Bb,F7,A,Eb,Bbmaj7,D,A
Eb,Fm7,Ab,Eb,Bb7,D,Ab,Ebmaj7,G,D
Ab,Bbm7,Db,Ab,Eb7,G,Db,Abmaj7,C,G
Db,Ebm7,Gb,Db,Ab7,C,Gb,Dbmaj7,F,C
Gb,Abm7,Cb,Gb,Db7,F,Cb,Gbmaj7,Bb,F
B,C#m7,E,B,F#7,A#,E,Bmaj7,D#,A#
E,F#m7,A,E,B7,D#,A,Emaj7,G#,D#
A,Bm7,D,A,E7,G#,D,Amaj7,C#,G#
D,Em7,G,D,A7,C#,G,Dmaj7,F#,C#
G,Am7,C,G,D7,F#,C,Gmaj7,B,F#""".splitlines()


def names(part):
    return [str(note.pitch.name) for note in part.notes]


@pytest.mark.parametrize("row", TWO_FIVE_ONES)
def test_in_ii_v_i_the_seventh_falls_by_step_to_the_third(row):
    key, ii, ii3, ii7, v, v3, v7, one, one3, one7 = row.split(",")
    timeline = chart(f"{ii} | {v} | {one}", key=key)

    (from_third,) = guide_line(timeline, GuideLine(start="third"), ONCE)
    (from_seventh,) = guide_line(timeline, GuideLine(start="seventh"), ONCE)

    assert names(from_third) == [ii3, v7, one3]
    assert names(from_seventh) == [ii7, v3, one7]
    for part, falls in ((from_third, (0, 1)), (from_seventh, (1, 0))):
        moves = [a.midi - b.midi for a, b in pairwise(part.notes)]
        assert tuple(0 if move == 0 else 1 for move in moves) == falls
        assert all(0 <= move <= 2 for move in moves)


def test_two_voices_cross_the_third_and_the_seventh():
    upper, lower = guide_line(chart("Dm7 | G7 | Cmaj7"), GuideLine(start="third", voices=2), ONCE)

    assert [str(note.degree) for note in upper.notes] == ["b3", "b7", "3"]
    assert [str(note.degree) for note in lower.notes] == ["b7", "3", "7"]
    assert all(a.midi > b.midi for a, b in zip(upper.notes, lower.notes, strict=True))
    assert (upper.name, lower.name) == ("guide-1", "guide-2")


@given(
    st.lists(symbols, min_size=1, max_size=8),
    st.sampled_from(["4/4", "3/4", "6/8", "7/8"]),
    st.sampled_from(["whole", "half", "anticipated"]),
)
@settings(max_examples=60, deadline=None)
def test_every_note_is_a_guide_tone_and_the_line_is_legato(chart_symbols, meter, rhythm):
    timeline = chart(" | ".join(chart_symbols), meter=meter)
    (part,) = guide_line(timeline, GuideLine(rhythm=rhythm), ONCE)

    assert part.role is Role.GUIDE
    assert line_overlaps(part) == []
    assert part.notes[0].onset_beats == 0
    assert part.notes[-1].written_end_beats == timeline.length_beats
    for before, after in pairwise(part.notes):
        assert before.written_end_beats == after.onset_beats
    for note in part.notes:
        middle = note.onset_beats + note.duration_beats / 2
        chord = timeline.chord_at(max(middle, note.onset_beats + Fraction(1, 2))).chord
        if note.degree not in chord.guide_tones:  # the root of a triad that a leading tone goes to
            assert note.degree.number == 1 and chord.find(6, 7) is None
        assert note.pitch.name == chord.root.degree(note.degree)
        assert note.midi == part.strings[note.fretting.string - 1].midi + note.fretting.fret


def test_a_long_chord_is_struck_again_in_every_bar_and_no_chord_is_a_rest():
    (part,) = guide_line(chart("Am7 | % | N.C. | D7"), GuideLine(), ONCE)
    assert [(note.onset_beats, note.duration_beats) for note in part.notes] == [(0, 4), (4, 4), (12, 4)]


def test_half_notes_follow_the_pulses():
    def onsets(meter):
        return [
            n.onset_beats
            for n in guide_line(chart("Am7", meter=meter), GuideLine(rhythm="half"), ONCE)[0].notes
        ]

    assert onsets("4/4") == [0, 2]
    assert onsets("3/4") == [0, 2]
    assert onsets("6/8") == [0, Fraction(3, 2)]
    assert onsets("12/8") == [0, 3]


def test_anticipated_changes_come_an_eighth_early_and_are_held():
    (part,) = guide_line(chart("Dm7 G7 | Cmaj7 | % | N.C. | F6"), GuideLine(rhythm="anticipated"), ONCE)
    assert [note.onset_beats for note in part.notes] == [0, Fraction(3, 2), Fraction(7, 2), 8, 16]


def test_a_falling_line_rises_less():
    changes = chart("Cmaj7 | Ebmaj7 | Gbmaj7 | Amaj7 | Cmaj7 | Ebmaj7")

    def rises(contour):
        (part,) = guide_line(changes, GuideLine(contour=contour), ONCE)
        return sum(max(0, b.midi - a.midi) for a, b in pairwise(part.notes))

    assert rises("falling") <= rises("free") <= rises("rising")
    assert rises("falling") < rises("rising")


@pytest.mark.parametrize(
    ("symbol", "degrees"),
    [  # the tones a guide line may have on chords without third or seventh [common practice]
        ("C", {"3", "5"}),
        ("C6", {"3", "6"}),
        ("C7sus4", {"4", "b7"}),
        ("Csus2", {"2", "5"}),
        ("Cdim7", {"b3", "bb7"}),
        ("Cm7b5", {"b3", "b7"}),
        ("Caug", {"3", "#5"}),
    ],
)
def test_substitutes(symbol, degrees):
    for start in ("third", "seventh"):
        (part,) = guide_line(chart(symbol), GuideLine(start=start), ONCE)
        assert str(part.notes[0].degree) in degrees
    assert {str(degree) for degree in parse_chord(symbol).guide_tones} == degrees


def test_the_line_stays_in_the_position_asked_for():
    (part,) = guide_line(chart("Dm7 | G7 | Cmaj7 | A7b9"), GuideLine(position=5), ONCE)
    assert all(4 <= note.fretting.fret <= 9 for note in part.notes)


def test_the_line_stays_on_the_strings_asked_for():
    changes = chart("Dm7 | G7 | Cmaj7 | A7b9")
    (part,) = guide_line(changes, GuideLine(strings=(3,)), ONCE)
    assert {note.fretting.string for note in part.notes} == {3}
    upper, lower = guide_line(changes, GuideLine(strings=(3, 4), voices=2), ONCE)
    assert {note.fretting.string for note in upper.notes} == {3}
    assert {note.fretting.string for note in lower.notes} == {4}
    frets = [note.fretting.fret for part in (upper, lower) for note in part.notes]
    assert max(frets) - min(frets) <= 5


def test_a_cycle_of_dominants_falls_in_semitones():
    # third and seventh change places and both fall by a semitone at every step [common practice]
    for part in guide_line(
        chart("E7 | A7 | D7 | G7 | C7 | F7"), GuideLine(voices=2, start="third"), ONCE
    ):
        assert [a.midi - b.midi for a, b in pairwise(part.notes)] == [1] * 5
        assert [str(n.degree) for n in part.notes] in (["3", "b7"] * 3, ["b7", "3"] * 3)


def test_a_range_that_holds_no_guide_tone_is_refused():
    with pytest.raises(LineError, match=r"no guide tone of Dm7 .*bar 1"):
        guide_line(chart("Dm7"), GuideLine(), Player(low=61, high=63, loops=False))
    with pytest.raises(LineError, match="holds no note"):
        guide_line(chart("Dm7"), GuideLine(), Player(low=10, high=20, loops=False))
    with pytest.raises(LineError, match="no chord"):
        guide_line(chart("N.C."), GuideLine(), ONCE)


def test_the_closed_line_counts_the_way_back():
    changes = chart("Gm7 | C7 | Fmaj7 | D7b9", key="F")
    (part,) = guide_line(changes, GuideLine(), Player(loops=True))
    assert [str(note.degree) for note in part.notes] in (["b7", "3", "7", "3"], ["b3", "b7", "3", "b7"])
    assert abs(part.notes[-1].midi - part.notes[0].midi) <= 2


def test_spelling_follows_the_chord():
    (part,) = guide_line(chart("Cdim7"), GuideLine(start="seventh"), ONCE)
    assert part.notes[0].pitch.name == NoteName.parse("Bbb")


def test_two_voices_are_held_by_one_hand():
    changes = chart("Dm7 | G7 | Cmaj7 | A7b9 | Fmaj7 | Fm6 | Em7 | A7")
    for wish in (
        GuideLine(voices=2),
        GuideLine(voices=2, position=5),
        GuideLine(voices=2, strings=(2, 3)),
    ):
        upper, lower = guide_line(changes, wish, Player())
        for a, b in zip(upper.notes, lower.notes, strict=True):
            assert a.onset_beats == b.onset_beats
            assert 1 <= b.fretting.string - a.fretting.string <= 2
            assert abs(a.fretting.fret - b.fretting.fret) <= 3
            assert a.fretting.finger != b.fretting.finger


def test_a_line_may_move_over_a_chord_that_stays():
    (still,) = guide_line(chart("Dm7 | Dm7 | G7 | G7"), GuideLine(), Player())
    (moving,) = guide_line(chart("Dm7 | Dm7 | G7 | G7"), GuideLine(moving=True), Player())
    assert still.notes[0].midi == still.notes[1].midi
    assert moving.notes[0].midi != moving.notes[1].midi
    assert moving.notes[2].midi != moving.notes[3].midi


@pytest.mark.parametrize(
    ("changes", "bar", "degree"),
    [  # the tone that the key does not have [common practice]
        ("C | F | Fm | C", 2, "b3"),
        ("C | Fmaj7 | Fm6 | Cmaj7", 2, "b3"),
        ("Cmaj7 | Dm7b5 | Cmaj7 | Cmaj7", 1, None),  # b5 is no guide tone: nothing to show
        ("C | Ab | Bb | C", 1, "5"),
    ],
)
def test_a_borrowed_chord_shows_what_is_borrowed(changes, bar, degree):
    (part,) = guide_line(chart(changes), GuideLine(), Player())
    if degree is None:
        assert part.notes[bar].degree in chart(changes).chords[bar].chord.guide_tones
    else:
        assert str(part.notes[bar].degree) == degree
