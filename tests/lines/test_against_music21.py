"""Intervals and degrees of written lines, named by music21. [package: music21 10.5.1]"""

import pytest
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from genex.exercises import GuideLine, Player
from genex.exercises.models.asking import Drill
from genex.exercises.models.over_the_chart import Changes, Etude, Targets
from genex.lines.changes import arpeggio_line
from genex.lines.drills import interval_drill
from genex.lines.etude import etude
from genex.lines.guide import guide_line
from genex.lines.targets import target_line
from tests.lines.line_charts import chart

TUNE = "Gm7 | C7 | Fmaj7 | D7b9 | Am7b5 | Abdim7 | Gm7 C9 | F6"


def theirs(pitch):
    return m21_pitch.Pitch(f"{str(pitch.name).replace('b', '-')}{pitch.octave}")


def name_of(degree):
    """music21's name for the interval that a degree lies above its root: b3 is m3, #4 is A4."""
    simple = degree.simple
    if simple.number in (1, 4, 5):
        kind = {-2: "dd", -1: "d", 0: "P", 1: "A", 2: "AA"}[simple.alter]
    else:
        kind = {-2: "d", -1: "m", 0: "M", 1: "A"}[simple.alter]
    return f"{kind}{simple.number}"


LINES = {
    "arpeggio": lambda t: [arpeggio_line(t, Changes(position=5), Player())],
    "guide": lambda t: guide_line(t, GuideLine(voices=2), Player()),
    "targets": lambda t: [
        target_line(t, Targets(approaches=("enclosure", "below"), density=3), Player())
    ],
    "etude": lambda t: [etude(t, Etude(level=5), Player())],
}


@pytest.mark.parametrize("kind", LINES)
def test_degrees_are_the_intervals_from_the_root(kind):
    timeline = chart(TUNE, key="F")
    for part in LINES[kind](timeline):
        for note in part.notes:
            chord = timeline.chord_at(note.onset_beats).chord
            root = theirs(chord.root.at_or_below(note.midi))
            assert theirs(note.pitch).midi == note.midi
            found = m21_interval.Interval(root, theirs(note.pitch)).simpleName
            # a root spelled above its own unison is an octave to music21
            assert found in (name_of(note.degree), {"P1": "P8"}.get(name_of(note.degree)))


def test_interval_drill_names():
    plan = interval_drill(chart("N.C."), Drill(ask="interval", rounds=1), Player())
    for answer in plan.answers:
        low, high = answer.notes[:2]
        found = m21_interval.Interval(theirs(low.pitch), theirs(high.pitch)).niceName.lower()
        asked = answer.text.partition(" up")[0]
        assert found == {"tritone": "augmented fourth", "octave": "perfect octave"}.get(asked, asked)
