"""Subdivisions, accents and polyrhythms on one note."""

from __future__ import annotations

from fractions import Fraction
from itertools import groupby

import pytest

from genex.exercises import Player
from genex.exercises.models.rhythms import Accents, Polyrhythm, Subdivisions
from genex.lines.rhythm_studies import accents, polyrhythm, subdivisions
from genex.score import Articulation
from tests.lines.line_charts import chart
from tests.lines.rhythm_sheets import assert_reads_back

PLAYER = Player()


def stage(plan, name, which=0):
    """(onset from the stage's bar line, count, accented) of the notes of a stage."""
    cue = [cue for cue in plan.cues if cue.text == name][which]
    return [
        (n.onset_beats - cue.onset_beats, n.syllable, n.articulation is Articulation.ACCENT)
        for n in plan.parts[0].notes
        if cue.onset_beats <= n.onset_beats < cue.end_beats
    ]


@pytest.mark.parametrize("meter", ["4/4", "3/4", "5/4", "6/8", "7/8", "12/8"])
@pytest.mark.parametrize("order", ["up", "down", "up and down"])
def test_the_ladder_of_subdivisions(meter, order):
    plan = subdivisions(chart("N.C.", meter=meter), Subdivisions(highest=6, order=order), PLAYER)
    signature = plan.timeline.meter
    names = [cue.text for cue in plan.cues]
    up = ["Quarters", "Eighths", "Triplets", "Sixteenths", "Quintuplets", "Sextuplets"]
    if signature.is_compound:
        up = ["Dotted quarters", "Duplets", "Eighths", "Quadruplets", "Sixteenths"]
    ways = {"up": up, "down": up[::-1], "up and down": [*up, *up[-2::-1]]}
    assert names == [*ways[order], "End"]
    beats = len(signature.pulses)
    odd = beats * signature.pulse_beats < signature.bar_beats
    sizes = dict(zip(up, (1, 2, 3, 4, 6) if signature.is_compound else range(1, 7), strict=True))
    for name in up:
        assert len(stage(plan, name)) == beats * sizes[name] + odd
    last = plan.parts[0].notes[-1]
    assert last.written_end_beats == plan.length_beats and last.duration_beats == signature.bar_beats
    assert_reads_back(plan)


def test_counts_of_a_ladder():
    """[common practice]"""
    plan = subdivisions(chart("N.C."), Subdivisions(order="up"), PLAYER)
    said = {cue.text: " ".join(c for _, c, _ in stage(plan, cue.text)) for cue in plan.cues}
    assert said["Eighths"] == "1 & 2 & 3 & 4 &"
    assert said["Triplets"] == "1 la li 2 la li 3 la li 4 la li"
    assert said["Sixteenths"] == "1 e & a 2 e & a 3 e & a 4 e & a"


@pytest.mark.parametrize("rhythm", ["eighths", "triplets", "sixteenths"])
@pytest.mark.parametrize("meter", ["4/4", "3/4", "6/8", "9/8"])
def test_the_accent_moves_through_the_beat(rhythm, meter):
    plan = accents(chart("N.C.", meter=meter), Accents(rhythm=rhythm), PLAYER)
    pulse = plan.timeline.meter.pulse_beats
    stages = plan.cues[:-1]
    places = []
    for number, cue in enumerate(stages):
        found = stage(plan, cue.text, 1 if number == len(stages) - 1 else 0)
        accented = {onset % pulse for onset, _, is_accent in found if is_accent}
        assert len(accented) == 1, "one place of every beat"
        assert sum(is_accent for _, _, is_accent in found) == cue.length_beats / pulse
        places += accented
    size = len(stages) - 1
    assert places == [*(pulse / size * index for index in range(size)), 0]
    assert_reads_back(plan)


@pytest.mark.parametrize("every", [3, 5, 7])
def test_accents_across_the_beat_come_round_to_the_bar_line(every):
    """[common practice]: three over four meet again after three bars of sixteenths"""
    plan = accents(chart("N.C."), Accents(every=every), PLAYER)
    found = stage(plan, f"Accent every {every}")
    accented = [onset for onset, _, is_accent in found if is_accent]
    assert accented == [Fraction(every * index, 4) for index in range(len(accented))]
    (cue,) = (cue for cue in plan.cues if cue.text.startswith("Accent every"))
    assert (accented[-1] + Fraction(every, 4)) == cue.length_beats
    assert_reads_back(plan)


@pytest.mark.parametrize(
    ("ratio", "meter", "onsets", "count", "both"),
    [
        # a notes share b beats evenly; the count is that of the grid that both have [common practice]
        ("3:2", "4/4", ["0", "2/3", "4/3", "2", "8/3", "10/3"], "1 li la 3 li la", "1 li 2 la"),
        ("4:3", "3/4", ["0", "3/4", "3/2", "9/4"], "1 a & e", "1 a 2 & 3 e"),
        ("2:3", "3/4", ["0", "3/2"], "1 &", "1 2 & 3"),
        ("3:4", "4/4", ["0", "4/3", "8/3"], "1 la li", "1 2 la 3 li 4"),
        ("3:2", "6/8", ["0", "1", "2"], "1 li la", "1 li 2 la"),
    ],
)
def test_polyrhythms(ratio, meter, onsets, count, both):
    plan = polyrhythm(chart("N.C.", meter=meter), Polyrhythm(ratio=ratio, bars=1), PLAYER)
    line, beats = ratio.split(":")
    found = stage(plan, f"{line} against {beats}")
    assert [onset for onset, _, _ in found] == list(map(Fraction, onsets))
    assert " ".join(said for _, said, _ in found) == count
    assert " ".join(said for _, said, _ in stage(plan, "Both")).startswith(both)
    # what is accented on the common grid are the notes of the line
    (grid,) = (cue for cue in plan.cues if cue.text.startswith("Accent every"))
    accented = [onset for onset, _, is_accent in stage(plan, grid.text) if is_accent]
    assert accented == list(map(Fraction, onsets))
    assert_reads_back(plan)


def test_every_note_is_the_one_note():
    plan = polyrhythm(chart("N.C.", key="Eb"), Polyrhythm(note="G3"), PLAYER)
    for name, group in groupby(plan.parts[0].notes, key=lambda n: str(n.pitch)):
        places = {(n.fretting.string, n.fretting.fret) for n in group}
        assert name == "G3" and len(places) == 1
