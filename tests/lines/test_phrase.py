from collections import Counter
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.fretboard.tunings import STANDARD
from genex.lines.phrase import PhrasePlan, write_phrase
from genex.lines.phrase_places import chord_over, reading_over
from genex.lines.placement import in_position
from genex.lines.vocabulary import Kind, Vocabulary, degrees_at, is_blues
from genex.theory import parse_chord
from tests.lines.line_charts import chart

CHANGES = "Gm7 | C7 | Fmaj7 | D7b9 | Gm7 C7 | Am7 D7 | Gm7 | F6"
ALLOWED = in_position(STANDARD, 5)


def vocabulary(level, allowed=ALLOWED):
    return Vocabulary(level, tuple(allowed), allowed[len(allowed) // 2])


def phrase(level, seed, bars=2, text=CHANGES, first=0, **options):
    timeline = chart(text, key="F")
    plan = PhrasePlan(**options)
    return timeline, write_phrase(timeline, first, bars, vocabulary(level), Random(f"{seed}"), plan)


def chord_of(timeline, note):
    """The chord that a note belongs to."""
    return chord_over(timeline, note.onset_beats, note.duration_beats, timeline.meter.pulse_beats)


@given(st.integers(1, 6), st.integers(0, 400), st.sampled_from([1, 2, 4]), st.integers(0, 4))
@settings(max_examples=150, deadline=None)
def test_properties_of_a_phrase(level, seed, bars, first):
    timeline, written = phrase(level, seed, bars, first=first)
    notes, kinds = written.notes, written.kinds
    start = timeline.bars[first].onset_beats
    end = timeline.bars[first + bars - 1].end_beats
    assert start <= notes[0].onset_beats and notes[-1].written_end_beats <= end
    for before, after in pairwise(notes):
        assert before.written_end_beats <= after.onset_beats
    # no note three times in a row
    assert not any(
        a.midi == b.midi == c.midi for a, b, c in zip(notes, notes[1:], notes[2:], strict=False)
    )
    # it comes to rest on a chord tone
    last = chord_of(timeline, notes[-1])
    assert last.degree_of(notes[-1].midi) is not None
    assert kinds[-1] is Kind.CHORD

    for index, (note, kind) in enumerate(zip(notes, kinds, strict=True)):
        chord = chord_of(timeline, note)
        assert note.midi in ALLOWED
        assert note.pitch.pitch_class == chord.root.degree(note.degree).pitch_class
        if kind is Kind.CHORD:
            assert note.degree in degrees_at(chord, level)
        elif kind is Kind.SCALE:
            assert level >= 4
            assert level > 4 or note.onset_beats.denominator > 1, "at level 4 off the beat"
            pulse = timeline.meter.pulse_beats
            scale = reading_over(timeline, note.onset_beats, note.duration_beats, pulse).scale
            assert note.midi % 12 in scale.pitch_classes(chord.root)
            assert 1 <= abs(notes[index + 1].midi - note.midi) <= 2
        else:
            assert level >= 5 or kind is Kind.BLUE
            step = notes[index + 1].midi - note.midi
            if kind is Kind.APPROACH:
                assert abs(step) == 1 and kinds[index + 1] is Kind.CHORD
            elif kind is Kind.ENCLOSE_ABOVE:
                assert kinds[index + 1] is Kind.ENCLOSE_BELOW and step in (-2, -3)
            else:
                assert step == 1 and kinds[index + 1] is Kind.CHORD


@pytest.mark.parametrize("seed", range(20))
def test_level_1_keeps_to_three_pitches(seed):
    _, written = phrase(1, seed, text="Gm7 | %")
    assert len({note.midi for note in written.notes}) <= 3
    assert {str(note.degree) for note in written.notes} <= {"1", "b3", "5"}


def test_each_level_shows_what_it_is_about():
    kinds = {level: Counter() for level in range(1, 7)}
    for level in kinds:
        for seed in range(30):
            kinds[level].update(phrase(level, seed)[1].kinds)
    assert set(kinds[1]) == set(kinds[2]) == set(kinds[3]) == {Kind.CHORD}
    assert kinds[4][Kind.SCALE] >= 20 and kinds[4][Kind.APPROACH] == 0
    assert kinds[5][Kind.APPROACH] >= 15 and kinds[5][Kind.ENCLOSE_BELOW] >= 3
    sevenths = [n for seed in range(30) for n in phrase(3, seed)[1].notes if n.degree.number == 7]
    assert sevenths


def test_notes_and_rhythms_are_well_spread():
    steps, lengths = Counter(), Counter()
    for seed in range(60):
        _, written = phrase(3, seed)
        lengths.update(note.duration_beats for note in written.notes)
        steps.update(min(13, abs(b.midi - a.midi)) for a, b in pairwise(written.notes))
    total = sum(steps.values())
    assert steps[0] < total / 8, "few repeated notes"
    assert sum(count for step, count in steps.items() if step <= 5) > 0.8 * total, "mostly small steps"
    assert sum(count for step, count in steps.items() if step > 9) < 0.02 * total
    assert len(lengths) >= 4
    assert max(lengths.values()) < 0.6 * sum(lengths.values())


def test_a_phrase_comes_back_to_its_idea():
    found = 0
    for seed in range(30):
        _, written = phrase(3, seed, bars=4, text="Gm7 | % | % | %")
        words = written.rhythm.words
        kin = [
            (index, copy) for index, copy in enumerate(written.rhythm.copies[:-1]) if copy is not None
        ]
        assert all(words[i] == words[copy.bar] for i, copy in kin if copy.turn == "same")
        found += bool(kin)
    assert found == 30


def test_an_answer_has_the_rhythm_of_what_it_answers():
    timeline, statement = phrase(2, 3)
    answer = write_phrase(timeline, 2, 2, vocabulary(2), Random("x"), PhrasePlan(like=statement))
    assert answer.rhythm.bars[0] == statement.rhythm.bars[0]
    assert [n.midi for n in answer.notes] != [n.midi for n in statement.notes]


@pytest.mark.parametrize("level", [3, 4, 5, 6])
def test_a_pickup_belongs_to_the_chord_it_sounds_over(level):
    pickup = ((Fraction(-1), Fraction(1, 2)), (Fraction(-1, 2), Fraction(1, 2)))
    found = 0
    for seed in range(30):
        timeline, written = phrase(level, seed, first=2, pickup=pickup)
        assert written.start_beats == 8
        before = [note for note in written.notes if note.onset_beats < 8]
        first = written.notes[len(before)]
        if first.onset_beats != 8:
            assert not before, "a phrase that begins off the beat has no pickup"
            continue
        found += 1
        assert [note.onset_beats for note in before] == [7, Fraction(15, 2)]
        assert abs(first.midi - before[-1].midi) <= 7
        chord = timeline.chord_at(Fraction(7)).chord
        for note, kind in zip(before, written.kinds, strict=False):
            assert note.pitch.pitch_class == chord.root.degree(note.degree).pitch_class
            assert kind is not Kind.CHORD or note.degree in degrees_at(chord, level)
    assert found >= 10


def resolved(timeline, written):
    """The pairs of notes over a change in which a guide tone moves by step to a chord tone."""
    found = []
    for before, after in pairwise(written.notes):
        old, new = (chord_of(timeline, note) for note in (before, after))
        if old != new and before.degree in old.guide_tones and 1 <= abs(after.midi - before.midi) <= 2:
            found.append((before, after, new))
    return found


@given(
    st.sampled_from(
        [
            ("Gm7 | C7 | Fmaj7 | %", "4/4"),
            ("Gm7 | C7 | Fmaj7 | %", "3/4"),
            ("Bm7b5 | E7b9 | Am7 | %", "12/8"),
            ("Fmaj7 | Dm7 | Bb7 | C7", "6/8"),
            ("Dm7 G7 | Cmaj7 | Ebmaj7 | Abmaj7", "4/4"),
            ("F7 | Bb7 | F7 | Cm7 F7", "12/8"),
        ]
    ),
    st.sampled_from([2, 4]),
    st.integers(0, 200),
)
@settings(max_examples=80, deadline=None)
def test_level_6_resolves_a_guide_tone_over_a_change(tune, bars, seed):
    text, meter = tune
    timeline = chart(text, key="F", meter=meter)
    written = write_phrase(timeline, 0, bars, vocabulary(6), Random(f"{seed}"))
    pairs = resolved(timeline, written)
    assert pairs
    # the note that is reached is a third or seventh itself: in these tunes one always lies by a step
    assert any(after.degree in new.guide_tones for _, after, new in pairs)


def test_lower_levels_do_not_have_to():
    assert not all(resolved(*phrase(5, seed, text="Gm7 | C7 | Fmaj7 | %")) for seed in range(40)), (
        "that is what level 6 is for"
    )


def test_slides_come_before_held_notes_only():
    slid = [n for seed in range(30) for n in phrase(3, seed, slides=True)[1].notes if n.slide]
    assert slid
    assert all(n.duration_beats >= 1 and n.slide.from_semitones in (-1, -2) for n in slid)


def test_what_cannot_be_is_refused():
    with pytest.raises(LineError, match="no level 9"):
        vocabulary(9)
    with pytest.raises(LineError, match="does not fit the form"):
        phrase(3, 0, bars=9)
    with pytest.raises(LineError, match="range holds"):
        vocabulary(1, allowed=(60, 61, 62)).chord_tones(parse_chord("Gm7"))
    with pytest.raises(LineError, match="no chord sounds"):
        phrase(1, 0, text="N.C. | N.C.")


@pytest.mark.parametrize("level", [3, 4, 5, 6])
def test_over_triads_there_is_more_than_the_triad(level):
    degrees = Counter()
    for seed in range(30):
        _, written = phrase(level, seed, text="F | C | Dm | Bb")
        degrees.update(note.degree.number for note in written.notes)
    assert degrees[2] + degrees[4] + degrees[6] + degrees[7] >= 0.05 * degrees.total()
    if level == 3:
        _, chords = zip(*(phrase(3, seed, text="F | %") for seed in range(30)), strict=True)
        found = {str(note.degree) for written in chords for note in written.notes}
        assert found == {"1", "2", "3", "5", "6"}, "the major pentatonic"


def test_a_blues_has_blue_notes_that_rise_into_a_chord_tone():
    timeline = chart("F7 | Bb7 | F7 | %", key="F")
    assert is_blues(timeline) and not is_blues(chart(CHANGES, key="F"))
    found = Counter()
    for seed in range(40):
        blues = replace(vocabulary(4), blues=True)
        written = write_phrase(timeline, 0, 2, blues, Random(f"{seed}"))
        for index, kind in enumerate(written.kinds):
            if kind is Kind.BLUE:
                found[str(written.notes[index].degree)] += 1
                assert written.notes[index + 1].midi - written.notes[index].midi == 1
    assert found["b3"] and found["b5"] and set(found) == {"b3", "b5"}


def test_a_phrase_turned_over_falls_where_it_rose():
    opposite = 0
    for seed in range(20):
        timeline, first = phrase(4, seed, text="Gm7 | % | % | %")
        plan = PhrasePlan(like=first, likeness="inversion")
        second = write_phrase(timeline, 2, 2, vocabulary(4), Random(f"{seed}"), plan)
        moves = [
            [b.midi - a.midi for a, b in pairwise(p.notes) if a.onset_beats < p.start_beats + 4]
            for p in (first, second)
        ]
        opposite += sum(a * b < 0 for a, b in zip(*moves, strict=False))
        opposite -= sum(a * b > 0 for a, b in zip(*moves, strict=False))
    assert opposite > 20
