"""The digest of what is heard: other for whatever changes a sample, and for nothing else."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from genex.audio.laid import laid_loop, laid_take
from genex.score import LeadIn, Mix
from tests.audio.material import drums, note, part, score, slide

LINE = part(note("0", "1", 60), note("1", "1", 62), note("2", "1", 64))


def heard(*parts, **how):
    return laid_loop(score(*parts, **how), 48_000).digest


@pytest.mark.parametrize(
    "other",
    [
        lambda: heard(part(note("0", "1", 61), *LINE.notes[1:])),
        lambda: heard(part(note("0", "1", 60, 91), *LINE.notes[1:])),
        lambda: heard(part(note("0", "1/2", 60), *LINE.notes[1:])),
        lambda: heard(part(note("0", "1", 60, slide=slide(2, "1/4")), *LINE.notes[1:])),
        lambda: heard(part(note("0", "1", 60, vibrato=True), *LINE.notes[1:])),
        lambda: heard(part(*LINE.notes, program=25)),
        lambda: heard(part(*LINE.notes, mix=Mix(room=0.0, level_db=-1.0))),
        lambda: heard(part(*LINE.notes, mix=Mix(room=0.0, pan=0.1))),
        lambda: heard(LINE, tempo=121),
        lambda: heard(LINE, beats=5),
        lambda: heard(LINE, part(note("0", "1", 60), name="other")),
        lambda: laid_loop(score(LINE), 44_100).digest,
        lambda: laid_take(score(LINE), 48_000).digest,
    ],
)
def test_what_changes_a_sample_is_another_one(other):
    assert other() != heard(LINE)


def test_what_is_not_heard_is_not_in_it():
    one = score(LINE)
    other = replace(one, title="Another title", feel="another name")
    named = replace(LINE, name="melody")
    assert laid_loop(one, 48_000).digest == laid_loop(other, 48_000).digest == heard(named)
    assert laid_loop(one, 48_000, [LINE]).digest == heard(LINE)


def test_a_take_begins_with_its_lead_in():
    clicks = drums(note("0", "1/4", 37))
    one = laid_take(score(LINE, lead_in=LeadIn(Fraction(2), clicks)), 48_000)
    assert [laid.part for laid in one.parts] == [clicks, LINE]
    assert [placed.start_sample for placed in one.parts[1].placed] == [48_000, 72_000, 96_000]
    assert one.bars_end == 6 * 24_000 and not one.loops
