"""An etude: an improvisation written out over the changes, made from a level's vocabulary.

Phrases follow the form as ``form_plan.py`` lays it out; their rhythms are those of the feel's family
(``rhythm_cells.py``), of which each section of each tune draws its own. The first bar, and at the
first levels all others, are drawn in a series without giving one of them back
(``openings.py``, ``habits.py``). Every phrase ends on a held chord tone and leaves the player a
breath; the last one holds it to the end. From level 3 on a phrase may begin with a pickup, in the bar
before its own, where the breath is long enough for both. The hand lies in one place for a phrase and
moves in the rests.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from random import Random
from types import MappingProxyType

from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.over_the_chart import Etude
from genex.lines.contour import Likeness
from genex.lines.form_plan import PlannedPhrase, last_pulse, plan_of
from genex.lines.openings import habit_of, openings_of, turn_of
from genex.lines.phrase import Phrase, PhrasePlan, vocabulary_for, write_phrase
from genex.lines.placement import Hold, chords_of, fretted_part, hold_over
from genex.lines.rhythm import (
    PhraseRhythm,
    Pickup,
    Style,
    draw_pickup,
)
from genex.lines.rhythm_cells import Words, is_quick
from genex.lines.targets import shorten_slide
from genex.lines.vocabulary import COMPASS_SEMITONES, Vocabulary
from genex.score import Bar, Meter, Part, Role, Timeline


def etude(timeline: Timeline, exercise: Etude, player: Player) -> Part:
    """A chorus (or as many as the timeline has) of phrases with breath, in one position.

    Phrases leave out the bars of N.C. Raises LineError for a range too small for the level.
    """
    hold = hold_over(chords_of(timeline, "improvise over"), exercise, player)
    notes = [note for phrase in phrases_of(timeline, hold, exercise, player) for note in phrase.notes]
    shown = [shorten_slide(note) for note in hold.finger(notes, breathing=True)]
    return fretted_part(player, Role.LEAD, shown)


def phrases_of(
    timeline: Timeline,
    hold: Hold,
    exercise: Etude,
    player: Player,
    *,
    vocabulary: Vocabulary | None = None,
    given: Mapping[tuple[Meter, ...], PhraseRhythm] = MappingProxyType({}),
) -> list[Phrase]:
    """The phrases, not yet fingered. What they are depends on seed and title, not on the key.

    ``vocabulary`` is what they are made of, in place of that of the level; ``given`` the rhythm of
    those over bars in these meters, which have no pickup then.
    """
    level = exercise.level
    seed = f"{player.seed}/{player.title}/etude/{level}"
    fast = exercise.is_other_at(timeline.tempo.tempo_at(Fraction(0)))
    planned = plan_of(timeline, level, seed, bars=exercise.bars, fast=fast)
    compass = _compass(hold, level)
    draws = player.draws or (Random(seed).randrange(2**32),)
    found: list[Phrase] = []
    for plan in planned:
        bar = timeline.bars[plan.first_bar]
        rng = Random(f"{seed}/{bar.chorus}/{bar.form_number}")
        meters = [one.meter for one in timeline.bars[plan.first_bar : plan.first_bar + plan.bars]]
        style = _style(player, meters, level, f"{seed}/cells/{plan.section}", draws, fast=fast)
        like = None if plan.like is None else found[plan.like]
        rhythm = given.get(tuple(meters))
        drawn = () if rhythm else draw_pickup(bar.meter, level, rng, player.family, fast=fast)
        pickup = _pickup(timeline, bar, drawn, found)
        last = timeline.bars[plan.first_bar + plan.bars - 1]
        wish = PhrasePlan(
            style=style,
            like=like,
            likeness=_likeness(plan, rng),
            pickup=pickup,
            slides=exercise.slides,
            ending=plan.ending,
            last_from=0 if plan.ending == "open" else last_pulse(timeline, last),
            density=plan.density,
            before=tuple(words for phrase in found for words in phrase.rhythm.words),
            compass=None if compass is None else plan.compass(*compass),
            peaks=plan.peaks,
            dips=plan.dips,
            rhythm=rhythm,
            begin=None if found else _opening(player, bar.meter, level, draws, fast=fast),
            after=found[-1].notes[-1].midi if found else None,
        )
        made_of = vocabulary or vocabulary_for(timeline, plan.first_bar, plan.bars, hold, level)
        phrase = write_phrase(timeline, plan.first_bar, plan.bars, made_of, rng, wish)
        if found and rhythm is None:
            found[-1] = _with_breath(found[-1], phrase, bar.meter)
        found.append(phrase)
    return found


def _style(
    player: Player,
    meters: Sequence[Meter],
    level: int,
    seed: str,
    draws: Sequence[int],
    *,
    fast: bool,
) -> Style:
    """What the rhythms of a phrase over bars in these meters are drawn from, each meter by itself."""

    def of_meter(meter: Meter, own: str) -> Style:
        habit = habit_of(player.family, meter, level, draws)
        return Style.draw(player.family, meter, level, Random(own), habit, fast=fast)

    style = of_meter(meters[0], seed)
    if len(set(meters)) == 1:
        return style
    known = {meter: of_meter(meter, f"{seed}/{meter}") for meter in set(meters[1:]) - {meters[0]}}
    return replace(style, others=tuple(known.get(meter, style) for meter in meters[1:]))


def _opening(
    player: Player, meter: Meter, level: int, draws: Sequence[int], *, fast: bool
) -> Words | None:
    """The bar that a tune begins with; None where the level has none."""
    openings = [
        words
        for words in openings_of(player.family, meter, level)
        if not (fast and is_quick(words, meter))
    ]
    return openings[turn_of(draws, len(openings))] if openings else None


def _likeness(plan: PlannedPhrase, rng: Random) -> Likeness:
    if plan.role == "development":
        return rng.choice(("sequence", "sequence", "inversion"))
    return "answer"


def _compass(hold: Hold, level: int) -> tuple[int, int] | None:
    """Lowest and highest MIDI number of the whole etude, about the middle of what is under the hand;
    none at level 1, which keeps to three tones, and where the hand wanders along strings."""
    if level == 1 or hold.position is None:
        return None
    low, high = hold.allowed[0], hold.allowed[-1]
    spare = high - low - COMPASS_SEMITONES[level]
    if spare <= 0:
        return low, high
    # Rather high than low: a melody lies on the upper strings [common practice].
    bottom = low + spare * 2 // 3
    return bottom, bottom + COMPASS_SEMITONES[level]


def _pickup(timeline: Timeline, bar: Bar, pickup: Pickup, before: Sequence[Phrase]) -> Pickup:
    """The pickup to a bar, if the last note before it can leave a breath of a pulse, else none.

    The first phrase has none: a loop must not begin in mid-air.
    """
    if not pickup or not before:
        return ()
    start = bar.onset_beats + pickup[0][0]
    if timeline.chord_at(start).chord is None:
        return ()
    last = before[-1].notes[-1]
    room = start - last.onset_beats
    # What comes home is held a pulse at least, a question half of one.
    least = 1 if last.degree is not None and last.degree.number == 1 else Fraction(1, 2)
    return pickup if room >= (1 + least) * bar.meter.pulse_beats else ()


def _with_breath(before: Phrase, phrase: Phrase, meter: Meter) -> Phrase:
    """A phrase whose last note is let go a pulse before the pickup to the next."""
    *notes, last = before.notes
    start = phrase.notes[0].onset_beats
    end = start - meter.pulse_beats
    if not meter.is_compound and end.denominator % 3 == 0:  # a triplet is nothing to let go on
        end = Fraction(2 * end // 1, 2)
    end = min(last.written_end_beats, end)
    if end <= last.onset_beats:  # in bars of one pulse there may be no room for a breath
        end = min(last.written_end_beats, start)
    return replace(before, notes=(*notes, replace(last, duration_beats=end - last.onset_beats)))
