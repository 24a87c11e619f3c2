"""The harmony of a chart: for each chord its key, numeral, function, chord scale, and why.

Every chord is read in the home key or in a key passed through, whichever is cheapest for the chart
as a whole: ``functions.py`` says what a chord costs in a key, ``key_search.py`` what it costs to go
from key to key, and finds the best. A chart goes round: its end leads back to its beginning.

The reading is by sound; only what is shown, the names of keys and notes, is spelled.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from genex.errors import ChordSymbolError
from genex.theory.chord import Chord
from genex.theory.chord_scales import chosen_scale
from genex.theory.functions import FIFTH_DOWN, SEMITONE_DOWN, Role, role_in
from genex.theory.key import Key, simplest_key
from genex.theory.key_search import Search, State, state_of
from genex.theory.likely_key import key_of_events
from genex.theory.numerals import degree_numeral, numeral, secondary_numeral
from genex.theory.pitch import NoteName, Pitch
from genex.theory.places import Event, Place, events_of, sight_of
from genex.theory.scales import Scale
from genex.theory.symbol import parse_chord


@dataclass(frozen=True)
class Reading:
    """A chord as a trained musician understands it.

    chord     None for N.C., which has no numeral, no function and no scale
    key       the key it belongs to here: the home key, or one passed through
    is_home   whether that is the key of the piece or its section
    numeral   Roman numeral in that key; ``V7/ii`` for the dominant of a degree
    function  tonic, subdominant, dominant, secondary dominant or passing; empty where none fits
    scale     its chord scale, on the chord's root
    reason    why, in a few words
    """

    chord: Chord | None
    key: Key
    is_home: bool
    numeral: str = ""
    function: str = ""
    scale: Scale | None = None
    reason: str = ""

    @cached_property
    def scale_notes(self) -> tuple[NoteName, ...]:
        """The scale from the chord's root up, spelled; empty without a chord."""
        if self.chord is None or self.scale is None:
            return ()
        return tuple(_readable(note) for note in self.scale.notes(self.chord.root))

    @cached_property
    def guide_tones(self) -> tuple[NoteName, ...]:
        """The chord's two guide tones, the third-like one first; empty without a chord."""
        if self.chord is None:
            return ()
        return tuple(self.chord.root.degree(degree) for degree in self.chord.guide_tones)

    def outside(self, home: Key) -> tuple[NoteName, ...]:
        """The chord's tones that a key lacks: what is borrowed, or leads elsewhere."""
        own = {note.pitch_class for note in home.scale}
        notes = self.chord.notes if self.chord is not None else ()
        return tuple(note for note in notes if note.pitch_class not in own)


@dataclass(frozen=True)
class Analysis:
    """A whole chart read: its key, and one reading a place."""

    key: Key
    readings: tuple[Reading, ...]

    @property
    def keys(self) -> tuple[Key, ...]:
        """The keys that the chart is in or goes through, in order, each once."""
        return tuple(dict.fromkeys(reading.key for reading in self.readings if reading.chord))


def analyse(
    places: Sequence[Place],
    key: Key | None = None,
    *,
    scales: Mapping[str, Scale] | None = None,
    closed: bool = True,
) -> Analysis:
    """One reading for each place of a chart.

    key     the key of the piece; found by ``likely_key`` where it is None
    scales  scales by chord symbol that are wanted wherever the chord stands, whatever its spelling
    closed  whether the end leads back to the beginning; a chart that ends is read without that
    """
    events, event_at = events_of(places, closed=closed)
    home = key if key is not None else key_of_events(events)
    search = Search(events, home, closed=closed)
    reader = _Reader(search, home)
    by_event = [reader.reading(index) for index in range(len(events))]
    wanted = {_plain_symbol(text): scale for text, scale in (scales or {}).items()}
    readings: list[Reading] = []
    for place, index in zip(places, event_at, strict=True):
        if index is None or place.chord is None:
            own = place.key or home
            readings.append(Reading(None, readings[-1].key if readings else own, True))
            continue
        reading = by_event[index]
        scale = place.scale or wanted.get(place.chord.plain_symbol)
        if scale is not None:
            reading = replace(reading, scale=scale, reason=CHOSEN)
        readings.append(replace(reading, chord=place.chord))
    return Analysis(home, tuple(readings))


CHOSEN = "chosen by the teacher"


def _plain_symbol(text: str) -> str:
    """One spelling for all of a chord symbol; text that is none stays as it is."""
    try:
        return parse_chord(text).plain_symbol
    except ChordSymbolError:
        return text


class _Reader:
    """Words, numerals and scales for the keys that the search found."""

    def __init__(self, search: Search, home: Key) -> None:
        self.events, self.search, self.home = search.events, search, home
        self.way = search.best()
        self.roles = [
            role_in(state.mode, sight_of(event, state.tonic, blues=search.blues_in(index, state)))
            for index, (event, state) in enumerate(zip(self.events, self.way, strict=True))
        ]
        self.keys = self._spelled()
        self.dorian = {state for state in set(self.way) if self._has_major_sixth(state)}

    def _spelled(self) -> dict[State, Key]:
        """The keys by name: the fewest accidentals, of two with six those that the chart writes."""
        found: dict[State, Key] = {}
        for index, state in enumerate(self.way):
            if state not in found:
                alters = [
                    event.chord.root.alter
                    for event, at in zip(self.events, self.way, strict=True)
                    if at == state
                ]
                flats = sum(alters) < 0 or (sum(alters) == 0 and self.home.fifths < 0)
                found[state] = simplest_key(state.tonic, state.mode, flats=flats)
            own = self.events[index].key or self.home
            if state == state_of(own):
                found[state] = own
        return found

    def _has_major_sixth(self, state: State) -> bool:
        """Whether the chart has the major sixth of a minor key and not the minor one: its tonic is
        dorian then. What belongs to other degrees' dominants does not count."""
        if state.mode != "minor" or state not in self.search.homes:
            return False
        major = minor = False
        for event, role, at in zip(self.events, self.roles, self.way, strict=True):
            if at != state:
                continue
            notes = sight_of(event, state.tonic).notes
            minor = minor or bool(notes & 1 << 8)
            counts = role.target is None and (event.root - state.tonic) % 12 != 7
            major = major or (counts and bool(notes & 1 << 9) and event.kind != "diminished")
        return major and not minor

    def reading(self, index: int) -> Reading:
        """The reading of an event."""
        event, state, role = self.events[index], self.way[index], self.roles[index]
        key = self.keys[state]
        is_home = state == self.search.homes[index]
        wanted = self._wanted(index)
        scale = chosen_scale(event.chord, wanted, key, root=event.root)
        reason = _reason(event, role, key, is_home=is_home)
        if wanted not in ("", scale.name) and event.root == event.chord.root.pitch_class:
            decides = "the symbol decides"
            reason = reason if decides in reason else f"{reason}; {decides}"
        if role.target is None:
            text = numeral(event.chord, key, falls=event.step == SEMITONE_DOWN)
        else:
            kind = _target_kind(event, role)
            text = secondary_numeral(event.chord, (state.tonic + role.target) % 12, key, to_kind=kind)
        return Reading(event.chord, key, is_home, text, role.function, scale, reason)

    def _wanted(self, index: int) -> str:
        """The chord scale that function asks for, by name; empty where the key's notes decide."""
        event, state, role = self.events[index], self.way[index], self.roles[index]
        is_tonic = event.root == state.tonic and not role.reason and role.target is None
        if state in self.dorian and is_tonic:
            role = role_in("dorian", sight_of(event, state.tonic))
        if event.kind == "suspended" and index + 1 < len(self.events):
            # Before its own resolution the chord has the scale that the third will have.
            after = self.events[index + 1]
            if after.root == event.root and after.kind == "dominant":
                wanted = self._wanted(index + 1)
                # Without the third it has no leading note either.
                return "phrygian" if wanted == "phrygian dominant" else wanted
        return role.scale


def _target_kind(event: Event, role: Role) -> str:
    """The kind of chord that a secondary dominant leads to."""
    if event.step == FIFTH_DOWN:
        return event.to_kind
    return "minor" if role.target_is_minor else "major"


def _reason(event: Event, role: Role, key: Key, *, is_home: bool) -> str:
    """Why, in a few words."""
    if role.target is not None:
        if event.step != FIFTH_DOWN or event.following is None:
            goal = (key.tonic.pitch_class + role.target) % 12
            target = degree_numeral(goal, key, _target_kind(event, role))
            return f"dominant of {target}, which does not follow"
        return f"dominant of {event.following.symbol}" + (
            ", a minor chord" if role.target_is_minor else ""
        )
    if role.reason:
        of_itself = key.mode == "minor" and not is_home
        return role.reason.replace("the minor key", str(key)) if of_itself else role.reason
    degree = (event.root - key.tonic.pitch_class) % 12
    of_key = "of the key" if is_home else f"of {key}"
    if not is_home and event.is_two and degree == 2:
        return f"ii of a ii-V to {key}"
    name = _NAMED_DEGREES.get(degree)
    if name is not None and event.kind not in ("half-diminished", "diminished"):
        return f"{name} {of_key}"
    return f"chord {of_key}" + (f", {role.function} function" if role.function else "")


_NAMED_DEGREES = {0: "tonic", 5: "subdominant", 7: "dominant"}


def _readable(note: NoteName) -> NoteName:
    """The note with at most a double accidental."""
    if abs(note.alter) <= 2:
        return note
    return Pitch.from_midi(note.pitch_class, flats=note.alter < 0).name
