"""The drummer: four limbs, variation, fills, marks on new sections."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.band import Groove, groove_names, play_band
from genex.band.groove_files import groove_of
from genex.band.kit import BRUSH_ONLY, VOICES, Limb, playable
from genex.score import Meter, Part, Role, Timeline
from genex.score.gm import PERCUSSION
from genex.text.yaml_source import parse_source
from tests.band.charts import GROOVES, for_groove, notes_by_bar, timeline

F = Fraction
KICK, SNARE, PEDAL_HAT, OPEN_HAT, CRASH, RIDE = 36, 38, 44, 46, 49, 51
FEET = {35, 36, 44}
# Percussion keys as the General MIDI level 1 percussion map has them
# [published: MMA, General MIDI System Level 1, 1991]
EIGHT = "C | F | G | C | Am | Dm | G7 | C"


def drums(name: str, chart: str = EIGHT, *, seed: int = 1, **changes: object) -> tuple[Part, dict]:
    line = for_groove(name, chart, **changes)
    (part,) = play_band(line, GROOVES[name], parts=("drums",), seed=seed)
    return part, notes_by_bar(part, line)


@settings(max_examples=60)
@given(
    st.sampled_from(groove_names()),
    st.integers(0, 10_000),
    st.sampled_from([(4,), (8, 8), (12,), (5, 3)]),
)
def test_never_more_than_two_hands_and_two_feet(name, seed, sections):
    chart = " | ".join(["C"] * sum(sections))
    part, _ = drums(name, chart, seed=seed, sections=sections, choruses=2)
    together = defaultdict(list)
    for note in part.notes:
        together[note.onset_beats].append(note.midi)
    for keys in together.values():
        hands = [key for key in keys if key not in FEET]
        assert len(hands) <= 2
        assert sum(key in (35, 36) for key in keys) <= 1
        assert keys.count(PEDAL_HAT) <= 1
        assert not {PEDAL_HAT, OPEN_HAT} <= set(keys)


@given(st.dictionaries(st.sampled_from(sorted(VOICES)), st.integers(1, 9), max_size=8))
def test_playable_keeps_the_loudest_strokes_that_limbs_allow(strokes):
    kept = playable(strokes)
    hands = [name for name in kept if VOICES[name].limb is Limb.HAND]
    assert len(hands) <= 2
    assert kept.items() <= strokes.items()
    if len(hands) == 2:
        dropped = [n for n in strokes if n not in kept and VOICES[n].limb is Limb.HAND]
        free = [n for n in dropped if VOICES[n].key not in {VOICES[h].key for h in hands}]
        barred = {"open hi-hat"}
        assert all(strokes[n] <= min(strokes[h] for h in hands) for n in free if n not in barred)


def test_voices_carry_the_published_percussion_keys():
    for name, key in PERCUSSION.items():
        assert VOICES[name].key == key
    assert {VOICES[name].key for name in BRUSH_ONLY} == {38, 39, 40}


@pytest.mark.parametrize("name", [n for n in groove_names() if n != "click"])
def test_bars_are_not_all_alike(name):
    _, bars = drums(name, " | ".join(["C"] * 16))
    patterns = set()
    for number, notes in bars.items():
        start = (number - 1) * GROOVES[name].bar_beats
        patterns.add(tuple((n.onset_beats - start, n.midi) for n in notes))
    assert len(patterns) >= 4


@pytest.mark.parametrize("name", ["swing", "rock", "funk", "samba", "ballad-6-8"])
def test_fills_lie_at_section_ends(name):
    rules = GROOVES[name].drums
    assert rules is not None
    fill_keys = {VOICES[v].key for fill in rules.fills for v in fill.bars[0]} - FEET
    plain_keys = {VOICES[v].key for layer in rules.layers for c in layer for b in c.bars for v in b}
    odd = fill_keys - plain_keys  # toms and the like, heard in fills only
    filled = {"end": 0, "elsewhere": 0}
    for seed in range(12):
        _, bars = drums(name, " | ".join(["C"] * 16), seed=seed, sections=(8, 8))
        for number, notes in bars.items():
            if odd & {note.midi for note in notes}:
                filled["end" if number % 8 == 0 else "elsewhere"] += 1
    if odd:
        assert filled["end"] > 0
        assert filled["end"] / 24 > 3 * filled["elsewhere"] / (12 * 14)


def small(fill: str, crash: str = "") -> Groove:
    text = f'drums: {{layers: {{a: [{{ride: "7 7 7 7", kick: "7 . . ."}}]}}, fills: [{fill}]{crash}}}'
    return groove_of(parse_source(text, "d.yaml"), "d")


def struck(groove: Groove, bars: int, seed: int, **changes: object) -> dict[int, list[tuple[int, str]]]:
    """Keys and places of the strokes of each bar."""
    line = timeline(" | ".join(["C"] * bars), **changes)
    (part,) = play_band(line, groove, seed=seed, humanise=0)
    return {
        bar: sorted((note.midi, str(note.onset_beats % 4)) for note in notes)
        for bar, notes in notes_by_bar(part, line).items()
    }


def test_a_fill_silences_the_beat_from_its_first_stroke_on():
    plain = [(KICK, "0"), *((RIDE, str(beat)) for beat in range(4))]
    filled = [(KICK, "0"), (SNARE, "2"), (SNARE, "3"), (RIDE, "0"), (RIDE, "1")]
    bars = [struck(small('{snare: ". . 6 6"}'), 4, seed) for seed in range(20)]
    assert {tuple(found[4]) for found in bars} <= {tuple(plain), tuple(filled)}
    assert sum(found[4] == filled for found in bars) >= 14  # nearly every section ends with one
    assert all(found[bar] == plain for found in bars for bar in (1, 2, 3))


def test_phrases_inside_a_section_end_with_a_fill_now_and_then():
    """Four bars make a phrase [common practice]; fills mark them less often than sections."""
    groove = small('{snare: ". . . 6"}')
    filled = {
        bar: sum((SNARE, "3") in struck(groove, 16, seed)[bar] for seed in range(30))
        for bar in (4, 8, 16)
    }
    assert 2 <= filled[4] <= 18 and 2 <= filled[8] <= 18
    assert filled[16] >= 22


def test_a_crash_takes_the_place_of_the_ride():
    """A hand that strikes the crash does not strike the ride [common practice]."""
    groove = small('{snare: ". . . 6"}', ", crash: crash")
    found = [struck(groove, 8, seed, sections=(4, 4))[5] for seed in range(20)]
    crashed = [bar for bar in found if (CRASH, "0") in bar]
    assert 10 <= len(crashed) <= 19
    assert all((RIDE, "0") not in bar and (KICK, "0") in bar for bar in crashed)
    assert all((RIDE, "0") in bar for bar in found if bar not in crashed)


def test_large_fills_are_for_long_sections():
    rules = GROOVES["rock"].drums
    assert rules is not None
    toms = {VOICES[name].key for name in ("high tom", "low floor tom", "low tom")}
    long_sections = short_sections = 0
    for seed in range(20):
        _, bars = drums("rock", " | ".join(["C"] * 8), seed=seed, sections=(8,))
        long_sections += sum(n.midi in toms for n in bars[8])
        _, bars = drums("rock", " | ".join(["C"] * 8), seed=seed, sections=(4, 4))
        start = 7 * 4 + 2
        short_sections += sum(n.midi in toms and n.onset_beats < start for n in bars[8])
    assert long_sections > 20
    assert short_sections == 0


def test_a_new_section_is_marked_by_a_crash_with_the_kick():
    marked = elsewhere = 0
    for seed in range(20):
        _, bars = drums("rock", " | ".join(["C"] * 16), seed=seed, sections=(8, 8))
        for number, notes in bars.items():
            crashes = [n for n in notes if n.midi == CRASH]
            if number in (1, 9):
                marked += len(crashes)
                for crash in crashes:
                    assert any(n.midi == KICK and n.onset_beats == crash.onset_beats for n in notes)
            else:
                elsewhere += len(crashes)
    assert marked > 20
    assert elsewhere == 0


def test_ghost_notes_are_soft_and_marked():
    part, _ = drums("funk", " | ".join(["C"] * 16))
    ghosts = [n for n in part.notes if n.articulation.value == "ghost"]
    backbeats = [n for n in part.notes if n.midi == SNARE and n.articulation.value == "normal"]
    assert len(ghosts) > 10
    assert max(n.velocity for n in ghosts) < min(n.velocity for n in backbeats if n.onset_beats % 2 == 1)


def test_kits_fit_the_feel():
    kits = {name: drums(name)[0].program for name in ("swing", "ballad", "rock", "straight")}
    # kit numbers of the drum channel [common practice: GS, GM level 2]
    assert kits == {"swing": 32, "ballad": 40, "rock": 8, "straight": 0}
    assert drums("swing")[0].role is Role.DRUMS


@pytest.mark.parametrize("name", groove_names())
def test_the_loop_s_first_beat_is_struck(name):
    part, _ = drums(name)
    if name not in ("reggae", "latin"):
        assert part.notes[0].onset_beats == 0
    assert part.notes[0].onset_beats <= 1


def test_one_bar_alone_has_no_fill_and_no_crash():
    part, _ = drums("rock", "C")
    assert not {CRASH} & {note.midi for note in part.notes}


def test_a_bar_of_another_meter_takes_the_pattern_cut():
    line = timeline("C | C | C")
    short = replace(line.bars[1], meter=Meter.parse("2/4"))
    last = replace(line.bars[2], onset_beats=F(6))
    chords = tuple(
        replace(span, onset_beats=onset, length_beats=length)
        for span, onset, length in zip(line.chords, (F(0), F(4), F(6)), (F(4), F(2), F(4)), strict=True)
    )
    mixed = Timeline(
        line.key,
        line.tempo,
        (line.bars[0], short, last),
        chords,
        (replace(line.sections[0], length_beats=F(10)),),
    )
    parts = play_band(mixed, GROOVES["straight"], seed=1)
    for part in parts:
        assert all(note.written_end_beats <= 10 for note in part.notes)
        assert any(note.onset_beats >= 6 for note in part.notes)


@pytest.mark.parametrize("name", ["ballad", "ballad-double-time"])
def test_brushes_sweep_from_stroke_to_stroke(name):
    """A sweep goes on until the next one begins: the brush does not leave the skin [common practice]."""
    line = for_groove(name, EIGHT)
    (part,) = play_band(line, GROOVES[name], parts=("drums",), seed=1, humanise=0)
    sweeps = [note for note in part.notes if note.midi == VOICES["brush sweep"].key]
    assert len(sweeps) > 12
    gaps = [b.start_beats - a.end_beats for a, b in pairwise(sweeps)]
    assert sum(gap <= F(1, 8) for gap in gaps) > 0.9 * len(gaps)
