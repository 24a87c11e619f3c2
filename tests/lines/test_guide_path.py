"""Guide tones through textbook changes. Sources stand beside each check."""

from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import LineError
from genex.lines.guide_path import (
    GuideStep,
    GuideWishes,
    Joint,
    falls_by_fifth,
    guide_path,
    resolves,
)
from genex.theory import parse_chord

TWO_OCTAVES = tuple(range(50, 75))
QUALITIES = ("", "m", "7", "maj7", "m7", "m7b5", "dim7", "6", "m6", "7sus4", "9", "7b9", "add9")
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
symbols = st.builds("".join, st.tuples(st.sampled_from(ROOTS), st.sampled_from(QUALITIES)))


def steps_of(text, section_bars=64):
    """Bars of symbols; a section begins every so many bars, the first included."""
    found = []
    for bar, words in enumerate(text.split("|")):
        for place, word in enumerate(words.split()):
            joint = Joint.PHRASE
            if place == 0 and bar % section_bars == 0:
                joint = Joint.SECTION
            elif place == 0 and bar % 4 == 0:
                joint = Joint.FOUR_BARS
            found.append(GuideStep(parse_chord(word), joint))
    return found


def line(text, **wishes):
    steps = steps_of(text, wishes.pop("section_bars", 64))
    path = guide_path(steps, GuideWishes(wishes.pop("allowed", TWO_OCTAVES), **wishes))
    return steps, path


def degrees(steps, path, voice=0):
    return " ".join(
        str(step.chord.degree_of(voicing[voice])) for step, voicing in zip(steps, path, strict=True)
    )


@pytest.mark.parametrize(
    ("changes", "first", "expected"),
    [  # [common practice]: what handbooks of jazz and classical harmony print
        ("Dm7 | G7 | Cmaj7", "third", "b3 b7 3"),
        ("Dm7 | G7 | Cmaj7", "seventh", "b7 3 7"),
        ("Dm7b5 | G7b9 | Cm7", "third", "b3 b7 b3"),
        ("Dm7b5 | G7b9 | Cm6", "seventh", "b7 3 6"),
        ("Dm7 | G7 | C6", "seventh", "b7 3 6"),
        ("Dm7 | G7 | C", "third", "b3 b7 3"),
        ("Dm7 | G7 | C", "seventh", "b7 3 1"),  # the leading tone goes home
        ("G7 | C", "third", "3 1"),
        ("Am7 | Dm7 | Gm7 | C7 | Fmaj7", "third", "b3 b7 b3 b7 3"),  # the circle crosses over
        ("Cmaj7 | Fmaj7 | Bm7b5 | Em7 | Am7 | Dm7 | G7 | Cmaj7", "seventh", "7 3 b7 b3 b7 b3 b7 3"),
        ("E7 | A7 | D7 | G7", "third", "3 b7 3 b7"),
        ("Dm7 | Db7 | Cmaj7", "third", "b3 3 3"),  # the tritone's thirds slide down in semitones
    ],
)
def test_the_line_that_a_textbook_has(changes, first, expected):
    assert degrees(*line(changes, start=first)) == expected


@pytest.mark.parametrize(
    "changes",
    [  # changes that are no falling fifths and still go by step [common practice]
        "Fmaj7 | Fm7 Bb7 | Cmaj7",
        "Cm(maj7) | Cm7 | Cm6",
        "Cmaj7 | C#dim7 | Dm7 | D#dim7 | Em7",
        "C | E7 | F | Fm | C",
    ],
)
def test_other_changes_go_by_step_too(changes):
    _, path = line(changes)
    assert max(abs(b[0] - a[0]) for a, b in pairwise(path)) <= 2


@pytest.mark.parametrize("up", range(12))
def test_a_ii_v_i_is_the_same_in_every_key(up):
    two, five, one = (ROOTS[(degree + up) % 12] for degree in (2, 7, 0))
    for first, moves in (("third", [0, -1]), ("seventh", [-1, 0])):
        _, path = line(f"{two}m7 | {five}7 | {one}maj7", start=first)
        assert [b[0] - a[0] for a, b in pairwise(path)] == moves


def test_the_fourth_of_a_sus_chord_falls_when_it_resolves():
    steps, path = line("G7sus4 | G7 | Cmaj7", start="third")
    assert degrees(steps, path) == "4 3 7"
    upper, lower = line("Gsus4 | G", start="third", voices=2)[1]
    assert upper[0] - lower[0] in (1, 2)


def test_the_seam_of_a_loop_is_a_change_as_any_other():
    for turnaround in ("Gm7 | C7 | Fmaj7 | D7b9", "Am7 D7 | Gmaj7 E7", "C6 | A7 | Dm7 | G7"):
        for voices in (1, 2):
            steps, path = line(turnaround, closed=True, voices=voices)
            after = zip(steps[1:] + steps[:1], path[1:] + path[:1], strict=True)
            for (a, before), (b, then) in zip(zip(steps, path, strict=True), after, strict=True):
                for x, y in zip(before, then, strict=True):
                    assert resolves(a.chord, b.chord, x, y)


def test_a_line_that_runs_out_of_range_climbs_at_a_sections_end():
    """A chain of dominants falls by a semitone a chord for ever; the leap has to be somewhere."""
    chain = "C7 | F7 | Bb7 | Eb7 | Ab7 | Db7 | F#7 | B7 | E7 | A7 | D7 | G7"
    for section_bars in (6, 4, 12):
        steps, path = line(chain, closed=True, section_bars=section_bars)
        for step, before, after in zip(steps, [path[-1], *path[:-1]], path, strict=True):
            if abs(after[0] - before[0]) > 2:
                assert step.joint is Joint.SECTION


def test_a_rest_is_the_best_place_to_climb():
    steps = steps_of("C7 | F7 | Bb7 | Eb7 | Ab7 | Db7 | F#7 | B7 | E7 | A7 | D7 | G7")
    rested = [
        GuideStep(step.chord, Joint.REST if index == 5 else step.joint)
        for index, step in enumerate(steps)
    ]
    path = guide_path(rested, GuideWishes(TWO_OCTAVES, closed=True))
    leaps = [i for i, (a, b) in enumerate(pairwise([path[-1], *path])) if abs(b[0] - a[0]) > 2]
    assert leaps == [5]


def test_a_narrow_range_breaks_no_cadence_that_it_can_spare():
    """ii-V-I in falling keys, in an octave: register changes between the keys, never inside one."""
    changes = (
        "Dm7 | G7 | Cmaj7 | Cmaj7 | Cm7 | F7 | Bbmaj7 | Bbmaj7 | Bbm7 | Eb7 | Abmaj7 | Abmaj7 |"
        "Abm7 | Db7 | Gbmaj7 | Gbmaj7 | F#m7 | B7 | Emaj7 | Emaj7 | Em7 | A7 | Dmaj7 | Dmaj7"
    )
    steps, path = line(changes, closed=True, allowed=tuple(range(57, 70)))
    for (a, before), (b, after) in pairwise([*zip(steps, path, strict=True)]):
        if falls_by_fifth(a.chord, b.chord):
            assert abs(after[0] - before[0]) <= 2


def test_a_borrowed_chord_shows_what_is_borrowed():
    steps = steps_of("F | Fm | C")
    shown = [GuideStep(s.chord, s.joint, frozenset({8} if i == 1 else ())) for i, s in enumerate(steps)]
    wishes = GuideWishes(TWO_OCTAVES, start="seventh")
    (plain,), (told,) = guide_path(steps, wishes)[1], guide_path(shown, wishes)[1]
    assert plain % 12 == 0, "the common tone is nearer"
    assert told % 12 == 8


def test_a_restless_line_does_not_freeze_on_a_vamp():
    """Third and seventh of Dm7 and G7 are one note: a line that only saves its way never moves."""
    still = line("Dm7 | G7 | Dm7 | G7", closed=True)[1]
    moving = line("Dm7 | G7 | Dm7 | G7", closed=True, restless=True)[1]
    assert len(set(still)) == 1
    assert all(a != b for a, b in pairwise(moving))
    bars = [GuideStep(parse_chord("Dm7"), stays=i > 0) for i in range(8)]
    held = guide_path(bars, GuideWishes(TWO_OCTAVES, closed=True, restless=True))
    assert {midi % 12 for (midi,) in held} == {0, 5}


def cost_of(steps, path, wishes):
    """The sum that the search minimises, taken step by step: broken rules, then movement."""
    moves = [*zip(steps, path, strict=True)]
    pairs = [*pairwise(moves)] + ([(moves[-1], moves[0])] if wishes.closed else [])
    broken = sum(
        not resolves(a.chord, b.chord, x, y)
        for (a, before), (b, after) in pairs
        for x, y in zip(before, after, strict=True)
    )
    return broken, sum(abs(y[0] - x[0]) for (_, x), (_, y) in pairs)


@given(st.lists(symbols, min_size=2, max_size=6), st.integers(48, 60), st.booleans())
@settings(max_examples=150, deadline=None)
def test_no_other_line_breaks_fewer_rules_or_moves_less(chart, low, closed):
    steps = [GuideStep(parse_chord(symbol)) for symbol in chart]
    wishes = GuideWishes(tuple(range(low, low + 14)), closed=closed)
    path = guide_path(steps, wishes)
    options = [
        [
            (midi,)
            for midi in wishes.allowed
            if midi % 12 in {step.chord.root.degree(d).pitch_class for d in step.chord.guide_tones}
        ]
        for step in steps
    ]
    others = [cost_of(steps, other, wishes)[0] for other in product(*options)]
    assert cost_of(steps, path, wishes)[0] <= min(others)


@given(st.lists(symbols, min_size=1, max_size=10), st.booleans(), st.integers(1, 2))
@settings(max_examples=150, deadline=None)
def test_every_tone_is_a_guide_tone_or_a_triads_root_that_a_leading_tone_goes_to(chart, closed, voices):
    steps = [GuideStep(parse_chord(symbol)) for symbol in chart]
    path = guide_path(steps, GuideWishes(TWO_OCTAVES, closed=closed, voices=voices))
    for index, (step, voicing) in enumerate(zip(steps, path, strict=True)):
        for voice, midi in enumerate(voicing):
            degree = step.chord.degree_of(midi)
            if degree in step.chord.guide_tones:
                continue
            assert degree.number == 1 and step.chord.find(7, 6) is None
            before = steps[index - 1].chord
            assert index or closed
            assert falls_by_fifth(before, step.chord)
            assert before.degree_of(path[index - 1][voice]) == before.guide_tones[0]


@given(st.integers(0, 11), st.lists(st.sampled_from(QUALITIES[:-1]), min_size=2, max_size=8))
@settings(max_examples=100, deadline=None)
def test_in_two_octaves_every_falling_fifth_is_led(root, qualities):
    """A chain of falling fifths of any kind of chord."""
    chords = [
        parse_chord(ROOTS[(root + 5 * index) % 12] + quality) for index, quality in enumerate(qualities)
    ]
    path = guide_path([GuideStep(chord) for chord in chords], GuideWishes(tuple(range(45, 81))))
    for (a, before), (b, after) in pairwise([*zip(chords, path, strict=True)]):
        assert abs(after[0] - before[0]) <= 3
        if a.find(7) and b.find(7):
            assert resolves(a, b, before[0], after[0])


def test_a_range_without_a_guide_tone_is_refused_with_its_place():
    with pytest.raises(LineError, match=r"no guide tone of Dm7 \(b3 and b7\) .* at bar 3"):
        guide_path([GuideStep(parse_chord("Dm7"), place="bar 3")], GuideWishes(tuple(range(61, 64))))
