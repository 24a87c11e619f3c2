from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from genex.audio import Renderer, Sound, mix
from genex.audio.timing import SampleClock, placements
from genex.resources import default_soundfont
from genex.score import Mix, Role, Score
from tests.audio.material import (
    count_in,
    decibels,
    drums,
    note,
    part,
    score,
    signal_to_difference_db,
    slide,
    tempo_ramp,
)


def phrase(**more: object) -> Score:
    """Guitar, bass and drums for four beats, with notes that ring over the end."""
    return score(
        part(
            note("0", "1/2", 60),
            note("1/2", "1", 64, slide=slide(-1, "1/8")),
            note("7/2", "1/2", 67, sounding_beats=Fraction(2)),
            name="guitar",
            program=26,
            mix=Mix(-2.0, 0.4, 0.2),
        ),
        part(
            note("0", "2", 36),
            note("2", "2", 43),
            name="bass",
            program=33,
            role=Role.BASS,
            mix=Mix(-1.0, 0.0, 0.05),
        ),
        drums(
            note("0", "1/4", 36),
            note("2", "1/4", 46),
            note("3", "1/4", 42),
            note("7/2", "1/2", 51),
            mix=Mix(-4.0, -0.2, 0.15),
        ),
        **more,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize("rate_hz", [44_100, 48_000])
@pytest.mark.parametrize("tempo", [Fraction(97), Fraction(361, 3), Fraction(240)])
def test_a_loop_has_exactly_its_length(rate_hz: int, tempo: Fraction) -> None:
    with Renderer(default_soundfont(), rate_hz) as renderer:
        sound = renderer.loop(phrase(tempo=tempo))
    exact = 4 * 60 / tempo * rate_hz
    assert sound.length_samples == int(exact + Fraction(1, 2))
    assert sound.rate_hz == rate_hz


def test_a_loop_is_what_endless_repetition_settles_to(renderer: Renderer) -> None:
    """Eight passes played through without a seam: the seventh is the loop."""
    once = phrase()
    frames = renderer.loop(once).length_samples
    parts = [
        replace(
            p,
            notes=tuple(
                replace(n, onset_beats=n.onset_beats + 4 * k) for k in range(8) for n in p.notes
            ),
        )
        for p in once.parts
    ]
    long = score(*parts, beats=32)
    through = renderer.take(long).samples[6 * frames : 7 * frames]
    assert signal_to_difference_db(through, renderer.loop(once).samples) > 80


def test_tails_longer_than_the_loop_wrap_again_and_again(renderer: Renderer) -> None:
    crash = drums(note("0", "1/4", 49, 110))
    ringing = renderer.loop(score(crash, beats=1, tempo=240))
    alone = renderer.take(score(crash, beats=1, tempo=240)).samples
    frames = ringing.length_samples
    assert len(alone) > 5 * frames
    folded = np.zeros((frames, 2))
    for first in range(0, len(alone), frames):
        rest = alone[first : first + frames]
        folded[: len(rest)] += rest
    assert signal_to_difference_db(folded, ringing.samples) > 60


def test_passes_repeat_the_loop_sample_for_sample(renderer: Renderer) -> None:
    once, thrice = renderer.loop(phrase()), renderer.loop(phrase(), passes=3)
    assert np.array_equal(np.tile(once.samples, (3, 1)), thrice.samples)


def test_every_onset_lies_on_its_sample(renderer: Renderer, monkeypatch: pytest.MonkeyPatch) -> None:
    """Off the synthesizer's grid too: the same note moved by n samples, bit for bit.

    Without what is taken out below 20 Hz, which has no phase of its own and begins before the note.
    """
    monkeypatch.setattr(mix, "cut_lows", lambda planes, rate_hz, *, wrap: 0.0)
    struck = note("0", "1/4", 60)
    reference = renderer.take(score(part(struck), beats=4, tempo=77)).samples
    for onset in ("1/7", "5/13", "3/2", "11/9"):
        line = part(replace(struck, onset_beats=Fraction(onset)))
        sound = renderer.take(score(line, beats=4, tempo=77)).samples
        (placed,) = placements(line, SampleClock(phrase(tempo=77).tempo, 48_000))
        exact = line.notes[0].start_beats * 60 / 77 * 48_000
        assert placed.start_sample == int(exact + Fraction(1, 2))
        assert not sound[: placed.start_sample].any()
        heard = sound[placed.start_sample :][:12_000]
        assert signal_to_difference_db(reference[: len(heard)], heard) > 100 or np.array_equal(
            reference[: len(heard)], heard
        )


def test_the_take_counts_in_then_plays_and_rings_out(renderer: Renderer) -> None:
    plain = phrase()
    counted = replace(plain, lead_in=count_in(2))
    without, with_it = renderer.take(plain), renderer.take(counted)
    assert with_it.length_samples - without.length_samples == 48_000
    assert np.abs(with_it.samples[:2000]).max() > 0.01
    assert signal_to_difference_db(without.samples, with_it.samples[48_000:]) > 60
    assert without.length_samples > 4 * 24_000
    assert decibels(float(np.abs(without.samples[-100:]).max())) < -80


def test_the_loop_has_no_count_in(renderer: Renderer) -> None:
    plain = phrase()
    assert np.array_equal(
        renderer.loop(plain).samples, renderer.loop(replace(plain, lead_in=count_in())).samples
    )


def test_tempo_changes_move_the_notes(renderer: Renderer) -> None:
    tempo = tempo_ramp(("0", 120), ("2", 60))
    line = part(note("0", "1/4", 60), note("3", "1/4", 60))
    sound = renderer.take(score(line, tempo=tempo, lead_in=count_in(2)))
    start = 48_000 + 48_000 + 48_000  # two beats of count-in, two at 120, one at 60
    assert (
        np.abs(sound.samples[start - 3000 : start]).max()
        < np.abs(sound.samples[start : start + 3000]).max() / 4
    )


def test_stems_add_up_to_the_mix(renderer: Renderer) -> None:
    music = replace(phrase(), lead_in=count_in(2))
    mix = renderer.loop(music)
    stems = {part.name: renderer.stem(music, part.name) for part in music.parts}
    assert {stem.length_samples for stem in stems.values()} == {mix.length_samples}
    total = sum(stem.samples for stem in stems.values())
    assert decibels(float(np.abs(total - mix.samples).max())) < -120


def test_a_minus_mix_is_the_mix_less_its_stem(renderer: Renderer) -> None:
    music = phrase()
    minus = renderer.loop(music.only(*(p.name for p in music.parts if p.role is not Role.BASS)))
    stems = {part.name: renderer.stem(music, part.name) for part in music.parts}
    assert (
        decibels(
            float(np.abs(renderer.loop(music).samples - stems["bass"].samples - minus.samples).max())
        )
        < -120
    )


def test_rendering_twice_gives_the_same_samples(renderer: Renderer) -> None:
    with Renderer(default_soundfont()) as other:
        assert np.array_equal(other.loop(phrase()).samples, renderer.loop(phrase()).samples)


def seam_step(sound: Sound) -> tuple[float, float]:
    """The second difference across the seam, and the largest inside."""
    steps = np.abs(np.diff(sound.samples, n=2, axis=0)).max(axis=1)
    wrapped = np.concatenate((sound.samples[-2:], sound.samples[:2]))
    return float(np.abs(np.diff(wrapped, n=2, axis=0)).max()), float(steps.max())


def test_the_seam_is_no_larger_than_what_is_inside(renderer: Renderer) -> None:
    at_seam, inside = seam_step(renderer.loop(phrase(tempo=97)))
    assert at_seam <= inside


def test_an_empty_score_is_silence_of_the_right_length(renderer: Renderer) -> None:
    assert renderer.loop(score(part())).length_samples == 96_000
    assert not renderer.take(score(part())).samples.any()
