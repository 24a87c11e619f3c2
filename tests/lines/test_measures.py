"""Etudes measured: what each level adds over 500 tunes, and how much a term of them has in common."""

from __future__ import annotations

from collections import Counter
from fractions import Fraction
from functools import lru_cache
from itertools import combinations, pairwise
from math import log2
from statistics import mean

import pytest
from music21 import converter, corpus, stream
from music21 import note as m21_note

from genex.lines.measures import bar_rhythms, figures_of, shared_bars
from genex.lines.rhythm import COMPOUND_SHARE, NOTES_A_BAR
from genex.lines.vocabulary import COMPASS_SEMITONES, LEVELS, Kind
from genex.score import Note
from genex.theory import Pitch
from tests.lines.etude_tunes import line, phrases
from tests.lines.line_charts import chart

TUNES = 504
"""An 84th of a level and a family each: 12 tunes of each family at each level."""
THIRD = 1 / 3


def notes(*given):
    return [Note(Fraction(onset), Fraction(length), Pitch.parse(name)) for onset, length, name in given]


def test_figures_of_a_line_counted_by_hand():
    timeline = chart("C | F")
    written = notes((0, 1, "C4"), ("3/2", 1, "E4"), (3, "1/2", "D4"), ("7/2", "3/2", "A4"), (6, 2, "F4"))
    found = figures_of(timeline, written)
    assert found.notes_a_bar == 2.5
    assert found.range_semitones == 9
    assert found.syncopation == 2 / 5  # the E and the A
    assert found.tied_bars == 1  # the A
    assert found.strong_chord_tones == 1  # C and F
    assert found.mean_leap == (4 + 2 + 7) / 3 and found.largest_leap == 7
    assert str(found) == "2.5 notes a bar within 9 semitones, 40% of them syncopated"


def test_shared_bars():
    assert shared_bars("aabc", "abdd") == 0.5
    assert shared_bars("ab", "ba") == 1 and shared_bars("ab", "cd") == 0
    timeline = chart("C | F")
    assert bar_rhythms(timeline, notes((1, 1, "C4"), (3, 4, "E4"))) == [((1, 1), (3, 1), (4, 0))]


@lru_cache(maxsize=1)
def by_level():
    """The figures of the etudes over all tunes, a level for each in turn."""
    found = {level: [] for level in LEVELS}
    for number in range(TUNES):
        level = 1 + number // 7 % 6
        timeline, written = phrases(number, level)
        own = [note for phrase in written for note in phrase.notes]
        found[level].append((timeline, written, own, figures_of(timeline, own)))
    return found


def means(name):
    return [mean(getattr(found[3], name) for found in by_level()[level]) for level in LEVELS]


def test_each_level_has_more_notes_in_a_wider_range_than_the_one_before():
    density, compass = means("notes_a_bar"), means("range_semitones")
    assert all(b - a >= 0.4 for a, b in pairwise(density)), density
    assert all(b - a >= 0.7 for a, b in pairwise(compass)), compass
    # 3/4 has three pulses, 12/8 more room: over all families the aims keep their proportion
    share = (5 + Fraction(3, 4) + COMPOUND_SHARE) / 7
    for aim, found in zip(NOTES_A_BAR, density, strict=True):
        assert abs(found - float(aim * share)) <= 0.15 * float(aim * share)
    for level, found in zip(LEVELS, compass, strict=True):
        assert 0.75 * COMPASS_SEMITONES[level] <= found <= COMPASS_SEMITONES[level] + 1


def test_syncopation_comes_with_level_3_and_ties_over_bar_lines_with_level_4():
    syncopation, ties = means("syncopation"), means("tied_bars")
    assert syncopation[0] == 0 and syncopation[1] < 0.03
    assert 0.03 < syncopation[2] < min(syncopation[3:]) + 0.05
    assert ties[:3] == [0, 0, 0] and 0.03 < ties[3] < ties[4] < ties[5]


def test_strong_beats_have_chord_tones_and_scale_tones_come_as_the_level_says():
    for level, tunes in by_level().items():
        for timeline, written, own, figures in tunes:
            assert figures.strong_chord_tones >= (1 if level < 5 else 0.9)
            pulse = timeline.meter.pulse_beats
            kinds = [kind for phrase in written for kind in phrase.kinds]
            for note, kind in zip(own, kinds, strict=True):
                if kind is not Kind.CHORD:
                    assert level >= 3
                    assert level != 4 or kind is Kind.BLUE or note.onset_beats % pulse != 0
                if kind not in (Kind.CHORD, Kind.SCALE, Kind.BLUE):
                    assert level >= 5
    shares = {
        level: Counter(kind for _, written, _, _ in tunes for p in written for kind in p.kinds)
        for level, tunes in by_level().items()
    }
    assert all(set(shares[level]) == {Kind.CHORD} for level in (1, 2))
    assert shares[4][Kind.SCALE] > 0.08 * shares[4].total() > shares[3][Kind.SCALE] > 0
    for level in (5, 6):
        assert (
            shares[level][Kind.APPROACH] + shares[level][Kind.ENCLOSE_BELOW]
            > 0.05 * shares[level].total()
        )


def test_lines_move_by_step_more_from_level_4_on():
    leaps = means("mean_leap")
    assert max(leaps[3:]) < min(leaps[:3]) <= max(leaps) < 4
    assert all(found[3].largest_leap <= 12 for tunes in by_level().values() for found in tunes)


def test_the_highest_note_lies_past_the_middle():
    """Two thirds to four fifths of the way, in most etudes alone: levels from 2 on have an arch."""
    late = total = 0
    for level in range(2, 7):
        for timeline, _, own, _ in by_level()[level]:
            top = max(note.midi for note in own)
            at = [note.onset_beats / timeline.length_beats for note in own if note.midi == top]
            late += max(at) >= Fraction(2, 5)
            total += 1
    assert late / total >= 0.85


def test_the_last_note_is_held_to_the_end():
    for tunes in by_level().values():
        for timeline, _, own, _ in tunes:
            assert own[-1].written_end_beats == timeline.length_beats
            assert own[-1].degree.number in (1, 3, 5)


def entropy_bits(bars):
    counts = Counter(bars)
    return -sum(n / len(bars) * log2(n / len(bars)) for n in counts.values())


@lru_cache(maxsize=1)
def folk_tunes():
    """The rhythms of forty melodies of the Essen folk song collection. [package: music21 10.5.1]"""
    (path,) = (path for path in corpus.getCorePaths() if path.name == "altdeu10.abc")
    found = []
    for score in converter.parse(path).scores:
        bars = []
        for measure in score.recurse().getElementsByClass(stream.Measure):
            own = measure.getElementsByClass(m21_note.Note)
            if own:
                notes_ = tuple((item.offset, item.quarterLength) for item in own)
                bars.append((*notes_, (measure.barDuration.quarterLength, 0)))
        if 8 <= len(bars) <= 40:
            found.append(bars)
    return found[:40]


def term(level_of):
    return [bar_rhythms(*line(number, level_of(number))) for number in range(40)]


def shares_of(tunes):
    return [shared_bars(one, other) for one, other in combinations(tunes, 2)]


@pytest.mark.slow
@pytest.mark.parametrize("level", LEVELS)
def test_no_two_etudes_of_a_term_share_more_than_a_third_of_their_bars_as_folk_tunes_do(level):
    folk = shares_of(folk_tunes())
    own = term(lambda number: level)
    shares = shares_of(own)
    assert max(shares) <= THIRD
    assert max(folk) > THIRD
    assert level == 1 or mean(shares) < mean(folk)
    # Within itself a tune comes back to its ideas, but not to one alone, as folk tunes do.
    assert mean(map(entropy_bits, own)) < log2(14)
    if level > 2:
        assert mean(map(entropy_bits, folk_tunes())) < mean(map(entropy_bits, own))


@pytest.mark.parametrize("level", range(1, 7))
def test_no_two_tunes_begin_alike(level):
    """A term of forty lessons, in all feels."""
    openings = set()
    for number in range(40):
        timeline, written = line(number, level)
        end = 2 * timeline.meter.bar_beats
        openings.add(
            tuple((n.onset_beats, n.duration_beats, n.midi) for n in written if n.onset_beats < end)
        )
    assert len(openings) == 40
