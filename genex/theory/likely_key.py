"""The key that a chart most likely is in, for charts that do not say: the cheapest one to read it in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from genex.theory.chord import Chord
from genex.theory.functions import FIFTH_DOWN, is_dark
from genex.theory.key import Key, Mode, simplest_key
from genex.theory.key_search import Costs, Search, State
from genex.theory.pitch import Degree, NoteName
from genex.theory.places import Event, Place, can_be_five, events_of, is_blues

_MODES: dict[Mode, int] = {
    "major": 0, "minor": 0, "mixolydian": 35, "dorian": 30, "phrygian": 35, "lydian": 35,
}  # fmt: skip
"""Modes that a chart may be in without saying so, and what each costs beforehand, in hundredths."""

_NEAR = 30
"""A chord that costs less belongs to its key."""
_TRIED = 6
"""Of all keys so many are read through: those that are cheapest if the chart never left them."""

NOT_FIRST, OPENS_WITH_TWO, NOT_LAST, LEADS_BACK, NOWHERE = 60, 35, 45, 20, 60
"""What it costs that a chart does not begin on the tonic (less where it opens with the key's ii-V), end
there (less where its last chord is the V that leads back), or have it at all."""
FOREIGN_TWO_FIVE = 100
"""What it costs that no ii-V of the chart is the key's own; half where it begins at home and
ends there or comes back, or has the key's V7 and I."""
LONELY_MINOR = 50
"""What it costs a minor key that a minor seventh is all its harmony: such a vamp is dorian."""


def likely_key(chords: Iterable[Chord]) -> Key:
    """The key in which a chart is read most cheaply; C major for no chords.

    To the cost of the reading (see ``key_search.py``) come those of how a chart shows its key
    [common practice]: it begins and ends on the tonic, its ii-V is the key's, and a mode has a tonic
    chord at its beginning. Keys are compared by sound; of equal ones that of the first chord wins,
    then a mode, whose chords are all its own, then the one with fewer accidentals. It is spelled with
    the fewest accidentals; of two keys with six, as the chart spells.
    """
    events, _ = events_of([Place(chord) for chord in chords], closed=True)
    return key_of_events(events)


def key_of_events(events: Sequence[Event]) -> Key:
    """As ``likely_key``, for a chart's events."""
    if not events:
        return Key(NoteName.parse("C"))
    costs = Costs(events)
    signs = _Signs(events, costs)
    tried: list[tuple[int, int, State]] = []
    for mode, prior in _MODES.items():
        for tonic in range(12):
            state = State(tonic, mode)
            blues = mode == "major" and is_blues(events, tonic)
            shown = signs.cost(state, blues=blues)
            if shown is None:
                continue
            beforehand = prior + shown
            tried.append((beforehand + sum(costs.column(state, blues=blues)), beforehand, state))
    tried.sort()
    # A key that the chart begins in may be far from cheap where the chart stays away for long.
    begun = [found for found in tried[_TRIED:] if _is_tonic(events[0], found[2])]
    best: tuple[tuple[int, bool, bool, int, str], Key] | None = None
    for staying, beforehand, state in [*tried[:_TRIED], *begun[:2]]:
        if best is not None and beforehand > best[0][0]:
            continue
        key = _spelled(state, events)
        least = beforehand
        if staying > beforehand:
            search = Search(events, key, costs=costs)
            if best is not None and beforehand + search.bound > best[0][0]:
                continue
            least += search.least
        is_plain = state.mode in ("major", "minor")
        rank = (least, not _is_tonic(events[0], state), is_plain, abs(key.fifths), str(key))
        if best is None or rank < best[0]:
            best = rank, key
    assert best is not None
    return best[1]


class _Signs:
    """What in a chart shows that it is in a key, or not."""

    def __init__(self, events: Sequence[Event], costs: Costs) -> None:
        self.events, self._costs = events, costs
        self.twos = tuple(dict.fromkeys((event.root, event.kind) for event in events if event.is_two))
        self._on: dict[int, list[int]] = {root: [] for root in range(12)}
        for index, event in enumerate(events):
            self._on[event.root].append(index)

    def _at(self, state: State, degree: int) -> Iterator[Event]:
        """The events on a degree, in semitones above the tonic."""
        return (self.events[index] for index in self._on[(state.tonic + degree) % 12])

    def cost(self, state: State, *, blues: bool) -> int | None:
        """What it costs that the chart shows a key so little; None where it is out of question."""
        events = self.events
        tonics = [event for event in self._at(state, 0) if _is_tonic(event, state)]
        first = _is_tonic(events[0], state)
        if len(events) == 1 and events[0].root != state.tonic:
            return None
        if state.mode not in ("major", "minor") and (not first or self._contradict(state)):
            return None
        sevenths_rest = first or blues
        stands = any(sevenths_rest or not can_be_five(event.chord, event.kind) for event in tonics)
        cost = 0 if stands else NOWHERE
        if not first:
            opens = events[0].is_two and _owns(events[0].root, events[0].kind, state)
            cost += OPENS_WITH_TWO if opens else NOT_FIRST
        last = self._ends_on(state, begins=first)
        if not last:
            leads_back = first and not events[0].is_two and _is_five_of(events[-1], state)
            cost += LEADS_BACK if leads_back else NOT_LAST
        if self.twos and not any(_owns(root, kind, state) for root, kind in self.twos):
            stays = (first and (last or len(tonics) > 1)) or self._have_cadence(state)
            cost += FOREIGN_TWO_FIVE // 2 if stays else FOREIGN_TWO_FIVE
        if state.mode == "minor" and tonics and _is_lonely(events, self._costs.column(state), state):
            cost += LONELY_MINOR
        return cost

    def _contradict(self, state: State) -> bool:
        """Whether the chart has what no mode has: the V7 that leads to its tonic, or for lydian the
        fourth degree's chord."""
        if any(_is_seventh_home(event) for event in self._at(state, 7)):
            return True
        fourths = self._at(state, 5) if state.mode == "lydian" else ()
        return any(event.kind in ("major", "major seventh") for event in fourths)

    def _have_cadence(self, state: State) -> bool:
        """Whether the chart has the V7 of a key with its tonic behind it, as a goal."""
        return any(
            _is_seventh_home(event) and event.to_kind != "dominant" and not event.to_two
            for event in self._at(state, 7)
        )

    def _ends_on(self, state: State, *, begins: bool) -> bool:
        """Whether the last chord closes in a key: on its tonic, in minor with either third; a
        dominant seventh only where the chart begins on the tonic."""
        event = self.events[-1]
        if event.root == state.tonic and begins and event.kind == "major":
            return True
        return _is_tonic(event, state) and (begins or not can_be_five(event.chord, event.kind))


def _is_seventh_home(event: Event) -> bool:
    """Whether a dominant seventh leads down a fifth."""
    return event.kind == "dominant" and event.step == FIFTH_DOWN


def _is_five_of(event: Event, state: State) -> bool:
    """Whether a chord is the V of a key, with a major third."""
    return event.kind in ("major", "dominant") and (event.root - state.tonic) % 12 == 7


def _is_lonely(events: Sequence[Event], costs: Sequence[int], state: State) -> bool:
    """Whether a minor key has nothing of its own in the chart but a minor seventh on its tonic."""
    return all(
        cost >= _NEAR or (event.root == state.tonic and event.kind == "minor seventh")
        for event, cost in zip(events, costs, strict=True)
    )


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


def _owns(root: int, kind: str, state: State) -> bool:
    """Whether a ii, its V behind it, is the second degree of a major or minor key."""
    if (root - state.tonic) % 12 != 2 or state.mode not in ("major", "minor"):
        return False
    return state.mode == "major" or kind == "half-diminished"


def _spelled(state: State, events: Sequence[Event]) -> Key:
    """The key with the fewest accidentals; of two with six the one on the side of the chart."""
    flats = sum(event.chord.root.alter for event in events) <= 0
    return simplest_key(state.tonic, state.mode, flats=flats)
