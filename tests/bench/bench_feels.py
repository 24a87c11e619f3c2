"""Every feel over four progressions: rendered, then read back by ear-like measures.

Run as ``python -m tests.bench.bench_feels [--ensemble] [FEEL …]``. For each feel and progression it
prints

majmin   weighted accuracy of a chroma-template chord recogniser against the chart, by the metric of
         mir_eval (major and minor triads, everything else left out)
tempo    the tempo that librosa's beat tracker finds, against the tempo asked for (octave errors
         folded: half, double, two thirds and three halves are told apart by the printed factor)
beats    F-measure of the beats that librosa's tracker finds with a prior on the tempo, within 70 ms of
         the pulses [published: Davies, Degara and Plumbley 2009]
root     share of changes with the root or slash bass struck, move: mean movement a voice in
         semitones, ms: milliseconds a bar to compose

With ``--ensemble`` it prints how the band plays together instead, from the notes alone (what each is,
``tests/band/ensemble.py`` says): milliseconds of the line behind the cymbals on and off the beat;
spread of drift in ms, its correlation between players and from bar to bar; strikes of the chords a
beat under a busy line, in its rests, and their ratio; share of bars inside sections with an answer of
the drums, where the line rests and where it goes on; fills in 96 bars, how many sound different, how
many repeat the one before, mean weight at the ends of phrases, sections and choruses; how many of three
tops are marked; how many velocities three choruses rise by: drums, bass, chords.
"""

from __future__ import annotations

import sys
import time
from collections import defaultdict
from fractions import Fraction
from itertools import pairwise
from statistics import fmean

import numpy as np

from genex.audio import Renderer
from genex.band import groove_names, play_band
from genex.band.playable_voicings import movement
from genex.resources import default_soundfont
from genex.score import Articulation, Part, Score, Timeline
from tests.band import ensemble
from tests.band.charts import GROOVES, for_groove
from tests.band.recogniser import majmin_accuracy

PROGRESSIONS = {
    "blues": ("F", "F7 | Bb7 | F7 | F7 | Bb7 | Bb7 | F7 | D7 | Gm7 | C7 | F7 | C7"),
    "ii-V-I": ("C", "Dm7 | G7 | Cmaj7 | Cmaj7 | Cm7 | F7 | Bbmaj7 | Bbmaj7"),
    "pop": ("G", "G | D | Em | C | G | D | Em | C"),
    "vamp": ("D minor", "Dm7 | Dm7 | Dm7 | Dm7 | Ebm7 | Ebm7 | Dm7 | Dm7"),
}


def root_share(part: Part, line: Timeline) -> float:
    struck = {note.onset_beats: note.pitch.pitch_class for note in part.notes}
    hits = [struck.get(b.onset_beats) == b.chord.bass.pitch_class for _, b in line.changes() if b.chord]
    return sum(hits) / max(1, len(hits))


def mean_movement(part: Part) -> float:
    chords: dict[Fraction, list[int]] = defaultdict(list)
    for note in part.notes:
        if note.articulation is not Articulation.DEAD:
            chords[note.onset_beats].append(note.midi)
    struck = [sorted(chords[onset]) for onset in sorted(chords)]
    moves = [movement(a, b) for a, b in pairwise(struck) if a != b]
    return sum(moves) / max(1, len(moves))


def tempo_factor(samples: np.ndarray, rate_hz: int, expected: float) -> float:
    """Found tempo over expected tempo, folded to the nearest of the usual metrical levels."""
    import librosa

    mono = librosa.resample(samples, orig_sr=rate_hz, target_sr=22050)
    envelope = librosa.onset.onset_strength(y=mono, sr=22050, hop_length=128)
    found = float(
        np.atleast_1d(
            librosa.beat.beat_track(
                onset_envelope=envelope, sr=22050, hop_length=128, start_bpm=expected, trim=False
            )[0]
        )[0]
    )
    levels = (1, 2, 0.5, 1.5, 2 / 3, 3, 1 / 3, 4 / 3, 0.75)
    return min((found / expected / level for level in levels), key=lambda ratio: abs(ratio - 1))


def beats_f(samples: np.ndarray, rate_hz: int, line: Timeline) -> float:
    """F-measure of tracked beats against the pulses; the first five seconds are left out."""
    import librosa

    mono = librosa.resample(samples, orig_sr=rate_hz, target_sr=22050)
    pulses = float(line.tempo.pulses_at(Fraction(0), line.meter))
    found = librosa.beat.beat_track(
        y=mono, sr=22050, hop_length=256, start_bpm=pulses, tightness=400, units="time", trim=False
    )[1]
    wanted = [
        float(line.tempo.seconds_at(bar.onset_beats + pulse))
        for bar in line.bars
        for pulse in bar.meter.pulses
    ]
    wanted = [time for time in wanted if time >= 5]
    found = [time for time in found if time >= 5]
    hits, place = 0, 0
    for time_s in wanted:
        while place < len(found) and found[place] < time_s - 0.07:
            place += 1
        if place < len(found) and found[place] <= time_s + 0.07:
            hits, place = hits + 1, place + 1
    return 2 * hits / max(1, len(wanted) + len(found))


def print_ensemble(names: list[str]) -> None:
    """The table of ``--ensemble``."""
    print(
        "feel           on  off | drift together steady | busy rest ratio | answers   else | "
        "fills kinds again phrase section chorus tops | rise"
    )
    for name in names:
        place, moves = ensemble.line_against_cymbals(name), ensemble.moves(name)
        chords = ensemble.comping_by_line(name)
        busy, rest = chords.get("busy", 0.0), chords.get("rest", float("nan"))
        marked = [found for level in ensemble.LEVELS for found in ensemble.answers(name, level)]
        answers = [
            fmean([hit for rests, hit in marked if rests is which] or [0]) for which in (True, False)
        ]
        fills = ensemble.fills_heard(name)
        weights = [
            fmean([fill.weight for fill in fills if fill.ends == what] or [0])
            for what in ("phrase", "section", "chorus")
        ]
        rises = [
            max(found) - found[0]
            for found in (ensemble.chorus_velocities(name, part) for part in GROOVES[name].parts)
        ]
        kinds = len({fill.strokes for fill in fills})
        print(
            f"{name:12} {place.get('on', float('nan')):4.0f} {place.get('off', float('nan')):4.0f} | "
            f"{moves.spread:5.1f} {moves.together:8.2f} {moves.steady:6.2f} | "
            f"{busy:4.2f} {rest:4.2f} {busy / rest:5.2f} | {answers[0]:7.2f} {answers[1]:6.2f} | "
            f"{len(fills):5} {kinds:5} {ensemble.repeated_in_a_row(fills):5} "
            f"{weights[0]:6.0f} {weights[1]:7.0f} {weights[2]:6.0f} "
            f"{sum(ensemble.marked_tops(name)):4} | " + " ".join(f"{rise:.0f}" for rise in rises),
            flush=True,
        )


def main(names: list[str]) -> None:
    if "--ensemble" in names:
        asked = [name for name in names if name != "--ensemble"]
        whole = ("drums", "bass", "comping")
        print_ensemble(asked or [name for name in groove_names() if GROOVES[name].parts == whole])
        return
    print("feel          progression majmin  tempo  beats  root  move ms/bar render s")
    with Renderer(default_soundfont()) as renderer:
        for name in names or groove_names():
            for title, (key, chart) in PROGRESSIONS.items():
                line = for_groove(name, chart, key=key, choruses=2)
                start = time.perf_counter()
                parts = play_band(line, GROOVES[name], seed=1)
                composed = (time.perf_counter() - start) / len(line.bars) * 1000
                start = time.perf_counter()
                sound = renderer.loop(Score(title, name, line, parts))
                rendered = time.perf_counter() - start
                mono = np.asarray(sound.planes, dtype=np.float64).mean(axis=0)
                by_name = {part.name: part for part in parts}
                accuracy = (
                    majmin_accuracy(mono, sound.rate_hz, line) if "comping" in by_name else float("nan")
                )
                factor = tempo_factor(mono, sound.rate_hz, float(GROOVES[name].tempo_usual))
                tracked = beats_f(mono, sound.rate_hz, line)
                root = root_share(by_name["bass"], line) if "bass" in by_name else float("nan")
                move = mean_movement(by_name["comping"]) if "comping" in by_name else float("nan")
                print(
                    f"{name:13} {title:11} {accuracy:6.3f} {factor:6.3f} {tracked:6.2f} {root:5.2f} "
                    f"{move:5.2f} {composed:6.2f} {rendered:8.2f}",
                    flush=True,
                )


if __name__ == "__main__":
    main(sys.argv[1:])
