"""How clean every feel sounds: loops, bands and takes measured, as a table.

Run: python -m tests.bench.bench_sound [--tempos] [FEEL …]

For each feel, over a chart of eight bars with a lead line of eighths:

sub      power below 20 Hz over all power, in dB, as it is written: the worst of loop, band and take
air      power above 4 kHz over all power of the band, in per cent
width    power of the side (left less right) over that of the middle, in dB, of the band
lufs     how far the take is from the loudness asked for, in LU
limited  deepest reduction by the limiter in the take, in dB
lead     power of the lead over that of the band from 300 to 3000 Hz, in dB, at the tenth percentile of
         the lead's notes (of long ones the first 400 ms)

With ``--tempos`` takes are made at the slowest and the fastest tempo of the feel too, and at twice
and half of its usual one where it allows them; the line tells the worst.
"""

from __future__ import annotations

import argparse
from fractions import Fraction

import numpy as np

from genex.api import compose_recipe, parse_recipe
from genex.audio import TARGET_LUFS, Renderer, Sound, master
from genex.band import groove_names, load_groove
from genex.resources import default_soundfont
from genex.score import Score
from tests.audio.material import power_share

CHORDS = "Dm7 | G7 | Cmaj7 | Am7 | Dm7 | G7 | Cmaj7 | G7"


def piece(feel: str, tempo: float | None = None, *, ending: bool = False) -> Score:
    """A score with every part in a feel."""
    meter = load_groove(feel).meters
    lines = [f"title: Bench {feel}", "key: C", f"feel: {feel}", f"chords: {CHORDS}", "seed: 7"]
    lines += ["parts: drums bass comping exercise"]
    if meter:
        lines.append(f"meter: {meter[0]}")
    if tempo:
        lines.append(f"tempo: {tempo:g}")
    return compose_recipe(parse_recipe("\n".join(lines) + "\n"), ending=ending).score


def side_db(sound: Sound) -> float:
    """Power of the side over that of the middle, in dB."""
    left, right = sound.planes.astype(np.float64)
    side, middle = ((left - right) ** 2).sum(), ((left + right) ** 2).sum()
    return float(10 * np.log10(max(side / middle, 1e-12)))


def lead_over_band_db(score: Score, lead: Sound, band: Sound, percentile: float = 10) -> float:
    """From 300 to 3000 Hz over each note of the lead, at a percentile of the notes."""
    powers = []
    for sound in (lead, band):
        spectrum = np.fft.rfft(sound.planes.astype(np.float64))
        hertz = np.fft.rfftfreq(sound.length_samples, 1 / sound.rate_hz)
        spectrum[:, (hertz < 300) | (hertz > 3000)] = 0
        powers.append((np.fft.irfft(spectrum, sound.length_samples) ** 2).sum(axis=0))
    ratios = []
    for note in next(part for part in score.parts if part.role.is_lead).notes:
        start = score.tempo.sample_at(max(Fraction(0), note.start_beats), lead.rate_hz)
        end = min(score.tempo.sample_at(note.end_beats, lead.rate_hz), start + int(0.4 * lead.rate_hz))
        one, other = (float(power[start:end].mean()) for power in powers)
        ratios.append(10 * np.log10(max(one, 1e-12) / max(other, 1e-12)))
    return float(np.percentile(ratios, percentile))


def tempos(feel: str, *, many: bool) -> list[float | None]:
    """The usual tempo, and others that the feel is made for."""
    groove = load_groove(feel)
    if not many:
        return [None]
    low, high, usual = (float(t) for t in (groove.tempo_low, groove.tempo_high, groove.tempo_usual))
    return [None, low, high, *[t for t in (usual / 2, usual * 2) if low < t < high]]


def row(renderer: Renderer, feel: str, *, many: bool) -> str:
    """A line of the table."""
    score = piece(feel)
    leads = [part.name for part in score.parts if part.role.is_lead]
    others = [part.name for part in score.parts if not part.role.is_lead]
    loop, band = renderer.loop(score), renderer.loop(score.only(*others))
    lead = renderer.loop(score.only(*leads))
    takes, misses, limits = [], [], []
    for tempo in tempos(feel, many=many):
        take = renderer.take(piece(feel, tempo, ending=True))
        take, measured = master(take, loop=False)
        takes.append(power_share(take, 0, 20))
        misses.append((measured.integrated_lufs or -99) - TARGET_LUFS)
        limits.append(measured.limited_db)
    air, width, heard = (
        power_share(band, 4000, 24_000),
        side_db(band),
        lead_over_band_db(score, lead, band),
    )
    sub = max(*takes, *(power_share(master(sound)[0], 0, 20) for sound in (loop, band)))
    return (
        f"{feel:13} {10 * np.log10(max(sub, 1e-12)):7.1f} {100 * air:7.2f} {width:7.1f} "
        f"{max(misses, key=abs):7.2f} {max(limits):7.1f} {heard:7.1f}"
    )


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--tempos", action="store_true")
    parser.add_argument("feels", nargs="*")
    words = parser.parse_args()
    print("feel              sub     air   width    lufs limited    lead")
    with Renderer(default_soundfont()) as renderer:
        for feel in words.feels or groove_names():
            print(row(renderer, feel, many=words.tempos), flush=True)


if __name__ == "__main__":
    main()
