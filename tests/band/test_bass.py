"""The bass player: roots on the changes, lines that turn, patterns as they are written."""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.band import groove_names, play_band, walking
from genex.band.bass_tones import degree_name, tones_of
from genex.band.groove_files import groove_of
from genex.band.walking import HIGHEST, LOWEST, Ground, approach, ground, walk
from genex.score import Articulation, Note, Part, Timeline
from genex.text.yaml_source import parse_source
from genex.theory import Chord, Key, Pitch
from genex.theory.key import all_keys
from tests.band.charts import (
    FUNCTIONAL,
    GROOVES,
    TUNES,
    charts,
    for_groove,
    keys,
    notes_by_bar,
    reading,
    symbols,
    timeline,
    tune,
)

F = Fraction
WALKING = ("swing", "fast-swing")
PLAYED = tuple(name for name in groove_names() if GROOVES[name].bass is not None)
E1, G3 = 28, 55


def bass(name: str, line: Timeline, seed: int = 1) -> Part:
    (part,) = play_band(line, GROOVES[name], parts=("bass",), seed=seed)
    return part


def root_share(part: Part, line: Timeline) -> float:
    """Share of chord changes at which the bass strikes the root or the slash bass."""
    struck = {note.onset_beats: note for note in part.notes}
    hits = [
        span.onset_beats in struck
        and struck[span.onset_beats].pitch.pitch_class == span.chord.bass.pitch_class
        for _, span in line.changes()
        if span.chord is not None
    ]
    return sum(hits) / len(hits) if hits else 1.0


@settings(max_examples=60)
@given(st.sampled_from(PLAYED), charts, keys, st.integers(0, 999))
def test_range_is_kept_and_no_leap_exceeds_an_octave(name, chart, key, seed):
    part = bass(name, for_groove(name, chart, key=str(key), choruses=2), seed)
    for note in part.notes:
        assert E1 <= note.midi <= G3
    for before, after in pairwise(part.notes):
        assert abs(before.midi - after.midi) <= 12
        assert before.end_beats <= after.start_beats
        assert before.written_end_beats <= after.onset_beats


@settings(max_examples=40)
@given(st.sampled_from(WALKING), charts, keys, st.integers(0, 999))
def test_walking_lines_strike_the_root_on_95_percent_of_the_changes(name, chart, key, seed):
    line = for_groove(name, chart, key=str(key))
    assert root_share(bass(name, line, seed), line) >= 0.95


@settings(max_examples=30)
@given(charts, keys, st.integers(0, 999))
def test_two_beat_lines_strike_the_root_on_every_change(chart, key, seed):
    line = for_groove("two-beat", chart, key=str(key))
    assert root_share(bass("two-beat", line, seed), line) == 1.0


def sets_out_from_the_root(name: str) -> bool:
    """Whether a feel's bass has the root on one: no pedal, no root ahead of the bar, no rest there."""
    patterns = GROOVES[name].bass.patterns
    bars = [bar for choice in patterns for bar in choice.bars]
    return all(bar[0].onset_beats == 0 and not {s.sign for s in bar} & set("nTD") for bar in bars)


@pytest.mark.parametrize("name", [n for n in PLAYED if sets_out_from_the_root(n)])
def test_every_feel_strikes_the_root_on_the_changes(name):
    assert sum(map(sets_out_from_the_root, PLAYED)) >= len(PLAYED) - 6
    for tune_name in TUNES:
        key, chart = TUNES[tune_name]
        line = for_groove(name, chart, key=key)
        assert root_share(bass(name, line), line) == 1.0


def test_slash_chords_give_their_bass():
    line = timeline("G | D/F# | Em7/D | C/E", key="G")
    for name in ("swing", "two-beat", "straight", "bossa", "rock"):
        notes = notes_by_bar(bass(name, line), line)
        assert [str(notes[bar][0].pitch.name) for bar in (1, 2, 3, 4)] == ["G", "F#", "D", "E"]


@settings(max_examples=40)
@given(st.sampled_from(WALKING), charts, keys, st.integers(0, 999))
def test_a_walking_line_does_not_tread_on_the_spot(name, chart, key, seed):
    part = bass(name, for_groove(name, chart, key=str(key)), seed)
    plain = [note for note in part.notes if note.articulation is not Articulation.DEAD]
    repeated = [a.midi == b.midi for a, b in pairwise(plain)]
    assert not any(a and b for a, b in pairwise(repeated))
    assert sum(repeated) <= 0.1 * len(repeated) + 1


@pytest.mark.parametrize("name", WALKING)
def test_the_note_before_a_change_leads_by_semitone_step_or_fifth(name):
    # approach by semitone, scale step or fifth [common practice]
    for tune_name in FUNCTIONAL:
        for seed in range(4):
            line = for_groove(name, TUNES[tune_name][1], key=TUNES[tune_name][0])
            part = bass(name, line, seed)
            plain = [note for note in part.notes if note.articulation is not Articulation.DEAD]
            changes = {span.onset_beats for _, span in line.changes()}
            for before, after in pairwise(plain):
                if after.onset_beats in changes:
                    assert abs(before.midi - after.midi) in (1, 2, 5, 7)


def test_the_contour_turns():
    turns = notes = 0
    for seed in range(6):
        plain = bass("swing", tune("blues", choruses=2), seed).notes
        steps = [b.midi - a.midi for a, b in pairwise(plain) if a.midi != b.midi]
        turns += sum(a * b < 0 for a, b in pairwise(steps))
        notes += len(steps)
    assert 0.25 <= turns / notes <= 0.75


def test_inner_notes_belong_to_chord_or_scale():
    line = tune("minor", choruses=4)
    for bar, notes in notes_by_bar(bass("swing", line), line).items():
        names = {name.pitch_class for name in tones_of(line.reading_at(line.bars[bar - 1].onset_beats))}
        assert all(note.pitch.pitch_class in names for note in notes if note.onset_beats % 4 < 3)


def test_the_register_does_not_jump_at_the_chorus_end():
    for seed in range(10):
        part = bass("swing", tune("blues", choruses=2), seed)
        assert abs(part.notes[-1].midi - part.notes[0].midi) <= 12  # the loop's seam
        middle = [n for n in part.notes if 44 <= n.onset_beats < 52]
        assert max(n.midi for n in middle) - min(n.midi for n in middle) <= 19


def test_the_last_bar_leads_into_the_first():
    part = bass("swing", timeline("Dm7 | G7 | Cmaj7 | A7"))
    assert abs(part.notes[-1].midi - part.notes[0].midi) in (1, 2, 5, 7)


def test_choruses_differ():
    line = tune("blues", choruses=2)
    notes = bass("swing", line).notes
    first = [(n.onset_beats, n.midi) for n in notes if n.onset_beats < 48]
    second = [(n.onset_beats - 48, n.midi) for n in notes if n.onset_beats >= 48]
    assert first != second


def pattern_bass(pattern: str, chart: str, key: str = "C") -> list[list[Note]]:
    text = f'bass: {{instrument: electric bass, patterns: {{"{pattern}": 1}}}}\n'
    groove = groove_of(parse_source(text, "p.yaml"), "p")
    line = timeline(chart, key=key)
    (part,) = play_band(line, groove, seed=1, humanise=0)
    return list(notes_by_bar(part, line).values())


@pytest.mark.parametrize(
    ("pattern", "chart", "names"),
    [
        ("R - 5 -", "C | Am", ["C G", "A E"]),
        ("R v R v", "G7 | C", ["G D G D", "C G C G"]),
        ("R 3 5 7", "Cm7 | F7", ["C Eb G Bb", "F A C Eb"]),
        ("R 3 5 6", "C7 | F7", ["C E G A", "F A C D"]),
        ("R5 R5 R5 R5", "Bm7b5", ["B F B F B F B F"]),
        ("R - 5 -", "C/G", ["G C"]),
        ("R - 5 -", "C F | G", ["C F", "G D"]),
        ("R - - -", "C F | G", ["C F", "G"]),
        ("T - D -", "Dm7 | G7", ["C G", "C G"]),
        ("5 - R -", "C", ["C C"]),
    ],
)
def test_signs_of_a_pattern_name_degrees(pattern, chart, names):
    played = [" ".join(str(n.pitch.name) for n in bar) for bar in pattern_bass(pattern, chart)]
    assert played == names


def test_octaves_dead_notes_and_lengths():
    (bar,) = pattern_bass("R..x 8.xR - .", "E7", "A")
    assert [(str(n.onset_beats), n.articulation.value) for n in bar] == [
        ("0", "normal"),
        ("3/4", "dead"),
        ("1", "normal"),
        ("3/2", "dead"),
        ("7/4", "normal"),
    ]
    assert bar[2].midi - bar[0].midi == 12
    assert bar[-1].duration_beats == F(5, 4)
    assert all(n.sounding_beats < F(1, 4) for n in bar if n.articulation is Articulation.DEAD)


def test_a_root_ahead_of_the_bar_is_held_into_it():
    bars = pattern_bass("- -5 - n", "Dm7 | G7 | C6 | A7")
    assert [str(bar[-1].pitch.name) for bar in bars] == ["G", "C", "A", "D"]
    assert str(bars[0][0].pitch.name) == "D" and bars[0][0].onset_beats == 0
    for bar in bars[:-1]:
        assert bar[-1].duration_beats == F(5, 2)
    assert bars[-1][-1].written_end_beats == 16


def test_a_held_note_ends_with_its_chord_s_bar():
    bars = pattern_bass("R - - - | - - 5 -", "C | F")
    assert [(str(n.onset_beats), n.duration_beats) for bar in bars for n in bar] == [("0", 4), ("6", 2)]


def test_no_chord_means_no_bass():
    line = timeline("C | - | F | G")
    for name in PLAYED:
        if GROOVES[name].meters[0] == line.meter and name != "pedal":
            assert notes_by_bar(bass(name, line), line)[2] == []


@given(symbols, symbols, keys, st.integers(0, 10**6))
def test_an_approach_lies_near_its_target_and_within_an_octave_of_the_line(one, other, key, seed):
    here, there = standing(one, key), standing(other, key)
    rng = random.Random(seed)
    *line, last = walk(here, 4, there, rng)
    assert line[0] == here.root
    assert abs(last.midi - line[-1].midi) <= 12
    assert abs(last.midi - there.root.midi) in (1, 2, 5, 7)
    *same, _ = walk(here, 4, None, random.Random(seed))
    assert same == line  # what follows changes the approach alone


@pytest.mark.parametrize("symbol", ["C7", "Dm7", "Ebmaj7", "F#m7b5", "G7", "Am7", "Bb7"])
def test_a_line_turns_away_from_the_edge_of_the_register(symbol):
    # up from a low root, down from a high one [common practice]
    there = standing(symbol, "C")
    root = there.chord.bass.at_or_above(LOWEST + 5)
    up = dict.fromkeys((-1, 1), 0)
    for side, seed in product(up, range(40)):
        here = replace(there, root=root, centre=root.midi + 6 * side)
        line = walk(here, 4, None, random.Random(seed))
        up[side] += line[1].midi > root.midi
    assert up[1] >= 34 and up[-1] <= 6


def standing(symbol: str, key: Key | str) -> Ground:
    """A chord by itself in a key, in the middle of the register."""
    here = ground(reading(symbol, key), 38)
    assert here is not None
    return here


def lines_over(count: int, seeds: int) -> Iterator[tuple[Chord, tuple[Pitch, ...]]]:
    """Walking lines over the chords of the tunes, without what they lead to."""
    for name in FUNCTIONAL:
        key, chart = TUNES[name]
        for symbol, seed in product(set(chart.replace("|", " ").split()), range(seeds)):
            here = standing(symbol, key)
            yield here.chord, walk(here, count, None, random.Random(seed))


def test_strong_beats_have_chord_tones_and_weak_ones_pass():
    # chord tones on one and three, passing notes between [common practice]
    strong, weak = [], []
    for chord, line in lines_over(4, 12):
        assert line[0].pitch_class == chord.bass.pitch_class
        strong.append(line[2].pitch_class in chord.pitch_classes)
        weak.append(line[1].pitch_class in chord.pitch_classes)
    assert sum(strong) / len(strong) > 0.85
    assert 0.3 < sum(weak) / len(weak) < 0.85


def test_a_line_goes_by_step_and_small_leaps():
    # steps and thirds make most of a walking line; what leaps further is rare, and two such leaps in
    # a row are rarer [common practice]
    sizes, pairs = [], []
    for *_, line in lines_over(4, 12):
        steps = [after.midi - before.midi for before, after in pairwise(line[:3])]
        sizes += [abs(step) for step in steps]
        pairs += [abs(a) > 4 and abs(b) > 4 for a, b in pairwise(steps)]
    assert 0 not in sizes
    assert sum(size <= 4 for size in sizes) / len(sizes) > 0.75
    assert sum(size > 7 for size in sizes) / len(sizes) < 0.02
    assert sum(pairs) / len(pairs) < 0.1


@given(symbols, keys, st.integers(0, 10**6), st.sampled_from([LOWEST, LOWEST + 1, HIGHEST - 1, HIGHEST]))
def test_an_approach_at_the_end_of_the_neck_stays_on_it(symbol, key, seed, lowest):
    there = standing(symbol, key)
    target = replace(there, root=there.chord.bass.nearest(lowest), centre=lowest)
    if not LOWEST <= target.root.midi <= HIGHEST:
        return
    found = approach([target.root], target, target, random.Random(seed).random())
    assert LOWEST <= found.midi <= HIGHEST


def test_an_approach_rather_goes_on_than_turns():
    # a line that rises to its target rises to the end, one that falls falls [common practice]
    here = standing("C", "C")
    for name, last in (("F", "C2"), ("F", "A2"), ("G", "D2"), ("G", "C3")):
        there = standing(name, "C")
        line = [Pitch.parse(last)]
        way = 1 if there.root.midi > line[0].midi else -1
        found = [approach(line, here, there, roll / 100) for roll in range(100)]
        between = sum(0 < way * (pitch.midi - line[0].midi) < abs(there.root.midi - line[0].midi)
                      for pitch in found)  # fmt: skip
        assert between > 60, (name, last)


def test_most_approaches_are_by_step():
    # the half step and the scale step more often than the fifth [common practice]
    landings = [
        abs(line[-1].midi - line[0].midi) for *_, line in lines_over(4, 12)
    ]  # before no other chord a line leads back to its root
    by_step = sum(landing in (1, 2) for landing in landings)
    assert by_step / len(landings) > 0.6
    assert set(landings) <= {1, 2, 5, 7}


@given(symbols, keys)
def test_every_degree_of_a_chord_has_its_letter(symbol, key):
    here = reading(symbol, key)
    names = [degree_name(here, number) for number in range(1, 8)]
    assert names[0] == here.chord.root
    assert [name.step for name in names] == [(here.chord.root.step + i) % 7 for i in range(7)]


@pytest.mark.parametrize(
    ("symbol", "key", "scale"),
    [
        ("Dm7", "C", "D E F G A B C"),
        ("G7", "C", "G A B C D E F"),
        ("G", "C", "G A B C D E F"),
        ("D7b9", "G minor", "D Eb F# G A Bb C"),
        ("Fmaj7", "C", "F G A B C D E"),
        ("Am7b5", "G minor", "A Bb C D Eb F G"),
    ],
)
def test_degrees_that_handbooks_give(symbol, key, scale):
    # modes on the degrees of the key; fifth mode of the harmonic minor on its dominant
    # [common practice]
    here = reading(symbol, key)
    assert " ".join(str(degree_name(here, number)) for number in range(1, 8)) == scale
    assert {str(name) for name in tones_of(here)} == set(scale.split())


@pytest.mark.parametrize(("symbol", "seed"), [("Dm7", 1), ("E7b9", 2), ("C/E", 3), ("Bm7b5", 4)])
def test_the_line_is_the_cheapest_of_all(symbol, seed):
    """What the search passes over is no cheaper: all lines of two notes and of three weighed."""
    here = ground(reading(symbol), 40.0)
    candidates = walking._candidates(here.chord, tones_of(here.reading), here.root)
    rng = random.Random(seed)
    for count in (2, 3):
        whims = tuple(tuple(2.2 * rng.random() for _ in candidates) for _ in range(count))
        costs = {
            tuple(candidates[index][0] for index in chosen): sum(
                whim[index] for whim, index in zip(whims, chosen, strict=True)
            )
            + walking._line_cost(here.root.midi, 40.0, [candidates[i] for i in chosen], 1)
            for chosen in product(range(len(candidates)), repeat=count)
        }
        found = walking._cheapest(candidates, here.root.midi, 40.0, 1, whims)
        assert found == min(costs, key=costs.get)


def test_every_key_is_walked():
    for key in all_keys():
        name = str(key.tonic)
        chart = f"{name}{'m7' if key.mode == 'minor' else 'maj7'} | {key.scale[3]}7 | {key.scale[4]}7"
        assert bass("swing", timeline(chart, key=str(key))).notes


def test_the_bass_is_written_for_four_strings():
    part = bass("swing", tune("blues"))
    assert part.strings == tuple(Pitch.parse(name) for name in ("G2", "D2", "A1", "E1"))
    assert (part.strings[-1].midi, G3) == (LOWEST, HIGHEST)
