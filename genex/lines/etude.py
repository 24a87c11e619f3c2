"""An etude: an improvisation written out over the changes, made from a level's vocabulary.

The chorus is divided into phrases of two bars (four in fast tunes). In each group of four
phrases the second answers the first, the third repeats the idea, moved to its chords, and the
fourth is free and closes. Every phrase ends on a held chord tone and leaves the player a breath
[common practice: statement, answer, statement, close]. From level 3 on a phrase may begin with a
pickup, in the bar before its own, where the breath is long enough for both. The hand lies in one
place for a phrase and moves in the rests.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Etude
from genex.lines.phrase import Phrase, vocabulary_for, write_phrase
from genex.lines.placement import Hold, chords_of, fretted_part, hold_over
from genex.lines.rhythm import Pickup, draw_pickup
from genex.lines.targets import shorten_slide
from genex.lines.vocabulary import require_level
from genex.score import Bar, Note, Part, Role, Timeline

FAST_BPM = Fraction(200)
"""From this tempo on (quarter notes a minute) phrases are four bars long."""

PHRASES_IN_A_GROUP = 4


def etude(timeline: Timeline, exercise: Etude, player: Player) -> Part:
    """A chorus (or as many as the timeline has) of phrases with breath, in one position.

    Phrases that fall on N.C. are left out. Raises LineError for a level that the progression
    cannot support or a range too small for it.
    """
    chords = chords_of(timeline, "improvise over")
    require_level(chords, exercise.level)
    hold = hold_over(chords, exercise, player)
    notes: list[Note] = []
    for phrase in _phrases(timeline, hold, exercise, player.seed):
        notes += phrase.notes
    shown = [shorten_slide(note) for note in hold.finger(notes, breathing=True)]
    return fretted_part(player, Role.LEAD, shown)


def _phrases(timeline: Timeline, hold: Hold, exercise: Etude, seed: str | int) -> list[Phrase]:
    length = exercise.bars or (4 if timeline.tempo.tempo_at(Fraction(0)) >= FAST_BPM else 2)
    found: list[Phrase] = []
    idea: Phrase | None = None
    upbeat: Pickup = ()
    for index, first in enumerate(range(0, len(timeline.bars), length)):
        bars = min(length, len(timeline.bars) - first)
        if not _sounds(timeline, first, bars):
            continue
        place = index % PHRASES_IN_A_GROUP
        if place == 0:
            idea = None
        bar = timeline.bars[first]
        if place in (0, PHRASES_IN_A_GROUP - 1):
            draw = Random(f"{seed}/etude/pickup/{bar.chorus}/{bar.form_number}")
            upbeat = draw_pickup(bar.meter, exercise.level, draw)
        rng = Random(f"{seed}/etude/{bar.chorus}/{bar.form_number}")
        like = idea if place in (1, 2) else None
        vocabulary = vocabulary_for(timeline, first, bars, hold, exercise.level)
        phrase = write_phrase(
            timeline,
            first,
            bars,
            vocabulary,
            rng,
            like=like,
            pickup=upbeat if _has_room(timeline, bar, upbeat, found) else (),
            slides=exercise.slides,
        )
        idea = idea or phrase
        found.append(phrase)
    return found


def _has_room(timeline: Timeline, bar: Bar, pickup: Pickup, before: Sequence[Phrase]) -> bool:
    """Whether a pickup to a bar leaves a breath of a pulse after the phrase before.

    The first phrase has none: a loop must not begin in mid-air.
    """
    if not pickup or not before:
        return False
    start = bar.onset_beats + pickup[0][0]
    if timeline.chord_at(start).chord is None:
        return False
    return start - before[-1].notes[-1].written_end_beats >= bar.meter.pulse_beats


def _sounds(timeline: Timeline, first: int, bars: int) -> bool:
    """Whether a chord sounds all through the bars of a phrase."""
    return all(
        span.chord is not None
        for bar in timeline.bars[first : first + bars]
        for span in timeline.chords_in(bar)
    )
