"""The key that a chart most likely is in, for charts that do not say: the cheapest one to read it in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from genex.theory.chord import Chord
from genex.theory.functions import is_dark, role_in
from genex.theory.key import Key, Mode, simplest_key
from genex.theory.key_search import Costs, Search, State
from genex.theory.pitch import NoteName
from genex.theory.places import Event, Place, events_of, is_blues, sight_of

_MODES: dict[Mode, int] = {
    "major": 0, "minor": 0, "mixolydian": 30, "dorian": 30, "phrygian": 35, "lydian": 35,
}  # fmt: skip
"""Modes that a chart may be in without saying so, and what each costs beforehand, in hundredths."""

_NEAR = 0.3
"""A chord that costs less belongs to its key."""
_TRIED = 6
"""Of all keys so many are read through: those that are cheapest if the chart never left them."""

NOT_FIRST, NOT_LAST, NOWHERE = 45, 35, 40
"""What it costs that a chart does not begin on the tonic, end there, or have it at all."""
FOREIGN_TWO_FIVE = 60
"""What it costs that no ii-V of the chart is the key's own."""
LONELY_MINOR = 50
"""What it costs a minor key that a minor seventh is all its harmony: such a vamp is dorian."""


def likely_key(chords: Iterable[Chord]) -> Key:
    """The key in which a chart is read most cheaply; C major for no chords.

    To the cost of the reading (see ``key_search.py``) come those of how a chart shows its key
    [common practice]: it begins and ends on the tonic, its ii-V is the key's, and a mode has a tonic
    chord at its beginning. Keys are compared by sound; of equal ones that of the first chord wins,
    then the one with fewer accidentals. It is spelled with the fewest accidentals; of two keys with
    six, as the chart spells.
    """
    events, _ = events_of([Place(chord) for chord in chords], closed=True)
    return key_of_events(events)


def key_of_events(events: Sequence[Event]) -> Key:
    """As ``likely_key``, for a chart's events."""
    if not events:
        return Key(NoteName.parse("C"))
    costs = Costs(events)
    tried: list[tuple[int, int, State]] = []
    for mode, prior in _MODES.items():
        for tonic in range(12):
            state = State(tonic, mode)
            shown = _shown(events, state)
            if shown is None:
                continue
            blues = mode == "major" and is_blues(events, tonic)
            beforehand = prior + shown
            tried.append((beforehand + sum(costs.column(state, blues=blues)), beforehand, state))
    tried.sort()
    best: tuple[tuple[int, bool, int, str], Key] | None = None
    for staying, beforehand, state in tried[:_TRIED]:
        if best is not None and beforehand > best[0][0]:
            continue
        key = _spelled(state, events)
        least = beforehand + (Search(events, key, costs=costs).least if staying > beforehand else 0)
        rank = (least, not _is_tonic(events[0], state), abs(key.fifths), str(key))
        if best is None or rank < best[0]:
            best = rank, key
    assert best is not None
    return best[1]


def _shown(events: Sequence[Event], state: State) -> int | None:
    """What it costs that the chart shows a key so little; None where a mode is out of question."""
    tonics = [index for index, event in enumerate(events) if _is_tonic(event, state)]
    first, last = 0 in tonics, len(events) - 1 in tonics
    if state.mode not in ("major", "minor") and not first:
        return None
    cost = (0 if first else NOT_FIRST) + (0 if last else NOT_LAST) + (0 if tonics else NOWHERE)
    twos = [event for event in events if event.is_two]
    if twos and not any(_owns(event, state) for event in twos):
        cost += FOREIGN_TWO_FIVE
    if state.mode == "minor" and first and _is_lonely(events, state):
        cost += LONELY_MINOR
    return cost


def _is_lonely(events: Sequence[Event], state: State) -> bool:
    """Whether a minor key has nothing of its own in the chart but a minor seventh on its tonic."""
    own = [
        event for event in events if role_in(state.mode, sight_of(event, state.tonic)).cost < _NEAR
    ]
    return all(event.root == state.tonic and event.kind == "minor seventh" for event in own)


def _is_tonic(event: Event, state: State) -> bool:
    """Whether a chord stands on the tonic with the key's third, or none."""
    if event.root != state.tonic:
        return False
    is_minor = state.mode in ("minor", "dorian", "phrygian")
    return event.kind in ("open", "suspended") or (
        is_dark(event.kind) == is_minor and event.kind not in ("half-diminished", "diminished")
    )


def _owns(two: Event, state: State) -> bool:
    """Whether a ii, its V behind it, is the second degree of a major or minor key."""
    if (two.root - state.tonic) % 12 != 2 or state.mode not in ("major", "minor"):
        return False
    return (two.kind == "half-diminished") == (state.mode == "minor")


def _spelled(state: State, events: Sequence[Event]) -> Key:
    """The key with the fewest accidentals; of two with six the one on the side of the chart."""
    flats = sum(event.chord.root.alter for event in events) <= 0
    return simplest_key(state.tonic, state.mode, flats=flats)
