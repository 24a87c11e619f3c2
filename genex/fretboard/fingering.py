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
from itertools import pairwise
from typing import TYPE_CHECKING, Any

from genex.errors import FretboardError
from genex.fretboard.hand import (
    AWAY_BETWEEN_BREATHS,
    AWAY_FROM_HOME,
    IMPOSSIBLE,
    OPEN_POSITIONS,
    SHIFT_IN_A_BREATH,
    SHIFT_IN_A_BREATH_A_FRET,
    SHIFT_IN_A_PHRASE,
    HandMove,
    States,
    climb_cost,
    move_between,
    states_of,
)
from genex.fretboard.tunings import Hand, Place, Tuning, pitch_at, require_on_instrument
from genex.theory import Pitch

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Costs = NDArray[np.int64]

POSITION_SLACK = 1
"""In a wished position the hand may lie this many frets lower or higher, by shifts."""


@dataclass(frozen=True, slots=True)
class Fingered:
    """A note on the neck. ``finger`` 0 is an open string, 1 to 4 index to little finger.

    ``position`` is the fret of the first finger as the note is played; ``move`` tells how the
    hand came here from the note before.
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


@dataclass(frozen=True)
class Wishes:
    """What may be asked of a fingering.

    position  keep the hand here, a fret lower or higher only by shifts; None anywhere
    between   the lowest and the highest position that the hand may take; None for any
    strings   use these strings only; None for all
    closed    no open strings
    breaths   indices of the notes with a rest before them: there the hand moves at leisure, and
              it rather moves there than within a phrase
    hand      its size; None for that of the instrument's player
    """

    position: int | None = None
    between: tuple[int, int] | None = None
    strings: frozenset[int] | None = None
    closed: bool = False
    breaths: frozenset[int] = frozenset()
    hand: Hand | None = None


ANYHOW = Wishes()
"""No wishes: the hand may lie anywhere."""


def with_moves(states: Sequence[tuple[int, int, int, int]]) -> tuple[Fingered, ...]:
    """Fingered notes from (string, fret, finger, position), each with the move that leads to it."""
    before = [None, *states[:-1]]
    return tuple(Fingered(*b, move_between(a, b)) for a, b in zip(before, states, strict=True))


def main_position(fingered: Sequence[Fingered]) -> int:
    """The position in which the hand plays most notes; the lower of two equals."""
    counts = Counter(note.position for note in fingered)
    return min(counts, key=lambda position: (-counts[position], position))


def finger_line(
    midis: Sequence[int],
    tuning: Tuning,
    wishes: Wishes = ANYHOW,
    *,
    fixed: Sequence[tuple[int, int] | None] | None = None,
) -> tuple[Fingered, ...]:
    """The best fingering of a single-note line given as MIDI numbers.

    ``fixed`` gives for each note a (string, fret) that it must be played at, or None.

    Raises FretboardError when a note is off the instrument or the line cannot be played so.
    """
    if fixed is None:
        choices: list[Collection[tuple[int, int]] | None] = [None] * len(midis)
    else:
        if len(fixed) != len(midis):
            raise ValueError(f"{len(fixed)} fixed places for {len(midis)} notes")
        choices = [None if place is None else (place,) for place in fixed]
    try:
        return finger_among(midis, choices, tuning, wishes)
    except FretboardError as error:
        if wishes.position is None or wishes.strings is not None or wishes.closed or fixed is not None:
            raise
        homes = [str(home) for home, _ in finger_everywhere(midis, tuning, hand=wishes.hand)]
        if not homes:
            hint = "no one position holds the whole line: leave the position free"
        else:
            hint = f"the whole line can be played in position {', '.join(homes)}"
        raise FretboardError(error.message, hint=hint) from error


def finger_among(
    midis: Sequence[int],
    choices: Sequence[Collection[tuple[int, int]] | None],
    tuning: Tuning,
    wishes: Wishes = ANYHOW,
) -> tuple[Fingered, ...]:
    """As ``finger_line``, with a choice of (string, fret) for each note, or None for any."""
    _require_sane(midis, choices, tuning, wishes)
    if not midis:
        return ()
    states = states_of(tuning, wishes.hand)
    rests = wishes.breaths
    search = _Search(states, wishes)
    spans, own = [], []
    for midi, choice in zip(midis, choices, strict=True):
        spans.append(states.span[midi])
        own.append(search.own(midi, None if choice is None else frozenset(choice)))
    for index, costs in enumerate(own):
        if costs.min() >= IMPOSSIBLE:
            raise _unplayable(midis[index], tuning, wishes)
    dearer = SHIFT_IN_A_PHRASE if rests or wishes.position is not None else 0
    picked = _best_path(states, spans, own, rests, dearer)
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
    total, before = 0, -1
    for note in line:
        span = states.span[pitch_at(tuning, note.string, note.fret)]
        local = zip(*(column[span].tolist() for column in columns), strict=True)
        index = span.start + list(local).index(note.state)
        total += int(states.own[index])
        if position is not None:
            total += AWAY_FROM_HOME * abs(note.position - position)
        if before >= 0:
            total += int(states.change[before, index])
            if position is not None and states.position[before] != states.position[index]:
                total += SHIFT_IN_A_PHRASE
        before = index
    return total


class _Search:
    """Costs of single notes under a search's conditions, kept for notes that come again."""

    def __init__(self, states: States, wishes: Wishes) -> None:
        self._states = states
        self._wishes = wishes
        self._away_a_fret = AWAY_BETWEEN_BREATHS if wishes.breaths else AWAY_FROM_HOME
        self._known: dict[tuple[int, frozenset[tuple[int, int]] | None], Costs] = {}

    def own(self, midi: int, choice: frozenset[tuple[int, int]] | None) -> Costs:
        """Cost of each state of a pitch; IMPOSSIBLE and more for those ruled out."""
        key = (midi, choice)
        if key not in self._known:
            self._known[key] = self._compute(midi, choice)
        return self._known[key]

    def _compute(self, midi: int, choice: frozenset[tuple[int, int]] | None) -> Costs:
        import numpy as np

        states, wishes = self._states, self._wishes
        span = states.span[midi]
        string, fret = states.string[span], states.fret[span]
        cost = states.own[span].astype(np.int64)
        ruled_out = np.zeros(len(cost), dtype=bool)
        if wishes.position is not None:
            away = np.abs(states.position[span] - wishes.position)
            is_open = states.finger[span] == 0
            cost += self._away_a_fret * away
            ruled_out |= away > POSITION_SLACK
            ruled_out |= is_open & (wishes.position > OPEN_POSITIONS)
        if wishes.position is None and wishes.between is None and choice is None:
            cost += climb_cost(states.position[span])
        if wishes.between is not None:
            lowest, highest = wishes.between
            at = states.position[span]
            ruled_out |= (at < lowest) | (at > highest)
        if wishes.strings is not None:
            ruled_out |= ~np.isin(string, list(wishes.strings))
        if wishes.closed:
            ruled_out |= fret == 0
        if choice is not None:
            allowed = np.zeros(len(cost), dtype=bool)
            for place in choice:
                allowed |= (string == place[0]) & (fret == place[1])
            ruled_out |= ~allowed
        cost[ruled_out] += IMPOSSIBLE
        return cost


def _best_path(
    states: States,
    spans: Sequence[slice],
    own: Sequence[Costs],
    rests: frozenset[int],
    dearer: int,
) -> list[int]:
    """Indices of the states of the cheapest path. ``dearer`` is added to what a shift costs."""
    middle = len(spans) // 2
    last = len(spans) - 1
    left, left_from = _sweep(states, spans[: middle + 1], own[: middle + 1], rests, dearer)
    # Backwards, a rest before a note is one before its neighbour.
    turned = frozenset(last - index + 1 for index in rests)
    right, right_from = _sweep(states, spans[middle:][::-1], own[middle:][::-1], turned, dearer)
    # The middle note's own cost is in both halves.
    total = left + right - own[middle]
    start = int(total.argmin())
    down = _walk(left_from, start)[::-1]
    up = _walk(right_from, start)
    local = down + up[1:]
    return [span.start + i for span, i in zip(spans, local, strict=True)]


def _sweep(
    states: States,
    spans: Sequence[slice],
    own: Sequence[Costs],
    rests: frozenset[int],
    dearer: int,
) -> tuple[Costs, list[NDArray[np.intp]]]:
    """Cheapest cost of reaching each state of the last note, and for each note but the first the
    state before that it was reached from."""
    best = own[0]
    came_from: list[NDArray[np.intp]] = []
    for index in range(1, len(spans)):
        # Row: state of this note; column: state of the one before (the costs are symmetric).
        here, before = spans[index], spans[index - 1]
        ways = _change(states, here, before, index in rests, dearer) + best
        chosen = ways.argmin(axis=1)
        best = ways.min(axis=1) + own[index]
        came_from.append(chosen)
    return best, came_from


def _change(states: States, here: slice, before: slice, rested: bool, dearer: int) -> Any:
    """What it costs to come to the states of a note from those of the note before."""
    if not rested and not dearer:
        return states.change[here, before]
    travel = abs(states.position[here][:, None] - states.position[before][None, :])
    if rested:
        return SHIFT_IN_A_BREATH * (travel > 0) + SHIFT_IN_A_BREATH_A_FRET * travel
    return states.change[here, before] + dearer * (travel > 0)


def _walk(came_from: Sequence[NDArray[np.intp]], start: int) -> list[int]:
    """State indices from the end of a sweep back to its beginning."""
    walked = [start]
    for chosen in reversed(came_from):
        walked.append(int(chosen[walked[-1]]))
    return walked


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
