"""How a band plays together and by a line: measured on the notes of whole pieces.

The form is 32 bars (A A B A) three times, with an etude over it; times are milliseconds at the feel's
usual tempo. What is drawn is told from what is played with it and without it, so that nothing here
reads the code that it measures.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise
from statistics import correlation, fmean, stdev

from genex.band import play_band
from genex.band.kit import VOICES
from genex.compose import compose
from genex.recipe import parse_recipe
from genex.score import Note, Part, Score, Timeline
from tests.band.charts import GROOVES, for_groove

F = Fraction
CHART = (
    "sections: {A: Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Em7 A7 | Dm7 G7, "
    "B: Fmaj7 | Bb7 | Cmaj7 | Cmaj7 | Am7 | D7 | Dm7 | G7}\nform: A A B A\nkey: C\n"
)
LEVELS = (3, 4, 5, 6)
FORM = " | ".join(["C"] * 32)
_CYMBALS = {VOICES[name].key for name in VOICES if "ride" in name or "hi-hat" in name}
_CRASHES = {VOICES[name].key for name in ("crash", "second crash", "splash")}
_FEET = {VOICES[name].key for name in ("kick", "pedal hi-hat")}


@lru_cache(maxsize=64)
def played(name: str, more: str = "exercise: {kind: etude, level: 4}", seed: int = 1) -> Score:
    """A piece of three choruses in a feel: band and line."""
    meter = GROOVES[name].meters[0] if GROOVES[name].meters else "4/4"
    chart = CHART
    if str(meter) == "3/8":  # a beat a bar holds one chord
        chart = chart.replace("Em7 A7", "A7").replace("Dm7 G7", "G7")
    return compose(
        parse_recipe(
            f"{chart}feel: {name}\nmeter: {meter}\ntempo: {GROOVES[name].tempo_usual:g}\n"
            f"repeats: 3\nseed: {seed}\n"
            f"parts: drums bass comping exercise\n{more}\n"
        )
    ).score


def late_ms(note: Note, score: Score) -> float:
    """How far a note sounds behind its written place."""
    return float((note.start_beats - note.onset_beats) * 60_000 / score.tempo.tempo_at(F(0)))


def line_against_cymbals(name: str) -> dict[str, float]:
    """Mean lateness of the line against the cymbals in ms: on the pulse, and in the middle of a pair."""
    groove, score = GROOVES[name], played(name, "exercise: {kind: changes, rhythm: eighths}")
    struck = {n.onset_beats: n for n in score.part("drums").notes if n.midi in _CYMBALS}
    pair = groove.pair_beats if groove.swing != 1 else F(1)
    found = defaultdict(list)
    for note in score.part("exercise").notes:
        if (other := struck.get(note.onset_beats)) is not None:
            phase = note.onset_beats % pair / pair
            place = {F(0): "on", F(1, 2): "off"}.get(phase)
            if place:
                found[place].append(late_ms(note, score) - late_ms(other, score))
    return {place: fmean(values) for place, values in found.items()}


@dataclass(frozen=True)
class Moves:
    """How players move about their mean place.

    spread       standard deviation of a player's bar means, in ms, on average over the players
    together     correlation between players, bar by bar, on average over the pairs
    steady       correlation of a player's bar with the player's next bar
    scatter      standard deviation of single notes about their bar's mean, in ms
    """

    spread: float
    together: float
    steady: float
    scatter: float


def moves(name: str, seed: int = 1) -> Moves:
    """Drift of drums, bass, comping and line, without what swing and place do."""
    human, exact = played(name, seed=seed), played(name, seed=seed, more=_EXACT)
    bars: dict[str, dict[int, float]] = {}
    scatter = []
    for part in human.parts:
        late: dict[int, list[float]] = defaultdict(list)
        places: dict[tuple[int, Fraction], list[float]] = defaultdict(list)
        for note, plain in zip(part.notes, exact.part(part.name).notes, strict=True):
            if note.onset_beats:  # nothing sounds before the first beat
                key = note.midi if part.is_percussion else 0, note.onset_beats % 1
                places[key].append(late_ms(note, human) - late_ms(plain, exact))
        means = {key: fmean(values) for key, values in places.items()}
        for note, plain in zip(part.notes, exact.part(part.name).notes, strict=True):
            if note.onset_beats:
                key = note.midi if part.is_percussion else 0, note.onset_beats % 1
                value = late_ms(note, human) - late_ms(plain, exact) - means[key]
                late[human.timeline.bar_at(note.onset_beats).number].append(value)
        bars[part.name] = {bar: fmean(values) for bar, values in late.items()}
        scatter += [value - bars[part.name][bar] for bar, values in late.items() for value in values]
    pairs = []
    follow = []
    for one, other in _pairs(sorted(bars)):
        common = sorted(bars[one].keys() & bars[other].keys())
        pairs.append(correlation(*([bars[who][bar] for bar in common] for who in (one, other))))
    for found in bars.values():
        next_to = [bar for bar in found if bar + 1 in found]
        follow.append(correlation([found[b] for b in next_to], [found[b + 1] for b in next_to]))
    return Moves(
        fmean(stdev(found.values()) for found in bars.values()),
        fmean(pairs),
        fmean(follow),
        stdev(scatter),
    )


_EXACT = "exercise: {kind: etude, level: 4}\nhumanise: 0"


def _pairs(names: list[str]) -> list[tuple[str, str]]:
    return [(one, other) for index, one in enumerate(names) for other in names[index + 1 :]]


def comping_by_line(name: str) -> dict[str, float]:
    """Strikes of the chords a beat: where the line is busy (two onsets and more), where it rests all
    through the beat, and elsewhere; over etudes of four levels."""
    struck: dict[str, float] = defaultdict(float)
    beats: dict[str, int] = defaultdict(int)
    for level in LEVELS:
        score = played(name, f"exercise: {{kind: etude, level: {level}}}")
        strikes = {note.onset_beats for note in score.part("comping").notes}
        line = score.part("exercise").notes
        onsets = {note.onset_beats for note in line}
        sounding = [(note.onset_beats, note.written_end_beats) for note in line]
        for bar in score.timeline.bars:
            start = bar.onset_beats
            for length in GROOVES[name].beats:
                end = start + length
                inside = sum(start <= onset < end for onset in onsets)
                rests = not any(since < end and start < until for since, until in sounding)
                kind = "busy" if inside >= 2 else "rest" if rests else "else"
                struck[kind] += sum(start <= onset < end for onset in strikes)
                beats[kind] += 1
                start = end
    return {kind: struck[kind] / beats[kind] for kind in beats}


def answers(name: str, level: int) -> list[tuple[bool, bool]]:
    """For each bar of a section but its last: whether the line ends in it and rests there for a pulse
    and a half or more, and whether the drums play other than without a line."""
    score = played(name, f"exercise: {{kind: etude, level: {level}}}\nhumanise: 0")
    alone = played(name, "minus: exercise\nhumanise: 0")
    one, other = (_by_bar(s.part("drums"), s.timeline) for s in (score, alone))
    ends = sorted((n.onset_beats, n.written_end_beats) for n in score.part("exercise").notes)
    least = F(3, 2) * score.timeline.meter.pulse_beats
    rests = set()
    for (_, end), (onset, _) in pairwise([*ends, (score.length_beats, score.length_beats)]):
        bar = score.timeline.bar_at(end)
        if onset > end and min(onset, bar.end_beats) - end >= least:
            rests.add(bar.number)
    fills = [
        [(n.onset_beats, n.midi) for n in here] != [(n.onset_beats, n.midi) for n in there]
        for here, there in zip(one, other, strict=True)
    ]
    return [
        (bar.number in rests, fill)
        for bar, fill in zip(score.timeline.bars, fills, strict=True)
        if bar.number % 8
    ]


Strokes = tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class FillHeard:
    """A fill as it is heard: its strokes by place before the bar line and key, its bar, what ends
    there, and how much the hands strike (sum of velocities)."""

    bar: int
    ends: str
    strokes: Strokes
    weight: int


def fills_heard(name: str, *, seed: int = 1, choruses: int = 3) -> list[FillHeard]:
    """The bars that are other than without fills, in 32 bars (A A B A) several times."""
    groove = GROOVES[name]
    line = for_groove(name, FORM, choruses=choruses, sections=(8, 8, 8, 8))
    if groove.drums is None or not groove.drums.fills:
        return []
    plain = replace(groove, drums=replace(groove.drums, fills=()))
    with_fills, without = (
        _by_bar(play_band(line, which, parts=("drums",), seed=seed, humanise=0, build=0)[0], line)
        for which in (groove, plain)
    )
    found = []
    for number, bar in enumerate(line.bars):
        one, other = (
            {(n.onset_beats - bar.end_beats, n.midi): n.velocity for n in bars[number]}
            for bars in (with_fills, without)
        )
        changed = {
            stroke for stroke in one.keys() | other.keys() if one.get(stroke) != other.get(stroke)
        }
        inside = {stroke for stroke in changed if stroke[0] > -bar.length_beats}
        if inside:
            start = min(onset for onset, _ in inside)
            strokes = tuple(sorted((str(onset), key) for onset, key in one if onset >= start))
            weight = sum(v for (o, key), v in one.items() if o >= start and key not in _FEET)
            found.append(FillHeard(number, _ends(number), strokes, weight))
    return found


def _ends(index: int) -> str:
    place = index % 32 + 1
    return "chorus" if place == 32 else "section" if place % 8 == 0 else "phrase"


def _by_bar(part: Part, line: Timeline) -> list[list[Note]]:
    found: list[list[Note]] = [[] for _ in line.bars]
    for note in part.notes:
        found[line.bar_at(note.onset_beats).number - 1].append(note)
    return found


def repeated_in_a_row(fills: list[FillHeard]) -> int:
    """How often a fill comes twice in a row, going round as a loop does."""
    return sum(one.strokes == other.strokes for one, other in pairwise([*fills, *fills[:1]]))


def marked_tops(name: str, seed: int = 1) -> list[bool]:
    """For the first bar of each chorus: whether a crash or an accent marks it."""
    groove = GROOVES[name]
    line = for_groove(name, FORM, choruses=3, sections=(8, 8, 8, 8))
    (part,) = play_band(line, groove, parts=("drums",), seed=seed, humanise=0, build=0)
    ones: dict[int, list[Note]] = defaultdict(list)
    for note in part.notes:
        bar = line.bar_at(note.onset_beats)
        if note.onset_beats == bar.onset_beats:
            ones[bar.number].append(note)
    crash = groove.drums and groove.drums.crash
    key = VOICES[crash].key if crash else None
    usual = fmean(
        sum(note.velocity for note in notes) for bar, notes in ones.items() if (bar - 1) % 8 not in (0,)
    )
    return [
        any(note.midi == key for note in ones[bar])
        if key in _CRASHES
        else sum(note.velocity for note in ones[bar]) > usual
        for bar in (1, 33, 65)
    ]


def chorus_velocities(name: str, part: str, more: str = "") -> list[float]:
    """Mean velocity of a part in each of three choruses."""
    score = played(name, f"exercise: {{kind: etude, level: 4}}\n{more}")
    found: dict[int, list[int]] = defaultdict(list)
    for note in score.part(part).notes:
        found[score.timeline.bar_at(note.onset_beats).chorus].append(note.velocity)
    return [fmean(found[chorus]) for chorus in sorted(found)]
