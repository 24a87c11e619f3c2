"""Progressions, bass lines and inversions, held against music21 and against what books print."""

from __future__ import annotations

from itertools import pairwise

import pytest
from music21 import chord as m21_chord
from music21 import key as m21_key
from music21 import roman

from genex.errors import LineError
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.lines.chord_drills import BASS_HARMONY, BASS_LINES, INVERSIONS, INVERTED_ROOTS, voiced
from genex.lines.drills import drill
from genex.theory import Key, parse_chord
from tests.lines.line_charts import chart


def drilled(ask, key="C", **fields):
    return drill(chart("N.C.", key=key), Drill(ask=ask, rounds=1, **fields), Player())


def struck(plan, start, end):
    """The chords of the part that asks, as MIDI numbers from low to high, one for each onset."""
    part = next(part for part in plan.parts if part.name == "question")
    found = {}
    for note in part.notes:
        if start <= note.onset_beats < end:
            found.setdefault(note.onset_beats, []).append(note.midi)
    return list(found.values())


def spans(plan, kind):
    return [(cue.onset_beats, cue.end_beats) for cue in plan.cues if cue.kind == kind]


@pytest.mark.parametrize("key", ["C", "A minor", "Eb", "F# minor"])
def test_bass_lines_are_those_that_are_named_and_lie_below_their_chords(key):
    """The lowest tones are the degrees asked for. [package: music21 10.5.1]"""
    plan = drilled("bass", key=key)
    tonic, _, mode = key.partition(" ")
    scale = m21_key.Key(tonic.replace("b", "-"), mode or "major")
    for answer, (start, end) in zip(plan.answers, spans(plan, "listen"), strict=True):
        degrees = answer.text.partition(":")[0].split()
        chords = struck(plan, start, end)
        assert len(chords) == len(degrees)
        for degree, tones in zip(degrees, chords, strict=True):
            flat = degree.count("b")
            major = m21_key.Key(scale.tonic, "major").pitches[int(degree.strip("b")) - 1]
            assert tones[0] % 12 == (major.midi - flat) % 12
            assert tones[0] < min(tones[1:]) and tones[0] < 52
            lowest = m21_chord.Chord(tones)
            assert lowest.isTriad() or lowest.isMajorTriad() or lowest.isMinorTriad()
        # the lead shows the line, an octave up where the position has it
        shown = [note.midi % 12 for note in answer.notes]
        assert shown == [tones[0] % 12 for tones in chords]


def test_a_bass_line_moves_to_the_nearest_octave():
    plan = drilled("bass", items=("1 7 6 5",))
    (start, end) = spans(plan, "listen")[0]
    lows = [tones[0] for tones in struck(plan, start, end)]
    assert [b - a for a, b in pairwise(lows)] == [-1, -2, -2]


@pytest.mark.parametrize("mode", ["major", "minor"])
def test_the_chord_over_a_bass_degree_has_it(mode):
    """[package: music21 10.5.1]"""
    key = m21_key.Key("C", mode)
    for degree, numeral in BASS_HARMONY[mode].items():
        figure = numeral.replace("b", "-") if mode == "major" else numeral.replace("b", "")
        found = roman.RomanNumeral(figure, key)
        note = m21_key.Key("C", "major").pitches[int(degree.strip("b")) - 1].midi - degree.count("b")
        assert note % 12 in {pitch.midi % 12 for pitch in found.pitches}, (degree, numeral)
    for line in BASS_LINES[mode]:
        assert set(line.split()) <= set(BASS_HARMONY[mode])


@pytest.mark.parametrize("items", [INVERSIONS[:3], INVERSIONS])
def test_inversions_sound_as_they_are_named(items):
    """[package: music21 10.5.1]"""
    for seed in range(5):
        plan = drill(chart("N.C."), Drill(ask="inversion", items=items, rounds=2), Player(seed=seed))
        for answer, (start, end) in zip(plan.answers, spans(plan, "listen"), strict=True):
            (tones,) = struck(plan, start, end)
            found = m21_chord.Chord([note.pitch.midi for note in answer.notes])
            assert [note.midi for note in answer.notes] == tones, "the tones from the lowest up"
            named = m21_chord.Chord([str(n.pitch).replace("b", "-") for n in answer.notes])
            assert INVERSIONS[named.inversion()] == answer.text.partition(":")[0]
            assert tones[-1] - tones[0] < 12 and found.multisetCardinality in (3, 4)


@pytest.mark.parametrize("quality", INVERTED_ROOTS)
def test_inversions_are_spelled_with_the_fewest_accidentals(quality):
    """C#m and not Dbm. [common practice]"""
    roots = [parse_chord(f"{root}{quality}") for root in INVERTED_ROOTS[quality]]
    assert [chord.root.pitch_class for chord in roots] == list(range(12))

    def accidentals(chord):
        return sum(abs(name.alter) for name in chord.notes)

    for chord in roots:
        ways = [
            parse_chord(f"{way}{quality}") for way in ("C#", "Db", "D#", "Eb", "F#", "Gb", "G#", "Ab")
        ]
        same = [way for way in ways if way.root.pitch_class == chord.root.pitch_class]
        assert all(accidentals(chord) <= accidentals(way) for way in same), chord


def test_a_cadence_sets_the_key_before_each_degree():
    plan = drilled("cadence", key="G minor")
    cadence = [tuple(p.midi for p in tones) for tones in voiced("i iv V i", Key.parse("G minor"))]
    for answer, (start, end) in zip(plan.answers, spans(plan, "listen"), strict=True):
        assert [tuple(sorted(tones)) for tones in struck(plan, start, end)] == cadence
        first, *_, last = answer.notes
        assert first.onset_beats == start + 8, "two bars of cadence"
        assert str(first.degree) == answer.text.split()[0]
        assert str(last.pitch.name) == "G"


@pytest.mark.parametrize(
    ("ask", "items", "message"),
    [
        ("bass", ("1 #4 5",), "no chord of its own"),
        ("bass", ("1 x",), "not a degree"),
        ("bass", (" ",), "no notes"),
        ("inversion", ("fourth inversion",), "not an inversion"),
        ("cadence", ("x",), "not a degree"),
    ],
)
def test_refusals(ask, items, message):
    with pytest.raises(LineError, match=message):
        drilled(ask, items=items)
