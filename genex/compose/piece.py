"""Recipe -> Score: line, band, count-in and mix put together."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

from genex.band import (
    BAND_PARTS,
    Groove,
    Heard,
    load_groove,
    play_band,
    play_click,
    play_line,
    require_meter,
    trading,
)
from genex.compose.chart_timeline import build_timeline, tempo_map
from genex.compose.exercises import played, tempo_steps
from genex.compose.feel_comping import feel_comping
from genex.compose.kept import Kept, kept_of
from genex.compose.pickups import lead_in, pickup_first, told_pickup
from genex.compose.take_ending import at_home, with_last_bar
from genex.compose.tempo_signs import obeyed, with_last_ritardando
from genex.errors import FretboardError, GrooveError, InputError, Place, RecipeError
from genex.exact import Fraction, decimal
from genex.exercises import Click, Exercise, Player
from genex.exercises.models.over_the_chart import Arpeggio
from genex.fretboard import Fingerings, Hand, Tuning, house_fingerings, read_fingerings, tuning
from genex.hints import did_you_mean
from genex.lines.closing import closed_line, held_chord, held_line
from genex.lines.guide import guide_line
from genex.lines.pins import Pin, pinned
from genex.lines.study_plan import Answer, Choice, CueSpan, StudyPlan, Task, in_tempo_steps
from genex.recipe import Recipe, Version
from genex.recipe.recipe import MAX_PLAYED_BARS
from genex.score import Meter, Mix, Part, Role, Score, Timeline
from genex.score.checks import require_sound
from genex.score.gm import INSTRUMENTS
from genex.theory import Chord

DEFAULT_COUNT_IN_BARS = 1
_USUAL_FEELS = {
    "2/2": "two-beat",
    "2/4": "two-four",
    "3/4": "jazz-waltz",
    "3/8": "three-eight",
    "4/4": "swing",
    "5/4": "five-four",
    "6/4": "six-four",
    "6/8": "ballad-6-8",
    "7/8": "seven-eight",
    "9/8": "nine-eight",
    "11/8": "eleven-eight",
    "12/8": "slow-blues",
}
_BEDS = {"3/4": "bed-3-4", "4/4": "bed", "6/8": "bed-6-8", "12/8": "bed-12-8"}
_LEAD_MIX = {
    Role.EXERCISE: Mix(level_db=0.0, pan=0.0, room=0.12),
    Role.LEAD: Mix(level_db=0.0, pan=0.0, room=0.12),
    Role.GUIDE: Mix(level_db=-4.0, pan=0.25, room=0.2),
}


@dataclass(frozen=True)
class Composition:
    """A piece with what belongs to it.

    score     the piece as a loop: its end leads back to its beginning
    cues      captions: what the student does when
    answers   the answer key of calls and drills
    choices   what a drill's answers are chosen from
    task      what the student keeps to while improvising
    """

    score: Score
    cues: tuple[CueSpan, ...] = ()
    answers: tuple[Answer, ...] = ()
    choices: tuple[Choice, ...] = ()
    task: Task | None = None


def compose(recipe: Recipe, version: Version | None = None, *, ending: bool = False) -> Composition:
    """A recipe in one of its versions: see ``Composer.piece``."""
    return Composer(recipe).piece(version, ending=ending)


class Composer:
    """Composes the versions of a recipe, and keeps what some of them share.

    A line that does not hear the tempo is the same at all of them, an etude one of two; drums are the
    same in every key in which the line's phrases end alike. ``exercises`` are the composers of a
    lesson's exercises, in order; such a lesson has no piece of its own.
    """

    def __init__(self, recipe: Recipe) -> None:
        self._recipe = recipe
        self.exercises = [Composer(exercise) for exercise in recipe.exercises]
        self._drums: dict[bool, tuple[object, tuple[Part, ...]]] = {}  # the latest, by ``ending``

    def piece(self, version: Version | None = None, *, ending: bool = False) -> Composition:
        """One version, the first one if none is named.

        With ``ending`` the band ends in the last bar instead of leading back: the full take.
        Raises InputError, with its place in the recipe, for what cannot be played.
        """
        recipe = self._recipe
        if recipe.exercises:
            raise ValueError("a lesson of several exercises has a piece for each of them")
        version = version or recipe.versions[0]
        name = version.key, version.tempo, recipe.usual_tempo, ending
        found = self._kept.piece(name, lambda: self._unmixed(version, ending=ending))
        score = found.score
        return replace(
            found, score=replace(score, parts=tuple(_mixed(recipe, part) for part in score.parts))
        )

    @cached_property
    def _kept(self) -> Kept:
        recipe = self._recipe
        return kept_of(recipe, lambda: (recipe_tuning(recipe), recipe_groove(recipe)))

    def _unmixed(self, version: Version, *, ending: bool) -> Composition:
        """A version as composed, before the recipe's own levels."""
        recipe = self._recipe
        plan = self._plan(version, ending=ending)
        timeline = plan.timeline
        groove = recipe_groove(recipe)
        leads = _rested(recipe, timeline, plan.parts)
        band = self._band(timeline, groove, leads, ending=ending)
        clicks: list[Part] = []
        if "click" in recipe.parts:
            click = play_click(timeline, recipe.fields.click or Click(), leads)
            clicks = _rested(recipe, timeline, [click])
        if _exercise_of(recipe).swings:
            leads = list(_lines(recipe, timeline, groove, leads))
        score = Score(
            title=recipe.title,
            feel=groove.title,
            timeline=timeline,
            parts=(*leads, *band, *clicks),
            lead_in=lead_in(timeline, _count_in_bars(recipe), groove, leads),
            pickup_beats=timeline.pickup_beats,
        )
        if not ending:
            score = replace(score, timeline=replace(timeline, pickup_beats=Fraction(0)))
        require_sound(score)
        return Composition(score, plan.cues, plan.answers, plan.choices, plan.task)

    def _plan(self, version: Version, *, ending: bool) -> StudyPlan:
        """The timeline and what is played on the guitar over it, in straight time."""
        recipe, steps_wish = self._recipe, self._recipe.fields.tempo_steps
        plan = self._played_once(version, ending=ending and steps_wish is None)
        if steps_wish is not None:
            with _placed(recipe, "tempo_steps"):
                steps = tempo_steps(steps_wish)
                each = steps.bars_each or len(plan.timeline.bars)
                _require_length(recipe, each * len(steps.tempos), "tempo_steps")
                plan = in_tempo_steps(plan, steps)
            if ending and not _has_own_chart(recipe):
                plan = pickup_first(plan)
                plan = _closed(recipe, replace(plan, timeline=at_home(plan.timeline, led=False)))
        if recipe.fields.ritardando:
            plan = replace(plan, timeline=with_last_ritardando(plan.timeline))
        if ending:
            plan = replace(plan, timeline=replace(plan.timeline, tempo=obeyed(plan.timeline)))
        parts = (replace(part, mix=_LEAD_MIX.get(part.role, part.mix)) for part in plan.parts)
        return replace(plan, parts=tuple(parts))

    def _played_once(self, version: Version, *, ending: bool) -> StudyPlan:
        """The plan at a version's tempo."""
        recipe = self._recipe
        if plan := self._plan_of_another_tempo(version, ending=ending):
            return plan
        timeline = build_timeline(recipe, version, ending=ending)
        goes_home = ending and not _has_own_chart(recipe)
        if goes_home:
            timeline = at_home(timeline)
        plan = _exercise(recipe, version, timeline) or StudyPlan(timeline, ())
        with _placed(recipe, "pickup"):
            plan = told_pickup(plan)
        if ending:
            plan = pickup_first(plan)
        if ending and not goes_home and plan.timeline.has_chords and _exercise_of(recipe).is_full:
            plan = replace(plan, timeline=with_last_bar(plan.timeline))
        if "guide" in recipe.parts:
            guide = _guide(recipe, plan.timeline, loops=not ending)
            plan = replace(plan, parts=(*plan.parts, *guide))
        if goes_home:
            plan = _closed(recipe, plan)
        _require_length(recipe, len(plan.timeline.bars), "exercise")
        if not _exercise_of(recipe).hears_tempo:
            self._kept.lines.setdefault((version.key, ending), []).append(plan)
        return plan

    def _plan_of_another_tempo(self, version: Version, *, ending: bool) -> StudyPlan | None:
        """The plan that was made at another tempo, if it is the same at this one."""
        recipe = self._recipe
        is_other_at = _exercise_of(recipe).is_other_at
        for kept in self._kept.lines.get((version.key, ending), ()):
            sections = kept.timeline.sections
            tempo = tempo_map(recipe, version, sections[:1] if _has_own_chart(recipe) else sections)
            before, now = (one.tempo_at(Fraction(0)) for one in (kept.timeline.tempo, tempo))
            if is_other_at(before) == is_other_at(now):
                return replace(kept, timeline=replace(kept.timeline, tempo=tempo))
        return None

    def _band(
        self, timeline: Timeline, groove: Groove, leads: Iterable[Part], *, ending: bool
    ) -> tuple[Part, ...]:
        names = [name for name in BAND_PARTS if name in self._recipe.parts]
        others = [name for name in names if name != "drums"]
        heard = Heard(leads, timeline, asks=_exercise_of(self._recipe).asks)
        drums: tuple[Part, ...] = ()
        if "drums" in names:
            what = timeline.tempo, timeline.bars, timeline.sections, timeline.signs, heard.phrase_ends
            if ending not in self._drums or self._drums[ending][0] != what:
                drums = _played(self._recipe, timeline, groove, ["drums"], heard, ending=ending)
                self._drums[ending] = what, drums
            drums = self._drums[ending][1]
        return (*drums, *_played(self._recipe, timeline, groove, others, heard, ending=ending))


def _exercise(recipe: Recipe, version: Version, timeline: Timeline) -> StudyPlan | None:
    """The exercise over the recipe's chart, or with a chart of its own, its notes pinned."""
    plan = _computed_exercise(recipe, version, timeline)
    wished = recipe.fields.pins
    if not wished:
        return plan
    if plan is None:
        raise RecipeError(
            "there is no exercise to pin notes of",
            hint="write an exercise, or leave the pins out",
            place=recipe.place("pins"),
        )
    pins = [Pin(pin.bar, decimal(pin.beat), pin.string, pin.finger) for pin in wished]
    first, *others = plan.parts
    with _placed(recipe, "pins"):
        first = pinned(first, plan.timeline, recipe_tuning(recipe), pins)
    return replace(plan, parts=(first, *others))


def _computed_exercise(recipe: Recipe, version: Version, timeline: Timeline) -> StudyPlan | None:
    if "exercise" not in recipe.parts:
        return None
    player = _player(recipe, "exercise", _exercise_of(recipe).sound)
    with _placed(recipe, "exercise"):
        return played(_exercise_of(recipe).in_key(recipe.key, version.key), timeline, player)


def _exercise_of(recipe: Recipe) -> Exercise:
    """The exercise that a recipe asks for, or the one that is played where it says none."""
    return recipe.fields.exercise or Arpeggio()


def _has_own_chart(recipe: Recipe) -> bool:
    return "exercise" in recipe.parts and _exercise_of(recipe).has_own_chart


def _require_length(recipe: Recipe, bars: int, field: str) -> None:
    """Raise RecipeError for a piece that nobody would sit through, before it is written."""
    if bars > MAX_PLAYED_BARS:
        raise RecipeError(
            f"that makes {bars} bars",
            hint=f"at most {MAX_PLAYED_BARS} bars are played: ask for less",
            place=recipe.place(field),
        )


def _closed(recipe: Recipe, plan: StudyPlan) -> StudyPlan:
    """The plan with every line at rest in its last bar."""
    neck = recipe_tuning(recipe)
    parts = (
        held_chord(part, plan.timeline)
        if part.chordal
        else held_line(part, plan.timeline)
        if part.role is Role.GUIDE
        else closed_line(part, plan.timeline, neck)
        for part in plan.parts
    )
    return replace(plan, parts=tuple(parts))


def last_chord(recipe: Recipe, loop: Timeline) -> Chord | None:
    """The chord that the full take of a piece ends on; None where it ends without one.

    ``loop`` is the timeline of the piece as a loop, in its first version.
    """
    if _has_own_chart(recipe):
        end = with_last_bar(loop) if _exercise_of(recipe).is_full and loop.has_chords else loop
    else:
        end = at_home(build_timeline(recipe, recipe.versions[0], ending=True))
    return end.chords[-1].chord


def _guide(recipe: Recipe, timeline: Timeline, *, loops: bool) -> tuple[Part, ...]:
    guide = recipe.fields.guide
    player = _player(recipe, "guide", guide.sound)
    with _placed(recipe, "guide"):
        low, high = guide.limits
        return guide_line(timeline, guide, replace(player, low=low, high=high, loops=loops))


def _player(recipe: Recipe, name: str, sound: str) -> Player:
    """Who plays a lead part with a sound. Raises RecipeError for a sound that there is not."""
    program = INSTRUMENTS.get(" ".join(sound.lower().split()))
    if program is None:
        raise RecipeError(
            f"there is no sound '{sound}'",
            hint=did_you_mean(sound, list(INSTRUMENTS)),
            place=recipe.place(name, "sound"),
        )
    folder = Path(recipe.source.file).parent
    groove = recipe_groove(recipe)
    return Player(
        recipe_tuning(recipe),
        program,
        name,
        recipe.fields.seed,
        folder=folder,
        title=recipe.title,
        family=groove.line_family,
        comping=feel_comping(groove),
        locate=lambda field, line, column: recipe.place_inside((name, field), line, column),
        draws=recipe.draws,
        note_names=recipe.fields.note_names,
    )


def _played(
    recipe: Recipe,
    timeline: Timeline,
    groove: Groove,
    parts: Sequence[str],
    heard: Heard,
    *,
    ending: bool,
) -> tuple[Part, ...]:
    """Some parts of the band, which listens to what is ``heard``."""
    fields = recipe.fields
    kept = ("drums",) if fields.trade_with == "drums" else ()
    silent = [name for name in BAND_PARTS if name not in kept]
    stops = set(fields.stops)
    with _placed(recipe, "exercise"):  # a phrase brings a meter of its own
        return play_band(
            timeline,
            groove,
            parts=parts,
            seed=fields.seed,
            humanise=fields.humanise,
            swing=fields.swing,
            heard=heard,
            mutes=_rests(recipe),
            bar_mutes=None if fields.trade is None else trading(timeline, fields.trade, silent),
            stops=[bar.number for bar in timeline.bars if bar.form_number in stops],
            dynamics={section.name: section.loudness for section in recipe.sections},
            build=fields.build_up,
            ending=ending,
        )


def _lines(recipe: Recipe, timeline: Timeline, groove: Groove, leads: Iterable[Part]) -> Iterator[Part]:
    """The lead parts as they sound over the feel."""
    fields, exercise = recipe.fields, _exercise_of(recipe)
    for part in leads:
        yield play_line(
            part,
            timeline,
            groove,
            seed=fields.seed,
            humanise=fields.humanise,
            swing=fields.swing,
            build=fields.build_up,
            even=exercise.asks and exercise.has_own_chart and part.role is not Role.GUIDE,
        )


def recipe_groove(recipe: Recipe) -> Groove:
    """The feel of a recipe. A groove file is looked for beside the recipe. Raises InputError."""
    bed = _exercise_of(recipe).over_bed
    with _placed(recipe, "meter"):
        name = recipe.fields.feel or default_feel(recipe.meter, bed=bed)
    place = recipe.place("feel")
    groove = load_groove(name, place, folder=Path(recipe.source.file).parent)
    require_meter(groove, recipe.meter, place)
    return groove


def band_swing(recipe: Recipe, timeline: Timeline) -> tuple[float, Fraction]:
    """The band's swing at the first tempo, and the length of the pairs that swing. Raises InputError."""
    timing = recipe_groove(recipe).feel_timing(timeline.tempo, recipe.fields.swing)
    return float(timing.ratio_at(Fraction(0))), timing.pair_beats


def default_feel(meter: Meter, *, bed: bool = False) -> str:
    """The feel of a recipe that names none, by its meter. ``bed`` asks for a quiet one, to lie
    under a study. Raises GrooveError for a meter that no band feel is made for."""
    name = (_BEDS.get(str(meter)) if bed else None) or _USUAL_FEELS.get(str(meter))
    if name is None:
        raise GrooveError(
            f"no band feel is made for {meter}",
            hint="write 'feel: click' for a plain click, or name a groove file of your own",
        )
    return name


def recipe_tuning(recipe: Recipe) -> Tuning:
    """The neck that lines are fingered on. Raises FretboardError with the place in the recipe."""
    fields = recipe.fields
    with _placed(recipe, "tuning"):
        neck = tuning(
            fields.tuning,
            frets=fields.frets,
            capo=fields.capo,
            hand=Hand[fields.hand.upper()],
        )
    folder = recipe.source.folder_of(("fingerings",))
    return own_fingerings(folder, fields.fingerings, recipe.place("fingerings")).on(neck)


def own_fingerings(folder: Path, named: str | None, place: Place) -> Fingerings:
    """The player's own shapes: from the file named, else from the one that a folder's recipes share.

    Raises FretboardError, with ``place`` where the file named cannot be read.
    """
    if named is None:
        return house_fingerings(folder)
    try:
        return read_fingerings(folder / named)
    except FretboardError as error:
        error.place = error.place or place
        raise


@contextmanager
def _placed(recipe: Recipe, *path: str) -> Iterator[None]:
    """Errors that come without a place get that of a field."""
    try:
        yield
    except InputError as error:
        if error.place is None:
            error.place = recipe.place(*path)
        raise


def part_word(part: Part) -> str:
    """The word that recipes have for a part: calls, questions and signals are the exercise."""
    return "exercise" if part.role in (Role.LEAD, Role.CUE) else part.role.value


def _rests(recipe: Recipe) -> Mapping[str, tuple[str, ...]]:
    return {section.name: section.rest for section in recipe.sections if section.rest}


def _rested(recipe: Recipe, timeline: Timeline, leads: Iterable[Part]) -> list[Part]:
    """Lead parts without the notes of the sections that they rest in."""
    rests = _rests(recipe)
    if not rests:
        return list(leads)

    def plays(part: Part, onset: Fraction) -> bool:
        return part_word(part) not in rests.get(timeline.bar_at(onset).section, ())

    return [
        replace(
            part,
            notes=tuple(note for note in part.notes if plays(part, note.onset_beats)),
            pickup_notes=part.pickup_notes * plays(part, part.notes[-1].onset_beats)
            if part.notes
            else 0,
            grips=tuple(grip for grip in part.grips if plays(part, grip.onset_beats)),
        )
        for part in leads
    ]


def _mixed(recipe: Recipe, part: Part) -> Part:
    """A part with the recipe's changes to its level, pan and room."""
    wish = {str(name): fields for name, fields in recipe.fields.mix.items()}.get(part_word(part))
    if wish is None:
        return part
    mix = part.mix
    return replace(
        part,
        mix=Mix(
            level_db=mix.level_db + wish.level,
            pan=mix.pan if wish.pan is None else wish.pan,
            room=mix.room if wish.room is None else wish.room,
        ),
    )


def _count_in_bars(recipe: Recipe) -> int:
    written = recipe.fields.count_in
    return DEFAULT_COUNT_IN_BARS if written is None else written
