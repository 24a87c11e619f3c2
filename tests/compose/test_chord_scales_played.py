"""Whatever plays a scale over a chord plays the one that the chart's harmony has there."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.recipe import parse_recipe
from genex.score import Articulation, Note, Part, Role, Score, Timeline
from genex.theory import Chord, Key
from genex.theory.key import all_keys

MODES = ("dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
KEYS = (*all_keys(), *(Key.parse(f"{tonic} {mode}") for mode in MODES for tonic in "CDEFGAB"))
SUFFIXES = {
    # third, fifth and seventh in semitones above the root: triad and seventh chord
    (4, 7, 11): ("", "maj7"),
    (4, 7, 10): ("", "7"),
    (3, 7, 10): ("m", "m7"),
    (3, 6, 10): ("dim", "m7b5"),
}


def diatonic(key: Key) -> list[str]:
    """The triads and seventh chords that are stacked from a key's own notes; in minor its V too."""
    found = []
    for index, root in enumerate(key.scale):
        above = [key.scale[(index + step) % 7] for step in (2, 4, 6)]
        shape = tuple((name.pitch_class - root.pitch_class) % 12 for name in above)
        found += [f"{root}{suffix}" for suffix in SUFFIXES[shape]]  # type: ignore[index]
    if key.mode in ("minor", "aeolian"):
        found += [f"{key.scale[4]}", f"{key.scale[4]}7"]
    return found


@st.composite
def diatonic_charts(draw: st.DrawFn) -> tuple[Key, str]:
    key = draw(st.sampled_from(KEYS))
    bars = draw(st.lists(st.sampled_from(diatonic(key)), min_size=2, max_size=8))
    return key, " | ".join(bars)


def of_key(key: Key, chord: Chord) -> frozenset[int]:
    """The notes of a key; over the major V of minor with the leading tone for the seventh degree."""
    own = {name.pitch_class for name in key.scale}
    fifth = (chord.root.pitch_class - key.tonic.pitch_class) % 12 == 7
    if key.mode in ("minor", "aeolian") and fifth and not chord.is_minor:
        own.add((key.tonic.pitch_class - 1) % 12)
    return frozenset(own)


def composed(chart: str, key: Key | str, more: str) -> Score:
    return compose(parse_recipe(f"chords: '{chart} |'\nkey: {key}\n{more}")).score


@settings(max_examples=150, deadline=None)
@given(diatonic_charts(), st.booleans())
def test_no_scale_exercise_over_diatonic_chords_leaves_the_key(chosen, falling):
    key, chart = chosen
    score = composed(
        chart, key, f"parts: exercise\nexercise: {{kind: scales, falling: {str(falling).lower()}}}"
    )
    for part in score.lead_parts:
        for note in part.notes:
            chord = score.timeline.chord_at(note.onset_beats).chord
            assert note.pitch.pitch_class in of_key(key, chord), (str(note.pitch), str(chord))


def inner_notes(part: Part, timeline: Timeline) -> list[Note]:
    """The notes that do not lead to another root: those before the last of a bar or chord."""
    plain = [note for note in part.notes if note.articulation is not Articulation.DEAD]
    edges = {span.onset_beats for span in timeline.chords} | {bar.onset_beats for bar in timeline.bars}
    return [a for a, b in pairwise(plain) if b.onset_beats not in edges]


@settings(max_examples=100, deadline=None)
@given(diatonic_charts(), st.integers(0, 99))
def test_inner_notes_of_the_walking_bass_over_diatonic_chords_belong_to_the_key(chosen, seed):
    key, chart = chosen
    score = composed(chart, key, f"parts: bass\nfeel: swing\nseed: {seed}")
    (part,) = [part for part in score.parts if part.role is Role.BASS]
    inside = inner_notes(part, score.timeline)
    assert len(inside) > len(score.timeline.bars)
    for note in inside:
        chord = score.timeline.chord_at(note.onset_beats).chord
        assert note.pitch.pitch_class in of_key(key, chord), (str(note.pitch), str(chord))


SHARPS = {1, 3, 6, 8, 10}
FEELS = ("swing", "two-beat", "straight", "bossa", "rock", "soul", "ballad", "funk")


@pytest.mark.parametrize("feel", FEELS)
def test_c_g_am_f_has_no_sharp_in_any_part_but_where_the_bass_leads_to_a_root(feel):
    for seed in range(4):
        score = composed("C | G | Am | F", "C", f"feel: {feel}\nexercise: scales\nseed: {seed}")
        for part in score.parts:
            if part.role in (Role.DRUMS, Role.CLICK):
                continue
            leading = set()
            if part.role is Role.BASS:
                heard = [note for note in part.notes if note.articulation is not Articulation.DEAD]
                ring = [*heard, heard[0]]
                leading = {a.onset_beats for a, b in pairwise(ring) if abs(a.midi - b.midi) == 1}
            foreign = [
                note
                for note in part.notes
                if note.pitch.pitch_class in SHARPS and note.articulation is not Articulation.DEAD
            ]
            assert all(note.onset_beats in leading for note in foreign), (part.name, foreign)


LINES = [
    ("etude", 1), ("etude", 2), ("etude", 3), ("etude", 4), ("calls", 2), ("calls", 4), ("etude", 5),
    ("etude", 6), ("calls", 5)
]  # fmt: skip


@pytest.mark.parametrize(("kind", "level"), LINES)
def test_lines_play_no_sharp_in_c_but_chromatic_notes_that_resolve(kind, level):
    chart = "C | G | Am | F" if level < 3 else "Cmaj7 | G7 | Am7 | Fmaj7"
    for seed in range(6):
        score = composed(
            chart, "C", f"parts: exercise\nexercise: {{kind: {kind}, level: {level}}}\nseed: {seed}"
        )
        for part in score.lead_parts:
            for before, note, after in zip(part.notes, part.notes[1:], part.notes[2:], strict=False):
                if note.pitch.pitch_class not in SHARPS:
                    continue
                # levels 5 and 6: a semitone to a chord tone, or the first two of an enclosure
                assert level >= 5, (str(note.pitch), seed)
                assert 1 in (abs(after.midi - note.midi), abs(note.midi - before.midi))


def test_a_step_to_a_target_is_of_the_scale_of_the_chord_under_it():
    score = composed(
        "C | G | Am | F", "C", "parts: exercise\nexercise: {kind: targets, approaches: scale}"
    )
    (part,) = score.lead_parts
    assert not [n for n in part.notes if n.pitch.pitch_class in SHARPS]


def notes_over(score: Score, first: int, last: int, role: Role) -> set[str]:
    """Names of the notes that a role plays from one bar to another."""
    start = score.timeline.bars[first - 1].onset_beats
    end = score.timeline.bars[last - 1].end_beats
    return {
        str(note.pitch.name)
        for part in score.parts
        if part.role is role
        for note in part.notes
        if start <= note.onset_beats < end
    }


def test_a_scale_chosen_for_one_bar_of_a_long_chord_counts_there_and_only_there():
    scales = "exercise: {kind: scales, rhythm: sixteenths}\nscales: {2: phrygian}\nparts: exercise"
    score = composed("Dm7 | % | % | %", "C", scales)
    assert notes_over(score, 2, 2, Role.EXERCISE) == {"D", "Eb", "F", "G", "A", "Bb", "C"}
    for bar in (1, 3, 4):
        assert notes_over(score, bar, bar, Role.EXERCISE) == {"D", "E", "F", "G", "A", "B", "C"}


def test_a_scale_chosen_from_a_beat_on_counts_from_there():
    more = "exercise: {kind: scales, rhythm: sixteenths}\nscales: {1.3: altered}\nparts: exercise"
    score = composed("G7 G7 | Cmaj7", "C", more)
    (part,) = score.lead_parts
    halves = [
        {n.pitch.pitch_class for n in part.notes if start <= n.onset_beats < start + 2}
        for start in (Fraction(0), Fraction(2))
    ]
    assert halves[0] <= {7, 9, 11, 0, 2, 4, 5}
    assert halves[1] <= {7, 8, 10, 11, 1, 3, 5}


def test_the_bass_walks_in_the_scale_that_is_chosen():
    heard = set()
    for seed in range(12):
        more = f"parts: bass\nfeel: swing\nscales: {{2: phrygian}}\nseed: {seed}"
        score = composed("Dm7 | % | % | %", "C", more)
        (part,) = [part for part in score.parts if part.role is Role.BASS]
        for note in inner_notes(part, score.timeline):
            if score.timeline.bar_at(note.onset_beats).number == 2:
                heard.add(note.pitch.pitch_class)
    assert heard <= {2, 3, 5, 7, 9, 10, 0} and heard & {3, 10}


def test_the_exercise_s_own_scales_go_before_those_of_the_recipe():
    more = (
        "scales: {Dm7: phrygian}\nparts: exercise\n"
        "exercise: {kind: scales, rhythm: sixteenths, scales: {Dm7: melodic minor}}"
    )
    score = composed("Dm7 | %", "C", more)
    assert notes_over(score, 1, 2, Role.EXERCISE) == {"D", "E", "F", "G", "A", "B", "C#"}


@pytest.mark.parametrize(
    ("chart", "key", "bar", "names"),
    [
        # a chord over the bass of its seventh has that seventh; over another of its tones it is
        # itself; F/G and Dm7/G are the suspended dominant on G [common practice]
        ("C/Bb | F/A", "F", 1, "C D E F G A Bb"),
        ("C/E | F", "C", 1, "C D E F G A B"),
        ("F/G | C", "C", 1, "F G A B C D E"),
        ("Dm7/G | C", "C", 1, "D E F G A B C"),
    ],
)
def test_slash_chords_are_played_as_a_player_reads_them(chart, key, bar, names):
    score = composed(chart, key, "parts: exercise\nexercise: {kind: scales, rhythm: sixteenths}")
    assert notes_over(score, bar, bar, Role.EXERCISE) == set(names.split())


def test_nothing_is_played_over_no_chord_and_what_follows_is_read_on():
    score = composed("Dm7 | N.C. | G7 | Cmaj7", "C", "parts: exercise bass\nexercise: scales")
    for role in (Role.EXERCISE, Role.BASS):
        assert notes_over(score, 2, 2, role) == set()
    assert notes_over(score, 3, 3, Role.EXERCISE) <= set("GABCDEF")


def test_a_two_five_one_of_another_key_is_played_in_that_key():
    # in F a ii-V-I in D flat: dorian, mixolydian and major of D flat's own notes [common practice]
    more = "parts: exercise\nexercise: {kind: scales, rhythm: sixteenths}"
    score = composed("Fmaj7 | Ebm7 | Ab7 | Dbmaj7 | Gm7 | C7", "F", more)
    assert notes_over(score, 2, 4, Role.EXERCISE) == set("Db Eb F Gb Ab Bb C".split())
