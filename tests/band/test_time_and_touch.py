"""Where a player sits about the beat, how long notes sound, how loud: heard in the notes themselves."""

from __future__ import annotations

import random
from fractions import Fraction
from itertools import pairwise
from statistics import mean

import pytest

from genex.band import Groove, play_band
from genex.band.feel_timing import Touch
from genex.band.groove_files import groove_of
from genex.score import Articulation, Note, Part
from genex.text.yaml_source import parse_source
from tests.band.charts import GROOVES, TUNES, for_groove, timeline

F = Fraction
PLAIN = {
    "drums": 'layers: {time: [{ride: "7 65 7 65", kick: "7 . 7 ."}]}',
    "bass": 'patterns: "R R 5 R"',
    "comping": 'voicings: [triad], rhythms: "5 . 5 .5"',
}
CHART = "C | F | G7 | C | Am | Dm | G7 | C"


def groove(head: str = "", **parts: str) -> Groove:
    """A small feel: the plain part with more fields, for each part that is named."""
    rows = [head] + [f"{name}: {{{PLAIN[name]}{more}}}" for name, more in parts.items()]
    return groove_of(parse_source("\n".join(rows), "t.yaml"), "t")


def played(part: str, more: str = "", *, head: str = "", tempo: float = 120, **changes: object) -> Part:
    (found,) = play_band(
        timeline(CHART, tempo=tempo), groove(head, **{part: more}), **{"seed": 1, **changes}
    )
    return found


def lateness_ms(note: Note, tempo: float) -> float:
    return float(note.start_beats - note.onset_beats) * 60_000 / tempo


def firsts(part: Part) -> list[Note]:
    """Of each chord the note that sounds first: the others follow as the hand comes down."""
    struck: dict[Fraction, Note] = {}
    for note in sorted(part.notes, key=lambda note: note.start_beats):
        struck.setdefault(note.onset_beats, note)
    return list(part.notes) if part.name != "comping" else list(struck.values())


@pytest.mark.parametrize("part", PLAIN)
@pytest.mark.parametrize("tempo", [60, 200])
def test_a_part_that_plays_behind_the_beat_is_late_and_one_ahead_early(part, tempo):
    """Laid back is later than the beat, pushing earlier [common practice], by the same time at any
    tempo; a tick at tempo 60 is 1.04 ms [computed]."""
    for behind in (-20, -6, 0, 6, 20):
        notes = firsts(played(part, f", looseness: 0, behind: {behind}", tempo=tempo))
        late = [lateness_ms(note, tempo) for note in notes if note.onset_beats > 0]
        assert late and all(abs(ms - behind) < 1.1 for ms in late), behind


@pytest.mark.parametrize("part", PLAIN)
def test_scatter_lies_on_both_sides_of_the_beat(part):
    late = [lateness_ms(n, 120) for n in firsts(played(part, ", looseness: 2")) if n.onset_beats]
    assert abs(mean(late)) < 3
    assert min(late) < -5 and max(late) > 5
    calm = [lateness_ms(note, 120) for note in played(part, ", looseness: 0.5").notes]
    assert max(map(abs, calm)) < max(map(abs, late))


@pytest.mark.parametrize("part", ["drums", "bass", "comping"])
def test_a_pocket_is_behind_the_beat(part):
    """Soul is played in a pocket a little behind the beat [common practice]."""
    line = for_groove("soul", TUNES["pop"][1], choruses=2)
    exact = play_band(line, GROOVES["soul"], parts=(part,), seed=2, humanise=0)[0].notes
    human = play_band(line, GROOVES["soul"], parts=(part,), seed=2)[0].notes
    late = [
        float(b.start_beats - a.start_beats) * 60_000 / GROOVES["soul"].tempo_usual
        for a, b in zip(exact, human, strict=True)
    ]
    assert 3 < mean(late) < 12


def test_a_touch_scatters_evenly_about_its_middle():
    """A normal distribution cut at two standard deviations has its mean in the middle, and about a
    sixth of it beyond one deviation on either side [computed: 1 - Phi(1) = 0.159]; velocities are
    played in steps of about 4."""
    touch, rng = Touch(5.0, 8.0, 0.0), random.Random(3)
    delays = [touch.delay_ms(rng, 1.0) for _ in range(4000)]
    velocities = [touch.velocity_of(72, rng, 1.0) for _ in range(4000)]
    assert abs(mean(delays)) < 0.3 and abs(mean(velocities) - 72) < 1
    assert (min(delays), max(delays)) == (-10, 10)
    for side in (1, -1):
        assert 0.13 < mean(side * delay > 5.0 for delay in delays) < 0.19
        assert 0.15 < mean(side * (velocity - 72) > 5.0 for velocity in velocities) < 0.3
    assert max(abs(touch.delay_ms(rng, 0.5)) for _ in range(2000)) == 5


@pytest.mark.parametrize("part", ["bass", "comping"])
def test_a_swung_eighth_sounds_as_long_as_it_is(part):
    """At 2:1 the eighth on the beat lasts two thirds of it, the one between a third
    [computed: triplet swing]; players leave a twentieth free."""
    pattern = {"bass": 'patterns: "RR RR RR RR"', "comping": 'voicings: [triad], rhythms: "55 55 55 55"'}
    text = f"swing: 2\n{part}: {{{pattern[part]}, looseness: 0}}"
    (found,) = play_band(timeline("C | C"), groove_of(parse_source(text, "t"), "t"), seed=1, humanise=0)
    for note in found.notes:
        on_beat = note.onset_beats.denominator == 1
        assert note.start_beats % 1 == (0 if on_beat else F(2, 3))
        assert note.sounding_beats == (F(2, 3) if on_beat else F(1, 3)) * F(19, 20)


@pytest.mark.parametrize("name", ["swing", "rock", "bossa", "country", "soul"])
def test_a_chord_has_ended_when_the_next_begins(name):
    for seed in range(3):
        line = for_groove(name, TUNES["pop"][1], key="G", choruses=2)
        (part,) = play_band(line, GROOVES[name], parts=("comping",), seed=seed)
        struck: dict[Fraction, list[Note]] = {}
        for note in part.notes:
            struck.setdefault(note.onset_beats, []).append(note)
        for before, after in pairwise(sorted(struck)):
            assert max(n.end_beats for n in struck[before]) <= min(n.start_beats for n in struck[after])


@pytest.mark.parametrize("part", PLAIN)
def test_every_part_follows_the_loudness_of_the_form(part):
    line = timeline(CHART, sections=(4, 4))
    (found,) = play_band(line, groove(**{part: ""}), seed=1, humanise=0, dynamics={"B": 0.6})
    loud = mean(note.velocity for note in found.notes if note.onset_beats < 16)
    soft = mean(note.velocity for note in found.notes if note.onset_beats >= 16)
    assert 0.5 * loud < soft < 0.7 * loud


def test_the_top_of_a_chord_is_the_loudest():
    """The top voice carries the line [common practice]."""
    notes = played("comping", humanise=0).notes
    for onset in {note.onset_beats for note in notes}:
        chord = sorted((n for n in notes if n.onset_beats == onset), key=lambda note: note.midi)
        assert all(note.velocity < chord[-1].velocity for note in chord[:-1])


def test_the_bass_leans_on_one_and_dead_notes_are_soft():
    text = 'bass: {patterns: "R Rx R R"}'
    (part,) = play_band(timeline("C"), groove_of(parse_source(text, "t"), "t"), seed=1, humanise=0)
    one, two, dead, *rest = part.notes
    assert one.velocity > two.velocity == rest[0].velocity > dead.velocity
    assert dead.articulation is Articulation.DEAD


def test_parts_without_a_level_are_balanced():
    """Chords lie under the rhythm section that they colour [common practice]; none is raised."""
    parts = groove(**dict.fromkeys(PLAIN, ""))
    assert parts.drums and parts.bass and parts.comping
    assert -12 < parts.comping.mix.level_db < parts.drums.mix.level_db < parts.bass.mix.level_db < 0
    assert 0 <= parts.bass.mix.room < parts.drums.mix.room <= parts.comping.mix.room < 0.5
    assert [part.mix.pan for part in (parts.drums, parts.bass, parts.comping)] == [0, 0, 0]


def test_down_strokes_fall_from_the_low_strings_and_take_their_time():
    """Down on the beat, up between, string by string [common practice]."""
    notes = played("comping", ", instrument: steel guitar, looseness: 0, strum: 10", tempo=60).notes
    for onset in {note.onset_beats for note in notes if note.onset_beats}:
        chord = sorted((n for n in notes if n.onset_beats == onset), key=lambda note: note.midi)
        if onset.denominator > 1:
            chord.reverse()
        late = [lateness_ms(note, 60) for note in chord]
        assert late == pytest.approx([10 * order for order in range(len(chord))], abs=1.1)
