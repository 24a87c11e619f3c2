"""Groove files: YAML to a ``Groove``, with every fault pointed at by file, line and column.

``groove_fields.py`` declares what may be written. What remains is read here: meters and beats,
patterns, and what must fit together.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any, NoReturn

from genex.band.bass import BASS_SIGNS
from genex.band.comping import COMPING_SIGNS, PICKING_SIGNS
from genex.band.feel_timing import Touch
from genex.band.groove import (
    BassRules,
    CompingRules,
    DrumChoice,
    DrumRules,
    Groove,
    PatternChoice,
    WalkRules,
)
from genex.band.groove_fields import (
    PARTS,
    BassFields,
    CompingFields,
    DrumFields,
    GrooveFields,
    StrokeFields,
    TempoFields,
    WalkingFields,
)
from genex.band.kit import BRUSH_ONLY, playable
from genex.band.pattern_notation import PatternError, StepBar, parse_bars
from genex.errors import GrooveError, NotationError
from genex.exact import Fraction
from genex.plain_text import clean
from genex.score import Meter, Mix
from genex.text.field_kinds import schema_of
from genex.text.messages import Wording, validated
from genex.text.yaml_source import KeyPath, Source

DRUM_SIGNS = "123456789"
USUAL_TEMPO = 110.0
"""Of a feel that says nothing of its tempo, if its range holds it."""
MAX_PATTERN_BARS = 8

_STROKES = 'write lines such as - {snare: ". 8 . 8"}'
_PATTERNS = 'write each as "{}": 2 (the number is its weight)'
_WORDING = Wording(
    error=GrooveError,
    name="groove file",
    least="'drums:' with a kit and layers",
    fields={
        "bpm": "'tempo' gives the range: 'tempo: {from: 80, to: 160}'",
        "chords": "it belongs into a recipe; 'comping' says how chords are played",
        "description": "'about' says what it is",
        "feel": "the file's name is the name of the feel",
        "guitar": "'comping' plays the chords: 'comping: {instrument: jazz guitar}'",
        "instrument": "write it into the part: 'bass: {instrument: electric bass}'",
        "name": "'title' is the name shown in lists, the file's name that of the feel",
        "piano": "'comping' plays the chords: 'comping: {instrument: piano}'",
        "signature": "'meters' lists the time signatures",
        "time": "'meters' lists the time signatures",
    },
    numbers={
        "tempo*": "in beats a minute, such as 120",
        "swing": "such as 2 for triplet swing, 1.5 for less; or none, or by tempo",
        "ensemble.*": "in milliseconds, such as 4",
        "*.behind": "in milliseconds, such as 10; below 0 is ahead of the beat",
        "*.centre": "a MIDI number; 60 is middle C",
        "*.level": "in dB, such as -3",
        "*.pan": "-1 is left, 1 is right",
        "*.strum": "in milliseconds, such as 8",
        "*.weight": "such as 2: drawn twice as often as a line of 1",
        **dict.fromkeys(
            ("bass.patterns.*", "comping.rhythms.*", "comping.picking.*"),
            "such as 2: drawn twice as often as a pattern of 1",
        ),
    },
    texts={"meters": "write for example 'meters: [4/4]'"},
    groups={
        "bass.patterns": _PATTERNS.format("R - 5 a"),
        "comping.picking": _PATTERNS.format("1 3 4 3"),
        "comping.rhythms": _PATTERNS.format("7 .4 . ."),
        "drums.layers": "write 'time:' below it, and below that " + _STROKES.removeprefix("write "),
        "drums*": "write 'kit: standard', and 'layers:' with a pattern for each thing that is struck",
        "bass": "write 'walking: {skips: 0.1}', or 'patterns:' and patterns",
        "comping": "write 'rhythms:' or 'picking:', and patterns",
        "tempo": "write 'tempo: {from: 80, to: 160, usual: 110}'",
    },
    lists={
        "meters": "write for example 'meters: [4/4]'",
        "comping.voicings": "write for example 'voicings: [drop 2, shell]'",
        "*": _STROKES,
    },
    missing={"layers": "write 'layers:' and below it for example 'time:'"},
)


def groove_of(source: Source, name: str) -> Groove:
    """The groove that a parsed file describes. Raises GrooveError with its place."""
    return _Reader(source, name).groove()


def groove_schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a groove file."""
    return schema_of(GrooveFields)


class _Reader:
    def __init__(self, source: Source, name: str) -> None:
        self.source = source
        self.name = name
        self.fields = validated(GrooveFields, source, _WORDING)
        self.meters = self._meters()
        self.beats = self._beats()

    def groove(self) -> Groove:
        fields = self.fields
        low, high, usual = self._tempo(fields.tempo)
        groove = Groove(
            name=self.name,
            title=self.name if fields.title is None else clean(fields.title),
            description=clean(fields.about),
            meters=self.meters,
            beats=self.beats,
            tempo_low=low,
            tempo_high=high,
            tempo_usual=usual,
            swing=fields.swing,
            pair_beats=Fraction(1) if fields.swing_of == "eighths" else Fraction(1, 2),
            drift_ms=fields.ensemble.drift,
            line_ms=fields.ensemble.line,
            lines=fields.lines,
            clave=fields.clave,
            drums=None if fields.drums is None else self._drums(fields.drums),
            bass=None if fields.bass is None else self._bass(fields.bass),
            comping=None if fields.comping is None else self._comping(fields.comping),
        )
        if not groove.parts:
            self._fail((), "the groove has no part", f"write at least {_WORDING.least}")
        return groove

    def _fail(self, loc: KeyPath, message: str, hint: str | None, *, of_key: bool = False) -> NoReturn:
        place = self.source.place(self.source.written_path(loc), of_key=of_key)
        raise GrooveError(message, hint=hint, place=place) from None

    # The head

    def _meters(self) -> tuple[Meter, ...]:
        if not self.fields.meters:
            for part in PARTS[1:]:
                if part in self.fields.model_fields_set:
                    self._fail(
                        (part,),
                        f"a feel for any meter has no {part}",
                        "name the meters, such as 'meters: [4/4]'",
                        of_key=True,
                    )
        found: list[Meter] = []
        for index, text in enumerate(self.fields.meters):
            try:
                found.append(Meter.parse(text))
            except NotationError as error:
                self._fail(("meters", index), error.message, error.hint)
            if (
                found[-1].bar_beats != found[0].bar_beats
                or found[-1].is_compound != found[0].is_compound
            ):
                self._fail(
                    ("meters", index),
                    f"{found[-1]} has not the same beats as {found[0]}",
                    "write a groove file of its own for it",
                )
        return tuple(found)

    def _beats(self) -> tuple[Fraction, ...]:
        if not self.meters:
            return (Fraction(1), Fraction(1))
        meter, text = self.meters[0], self.fields.grouping
        if text is not None:
            sizes = [part.strip() for part in text.split("+")]
            if not all(size.isdecimal() and int(size) for size in sizes):
                self._fail(("grouping",), f"'{text}' is not a grouping", "write for example 2+2+3")
            if sum(map(int, sizes)) != meter.count:
                self._fail(
                    ("grouping",),
                    f"{text} makes {sum(map(int, sizes))}, {meter} has {meter.count}",
                    "the numbers add up to the upper number of the meter",
                )
            return tuple(Fraction(4 * int(size), meter.unit) for size in sizes)
        pulses = len(meter.pulses)
        if pulses * meter.pulse_beats != meter.bar_beats:
            self._fail(
                ("meters",),
                f"the beats of {meter} are uneven",
                "say how they are grouped: 'grouping: 2+2+3'",
            )
        return (meter.pulse_beats,) * pulses

    def _tempo(self, fields: TempoFields) -> tuple[float, float, float]:
        low, high, usual = fields.low, fields.high, fields.usual
        if low > high:
            self._fail(
                ("tempo",), f"the tempo runs from {low:g} to {high:g}", "the lower number comes first"
            )
        if usual is None:
            usual = USUAL_TEMPO if low <= USUAL_TEMPO <= high else (low + high) / 2
        if not low <= usual <= high:
            self._fail(
                ("tempo", "usual"),
                f"the usual tempo, {usual:g}, is not among those that the feel is made for",
                f"from {low:g} to {high:g} is allowed",
            )
        return low, high, usual

    # Parts

    def _drums(self, fields: DrumFields) -> DrumRules:
        layers = tuple(
            self._drum_choices(("drums", "layers", name), choices, fields.kit)
            for name, choices in fields.layers.items()
        )
        fills = self._drum_choices(("drums", "fills"), fields.fills, fields.kit)
        for index, fill in enumerate(fills):
            if fill.length != 1 or not any(fill.bars[0].values()):
                self._fail(
                    ("drums", "fills", index),
                    "a fill is one bar with at least one stroke",
                    "take the other bars away",
                )
        return DrumRules(
            kit=fields.kit,
            layers=layers,
            fills=fills,
            crash=fields.crash,
            crash_loudness=fields.crash_loudness,
            snare_ms=self.fields.ensemble.snare,
            steady=fields.steady,
            mix=_mix(fields),
            touch=_touch(fields, timing_ms=1.5, velocity=5.0),
        )

    def _drum_choices(
        self, loc: KeyPath, choices: Sequence[StrokeFields], kit: str
    ) -> tuple[DrumChoice, ...]:
        return tuple(
            self._drum_choice((*loc, index), choice.weight, kit) for index, choice in enumerate(choices)
        )

    def _drum_choice(self, loc: KeyPath, weight: float, kit: str) -> DrumChoice:
        path = self.source.written_path(loc)
        read: dict[str, tuple[StepBar, ...]] = {}
        for voice, text in self.source.value(path).items():  # in the order of the file
            if voice in BRUSH_ONLY and kit != "brush":
                self._fail(
                    (*path, voice), f"the {kit} kit has no {voice}", "write 'kit: brush'", of_key=True
                )
            if voice != "weight":
                read[voice] = self._bars((*path, voice), str(text), DRUM_SIGNS)
        length = max((len(bars) for bars in read.values()), default=1)
        bars = tuple(
            {voice: found[i % len(found)] for voice, found in read.items()} for i in range(length)
        )
        for bar in bars:
            self._require_limbs(path, bar)
        return DrumChoice(weight, bars)

    def _require_limbs(self, path: KeyPath, bar: dict[str, StepBar]) -> None:
        """What is written together must be playable together."""
        strokes: dict[Fraction, dict[str, int]] = {}
        for voice, steps in bar.items():
            for step in steps:
                strokes.setdefault(step.onset_beats, {})[voice] = int(step.sign)
        for onset, together in sorted(strokes.items()):
            if len(playable(together)) < len(together):
                self._fail(
                    path,
                    f"one drummer cannot strike {', '.join(sorted(together))} together "
                    f"({float(onset):g} quarter notes into the bar)",
                    "two hands, the kick foot and the hi-hat foot: take one stroke away",
                )

    def _bass(self, fields: BassFields) -> BassRules:
        walk = None
        if "walking" in fields.model_fields_set:
            walk = WalkRules((fields.walking or WalkingFields()).skips)
        return BassRules(
            instrument=fields.instrument,
            walk=walk,
            patterns=self._patterns(("bass", "patterns"), fields.patterns, BASS_SIGNS),
            centre=fields.centre,
            steady=fields.steady,
            inversions=fields.inversions,
            mix=_mix(fields),
            touch=_touch(fields, timing_ms=2.0, velocity=4.0, place_ms=self.fields.ensemble.bass),
        )

    def _comping(self, fields: CompingFields) -> CompingRules:
        picked = "picking" in fields.model_fields_set
        return CompingRules(
            instrument=fields.instrument,
            voicings=fields.voicings,
            patterns=self._patterns(("comping", "picking"), fields.picking, PICKING_SIGNS)
            if picked
            else self._patterns(("comping", "rhythms"), fields.rhythms, COMPING_SIGNS),
            picked=picked,
            centre=fields.centre,
            strum_ms=fields.strum,
            listening=0.0 if picked else fields.listening,
            steady=fields.steady,
            mix=_mix(fields),
            touch=_touch(fields, timing_ms=2.0, velocity=5.0, place_ms=self.fields.ensemble.chords),
        )

    def _patterns(
        self, loc: KeyPath, weights: dict[str, float], signs: str
    ) -> tuple[PatternChoice, ...]:
        return tuple(
            PatternChoice(weight, self._bars((*loc, text), text, signs))
            for text, weight in weights.items()
        )

    def _bars(self, loc: KeyPath, text: str, signs: str) -> tuple[StepBar, ...]:
        """A pattern that is the value of a drum voice, or stands in place of a field's name."""
        of_key = loc in self.source.keys and signs != DRUM_SIGNS
        try:
            bars = parse_bars(text, self.beats, signs)
        except PatternError as fault:
            span = (self.source.keys if of_key else self.source.values)[self.source.written_path(loc)]
            quoted = self.source.text[span.start : span.start + 1] in ("'", '"')
            place = self.source.place_at(span.start + fault.offset + quoted)
            voice = "" if of_key else f"'{loc[-1]}': "
            raise GrooveError(f"{voice}{fault}", hint=fault.hint, place=place) from None
        if len(bars) > MAX_PATTERN_BARS:
            self._fail(
                loc, f"the pattern has {len(bars)} bars", f"at most {MAX_PATTERN_BARS} are allowed"
            )
        return bars


def _mix(fields: DrumFields | BassFields | CompingFields) -> Mix:
    return Mix(level_db=fields.level, pan=fields.pan, room=fields.room)


def _touch(
    fields: DrumFields | BassFields | CompingFields,
    *,
    timing_ms: float,
    velocity: float,
    place_ms: float = 0.0,
) -> Touch:
    loose = fields.looseness
    return Touch(timing_ms * loose, velocity * loose, fields.behind + place_ms, loose)


def stem_of(path: Path) -> str:
    """The name that a groove file gives its feel."""
    return path.stem.replace("_", "-")
