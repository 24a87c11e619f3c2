"""Two voices that one hand holds."""

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.fretboard import HandMove, tuning
from genex.fretboard.tunings import STANDARD
from genex.lines.double_stops import _change, finger_together, pairs_of
from genex.score import Note
from genex.theory import Pitch


def notes(text):
    return [Note(index, 1, Pitch.parse(name)) for index, name in enumerate(text.split())]


def places(voice):
    return " ".join(f"{n.fretting.string}/{n.fretting.fret}" for n in voice)


@pytest.mark.parametrize(
    ("upper", "lower", "high", "low"),
    [  # guide tones of ii-V-I on two neighbouring strings: the shell voicings of every method
        # book without their roots [common practice]
        ("F4 F4 E4", "C4 B3 B3", None, None),
        ("C4 B3 B3", "F3 F3 E3", "3/5 3/4 3/4", "4/3 4/3 4/2"),  # Dm7 G7 Cmaj7
        ("Bb3 Bb3 A3", "F3 E3 E3", "3/3 3/3 3/2", "4/3 4/2 4/2"),  # Gm7 C7 Fmaj7
    ],
)
def test_guide_tones_of_a_ii_v_i_lie_under_one_hand(upper, lower, high, low):
    above, below = finger_together(notes(upper), notes(lower), STANDARD)
    assert all(n.fretting.move is HandMove.NONE for n in above[:2] + below[:2])
    if high is not None:
        assert (places(above), places(below)) == (high, low)


def test_a_note_that_stays_keeps_its_finger():
    above, below = finger_together(notes("C4 B3 B3"), notes("F3 F3 E3"), STANDARD)
    assert below[0].fretting.finger == below[1].fretting.finger
    assert above[1].fretting.finger == above[2].fretting.finger


def test_equal_frets_take_two_fingers_the_higher_one_on_the_thinner_string():
    (high,), (low,) = finger_together(notes("Bb3"), notes("F3"), STANDARD)
    assert high.fretting.fret == low.fretting.fret == 3
    assert high.fretting.finger == low.fretting.finger + 1


pitches = st.integers(50, 76)
pairs = st.lists(
    st.tuples(pitches, st.integers(2, 11)).map(lambda p: (p[0], p[0] - p[1])), min_size=1, max_size=6
)
necks = st.sampled_from(["standard", "drop D", "open G", "ukulele", "bass"])


@given(pairs, necks)
@settings(max_examples=200, deadline=None)
def test_every_pair_can_be_held(chart, name):
    neck = tuning(name)
    upper, lower = ([Note(i, 1, Pitch.from_midi(p[v])) for i, p in enumerate(chart)] for v in (0, 1))
    if not all(pairs_of(a, b, neck, closed=False) for a, b in chart):
        with pytest.raises(LineError, match="cannot be held by one hand"):
            finger_together(upper, lower, neck)
        return
    above, below = finger_together(upper, lower, neck)
    for a, b in zip(above, below, strict=True):
        high, low = a.fretting, b.fretting
        assert a.midi == neck.open_midi[high.string - 1] + high.fret
        assert b.midi == neck.open_midi[low.string - 1] + low.fret
        assert 1 <= low.string - high.string <= 2
        if high.fret and low.fret:
            assert abs(high.fret - low.fret) <= 3
            assert high.finger != low.finger
            assert (high.fret - low.fret) * (high.finger - low.finger) >= 0
            assert {high.finger, low.finger} <= {1, 2, 3, 4}


@given(pairs.filter(lambda p: len(p) <= 4))
@settings(max_examples=60, deadline=None)
def test_no_other_way_moves_the_hand_less(chart):
    upper, lower = ([Note(i, 1, Pitch.from_midi(p[v])) for i, p in enumerate(chart)] for v in (0, 1))
    layers = [pairs_of(a, b, STANDARD) or pairs_of(a, b, STANDARD, closed=False) for a, b in chart]
    if not all(layers):
        return
    above, below = finger_together(upper, lower, STANDARD)

    taken = [
        tuple((n.fretting.string, n.fretting.fret, n.fretting.finger) for n in pair)
        for pair in zip(above, below, strict=True)
    ]
    ways = {}
    for way in product(*layers):
        name = tuple((pair.upper, pair.lower) for pair in way)
        ways[name] = sum(_change(a, b) for a, b in pairwise(way))
    least = min(ways.values())
    assert ways[tuple(taken)] <= least + 60 * len(chart), "what single pairs cost decides the rest"


def test_a_pair_that_no_hand_holds_is_refused():
    with pytest.raises(LineError, match="cannot be held"):
        finger_together(notes("E5"), notes("E2"), STANDARD)


def test_strings_and_position_are_kept():
    upper, lower = notes("F4 F4 E4 E4"), notes("C4 B3 B3 A3")
    above, below = finger_together(upper, lower, STANDARD, strings=(2, 3))
    assert {n.fretting.string for n in above} == {2}
    assert {n.fretting.string for n in below} == {3}
    for place in (1, 5, 9):
        high, low = finger_together(upper, lower, STANDARD, position=place)
        frets = [n.fretting.fret for n in high + low]
        assert all(abs(fret - place) <= 5 for fret in frets)
