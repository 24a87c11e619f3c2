"""Left-hand fingering of lines: check values, exactness, and what a teacher would insist on."""

from __future__ import annotations

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import (
    Fingered,
    Hand,
    HandMove,
    Tuning,
    finger_everywhere,
    finger_line,
    pitch_at,
    tuning,
)
from genex.fretboard.fingering import finger_among, line_cost
from genex.fretboard.hand import (
    AWAY_BETWEEN_BREATHS,
    IMPOSSIBLE,
    REACH_SHARE,
    SHIFT_IN_A_BREATH,
    SHIFT_IN_A_BREATH_A_FRET,
    SHIFT_IN_A_PHRASE,
    SPREAD_SHARE,
    states_of,
)
from genex.fretboard.wishes import Wishes
from tests.fretboard.reach import overstretched

STANDARD = tuning("standard")
SHORT = tuning(["A2", "D3", "G3"], frets=6)


def frets(text: str) -> list[tuple[int, int]]:
    """``6/8 5/7`` as (string, fret) pairs."""
    return [(int(s), int(f)) for s, f in (word.split("/") for word in text.split())]


def midis_of(text: str, neck: Tuning = STANDARD) -> list[int]:
    return [pitch_at(neck, string, fret) for string, fret in frets(text)]


def fingers(line: tuple[Fingered, ...]) -> str:
    return " ".join(str(note.finger) for note in line)


def moves(line: tuple[Fingered, ...]) -> str:
    return "".join({"none": ".", "roll": "r", "shift": "s"}[note.move.value] for note in line)


CHECKED = [
    # C major triad upwards [common practice]
    (5, "6/8 5/7 4/5 3/5 2/5 2/8 1/8", "4 3 1 1 1 4 4", "...rr.r"),
    (8, "6/8 5/7 5/10 4/10 3/9 2/8 1/8", "2 1 3 4 2 1 1", "..s...r"),
    (12, "5/15 4/14 3/12 2/13 1/12 1/15", "4 3 1 2 1 4", "......"),
    (12, "6/15 6/12", "4 1", ".."),
]


@pytest.mark.parametrize(("position", "where", "with_fingers", "with_moves"), CHECKED)
def test_the_c_major_triad(position: int, where: str, with_fingers: str, with_moves: str) -> None:
    """[common practice]: in a wished position places, fingers and rolls follow; where the hand
    shifts by a fret, it may stay instead and let the first finger reach back"""
    line = finger_line(midis_of(where), STANDARD, Wishes(position=position))
    assert [note.place for note in line] == frets(where)
    assert fingers(line) == with_fingers
    assert moves(line) in (with_moves, with_moves.replace("s", "."))


@pytest.mark.parametrize(("position", "where", "with_fingers", "with_moves"), CHECKED)
def test_given_places_lead_to_the_same_fingers(
    position: int, where: str, with_fingers: str, with_moves: str
) -> None:
    """[common practice]: the costs alone, without a wished position, decide the same way"""
    line = finger_line(midis_of(where), STANDARD, fixed=frets(where))
    assert fingers(line) == with_fingers
    assert moves(line) == with_moves


@pytest.mark.parametrize(
    ("where", "with_fingers"),
    [
        # [common practice]: one finger a fret, no shift needed
        ("6/6 6/8 5/7 4/5 4/8 3/5 2/5 2/8 1/6 1/8", "2 4 3 1 4 1 1 4 2 4"),  # C7, G form
        ("6/12 6/15 5/13 5/15 4/14 3/12 3/15 2/13 1/12 1/15", "1 4 2 4 3 1 4 2 1 4"),  # C7, C form
        ("6/7 6/8 5/7 5/10 4/9 4/10 3/9 2/8 1/7 1/8", "1 2 1 4 3 4 3 2 1 2"),  # Cmaj7, E form
        # the C major scale in seventh position
        (
            "6/7 6/8 6/10 5/7 5/8 5/10 4/7 4/9 4/10 3/7 3/9 3/10 2/8 2/10 1/7 1/8 1/10",
            "1 2 4 1 2 4 1 3 4 1 3 4 2 4 1 2 4",
        ),
        # a chromatic line shifts once in four frets and walks finger by finger
        ("4/5 4/6 4/7 4/8", "1 2 3 4"),
    ],
)
def test_one_finger_a_fret(where: str, with_fingers: str) -> None:
    assert fingers(finger_line(midis_of(where), STANDARD, fixed=frets(where))) == with_fingers


def test_open_strings_belong_to_the_lowest_positions() -> None:
    """[common practice]: the C major scale in open position"""
    scale = [48, 50, 52, 53, 55, 57, 59, 60]
    line = finger_line(scale, STANDARD)
    assert [note.place for note in line] == frets("5/3 4/0 4/2 4/3 3/0 3/2 2/0 2/1")
    assert fingers(line) == "3 0 2 3 0 2 0 1"
    assert all(note.fret > 0 for note in finger_line(scale, STANDARD, Wishes(closed=True)))
    assert all(note.fret > 0 for note in finger_line(scale, STANDARD, Wishes(position=7)))


def test_a_small_hand_avoids_the_wide_frets_and_a_large_one_stretches() -> None:
    """[computed]: four frets take 97 mm from the first, five take 79.5 mm from the ninth"""
    low = frets("4/1 4/4 4/1 4/4")
    midis = midis_of("4/1 4/4 4/1 4/4")
    assert fingers(finger_line(midis, STANDARD, fixed=low)) == "1 4 1 4"
    assert moves(finger_line(midis, STANDARD, fixed=low)) == "...."
    small = finger_line(midis, STANDARD, Wishes(hand=Hand.SMALL), fixed=low)
    assert (fingers(small), moves(small)) == ("1 4 1 4", ".sss")
    assert line_cost(small, STANDARD, Wishes(hand=Hand.SMALL)) > line_cost(
        finger_line(midis, STANDARD, fixed=low), STANDARD
    )


@pytest.mark.parametrize(
    ("where", "hand", "with_fingers", "with_moves"),
    [
        # [computed]: the five frets from the second take 119 mm, from the fourth 106 mm, from the
        # fifth 100 mm, from the ninth 79.5 mm; the four from the third 87 mm, so that a small hand
        # does not have the sixth under its little finger there
        ("4/2 4/6 4/2", Hand.SMALL, "1 3 1", ".ss"),
        ("4/2 4/6 4/2", Hand.MEDIUM, "1 4 1", ".ss"),
        ("4/2 4/6 4/2", Hand.LARGE, "1 4 1", "..."),
        ("4/4 4/8 4/4", Hand.MEDIUM, "1 4 1", ".ss"),
        ("4/5 4/9 4/5", Hand.MEDIUM, "1 4 1", "..."),
        ("4/9 4/13 4/9", Hand.SMALL, "1 4 1", "..."),
        ("4/9 4/13 4/9", Hand.MEDIUM, "1 4 1", "..."),
    ],
)
def test_a_fifth_fret_is_reached_where_the_millimetres_permit(
    where: str, hand: Hand, with_fingers: str, with_moves: str
) -> None:
    line = finger_line(midis_of(where), STANDARD, Wishes(hand=hand), fixed=frets(where))
    assert (fingers(line), moves(line)) == (with_fingers, with_moves)


def test_a_bass_is_played_with_three_frets_a_hand_in_the_low_positions() -> None:
    """[common practice]: 1 2 4 on neighbouring frets near the nut of a long scale"""
    bass = tuning("four-string bass")
    where = "4/1 4/2 4/3 3/1 3/2 3/3"
    line = finger_line(midis_of(where, bass), bass, fixed=frets(where))
    assert fingers(line) == "1 2 4 1 2 4"


def test_a_long_way_along_the_neck_is_taken_in_short_shifts() -> None:
    """[common practice]: G5 F5 D5 Bb4 G4 down strings 1 and 2, D5 on the way and not a leap later"""
    line = finger_line([79, 77, 74, 70, 67], STANDARD, Wishes(strings=frozenset({1, 2})))
    travel = [abs(after.position - before.position) for before, after in pairwise(line)]
    assert max(travel) <= 4
    assert max(abs(after.fret - before.fret) for before, after in pairwise(line)) <= 4


def test_wished_strings_are_kept_to() -> None:
    line = finger_line([60, 62, 64, 65, 67, 69, 71, 72], STANDARD, Wishes(strings=frozenset({2})))
    assert {note.string for note in line} == {2}
    pair = finger_line([60, 62, 64, 65, 67, 69, 71, 72], STANDARD, Wishes(strings=frozenset({2, 3})))
    assert {note.string for note in pair} <= {2, 3}


def test_a_line_has_several_homes() -> None:
    """[common practice]: the C major triad from C3 lies in open, fifth and eighth position"""
    found = dict(finger_everywhere([48, 52, 55, 60, 64, 67], STANDARD))
    assert {1, 5} <= set(found) and {7, 8} & set(found)
    assert [note.place for note in found[5]] == frets("6/8 5/7 4/5 3/5 2/5 2/8")
    for position, line in found.items():
        assert all(abs(note.position - position) <= 1 for note in line)
    ways = [tuple(note.place for note in line) for line in found.values()]
    assert len(set(ways)) == len(ways)
    assert finger_everywhere([40, 86], STANDARD) == ()
    assert finger_everywhere([], STANDARD) == ()


def test_errors_say_what_would_work() -> None:
    with pytest.raises(FretboardError, match=r"below the compass[\s\S]*E2[\s\S]*1 octave up"):
        finger_line([39], STANDARD)
    with pytest.raises(
        FretboardError, match=r"C5 cannot be played in position 2[\s\S]*in position 8, 12"
    ):
        finger_line([67, 72], STANDARD, Wishes(position=2))
    with pytest.raises(FretboardError, match=r"in position 2[\s\S]*leave the position free"):
        finger_line([40, 86], STANDARD, Wishes(position=2))
    with pytest.raises(FretboardError, match=r"on string 4[\s\S]*string 6 fret 8"):
        finger_line([48], STANDARD, Wishes(strings=frozenset({4})))
    with pytest.raises(FretboardError, match="no position 40"):
        finger_line([72], STANDARD, Wishes(position=40))
    with pytest.raises(FretboardError, match="no string 9"):
        finger_line([72], STANDARD, Wishes(strings=frozenset({9})))
    with pytest.raises(FretboardError, match=r"does not sound[\s\S]*it sounds"):
        finger_line([72], STANDARD, fixed=[(1, 5)])
    with pytest.raises(FretboardError, match="without open strings"):
        finger_line([40], STANDARD, Wishes(closed=True))


def test_what_no_hand_can_do_is_refused() -> None:
    """One finger cannot be on two frets of a neck that has no room for a shift."""
    cramped = tuning(["E2"], frets=1)
    assert [note.fret for note in finger_line([40, 41, 40], cramped)] == [0, 1, 0]
    with pytest.raises(FretboardError):
        finger_line([40, 41], cramped, Wishes(closed=True))


def test_a_long_line_is_not_taken_for_an_impossible_one() -> None:
    line = finger_line([41, 61] * 3000, STANDARD, Wishes(strings=frozenset({6})))
    assert line_cost(line, STANDARD) > IMPOSSIBLE


def test_an_empty_line_is_an_empty_fingering() -> None:
    assert finger_line([], STANDARD) == ()


# What players do beside one finger a fret.


@pytest.mark.parametrize("root", range(12))
@pytest.mark.parametrize(
    ("where", "with_fingers", "with_moves"),
    [
        # A form of a major triad [common practice]: a hop to a cluster, no roll of the little finger
        ("5/3 4/2 4/5 3/5 2/5 1/3 2/5 3/5 4/5 4/2 5/3", "2 1 2 3 4 1 4 3 2 1 2", "..s......s."),
        # its fifth below: neighbouring fingers at one fret where the line turns
        ("4/2 5/3 6/3 5/3", "1 3 2 3", "...."),
        # D form: one finger a fret after the hop
        ("4/10 3/9 3/12 2/13 1/12", "2 1 3 4 3", "..s.."),
        # three equal frets after a first finger that has to stay behind
        ("4/5 3/5 3/8 2/8 1/8 2/8 3/8 3/5", "1 1 2 3 4 3 2 1", ".rs....s"),
        # the first finger reaches back, the hand stays
        ("5/15 4/13 3/12 2/13 1/11 1/15 1/11 2/13 3/12 4/13 5/15", "4 2 1 2 1 4 1 2 1 2 4", "." * 11),
    ],
)
def test_hops_clusters_and_reaches(where: str, with_fingers: str, with_moves: str, root: int) -> None:
    """[common practice]; the same at every root where the hand can reach it"""
    lowest = min(fret for _, fret in frets(where))
    down = max(0, lowest - 5) if lowest > 5 else 0
    places = [(string, fret - down + root) for string, fret in frets(where)]
    if max(fret for _, fret in places) > STANDARD.last_fret:
        places = [(string, fret - 12) for string, fret in places]
    midis = [pitch_at(STANDARD, *place) for place in places]
    line = finger_line(midis, STANDARD, fixed=places)
    assert (fingers(line), moves(line)) == (with_fingers, with_moves)


# Exactness: the oracle tries every sequence of states.


def brute_force_cost(midis: list[int], neck: Tuning, hand: Hand, position: int | None) -> int:
    """Cost of the cheapest fingering, by trying all; IMPOSSIBLE or more when there is none."""
    states = states_of(neck, hand)
    columns = [a.tolist() for a in (states.string, states.fret, states.finger, states.position)]
    all_states = list(zip(*columns, strict=True))
    change = states.change.tolist()
    choices = [
        [
            index
            for index, (string, fret, finger, at) in enumerate(all_states)
            if pitch_at(neck, string, fret) == midi
            and (position is None or (abs(at - position) <= 1 and (finger > 0 or position <= 4)))
            and (position is None or finger == 0 or position - 1 <= fret <= position + 4)
        ]
        for midi in midis
    ]
    best = IMPOSSIBLE
    for path in product(*choices):
        cost = sum(int(states.own[i]) for i in path) + sum(change[a][b] for a, b in pairwise(path))
        cost += sum(place_cost(all_states[i][3], position) for i in path)
        if position is not None:  # a wished position is not left without need
            cost += sum(200 for a, b in pairwise(path) if all_states[a][3] != all_states[b][3])
        best = min(best, cost)
    return best


def place_cost(at: int, position: int | None) -> int:
    """What it costs a note to be played at a position, when another one is wished, or none."""
    return 10 * (at - 1) if position is None else 60 * abs(at - position)


lines_on_the_short_neck = st.lists(st.integers(45, 61), min_size=1, max_size=4)


@settings(max_examples=60, deadline=None)
@given(lines_on_the_short_neck, st.sampled_from(Hand), st.none() | st.integers(1, 6))
def test_the_optimum_is_that_of_brute_force(midis: list[int], hand: Hand, position: int | None) -> None:
    expected = brute_force_cost(midis, SHORT, hand, position)
    try:
        line = finger_line(midis, SHORT, Wishes(position=position, hand=hand))
    except FretboardError:
        assert expected >= IMPOSSIBLE
        return
    free = sum(place_cost(note.position, None) for note in line) if position is None else 0
    assert line_cost(line, SHORT, Wishes(position=position, hand=hand)) + free == expected


def breathing_cost(line: tuple[Fingered, ...], breaths: set[int], position: int) -> int:
    """Cost of a fingering with rests: that of its phrases, of the ways between, of being away."""
    starts = [0, *sorted(breaths), len(line)]
    cost = sum(line_cost(line[a:b], SHORT) for a, b in pairwise(starts))
    for index, (before, note) in enumerate(pairwise(line), start=1):
        travel = abs(note.position - before.position)
        if index in breaths:
            cost += SHIFT_IN_A_BREATH * (travel > 0) + SHIFT_IN_A_BREATH_A_FRET * travel
        else:
            cost += SHIFT_IN_A_PHRASE * (travel > 0)
    return cost + sum(AWAY_BETWEEN_BREATHS * abs(note.position - position) for note in line)


@settings(max_examples=30, deadline=None)
@given(
    st.lists(st.integers(47, 59), min_size=3, max_size=4),
    st.sets(st.integers(1, 3), min_size=1),
    st.integers(2, 5),
)
def test_the_optimum_of_a_line_that_breathes(midis: list[int], breaths: set[int], position: int) -> None:
    breaths = {index for index in breaths if index < len(midis)} or {1}
    try:
        line = finger_line(
            midis, SHORT, Wishes(position=position, closed=True, breaths=frozenset(breaths))
        )
    except FretboardError:
        return
    states = states_of(SHORT, Hand.MEDIUM)
    columns = [a.tolist() for a in (states.string, states.fret, states.finger, states.position)]
    ways = [
        [
            Fingered(*state)
            for state in zip(*columns, strict=True)
            if pitch_at(SHORT, *state[:2]) == midi
            and state[1]
            and abs(state[3] - position) <= 1
            and position - 1 <= state[1] <= position + 4
        ]
        for midi in midis
    ]
    best = min(breathing_cost(way, breaths, position) for way in product(*ways))
    assert breathing_cost(line, breaths, position) == best


def test_the_hand_moves_in_the_rest_and_not_in_the_phrase() -> None:
    """[common practice]: G#3 lies between the strings of fifth position, a fret below the hand is
    where the second phrase is played as a whole"""
    phrases = [57, 60, 62, 64, 59, 56, 54, 56]
    line = finger_line(phrases, STANDARD, Wishes(position=5, closed=True, breaths=frozenset({4})))
    assert {note.position for note in line[:4]} == {5}
    assert {note.position for note in line[4:]} == {4}
    assert moves(line) == "....s..."


# What holds for every line.

any_line = st.lists(st.integers(40, 86), min_size=1, max_size=40)


@given(any_line, st.sampled_from(Hand))
def test_every_fingering_can_be_played(midis: list[int], hand: Hand) -> None:
    line = finger_line(midis, STANDARD, Wishes(hand=hand))
    for note, midi in zip(line, midis, strict=True):
        assert pitch_at(STANDARD, note.string, note.fret) == midi
        if note.finger == 0:
            assert note.fret == 0 and 1 <= note.position <= 4
        else:
            reach = 4 if hand is Hand.LARGE else 3
            assert -1 <= note.fret - note.position <= reach
            assert note.finger == 1 or note.fret >= note.position
            assert note.finger != 1 or note.fret <= note.position
    assert line[0].move is HandMove.NONE
    for before, after in pairwise(line):
        same_finger = before.finger == after.finger != 0
        if same_finger and before.fret != after.fret:
            assert after.move is HandMove.SHIFT
        if before.position != after.position:
            assert after.move is HandMove.SHIFT
        if after.move is HandMove.ROLL:
            assert same_finger and before.fret == after.fret and before.string != after.string


def test_no_share_of_the_reach_is_more_than_the_reach() -> None:
    """[common practice]: 1 to 4 is the hand's width, a neighbouring pair has less of it"""
    assert SPREAD_SHARE[1, 4] == REACH_SHARE[4] == 1
    for a, b in SPREAD_SHARE:
        assert all(SPREAD_SHARE[c, d] <= SPREAD_SHARE[a, b] for c, d in SPREAD_SHARE if a <= c < d <= b)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(st.integers(0, 44), min_size=2, max_size=30),
    st.sampled_from(Hand),
    st.sampled_from(("standard", "DADGAD", "open C", "four-string bass", "ukulele")),
)
def test_two_notes_without_a_shift_lie_within_the_reach(up: list[int], hand: Hand, name: str) -> None:
    """The reach is kept in millimetres: what lies beyond is taken by a shift, not by a stretch."""
    neck = tuning(name)
    lowest = min(neck.open_midi)
    most = neck.last_fret + max(neck.open_midi) - lowest
    line = finger_line([lowest + min(step, most) for step in up], neck, Wishes(hand=hand))
    assert not overstretched(line, neck, hand)
    closed = finger_line(
        [lowest + max(1, min(step, most)) for step in up], neck, Wishes(hand=hand, closed=True)
    )
    assert not overstretched(closed, neck, hand)


@given(any_line)
def test_a_line_backwards_costs_what_it_costs_forwards(midis: list[int]) -> None:
    line = finger_line(midis, STANDARD)
    assert line_cost(line, STANDARD) == line_cost(line[::-1], STANDARD)


@given(st.lists(st.integers(40, 86), min_size=1, max_size=12))
def test_up_and_down_are_fingered_alike(midis: list[int]) -> None:
    line = finger_line(midis + midis[-2::-1], STANDARD)
    assert [note.state for note in line] == [note.state for note in line[::-1]]


@given(st.lists(st.integers(41, 86), min_size=1, max_size=40), st.integers(-12, 12))
def test_closed_lines_are_fingered_alike_wherever_they_lie(midis: list[int], up: int) -> None:
    """Moved along the neck a fingering keeps its fingers, as long as no millimetre is too much: a
    large hand reaches everything from the seventh fret up."""
    places = [note.place for note in finger_line(midis, STANDARD, Wishes(closed=True)) if note.fret > 0]
    at = [pitch_at(STANDARD, *place) for place in places]
    moved = [(string, fret + up) for string, fret in places]
    ends = [fret for _, fret in (*places, *moved)]
    if not places or min(ends) < 7 or max(ends) > 22:
        return
    hand = Hand.LARGE
    first = finger_line(at, STANDARD, Wishes(hand=hand), fixed=places)
    second = finger_line([midi + up for midi in at], STANDARD, Wishes(hand=hand), fixed=moved)
    own, other = (line_cost(line, STANDARD, Wishes(hand=hand)) for line in (first, second))
    assert own + up * len(at) == other


@given(st.lists(st.integers(40, 86), min_size=1, max_size=12), st.integers(1, 14))
def test_no_hand_is_given_a_worse_fingering_than_a_larger_one(midis: list[int], position: int) -> None:
    """What suits a larger hand costs a smaller one no less than its own fingering does, and the
    smaller hand never has it easier on its own fingering than the larger one would."""
    hands = (Hand.SMALL, Hand.MEDIUM, Hand.LARGE)
    try:
        lines = [finger_line(midis, STANDARD, Wishes(position, hand=hand)) for hand in hands]
    except FretboardError:
        return
    for small, large in ((0, 1), (1, 2), (0, 2)):
        own = line_cost(lines[small], STANDARD, Wishes(position, hand=hands[small]))
        with_more = line_cost(lines[small], STANDARD, Wishes(position, hand=hands[large]))
        assert with_more <= own
        if all(note.fret - note.position < 4 for note in lines[large]):
            worse = line_cost(lines[large], STANDARD, Wishes(position, hand=hands[small]))
            assert own <= worse


def test_a_choice_of_places_is_kept_to() -> None:
    line = finger_among([64, 67], [[(2, 5), (3, 9)], None], STANDARD, Wishes(position=8))
    assert line[0].place == (3, 9)
