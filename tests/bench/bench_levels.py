"""The levels of etudes in figures, and what tunes of a term have in common, beside folk songs.

    python -m tests.bench.bench_levels

Prints a row a level over 84 tunes: notes a bar, range in semitones, share of notes that are
syncopated, of bar lines that are tied over, of strong beats with chord tones, mean and largest leap in
semitones; then of all pairs of forty tunes how many share more than a third of their bars' rhythms, the
largest and the mean share. The last row has the same of forty songs of the Essen collection.
[package: music21]
"""

from __future__ import annotations

from itertools import combinations
from statistics import mean

from genex.lines.measures import bar_rhythms, figures_of, shared_bars
from tests.lines.etude_tunes import line
from tests.lines.test_measures import folk_tunes

TUNES, TERM = 84, 40


def main() -> None:
    print("level  notes  range  syncop.  tied  chord tones  leap  largest  over 1/3   max  mean")
    for level in range(1, 7):
        lines = [line(number, level) for number in range(TUNES)]
        found = [figures_of(*one) for one in lines]
        means = [
            mean(getattr(one, name) for one in found)
            for name in (
                "notes_a_bar",
                "range_semitones",
                "syncopation",
                "tied_bars",
                "strong_chord_tones",
                "mean_leap",
            )
        ]
        notes, compass, syncopation, tied, tones, leap = means
        largest = max(one.largest_leap for one in found)
        print(
            f"{level:5}  {notes:5.2f}  {compass:5.1f}  {syncopation:7.2f}  {tied:4.2f}  {tones:11.2f}  "
            f"{leap:4.2f}  {largest:7}  {_shares([bar_rhythms(*one) for one in lines[:TERM]])}",
            flush=True,
        )
    print(f"{'folk':>5}{'':59}{_shares(folk_tunes())}")


def _shares(tunes: list[list[object]]) -> str:
    shares = [shared_bars(one, other) for one, other in combinations(tunes, 2)]
    over = sum(share > 1 / 3 for share in shares)
    return f"{over:3} of {len(shares)}  {max(shares):4.2f}  {mean(shares):4.2f}"


if __name__ == "__main__":
    main()
