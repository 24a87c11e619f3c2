"""Left-hand fingering of single-note lines: the best path through the hand's states.

Exact dynamic programming (Viterbi) over the states and costs of ``hand.py``; the result costs
no more than any other fingering of the line. The recursion runs from both ends towards the
middle, so that a line that returns the way it came is fingered alike up and down even where
several fingerings cost the same.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import groupby, pairwise
from typing import Protocol

from genex.errors import FretboardError
from genex.fretboard.best_path import Search, Ways, best_path
from genex.fretboard.hand import (
    AWAY_FROM_HOME,
    IMPOSSIBLE,
    SHIFT_ALONG_A_STRING,
    SHIFT_IN_A_PHRASE,
    HandMove,
    move_between,
    states_of,
)
from genex.fretboard.tunings import Hand, Place, Tuning, pitch_at, require_on_instrument
from genex.fretboard.wishes import ANYHOW, Wishes
from genex.theory import Pitch

POSITION_SLACK = 1
"""In a wished position the hand may lie this many frets lower or higher, by shifts: fourths between
strings ask for no more. See ``position_slack``."""


@lru_cache(maxsize=64)
def position_slack(tuning: Tuning) -> int:
    """How many frets lower or higher than a wished position the hand may lie in a tuning.

    So many that between two strings no semitone is missing, even where the neck ends above the
    hand: four frets under it and the slack on one side span the widest interval between
    neighbouring pitches of open strings.
    """
    opens = sorted(set(tuning.open_midi))
    widest = max((after - before for before, after in pairwise(opens)), default=0)
    return max(POSITION_SLACK, widest - 4)


class Stopped(Protocol):
    """A note as the left hand takes it."""

    @property
    def fret(self) -> int: ...
    @property
    def finger(self) -> int: ...
    @property
    def position(self) -> int: ...


@dataclass(frozen=True, slots=True)
class Fingered:
    """A note on the neck. ``finger`` 0 is an open string, 1 to 4 index to little finger.

    ``position`` is the place of the hand as the note is played, the fret below that of its second
    finger (``hand.py``); ``move`` tells how the hand came here from the note before.
    """

    string: int
    fret: int
    finger: int
    position: int
    move: HandMove = HandMove.NONE

    @property
    def place(self) -> Place:
        return Place(self.string, self.fret)

    @property
    def state(self) -> tuple[int, int, int, int]:
        return self.string, self.fret, self.finger, self.position


def with_moves(states: Sequence[tuple[int, int, int, int]]) -> tuple[Fingered, ...]:
    """Fingered notes from (string, fret, finger, position), each with the move that leads to it."""
    before = [None, *states[:-1]]
    return tuple(Fingered(*b, move_between(a, b)) for a, b in zip(before, states, strict=True))


def main_position(fingered: Sequence[Stopped]) -> int:
    """The fret at which the first finger lies for most of the notes; the lower of two equals.

    Where the first finger does nothing but reach back while the hand stays, that is its fret. A hop
    to a cluster and back is no change of position.
    """
    counts: Counter[int] = Counter()
    stays = [list(stay) for _, stay in groupby(fingered, key=lambda note: note.position)]
    for notes in [stay for stay in stays if not _is_cluster(stay)] or stays:
        position = notes[0].position
        firsts = {note.fret for note in notes if note.finger == 1}
        counts[min(firsts) if firsts and position not in firsts else position] += len(notes)
    return min(counts, key=lambda position: (-counts[position], position))


def _is_cluster(stay: Sequence[Stopped]) -> bool:
    """Whether three fingers or more are on one fret while the hand stays."""
    fingers: dict[int, set[int]] = {}
    for note in stay:
        fingers.setdefault(note.fret, set()).add(note.finger)
    return any(len(found) >= 3 for fret, found in fingers.items() if fret)


def finger_line(
    midis: Sequence[int],
    tuning: Tuning,
    wishes: Wishes = ANYHOW,
    *,
    fixed: Sequence[tuple[int, int] | None] | None = None,
    held: Sequence[Fingered | None] | None = None,
) -> tuple[Fingered, ...]:
    """The best fingering of a single-note line given as MIDI numbers.

    fixed  for each note a (string, fret) that it must be played at, or None
    held   for each note how it must be taken, or None

    Raises FretboardError when a note is off the instrument or the line cannot be played so.
    """
    if fixed is None:
        choices: list[Collection[tuple[int, int]] | None] = [None] * len(midis)
    else:
        if len(fixed) != len(midis):
            raise ValueError(f"{len(fixed)} fixed places for {len(midis)} notes")
        choices = [None if place is None else (place,) for place in fixed]
    if held is not None:
        kept = [None if note is None else (note.place,) for note in held]
        choices = [place or choice for place, choice in zip(kept, choices, strict=True)]
    try:
        grips = None if held is None else [_grip(note) for note in held]
        return finger_among(midis, choices, tuning, wishes, held=grips)
    except FretboardError as error:
        if wishes.position is None or wishes.strings is not None or wishes.closed or fixed is not None:
            raise
        homes = [str(home) for home, _ in finger_everywhere(midis, tuning, hand=wishes.hand)]
        if not homes:
            hint = "no one position holds the whole line: leave the position free"
        else:
            hint = f"the whole line can be played in position {', '.join(homes)}"
        raise FretboardError(error.message, hint=hint) from error


def _grip(note: Fingered | None) -> tuple[int, int | None] | None:
    return None if note is None else (note.finger, note.position)


def finger_among(
    midis: Sequence[int],
    choices: Sequence[Collection[tuple[int, int]] | None],
    tuning: Tuning,
    wishes: Wishes = ANYHOW,
    *,
    held: Sequence[tuple[int, int | None] | None] | None = None,
    wished: Sequence[int | None] | None = None,
    near: Sequence[Fingered | None] | None = None,
    few_shifts: bool = False,
) -> tuple[Fingered, ...]:
    """As ``finger_line``, with a choice of (string, fret) for each note, or None for any.

    held     for each note the (finger, position) that it must be taken with, or None; the position
             None for any
    wished   for each note the finger that takes it elsewhere and had better take it here, or None
    near     for each note how it is taken so far and had better be, string, fret and finger, or None
    few_shifts  along one string, where the hand has to travel: rather seldom and far
    """
    _require_sane(midis, choices, tuning, wishes)
    if not midis:
        return ()
    states = states_of(tuning, wishes.hand)
    rests = wishes.breaths
    search = Search(states, wishes, position_slack(tuning))
    free = [None] * len(midis)
    spans, own = [], []
    for midi, choice, state, finger in zip(midis, choices, held or free, wished or free, strict=True):
        spans.append(states.span[midi])
        places = None if choice is None else frozenset(choice)
        own.append(search.own(midi, places, state, finger))
    if near is not None:
        own = [search.near(*each) for each in zip(midis, own, near, strict=True)]
    looked_at: set[int] = set()  # notes that come again share their costs
    for index, costs in enumerate(own):
        if id(costs) not in looked_at and costs.min() >= IMPOSSIBLE:
            raise _unplayable(midis[index], tuning, wishes)
        looked_at.add(id(costs))
    is_kept = wishes.position is not None and wishes.between is None
    dearer = SHIFT_IN_A_PHRASE if rests or is_kept else 0
    dearer += SHIFT_ALONG_A_STRING if few_shifts else 0
    picked = best_path(spans, own, Ways(states, rests, wishes.slides, dearer))
    if any(
        states.change[a, b] >= IMPOSSIBLE
        for index, (a, b) in enumerate(pairwise(picked), start=1)
        if index not in rests
    ):
        raise FretboardError(
            "no hand can play this line under these conditions",
            hint="leave the position, the strings or the places free",
        )
    line = with_moves(
        [
            (int(s.string[i]), int(s.fret[i]), int(s.finger[i]), int(s.position[i]))
            for s, i in ((states, i) for i in picked)
        ]
    )
    return tuple(
        _after_rest(line[index - 1], note) if index in rests and index > 0 else note
        for index, note in enumerate(line)
    )


def _after_rest(before: Fingered, note: Fingered) -> Fingered:
    """The note after a rest, where the fingers were let go: only a hand that moved has shifted."""
    move = HandMove.NONE if before.position == note.position else HandMove.SHIFT
    return replace(note, move=move)


def finger_everywhere(
    midis: Sequence[int], tuning: Tuning, *, hand: Hand | None = None
) -> tuple[tuple[int, tuple[Fingered, ...]], ...]:
    """``(position, fingering)`` for each position in which the whole line can be played.

    From the nut upwards, one entry for each different way over the strings; the position is
    the one where the hand plays most of the notes. Empty if the line is too wide to be held
    anywhere. Raises FretboardError for notes off the instrument.
    """
    for midi in midis:
        require_on_instrument(tuning, midi)
    if not midis:
        return ()
    best: dict[tuple[Place, ...], tuple[int, int, tuple[Fingered, ...]]] = {}
    for position in range(1, tuning.last_fret + 1):
        try:
            line = finger_among(midis, [None] * len(midis), tuning, Wishes(position, hand=hand))
        except FretboardError:
            continue
        if main_position(line) != position:
            continue
        way = tuple(note.place for note in line)
        found = (line_cost(line, tuning, Wishes(hand=hand)), position, line)
        if way not in best or found[:2] < best[way][:2]:
            best[way] = found
    return tuple(sorted(((position, line) for _, position, line in best.values()), key=lambda e: e[0]))


def line_cost(line: Sequence[Fingered], tuning: Tuning, wishes: Wishes = ANYHOW) -> int:
    """What the hand's work on a fingering costs, with a hand and a position as wished.

    For given places, or in a wished position, this is what ``finger_line`` makes as small as
    possible; where it is free to choose it adds ``climb_cost``, to stay low on the neck.
    """
    position = wishes.position
    states = states_of(tuning, wishes.hand)
    columns = (states.string, states.fret, states.finger, states.position)
    total = 0
    # The posture of the hand is not written down: the best one for each note is meant.
    so_far: dict[int, int] = {}
    for number, note in enumerate(line):
        span = states.span[pitch_at(tuning, note.string, note.fret)]
        local = list(zip(*(column[span].tolist() for column in columns), strict=True))
        found = [span.start + index for index, state in enumerate(local) if state == note.state]
        if not found:
            raise ValueError(f"no hand takes {note}")
        so_far = {
            index: int(states.own[index])
            + min((cost + int(states.change[i, index]) for i, cost in so_far.items()), default=0)
            for index in found
        }
        if position is not None:
            total += AWAY_FROM_HOME * abs(note.position - position)
            if number and line[number - 1].position != note.position:
                total += SHIFT_IN_A_PHRASE
    return total + min(so_far.values(), default=0)


def _require_sane(
    midis: Sequence[int],
    choices: Sequence[Collection[tuple[int, int]] | None],
    tuning: Tuning,
    wishes: Wishes,
) -> None:
    """Raise FretboardError for conditions that no line could meet."""
    for midi in dict.fromkeys(midis):
        require_on_instrument(tuning, midi)
    if wishes.position is not None and not 1 <= wishes.position <= tuning.last_fret:
        raise FretboardError(
            f"there is no position {wishes.position} on this neck",
            hint=f"a position is the fret of the first finger, 1 to {tuning.last_fret}",
        )
    count = len(tuning.strings)
    for string in wishes.strings or ():
        if not 1 <= string <= count:
            raise FretboardError(
                f"there is no string {string} in {tuning}", hint=f"strings run from 1 to {count}"
            )
    for midi, choice in zip(midis, choices, strict=True):
        for string, fret in choice or ():
            if pitch_at(tuning, string, fret) != midi:
                raise FretboardError(
                    f"string {string} fret {fret} does not sound {Pitch.from_midi(midi)}",
                    hint=f"it sounds {Pitch.from_midi(pitch_at(tuning, string, fret))}",
                )


def _unplayable(midi: int, tuning: Tuning, wishes: Wishes) -> FretboardError:
    """The error for a note that the wished position or strings cannot hold."""
    where = []
    if wishes.position is not None:
        where.append(f"in position {wishes.position}")
    if wishes.strings is not None:
        numbers = ", ".join(str(string) for string in sorted(wishes.strings))
        where.append(f"on string{'s' if len(wishes.strings) != 1 else ''} {numbers}")
    if wishes.closed:
        where.append("without open strings")
    frets = [
        f"string {string} fret {fret}"
        for string, fret in (
            (string, midi - open_midi)
            for string, open_midi in enumerate(tuning.open_midi, start=1)
            if 0 <= midi - open_midi <= tuning.last_fret
        )
    ]
    return FretboardError(
        f"{Pitch.from_midi(midi)} cannot be played {' '.join(where) or 'there'}",
        hint=f"it lies at {', '.join(frets)}",
    )
