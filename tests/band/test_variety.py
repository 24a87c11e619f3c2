"""Ten minutes of one feel: rhythms change, and the groove stays."""

from __future__ import annotations

import pytest

from genex.band import groove_names, play_band
from genex.band.groove_files import groove_of
from genex.score import Part
from genex.text.yaml_source import parse_source
from tests.band.charts import GROOVES, for_groove, notes_by_bar, timeline
from tests.band.variety import variety

BANDS = tuple(name for name in groove_names() if GROOVES[name].bass is not None)
LEAST = {"bass": 8, "comping": 8, "time": 6}
STEADY = {"bass": 0.35, "comping": 0.25, "time": 0.35}


@pytest.mark.parametrize("name", BANDS)
def test_96_bars_have_many_rhythms_and_one_groove(name):
    """At least 8 rhythms of bass and chords, 6 of ride or hi-hat in 96 bars, yet a section's commonest
    bar is a good part of it: what a rhythm section does [common practice]."""
    for seed in (1, 2):
        found = variety(name, seed)
        for part, least in LEAST.items():
            assert found[part].distinct >= least, (part, seed, found[part])
            assert found[part].steady >= STEADY[part], (part, seed, found[part])


@pytest.mark.parametrize("name", [n for n in BANDS if GROOVES[n].comping.picked])
def test_picking_has_three_patterns_and_more(name):
    assert len(GROOVES[name].comping.patterns) >= 3


def small_bass(how: str, chart: str, **changes: object) -> tuple[Part, list[str]]:
    """A bass part and the first note of each bar."""
    line = timeline(chart, **changes)
    groove = groove_of(parse_source(f"bass: {{inversions: 1, {how}}}", "b.yaml"), "b")
    (part,) = play_band(line, groove, seed=3, humanise=0)
    return part, [str(notes[0].pitch.name) for notes in notes_by_bar(part, line).values()]


@pytest.mark.parametrize("how", ['patterns: "R - 5 -"', "walking: {}"])
def test_a_chord_that_goes_on_may_have_its_third_or_fifth_in_the_bass(how):
    """[common practice]; a section begins on the root, and so does every new chord."""
    _, names = small_bass(how, "C | C | Am7 | Am7 | F | F | C | C", sections=(4, 4))
    assert names[::2] == ["C", "A", "F", "C"]
    for name, allowed in zip(names[1::2], ("EG", "CE", "AC", "EG"), strict=True):
        assert name in allowed
    _, names = small_bass(how, "C | C | C | C", sections=(2, 2))
    assert names[0] == names[2] == "C" and names[1] in "EG"


@pytest.mark.parametrize("chord", ["C/G", "C5"])
def test_a_chord_keeps_the_bass_that_it_is_written_with(chord):
    _, names = small_bass('patterns: "R - 5 -"', f"{chord} | {chord}")
    assert names[0] == names[1] or (chord == "C5" and names[1] == "G")


def test_a_steady_part_stays_with_its_figure():
    """``steady`` 1 plays one pattern through a section, 0 draws each bar anew."""
    patterns = ", ".join(f'"{text}": 1' for text in ("R - - -", "R - R -", "R R R R", "R R - R"))
    line = for_groove("rock", " | ".join(["C"] * 16), sections=(8, 8), choruses=4)

    def distinct(steady: float) -> list[int]:
        text = f"bass: {{steady: {steady}, patterns: {{{patterns}}}}}"
        (part,) = play_band(line, groove_of(parse_source(text, "b.yaml"), "b"), seed=1, humanise=0)
        bars = [
            tuple(note.onset_beats % 4 for note in notes) for notes in notes_by_bar(part, line).values()
        ]
        return [len(set(bars[start : start + 8])) for start in range(0, 64, 8)]

    assert distinct(1) == [1] * 8
    assert min(distinct(0)) > 1
