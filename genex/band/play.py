"""The band: every player's part over a timeline, and the count-in.

Locality: a bar's notes are drawn from generators of its own (seed, part, chorus, bar of the form)
and depend on its own chords. Only what leads into the next bar looks ahead: the approach note of a
bass line, a chord or root struck ahead of time. Editing one bar therefore changes that bar and at
most the leading note or stroke before it, and bars whose chords are heard in another key by it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping

from genex.band.bar_plans import Shape, plan_bars
from genex.band.bass import play_bass
from genex.band.catalogue import require_meter
from genex.band.comping import play_comping
from genex.band.drums import play_drums
from genex.band.ensemble_time import Ensemble
from genex.band.fermatas import with_fermatas
from genex.band.groove import Groove, default_beats, velocity_of
from genex.band.kit import KIT_PROGRAMS, VOICES
from genex.band.listening import Heard
from genex.band.pushes import with_pushes
from genex.exact import Fraction
from genex.score import LeadIn, Mix, Note, Part, Role, Timeline
from genex.theory import Pitch

BAND_PARTS = ("drums", "bass", "comping")
_FAST_PULSES = 200
_CLICK_BEATS = Fraction(1, 4)
COUNT_IN_DB = -4.0


def play_band(
    timeline: Timeline,
    groove: Groove,
    *,
    parts: Collection[str] = BAND_PARTS,
    seed: int,
    humanise: float = 1.0,
    swing: float | None = None,
    heard: Heard | None = None,
    mutes: Mapping[str, Collection[str]] | None = None,
    bar_mutes: Mapping[int, Collection[str]] | None = None,
    stops: Collection[int] = (),
    dynamics: Mapping[str, float] | None = None,
    build: float = 0.15,
    ending: bool = False,
) -> tuple[Part, ...]:
    """The parts of the band that are wanted and that the feel has, in the order of ``BAND_PARTS``.

    parts       of drums, bass, comping
    humanise    0 is an exact grid (swing stays), 1 the feel's own freedom
    swing       ratio that overrides the feel's own
    heard       the line over the band, which listens to it: comping keeps clear of it and answers,
                drums mark the ends of its phrases
    mutes, bar_mutes, stops, dynamics, build, ending   see ``genex.band.bar_plans.Shape``

    Raises GrooveError where the feel has no pattern for the meter of the first bar. Single bars of
    another meter take the pattern cut or repeated.
    """
    require_meter(groove, timeline.meter)
    groove = groove.in_meter(timeline.meter)
    shape = Shape(mutes, bar_mutes, stops, dynamics, build, ending, unbroken=groove.clave is not None)
    plans = plan_bars(timeline, shape)
    feel = groove.feel_timing(timeline.tempo, swing)
    ensemble = Ensemble(timeline.bars, feel, seed=seed, drift_ms=groove.drift_ms, humanise=humanise)
    played: list[Part] = []
    if "drums" in parts and groove.drums is not None:
        time = ensemble.player("drums", groove.drums.touch)
        rests = None if heard is None else heard.phrase_ends
        played.append(play_drums(plans, groove.drums, groove.beats, time, seed=seed, rests=rests))
    if "bass" in parts and groove.bass is not None:
        time = ensemble.player("bass", groove.bass.touch)
        played.append(play_bass(plans, groove.bass, groove.beats, time, seed=seed))
    if "comping" in parts and groove.comping is not None:
        time = ensemble.player("comping", groove.comping.touch)
        played.append(
            play_comping(
                plans,
                groove.comping,
                groove.beats,
                time,
                seed=seed,
                heard=heard,
            )
        )
    pushed = (with_pushes(part, timeline, ensemble.swung, loops=not ending) for part in played)
    if not ending:
        return tuple(pushed)
    return tuple(with_fermatas(part, timeline, ensemble.swung) for part in pushed)


def trading(
    timeline: Timeline, bars: int, silent: Collection[str] = BAND_PARTS
) -> dict[int, tuple[str, ...]]:
    """``bar_mutes`` for trading: ``bars`` bars with the band, then as many without the silent parts.

    Counted from the first bar of the form; an intro is played by all.
    """
    if bars < 1:
        raise ValueError("trading needs at least one bar")
    intro = sum(bar.form_number < 1 for bar in timeline.bars)
    return {
        bar.number: tuple(silent)
        for index, bar in enumerate(timeline.bars)
        if index >= intro and (index - intro) // bars % 2 == 1
    }


def count_in(timeline: Timeline, bars: int, groove: Groove) -> LeadIn:
    """Clicks on the side stick for ``bars`` bars of the first meter, accented on one.

    One click a pulse of the groove (2+2+3 eighths in 7/8). With two bars or more, and in fast
    tempos, all bars but the last are counted on every second pulse [common practice].
    """
    if bars < 1:
        raise ValueError("a count-in has at least one bar")
    meter = timeline.meter
    beats = groove.in_meter(meter).beats if groove.fits(meter) else default_beats(meter)
    onsets = [sum(beats[:index], Fraction(0)) for index in range(len(beats))]
    pulses_a_minute = timeline.tempo.pulses_at(Fraction(0), meter)
    halves = onsets[::2] if len(onsets) % 2 == 0 and len(onsets) > 2 else onsets[:1]
    level_db = COUNT_IN_DB
    loudest = 8
    if groove.drums is not None:  # the drummer counts, no louder than what follows
        level_db = min(level_db, groove.drums.mix.level_db)
        loudest = max(4, min(loudest, groove.drums.loudest_stroke + 1))
    notes = []
    for bar in range(bars):
        is_last = bar == bars - 1
        sparse = not is_last and (len(onsets) == 4 or pulses_a_minute > _FAST_PULSES)
        for onset in halves if sparse else onsets:
            at = bar * meter.bar_beats + onset
            loudness = loudest if onset == 0 else loudest - 2
            notes.append(
                Note(
                    onset_beats=at,
                    duration_beats=_CLICK_BEATS,
                    pitch=Pitch.from_midi(VOICES["side stick"].key),
                    velocity=round(velocity_of(loudness)),
                )
            )
    kit = groove.drums.kit if groove.drums is not None else "standard"
    program = KIT_PROGRAMS["standard" if kit == "brush" else kit]
    part = Part.of("count-in", Role.CLICK, program, notes, mix=Mix(level_db=level_db, room=0.05))
    return LeadIn(bars * meter.bar_beats, part)
