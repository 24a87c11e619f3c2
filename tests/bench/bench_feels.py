"""Every feel: how much it varies, and what is heard of it by tools that know nothing of genex.

Run as ``python -m tests.bench.bench_feels [--ensemble] [FEEL …]``. A line a feel:

bass, chords, time   distinct bars in 96 (``tests/band/variety.py``) / share of the section's commonest
beats    F-measure within 70 ms of the beats that librosa's tracker finds, told the tempo, the first five
         seconds left out, as mir_eval does
majmin   weighted accuracy of a chroma-template chord recogniser by the metric of mir_eval (major and
         minor triads), and in brackets on a plain rendering: the same notes, no levels, places and room
root     share of changes with root or slash bass struck; move: mean movement a voice in semitones
air      share of power above 4 kHz in per cent
take     at the slowest, usual and fastest tempo how far a take with a line is off its loudness in LU at
         the most, the deepest limiting and, before it, levelling in dB

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
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from statistics import fmean

import numpy as np

from genex.audio import Renderer
from genex.audio.mastering import TARGET_LUFS, levelling_for, master
from genex.band import groove_names, play_band
from genex.band.playable_voicings import movement
from genex.compose import compose
from genex.recipe import parse_recipe
from genex.resources import default_soundfont
from genex.score import Articulation, Mix, Part, Score, Timeline
from tests.band import ensemble
from tests.band.charts import GROOVES, for_groove
from tests.band.hearing import air, beat_f_measure
from tests.band.recogniser import majmin_accuracy
from tests.band.variety import variety

PROGRESSIONS = {
    "ii-V-I": ("C", "Dm7 | G7 | Cmaj7 | Cmaj7 | Cm7 | F7 | Bbmaj7 | Bbmaj7"),
    "pop": ("G", "G | D | Em | C | G | D | Em | C"),
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


def takes(renderer: Renderer, name: str) -> tuple[float, float, float]:
    """The largest error of loudness, the deepest limiting and levelling over three tempos."""
    groove = GROOVES[name]
    meter = str(groove.meters[0]) if groove.meters else "4/4"
    errors, limited, levelled = [], [], []
    for tempo in (groove.tempo_low, groove.tempo_usual, groove.tempo_high):
        recipe = parse_recipe(
            f"feel: {name}\nmeter: {meter}\ntempo: {tempo:g}\nrepeats: 2\n"
            "chords: 'Dm7 | G7 | Cmaj7 | Am7 |'\nparts: [drums, bass, comping, exercise]"
        )
        score = compose(recipe, ending=True).score
        most_db = levelling_for(score.parts)
        take = renderer.take(score)
        _, measured = master(take, TARGET_LUFS, loop=False, most_levelling_db=most_db)
        errors.append(abs((measured.integrated_lufs or -99) - TARGET_LUFS))
        limited.append(measured.limited_db)
        levelled.append(measured.levelled_db)
    return max(errors), max(limited), max(levelled)


def mono_of(renderer: Renderer, name: str, line: Timeline, parts: Iterable[Part]) -> np.ndarray:
    sound = renderer.loop(Score("bench", name, line, tuple(parts)))
    return np.asarray(sound.planes, dtype=np.float64).mean(axis=0)


def plain(parts: Iterable[Part]) -> list[Part]:
    return [replace(part, mix=Mix(level_db=0.0, pan=0.0, room=0.0)) for part in parts]


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
    print(
        "feel               bass    chords  time    beats majmin (plain) root move  air   LU    dB   lev"
    )
    with Renderer(default_soundfont()) as renderer:
        rate = renderer.rate_hz
        for name in names or groove_names():
            varied = variety(name)
            cells = [varied.get(part) for part in ("bass", "comping", "time")]
            text = "".join(f"{c.distinct:2}/{c.steady:.2f} " if c else "        " for c in cells)
            figures = defaultdict(list)
            for key, chart in PROGRESSIONS.values():
                line = for_groove(name, chart, key=key, choruses=2)
                parts = play_band(line, GROOVES[name], seed=1)
                by_name = {part.name: part for part in parts}
                mono = mono_of(renderer, name, line, parts)
                figures["air"].append(air(mono, rate))
                pulses = float(line.tempo.pulses_at(Fraction(0), line.meter))
                figures["beats"].append(beat_f_measure(np.tile(mono, 2), rate, pulses))
                if "comping" in by_name:
                    figures["majmin"].append(majmin_accuracy(mono, rate, line))
                    bare = mono_of(renderer, name, line, plain(parts))
                    figures["plain"].append(majmin_accuracy(bare, rate, line))
                    figures["root"].append(root_share(by_name["bass"], line))
                    figures["move"].append(mean_movement(by_name["comping"]))
            mean = {key: float(np.mean(values)) for key, values in figures.items()}
            error, limited, levelled = takes(renderer, name)
            harmony = (
                f"{mean['majmin']:.3f} ({mean['plain']:.3f}) {mean['root']:.2f} {mean['move']:.2f}"
                if "majmin" in mean
                else " " * 24
            )
            print(
                f"{name:18} {text} {mean['beats']:.2f}  {harmony} {mean['air']:5.2f}  "
                f"{error:5.2f}  {limited:4.1f}  {levelled:4.1f}",
                flush=True,
            )


if __name__ == "__main__":
    main(sys.argv[1:])
