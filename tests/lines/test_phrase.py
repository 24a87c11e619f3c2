from collections import Counter
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.fretboard.tunings import STANDARD
from genex.lines.phrase import write_phrase
from genex.lines.placement import in_position
from genex.lines.rhythm import CELLS, FEWEST_NOTES, draw_pickup, draw_rhythm, notes_wanted
from genex.lines.vocabulary import Kind, Vocabulary, degrees_at, require_level
from genex.score import Meter
from genex.theory import parse_chord
from tests.lines.line_charts import chart

CHANGES = "Gm7 | C7 | Fmaj7 | D7b9 | Gm7 C7 | Am7 D7 | Gm7 | F6"
ALLOWED = in_position(STANDARD, 5)


def vocabulary(level, allowed=ALLOWED):
    return Vocabulary(level, tuple(allowed), allowed[len(allowed) // 2])


def phrase(level, seed, bars=2, text=CHANGES, first=0, **options):
    timeline = chart(text, key="F")
    return timeline, write_phrase(timeline, first, bars, vocabulary(level), Random(f"{seed}"), **options)


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
    last = timeline.chord_at(notes[-1].onset_beats).chord
    assert last.degree_of(notes[-1].midi) is not None
    assert kinds[-1] is Kind.CHORD

    for index, (note, kind) in enumerate(zip(notes, kinds, strict=True)):
        chord = timeline.chord_at(note.onset_beats).chord
        assert note.midi in ALLOWED
        assert note.pitch.pitch_class == chord.root.degree(note.degree).pitch_class
        if kind is Kind.CHORD:
            assert note.degree in degrees_at(chord, level)
        elif kind is Kind.SCALE:
            assert level >= 4
            scale = timeline.reading_at(note.onset_beats).scale
            assert note.midi % 12 in scale.pitch_classes(chord.root)
            assert 1 <= abs(notes[index + 1].midi - note.midi) <= 2
        else:
            assert level >= 5
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
        bars = written.rhythm.bars
        kin = [
            (index, other) for index, other in enumerate(written.rhythm.like[:-1]) if other is not None
        ]
        assert all(bars[index] == bars[other] for index, other in kin)
        found += bool(kin)
    assert found == 30


def test_an_answer_has_the_rhythm_of_what_it_answers():
    timeline, statement = phrase(4, 3)
    answer = write_phrase(timeline, 2, 2, vocabulary(4), Random("x"), like=statement)
    assert answer.rhythm == statement.rhythm
    assert [n.midi for n in answer.notes] != [n.midi for n in statement.notes]


@given(
    st.sampled_from(["4/4", "3/4", "2/4", "5/4", "6/8", "9/8", "12/8", "7/8"]),
    st.integers(1, 8),
    st.integers(1, 6),
    st.integers(0, 300),
)
@settings(deadline=None)
def test_rhythms_fit_their_bars(meter, bars, level, seed):
    signature = Meter.parse(meter)
    rhythm = draw_rhythm(signature, bars, level, Random(f"{seed}"))
    assert len(rhythm.bars) == len(rhythm.like) == bars
    for bar in rhythm.bars:
        for (onset, length), (following, _) in pairwise(bar):
            assert onset + length <= following
        assert not bar or bar[-1][0] + bar[-1][1] <= signature.bar_beats
    assert rhythm.bars[0], "a phrase begins in its first bar"
    if level <= 2:
        assert rhythm.bars[0][0][0] == 0
    onset, length = rhythm.bars[-1][-1]
    breath = signature.bar_beats - onset - length
    enough = len(signature.pulses) >= 3 or bars > 1
    assert breath >= (signature.pulse_beats if enough else Fraction(1, 2))
    assert rhythm == draw_rhythm(signature, bars, level, Random(f"{seed}"))


@pytest.mark.parametrize("meter", ["4/4", "3/4", "5/4", "6/8", "9/8", "12/8"])
@pytest.mark.parametrize("bars", [2, 4])
def test_phrases_keep_to_the_number_of_notes_of_their_level(meter, bars):
    signature = Meter.parse(meter)
    for level in range(1, 7):
        fewest, most = notes_wanted(signature, bars, level)
        counts = [draw_rhythm(signature, bars, level, Random(f"{n}")).count for n in range(40)]
        assert all(max(FEWEST_NOTES, fewest) <= count <= most for count in counts)


def test_twelve_eight_is_no_sparser_than_four_four():
    # a dotted quarter has three eighths: a bar has more notes, at level 6 more than its pulses
    four, twelve = Meter(4, 4), Meter(12, 8)
    for level in range(1, 7):
        assert notes_wanted(twelve, 2, level)[0] >= notes_wanted(four, 2, level)[0]
        assert notes_wanted(twelve, 2, level)[1] > notes_wanted(four, 2, level)[1]
    assert notes_wanted(twelve, 2, 6)[0] > 2 * len(twelve.pulses)


@given(st.sampled_from(["4/4", "3/4", "6/8", "12/8"]), st.integers(1, 6), st.integers(0, 60))
def test_a_pickup_leads_up_to_the_bar_line(meter, level, seed):
    signature = Meter.parse(meter)
    pickup = draw_pickup(signature, level, Random(f"{seed}"))
    if level < 3:
        assert pickup == ()
    if pickup:
        assert -signature.pulse_beats <= pickup[0][0] < 0
        ends = [onset + length for onset, length in pickup]
        assert ends == [*(onset for onset, _ in pickup[1:]), 0]


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


def test_cells_fill_their_pulses():
    for compound, cells in CELLS.items():
        pulse = Fraction(3, 2) if compound else Fraction(1)
        for cell in cells:
            assert all(onset + length <= cell.pulses * pulse for onset, length in cell.notes)


def resolved(timeline, written):
    """The pairs of notes over a change in which a guide tone moves by step to a chord tone."""
    found = []
    for before, after in pairwise(written.notes):
        old, new = (timeline.chord_at(note.onset_beats).chord for note in (before, after))
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
    with pytest.raises(LineError, match="seventh chords"):
        require_level([parse_chord("C"), parse_chord("Am")], 3)
    with pytest.raises(LineError, match="no chord sounds"):
        phrase(1, 0, text="N.C. | N.C.")
