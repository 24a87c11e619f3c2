"""The key that a chart most likely is in, for charts that do not say: the cheapest one to read it in."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from genex.theory.chord import Chord
from genex.theory.functions import FIFTH_DOWN, is_dark, role_in
from genex.theory.key import Key, Mode, simplest_key
from genex.theory.key_search import Costs, Search, State
from genex.theory.pitch import Degree, NoteName
from genex.theory.places import Event, Place, events_of, is_blues, can_be_five, sight_of

_MODES: dict[Mode, int] = {
    "major": 0, "minor": 0, "mixolydian": 35, "dorian": 30, "phrygian": 35, "lydian": 35,
}  # fmt: skip
"""Modes that a chart may be in without saying so, and what each costs beforehand, in hundredths."""

_NEAR = 0.3
"""A chord that costs less belongs to its key."""
_TRIED = 6
"""Of all keys so many are read through: those that are cheapest if the chart never left them."""

NOT_FIRST, NOT_LAST, LEADS_BACK, NOWHERE = 60, 45, 20, 60
"""What it costs that a chart does not begin on the tonic, end there (less where its last chord is the
V that leads back), or have it at all."""
FOREIGN_TWO_FIVE = 100
"""What it costs that no ii-V of the chart is the key's own; half where it begins and ends at home, or comes back, or has a V7 and I."""
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
    # A key that the chart begins in may be far from cheap where the chart stays away for long.
    begun = [found for found in tried[_TRIED:] if _is_tonic(events[0], found[2])]
    best: tuple[tuple[int, bool, int, str], Key] | None = None
    for staying, beforehand, state in [*tried[:_TRIED], *begun[:2]]:
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
    first = 0 in tonics
    if len(events) == 1 and events[0].root != state.tonic:
        return None
    if state.mode not in ("major", "minor") and (not first or _is_contradicted(events, state)):
        return None
    last = _ends_on(events[-1], state, begins=first)
    cost = (0 if first else NOT_FIRST) + (0 if tonics else NOWHERE)
    if not last:
        leads_back = first and not events[0].is_two and _is_five_of(events[-1], state)
        cost += LEADS_BACK if leads_back else NOT_LAST
    twos = [event for event in events if event.is_two]
    if twos and not any(_owns(event, state) for event in twos):
        stays = (first and (last or len(tonics) > 1)) or _has_cadence(events, state)
        cost += FOREIGN_TWO_FIVE // 2 if stays else FOREIGN_TWO_FIVE
    if state.mode == "minor" and tonics and _is_lonely(events, state):
        cost += LONELY_MINOR
    return cost


def _is_contradicted(events: Sequence[Event], state: State) -> bool:
    """Whether the chart has what no mode has: the V7 that leads to its tonic, or for lydian the
    fourth degree's chord."""
    for event in events:
        if _is_five_of(event, state) and event.kind == "dominant" and event.step == FIFTH_DOWN:
            return True
        degree = (event.root - state.tonic) % 12
        if degree == 5 and state.mode == "lydian" and event.kind in ("major", "major seventh"):
            return True
    return False


def _is_five_of(event: Event, state: State) -> bool:
    """Whether a chord is the V of a key, with a major third."""
    return event.kind in ("major", "dominant") and (event.root - state.tonic) % 12 == 7


def _has_cadence(events: Sequence[Event], state: State) -> bool:
    """Whether the chart has the V7 of a key with its tonic behind it, as a goal."""
    return any(
        event.kind == "dominant"
        and event.step == FIFTH_DOWN
        and _is_five_of(event, state)
        and event.to_kind != "dominant"
        and not event.to_two
        for event in events
    )


def _ends_on(event: Event, state: State, *, begins: bool) -> bool:
    """Whether a last chord closes in a key: on its tonic, in minor with either third; a dominant
    seventh only where the chart begins on the tonic."""
    if event.root == state.tonic and begins and event.kind == "major":
        return True
    return _is_tonic(event, state) and (begins or not can_be_five(event.chord, event.kind))


def _is_lonely(events: Sequence[Event], state: State) -> bool:
    """Whether a minor key has nothing of its own in the chart but a minor seventh on its tonic."""
    own = [event for event in events if role_in(state.mode, sight_of(event, state.tonic)).cost < _NEAR]
    return all(event.root == state.tonic and event.kind == "minor seventh" for event in own)


def _is_tonic(event: Event, state: State) -> bool:
    """Whether a chord stands on the tonic with the key's third, or none."""
    if event.root != state.tonic:
        return False
    is_minor = state.mode in ("minor", "dorian", "phrygian")
    if event.kind == "suspended" and can_be_five(event.chord, event.kind):
        return state.mode == ("phrygian" if Degree(9, -1) in event.chord.degrees else "mixolydian")
    return event.kind in ("open", "suspended") or (
        is_dark(event.kind) == is_minor and event.kind not in ("half-diminished", "diminished")
    )


def _owns(two: Event, state: State) -> bool:
    """Whether a ii, its V behind it, is the second degree of a major or minor key."""
    if (two.root - state.tonic) % 12 != 2 or state.mode not in ("major", "minor"):
        return False
    return state.mode == "major" or two.kind == "half-diminished"


def _spelled(state: State, events: Sequence[Event]) -> Key:
    """The key with the fewest accidentals; of two with six the one on the side of the chart."""
    flats = sum(event.chord.root.alter for event in events) <= 0
    return simplest_key(state.tonic, state.mode, flats=flats)
