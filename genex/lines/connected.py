"""Notes that go on from those before: hammered on, pulled off, bent, ringing.

What is connected lies on one string. Hammer-ons go up and pull-offs down; under a slur it is whichever
the pitches say, and a stroke where the notes lie on two strings [common practice].
"""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from itertools import islice
from typing import Literal

from genex.errors import LineError, Place
from genex.exact import Fraction
from genex.fretboard import HandMove, Tuning, Wishes
from genex.lines.as_written import Written, fingered_as_written
from genex.score import Legato, Note

Connection = Literal["", "hammer-on", "pull-off", "slur"]
SOFTER = 12
"""Velocity that a note lacks which is not struck."""
MOST_TOGETHER = 24
"""Notes that two strokes have together at most, on any instrument."""
MOST_TRIED = 16
"""Connections that are tried one by one, where not all can be had at once."""
FARTHEST_SEMITONES = 5
"""As far as fingers of one hand are apart on a string, low on the neck [common practice]."""


def played_as_written(
    notes: Sequence[Note],
    written: Sequence[Written],
    connections: Sequence[Connection],
    end_beats: Fraction,
    tuning: Tuning,
    wishes: Wishes,
    places: Sequence[Place] | None = None,
) -> list[Note]:
    """The notes under the hand, connected ones on one string if that can be, with what connects them.

    ``end_beats`` is where the line is over, ``places`` where each note is written. Raises LineError as
    ``fingered_as_written``, and for a hammer-on or pull-off that is none, or an open string bent.
    """
    fretted = fingered_as_written(notes, written, tuning, wishes)
    kept = _kept(fretted, connections)
    # All on one string, or one after the other, as long as more is connected so than without.
    loose = [i for i, one in enumerate(connections) if one and not kept[i]]
    for tried in [loose, *([index] for index in loose[:MOST_TRIED])] if loose else []:
        goal = [connections[i] if i in tried else one for i, one in enumerate(kept)]
        wanted = _on_one_string(fretted, written, goal)
        with suppress(LineError):
            other = fingered_as_written(notes, wanted, tuning, wishes)
            others = _kept(other, connections)
            if _worth(others) > _worth(kept):
                fretted, kept, written = other, others, wanted
    told = [one if one != "slur" or kept[i] else "" for i, one in enumerate(connections)]
    return _connected(fretted, told, end_beats, places)


def _worth(kept: Sequence[Connection]) -> int:
    """What is asked for by name counts before what stands under a slur."""
    return sum(1 if one == "slur" else 10 for one in kept if one)


def _kept(fretted: Sequence[Note], connections: Sequence[Connection]) -> list[Connection]:
    """The connections that the hand can play as the notes lie."""
    return [one if _is_under_hand(i, fretted) else "" for i, one in enumerate(connections)]


def _is_under_hand(index: int, notes: Sequence[Note]) -> bool:
    """Whether a note can be sounded by the fretting hand alone as it lies: by another finger."""
    before = _before(index, notes)
    a, b = None if before is None else notes[before].fretting, notes[index].fretting
    if a is None or b is None or a.string != b.string:
        return False
    return b.move is not HandMove.SHIFT and (a.finger != b.finger or a.finger is None)


def _on_one_string(
    fretted: Sequence[Note], written: Sequence[Written], connections: Sequence[Connection]
) -> list[Written]:
    """What has to be written so that connected notes lie on the string of the note before."""
    found: list[Written] = []
    for index, (wish, connection) in enumerate(zip(written, connections, strict=True)):
        before = _before(index, fretted)
        close = (
            before is not None and abs(fretted[before].midi - fretted[index].midi) <= FARTHEST_SEMITONES
        )
        if not connection or before is None or wish.string is not None or not close:
            found.append(wish)
            continue
        place = fretted[before].fretting
        string = found[before].string or (place.string if place is not None else None)
        found[before] = replace(found[before], string=string)
        found.append(replace(wish, string=string))
    return found


def _connected(
    notes: Sequence[Note],
    connections: Sequence[Connection],
    end_beats: Fraction,
    places: Sequence[Place] | None,
) -> list[Note]:
    """Fretted notes with their hammer-ons and pull-offs, and those that ring as long as they may."""
    found = []
    for index, (note, wish) in enumerate(zip(notes, connections, strict=True)):
        place = None if places is None else places[index]
        if note.bend is not None and note.fretting is not None and note.fretting.fret == 0:
            raise LineError(f"{note.pitch} lies on an open string, which cannot be bent",
                            hint="write a position, such as 'position: 5', or another note",
                            place=place)  # fmt: skip
        before = _before(index, notes)
        kind = _kind(note, None if before is None else notes[before], wish, place)
        if kind is None:
            found.append(note)
        else:
            found.append(replace(note, legato=kind, velocity=max(1, note.velocity - SOFTER)))
    return _ringing(found, end_beats)


def _before(index: int, notes: Sequence[Note]) -> int | None:
    """The note that one of that index can be connected with: the nearest of the stroke before."""
    onset = notes[index].onset_beats
    near = range(max(0, index - MOST_TOGETHER), index)
    joined = [i for i in near if notes[i].written_end_beats == onset]
    return min(joined, key=lambda i: abs(notes[i].midi - notes[index].midi), default=None)


def _kind(note: Note, before: Note | None, wish: Connection, written_at: Place | None) -> Legato | None:
    if not wish:
        return None
    step = 0 if before is None else note.midi - before.midi
    a, b = (None if before is None else before.fretting), note.fretting
    together = a is not None and b is not None and a.string == b.string
    fits = together and 0 < abs(step) <= FARTHEST_SEMITONES
    kind = Legato.HAMMER_ON if step > 0 else Legato.PULL_OFF
    if wish == "slur":
        return kind if fits and note.slide is None else None
    if not fits or kind.value != wish:
        way = "up" if wish == "hammer-on" else "down"
        raise LineError(
            f"{note.pitch} is no {wish}",
            hint=f"a {wish} goes {way} from the note before, on its string, by five frets at most",
            place=written_at,
        )
    return kind


def _ringing(notes: Sequence[Note], end_beats: Fraction) -> list[Note]:
    """Notes that ring until their string, or their pitch, is played again; to the end at the latest."""
    found = []
    for index, note in enumerate(notes):
        if not note.rings or note.fretting is None:
            found.append(note)
            continue
        string = note.fretting.string
        again = (
            other.onset_beats
            for other in islice(notes, index + 1, None)
            if other.onset_beats > note.onset_beats
            and (other.midi == note.midi or (other.fretting and other.fretting.string == string))
        )
        length = min(next(again, end_beats), end_beats) - note.onset_beats
        found.append(replace(note, sounding_beats=max(length, note.duration_beats)))
    return found
