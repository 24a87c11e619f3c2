"""Measure the tuning and levels of genex's soundfont, and derive its corrections.

Two jobs, both with the same two estimators, partials of windowed spectra and
librosa's pyin (the latter where it can be trusted, see ``NO_PYIN``):

``derive``  measures every recording of the source font and writes the cents
            to add per zone to ``corrections.json``;
``measure`` plays the finished font with libfluidsynth, every semitone of each
            instrument's range (pyin: every third), writes ``measured.csv`` and
            prints the table of ``README.md``.

Both need librosa; ``measure`` also pyfluidsynth, and pygame-ce or a system
library for libfluidsynth itself. They are imported only where they are used.

Usage::

    python measure_soundfont.py derive --source FluidR3_GM.sf2
    python measure_soundfont.py measure [--font genex-gm.sf2]
"""

from __future__ import annotations

import argparse
import csv
import ctypes.util
import json
import math
import sys
import time
from collections import defaultdict
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import Any

import numpy as np
from make_soundfont import (
    COARSE_TUNE,
    CORRECTIONS,
    DEFAULT_OUT,
    FINE_TUNE,
    HERE,
    INSTRUMENT,
    KITS,
    MELODIC,
    ROOT_KEY,
    SAMPLE_ID,
    Sample,
    SoundFont,
    read_soundfont,
    subset,
    zone_label,
)
from numpy.typing import NDArray

Signal = NDArray[np.float64]
RATE = 44100
VELOCITY = 100
HELD, TAIL = 1.8, 0.2
ONSET = 0.2
"""Seconds skipped at the start of a note: the stroke itself has no clear pitch."""

RANGES: dict[int, tuple[int, int]] = {
    0: (21, 108),
    4: (28, 100),
    11: (53, 89),
    16: (36, 96),
    24: (38, 88),
    25: (38, 88),
    26: (38, 88),
    27: (38, 88),
    29: (38, 88),
    32: (28, 67),
    33: (23, 67),
    35: (28, 67),
    48: (28, 96),
    65: (49, 81),
    66: (44, 76),
    71: (50, 94),
    73: (60, 96),
    89: (36, 96),
}
"""Sounding ranges, lowest and highest key [common practice]; guitars from a dropped D to fret 24."""

NO_PYIN = frozenset({"Ac. Guitar (steel)", "Steel String Guitar", "Drawbar Organ", "DrawbarOrgan"})
"""Presets and source instruments on which pyin is not believed: the steel guitar's doubled strings
confuse it, and a drawbar organ's 16-foot stop truly sounds an octave below the key."""

BELIEVED = 25.0
"""Where both estimators agree within so many cents their mean is corrected.

They differ by nature on stiff strings: the first partial of a piano lies below
the period that pyin hears. Halfway, a note is in tune by either reading."""

DRUM_KEYS = range(27, 83)


def key_hz(key: float) -> float:
    """Equal temperament at A4 = 440 Hz [published: ISO 16]."""
    return float(440.0 * 2.0 ** ((key - 69) / 12))


def cents(a: float, b: float) -> float:
    """How far a is above b."""
    return 1200 * math.log2(a / b)


def _peak(levels: Signal, low: int, high: int) -> tuple[float, float] | None:
    """Fractional bin and level of the highest bin in [low, high], if it is a true peak."""
    at = low + int(np.argmax(levels[low : high + 1]))
    if at <= 0 or at >= len(levels) - 1 or levels[at - 1] > levels[at] or levels[at + 1] > levels[at]:
        return None
    a, b, c = levels[at - 1], levels[at], levels[at + 1]
    bend = a - 2 * b + c
    shift = 0.0 if bend == 0 else 0.5 * (a - c) / bend
    return at + shift, float(b - 0.25 * (a - c) * shift)


def fundamental(signal: Signal, rate: int, expected: float, search: float = 90.0) -> float:
    """Frequency of the first partial in Hz, near ``expected``, averaged over the note.

    In each frame the partials 1 to 8 are read off a Blackman-windowed spectrum
    (parabola through the log magnitudes). A strong first partial is taken as it
    is; where it is weak (low piano and bass notes) the law of a stiff string,
    f(h) = h f (1 + b h^2), b >= 0, is fitted to all of them, weighted by
    amplitude. Frames are short enough to follow a vibrato; their mean, weighted
    by amplitude and without stray frames, is the answer.
    """
    length = 1 << math.ceil(math.log2(rate * max(0.1, 12 / expected)))
    length = min(length, len(signal))
    nfft = 4 << math.ceil(math.log2(length))
    window = np.blackman(length)
    ratio = 2 ** (search / 1200)
    values, weights = [], []
    for start in range(0, len(signal) - length + 1, max(1, length // 8)):
        frame = signal[start : start + length]
        magnitude = np.abs(np.fft.rfft((frame - frame.mean()) * window, nfft))
        levels = np.log(magnitude + 1e-9)
        partials = []
        for h in range(1, 9):
            centre = h * expected * nfft / rate
            if h * expected > 0.45 * rate:
                break
            found = _peak(levels, max(1, math.floor(centre / ratio)), math.ceil(centre * ratio))
            if found is not None:
                partials.append((h, found[0] * rate / nfft / h, math.exp(found[1])))
        if not partials:
            continue
        top = max(p[2] for p in partials)
        partials = [p for p in partials if p[2] > 0.01 * top]
        f = np.array([p[1] for p in partials])
        w = np.array([p[2] for p in partials])
        if partials[0][0] == 1 and w[0] > 0.2 * top:
            values.append(float(f[0]))
        else:
            h2 = np.array([p[0] ** 2 for p in partials], float)
            mean_f, mean_h = float(np.average(f, weights=w)), float(np.average(h2, weights=w))
            spread = float(np.average((h2 - mean_h) ** 2, weights=w))
            together = float(np.average((h2 - mean_h) * (f - mean_f), weights=w))
            slope = together / spread if spread > 0 else 0.0
            values.append(mean_f + min(max(slope, 0.0), 0.01 * expected) * (1 - mean_h))
        weights.append(float(np.sqrt(np.sum(w**2))))
    if not values:
        return math.nan
    all_values, all_weights = np.array(values), np.array(weights)
    near = np.abs(np.log2(all_values / np.median(all_values))) < 40 / 1200
    return float(np.average(all_values[near], weights=all_weights[near]))


def pyin_cents(signal: Signal, rate: int, expected: float) -> float:
    """Cents above ``expected`` by pyin, heard within half an octave [package: librosa 0.11.0]."""
    import librosa

    frame = 1 << math.ceil(math.log2(max(rate * 0.045, 6 * rate / expected)))
    track, voiced, _ = librosa.pyin(
        signal,
        fmin=expected / 1.4,
        fmax=min(expected * 1.4, rate * 0.45),
        sr=rate,
        frame_length=frame,
        resolution=0.04,
        max_transition_rate=5,
        fill_na=None,
    )
    chosen = track[voiced] if np.any(voiced) else track
    off = 1200 * np.log2(chosen / expected)
    return float(np.mean(off[np.abs(off - np.median(off)) < 40]))


# ---------------------------------------------------------------- derive


def unrolled(sample: Sample, seconds: float) -> Signal:
    """The sample as it sounds at its own pitch, held for so long: its loop repeated."""
    frames = sample.data.astype(np.float64)
    wanted = int(seconds * sample.rate)
    if len(frames) < wanted:
        loop = frames[sample.loop_start : sample.loop_end]
        missing = wanted - sample.loop_end
        frames = np.concatenate([frames[: sample.loop_end], np.resize(loop, max(0, missing))])
    return frames[:wanted]


def derive(source: Path, out: Path) -> None:
    """Write the cents every zone needs; levels already in the file are kept."""
    font = read_soundfont(source)
    wanted = set(_melodic_labels(subset(font, {}, {})))
    found: dict[str, list[float]] = defaultdict(list)
    for instrument in font.instruments:
        for zone in instrument.zones:
            if not zone.has(SAMPLE_ID):
                continue
            label = zone_label(instrument.name, zone, font.samples)
            if label not in wanted:
                continue
            sample = font.samples[zone.get(SAMPLE_ID)]
            root = zone.get(ROOT_KEY, sample.key)
            written = zone.get_signed(COARSE_TUNE) * 100 + zone.get_signed(FINE_TUNE) + sample.correction
            expected = key_hz(root - written / 100)
            signal = unrolled(sample, HELD)[int(ONSET * sample.rate) :]
            off = cents(fundamental(signal, sample.rate, expected), expected)
            second = math.nan
            if instrument.name not in NO_PYIN:
                second = pyin_cents(signal, sample.rate, expected)
            found[label].append((off + second) / 2 if abs(second - off) <= BELIEVED else off)
    table = {label: -round(sum(off) / len(off)) for label, off in found.items()}
    old = json.loads(out.read_text(encoding="utf-8")) if out.exists() else {}
    data = {
        "about": "Made by measure_soundfont.py. tuning_cents: cents added per zone (instrument / root "
        "key / recording). attenuation: initialAttenuation units added per preset (bank:program), "
        "25 units = 1 dB.",
        "tuning_cents": {label: value for label, value in sorted(table.items()) if value},
        "attenuation": old.get("attenuation", {}),
    }
    out.write_text(json.dumps(data, indent=1, ensure_ascii=True) + "\n", encoding="utf-8")
    print(f"{len(table)} zones, largest correction {max(map(abs, table.values()))} cents")


def _melodic_labels(font: SoundFont) -> Iterator[str]:
    """Label of every zone the melodic presets of the subset play."""
    for preset in font.presets:
        for zone in preset.zones:
            if preset.bank == 0 and zone.has(INSTRUMENT):
                instrument = font.instruments[zone.get(INSTRUMENT)]
                for part in instrument.zones:
                    if part.has(SAMPLE_ID):
                        yield zone_label(instrument.name, part, font.samples)


# ---------------------------------------------------------------- measure


def library_path() -> str | None:
    """libfluidsynth of the system, or the one inside pygame-ce's wheel."""
    system = ctypes.util.find_library("fluidsynth")
    spec = find_spec("pygame")
    if spec is not None and spec.origin:
        site = Path(spec.origin).parent.parent
        for folder in ("pygame_ce.libs", "pygame/.dylibs", "pygame"):
            for path in sorted((site / folder).glob("*fluidsynth*")):
                return str(path)
    return system


class Player:
    """One dry libfluidsynth: no reverb, no chorus, so that only the font is heard."""

    def __init__(self, font: Path) -> None:
        path = library_path()
        if path is None:
            raise SystemExit("libfluidsynth was not found: install pygame-ce")
        find = ctypes.util.find_library
        ctypes.util.find_library = lambda name: path
        try:
            import fluidsynth
        finally:
            ctypes.util.find_library = find
        self.synth: Any = fluidsynth.Synth(gain=0.4, samplerate=float(RATE))
        self.synth.setting("synth.reverb.active", 0)
        self.synth.setting("synth.chorus.active", 0)
        began = time.perf_counter()
        self.sfid = self.synth.sfload(str(font))
        self.load_seconds = time.perf_counter() - began
        if self.sfid < 0:
            raise SystemExit("libfluidsynth did not load the font")

    def note(self, bank: int, program: int, key: int, held: float = HELD) -> Signal:
        """Stereo frames (n, 2), full scale 1.0, of one note held, then released for TAIL seconds."""
        self.synth.system_reset()
        self.synth.program_select(0, self.sfid, bank, program)
        self.synth.noteon(0, key, VELOCITY)
        parts = [self.synth.get_samples(int(held * RATE))]
        self.synth.noteoff(0, key)
        parts.append(self.synth.get_samples(int(TAIL * RATE)))
        return np.concatenate(parts).reshape(-1, 2).astype(np.float64) / 32768


def off_by(stereo: Signal, key: int) -> float:
    """Cents a played note is off, both channels heard, louder one counting more."""
    part = stereo[int(ONSET * RATE) : int(1.75 * RATE)]
    power = np.sum(part**2, axis=0)
    hz = key_hz(key)
    found = [cents(fundamental(part[:, c], RATE, hz), hz) for c in (0, 1) if power[c] > 0]
    return float(np.average(found, weights=[p for p in power if p > 0]))


def pyin_off_by(stereo: Signal, key: int) -> float:
    """The same with pyin, on the sum of both channels."""
    part = stereo[int(ONSET * RATE) : int(1.75 * RATE)]
    return pyin_cents(np.sum(part, axis=1), RATE, key_hz(key))


def level_db(stereo: Signal) -> float:
    """Loudest 400 ms as RMS power of both channels, in dB below full scale."""
    power = np.sum(stereo**2, axis=1)
    window = int(0.4 * RATE)
    total = np.concatenate([[0.0], np.cumsum(power)])
    return float(10 * np.log10(np.max(total[window:] - total[:-window]) / window + 1e-12))


def _level_text(levels: list[float]) -> str:
    return f"{np.median(levels):.1f} ({min(levels):.1f}..{max(levels):.1f})"


def measure(font: Path, out: Path) -> None:
    """Play everything, write the csv, print the README's table."""
    player = Player(font)
    print(f"loaded in {player.load_seconds:.2f} s", file=sys.stderr)
    rows: list[tuple[str, int, str, str, str]] = []
    print("| bank | program | preset | keys | worst cents | mean cents | worst by pyin | level dB |")
    print("|---|---|---|---|---|---|---|---|")
    for program, name in MELODIC.items():
        low, high = RANGES[program]
        offs, tracked, levels = [], [], []
        for key in range(low, high + 1):
            heard = player.note(0, program, key)
            off = off_by(heard, key)
            second = math.nan
            if name not in NO_PYIN and (key - low) % 3 == 0:
                second = pyin_off_by(heard, key)
                tracked.append(second)
            offs.append(off)
            levels.append(level_db(heard))
            shown = "" if math.isnan(second) else f"{second:.1f}"
            rows.append((f"0:{program}", key, f"{off:.1f}", shown, f"{levels[-1]:.1f}"))
        worst = max(offs, key=abs)
        by_pyin = f"{max(tracked, key=abs):+.1f}" if tracked else "not used"
        tuned = f"{worst:+.1f} | {np.mean(offs):+.1f} | {by_pyin}"
        print(f"| 0 | {program} | {name} | {low}-{high} | {tuned} | {_level_text(levels)} |", flush=True)
    for program, name in KITS.items():
        levels = []
        for key in DRUM_KEYS:
            levels.append(level_db(player.note(128, program, key, 0.6)))
            rows.append((f"128:{program}", key, "", "", f"{levels[-1]:.1f}"))
        span = f"{DRUM_KEYS[0]}-{DRUM_KEYS[-1]}"
        print(f"| 128 | {program} | {name} | {span} | | | | {_level_text(levels)} |")
    with out.open("w", encoding="utf-8", newline="") as handle:
        writer = csv.writer(handle, lineterminator="\n")
        writer.writerow(("preset", "key", "cents", "cents_pyin", "level_db"))
        writer.writerows(rows)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Derive or measure the soundfont's tuning and levels.")
    jobs = parser.add_subparsers(dest="job", required=True)
    first = jobs.add_parser("derive")
    first.add_argument("--source", type=Path, required=True)
    first.add_argument("--out", type=Path, default=CORRECTIONS)
    second = jobs.add_parser("measure")
    second.add_argument("--font", type=Path, default=DEFAULT_OUT)
    second.add_argument("--out", type=Path, default=HERE / "measured.csv")
    args = parser.parse_args()
    if args.job == "derive":
        derive(args.source, args.out)
    else:
        measure(args.font, args.out)


if __name__ == "__main__":
    main()
