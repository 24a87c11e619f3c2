from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.exercises import GuideLine, Player
from genex.lines.guide import guide_line, guide_voicings
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


def movement(path):
    return sum(
        abs(b - a) for before, after in pairwise(path) for a, b in zip(before, after, strict=True)
    )


@given(st.lists(symbols, min_size=1, max_size=6), st.integers(48, 60), st.integers(12, 19))
@settings(max_examples=150, deadline=None)
def test_one_voice_moves_as_little_as_brute_force(chart_symbols, low, width):
    chords = [parse_chord(symbol) for symbol in chart_symbols]
    path = guide_voicings(chords, GuideLine(), Player(low=low, high=low + width, loops=False))

    options = []
    for chord in chords:
        classes = {chord.root.degree(degree).pitch_class for degree in chord.guide_tones}
        options.append([(midi,) for midi in range(low, low + width + 1) if midi % 12 in classes])
    assert all(voicing in option for voicing, option in zip(path, options, strict=True))
    everything = list(product(*options))
    least = min(map(movement, everything))
    assert movement(path) == least

    def ranked(way):
        squares = sum((b[0] - a[0]) ** 2 for a, b in pairwise(way))
        allowed = range(low, low + width + 1)
        middle = allowed[len(allowed) // 2]
        return movement(way), squares, sum(abs(v[0] - middle) for v in way), way

    assert path == min(everything, key=ranked)


@given(st.lists(symbols, min_size=1, max_size=4), st.booleans())
@settings(max_examples=60, deadline=None)
def test_two_voices_move_as_little_as_brute_force(chart_symbols, closed):
    chords = [parse_chord(symbol) for symbol in chart_symbols]
    low, high = 55, 69
    path = guide_voicings(chords, GuideLine(voices=2), Player(low=low, high=high, loops=closed))

    def total(way):
        return movement([*way, way[0]] if closed else way)

    options = []
    for chord in chords:
        third, seventh = (chord.root.degree(degree).pitch_class for degree in chord.guide_tones)
        options.append(
            [
                (a, b)
                for a in range(low, high + 1)
                for b in range(low, a)
                if (a % 12, b % 12) in ((third, seventh), (seventh, third))
            ]
        )
    assert total(path) == min(map(total, product(*options)))


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
        assert note.degree in chord.guide_tones
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
    chords = [parse_chord(symbol) for symbol in ("Cmaj7", "Ebmaj7", "Gbmaj7", "Amaj7")]
    free = guide_voicings(chords, GuideLine(), Player(low=55, high=72, loops=False))
    closed = guide_voicings(chords, GuideLine(), Player(low=55, high=72, loops=True))
    assert movement([*closed, closed[0]]) <= movement([*free, free[0]])


def test_spelling_follows_the_chord():
    (part,) = guide_line(chart("Cdim7"), GuideLine(start="seventh"), ONCE)
    assert part.notes[0].pitch.name == NoteName.parse("Bbb")
