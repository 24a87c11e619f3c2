"""Groove files: YAML to a ``Groove``, with every fault pointed at by file, line and column.

The format, top to bottom::

    title: Medium swing               shown in lists
    about: Ride cymbal and …          one sentence
    meters: [4/4]                     all with the same beats; or any, for drums alone: then a
                                      pattern is two words, for the first beat and every other
    grouping: 2+2+3                   only where the beats are uneven: eighths of each beat
    tempo: {from: 100, to: 220, usual: 140}
    swing: by tempo                   or none, or a ratio such as 2
    swing of: eighths                 or sixteenths

    drums:
      kit: jazz                       standard, room, jazz, brush
      layers:                         sound together; of each layer one line is drawn
        time:
          - {weight: 3, ride: "7 65 7 65", pedal hi-hat: ". 6 . 6"}
      fills:                          begin at their first stroke, where a section ends
        - {snare: ". . . 56"}
      crash: crash                    struck where a section begins; left away: none

    bass:
      instrument: acoustic bass
      walking: {skips: 0.1}           or patterns, each with its weight:
      patterns: {"R - v -": 3, "R - 5 a": 1}

    comping:
      instrument: jazz guitar
      voicings: [drop 2, shell]
      rhythms: {"7 .4 . .": 2}        or picking: {"1 3 4 3": 1}

Every part also takes ``level`` (dB), ``pan`` (-1 to 1), ``room`` (0 to 1), ``behind`` (ms after the
beat) and ``looseness`` (0 to 3, 1 is normal). Patterns are read as ``pattern_notation.py`` says.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any, NoReturn

from genex.band.bass import BASS_SIGNS
from genex.band.comping import COMPING_SIGNS, PICKING_SIGNS
from genex.band.feel_timing import MAX_SWING_RATIO, Touch
from genex.band.groove import (
    BassRules,
    CompingRules,
    DrumChoice,
    DrumRules,
    Groove,
    PatternChoice,
    WalkRules,
)
from genex.band.kit import BASSES, BRUSH_ONLY, KIT_PROGRAMS, VOICES, playable
from genex.band.pattern_notation import PatternError, StepBar, parse_bars
from genex.band.playable_voicings import VOICING_STYLES
from genex.errors import GrooveError, NotationError
from genex.exact import Fraction
from genex.hints import did_you_mean
from genex.plain_text import clean
from genex.score import Meter, Mix
from genex.score.gm import INSTRUMENTS
from genex.yaml_source import KeyPath, Source

DRUM_SIGNS = "123456789"
_MIX_FIELDS = ("level", "pan", "room", "behind", "looseness")
_FIELDS = {
    "": (
        "title",
        "about",
        "meters",
        "grouping",
        "tempo",
        "swing",
        "swing of",
        "drums",
        "bass",
        "comping",
    ),
    "tempo": ("from", "to", "usual"),
    "drums": ("kit", "layers", "fills", "crash", "crash loudness", *_MIX_FIELDS),
    "bass": ("instrument", "walking", "patterns", "centre", *_MIX_FIELDS),
    "walking": ("skips",),
    "comping": ("instrument", "voicings", "rhythms", "picking", "centre", "strum", *_MIX_FIELDS),
}
USUAL_TEMPO = 110.0
"""Of a feel that says nothing of its tempo, if its range holds it."""
MAX_CHOICES = 64
MAX_PATTERN_BARS = 8


def groove_of(source: Source, name: str) -> Groove:
    """The groove that a parsed file describes. Raises GrooveError with its place."""
    return _Reader(source, name).groove()


class _Reader:
    def __init__(self, source: Source, name: str) -> None:
        self.source = source
        self.name = name
        self.meters: tuple[Meter, ...] = ()
        self.beats: tuple[Fraction, ...] = ()

    def groove(self) -> Groove:
        top = self._group((), self.source.data)
        self.meters = self._meters(top)
        self.beats = self._beats(top)
        low, high, usual = self._tempo(top)
        unit = self._word(("swing of",), top.get("swing of", "eighths"), ("eighths", "sixteenths"))
        groove = Groove(
            name=self.name,
            title=clean(self._text(("title",), top.get("title", self.name))),
            description=clean(self._text(("about",), top.get("about", ""))),
            meters=self.meters,
            beats=self.beats,
            tempo_low=low,
            tempo_high=high,
            tempo_usual=usual,
            swing=self._swing(top),
            pair_beats=Fraction(1) if unit == "eighths" else Fraction(1, 2),
            drums=self._drums(top["drums"]) if "drums" in top else None,
            bass=self._bass(top["bass"]) if "bass" in top else None,
            comping=self._comping(top["comping"]) if "comping" in top else None,
        )
        if not groove.parts:
            self._fail((), "the groove has no part", "write at least 'drums:' with a kit and layers")
        return groove

    # Values, each checked where it stands

    def _fail(self, path: KeyPath, message: str, hint: str | None, *, of_key: bool = False) -> NoReturn:
        raise GrooveError(message, hint=hint, place=self.source.place(path, of_key=of_key)) from None

    def _group(self, path: KeyPath, value: Any, fields: Sequence[str] | None = None) -> dict[str, Any]:
        if not isinstance(value, dict):
            what = f"'{path[-1]}' needs" if path else "a groove file needs"
            self._fail(
                path, f"{what} fields of its own", "write fields below it, indented, each with a value"
            )
        if fields is None:
            fields = _FIELDS[str(path[-1]) if path else ""]
        for key in value:
            if key not in fields:
                self._fail(
                    (*path, key),
                    f"there is no field '{key}' here",
                    did_you_mean(key, fields),
                    of_key=True,
                )
        return value

    def _text(self, path: KeyPath, value: Any) -> str:
        if isinstance(value, (dict, list)) or value is None:
            self._fail(path, f"'{path[-1]}' needs a text", "write one value behind the colon")
        return str(value)

    def _word(self, path: KeyPath, value: Any, options: Iterable[str]) -> str:
        word = self._text(path, value)
        known = tuple(options)
        if word not in known:
            self._fail(
                path, f"'{word}' is not one of the words for '{_field(path)}'", did_you_mean(word, known)
            )
        return word

    def _number(self, path: KeyPath, value: Any, low: float, high: float) -> float:
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            self._fail(
                path, f"'{_field(path)}' needs a number", f"write a number from {low:g} to {high:g}"
            )
        if not low <= value <= high:
            self._fail(
                path, f"{value:g} does not fit '{_field(path)}'", f"from {low:g} to {high:g} is allowed"
            )
        return float(value)

    def _list(self, path: KeyPath, value: Any) -> list[Any]:
        items = value if isinstance(value, list) else [value]
        if not items or len(items) > MAX_CHOICES:
            self._fail(
                path,
                f"'{_field(path)}' needs a list of 1 to {MAX_CHOICES}",
                "write one line with a - for each",
            )
        return items

    # The head

    def _meters(self, top: dict[str, Any]) -> tuple[Meter, ...]:
        if top.get("meters") == "any":
            for part in ("bass", "comping"):
                if part in top:
                    self._fail(
                        (part,),
                        f"a feel for any meter has no {part}",
                        "name the meters, such as 'meters: [4/4]'",
                        of_key=True,
                    )
            return ()
        found: list[Meter] = []
        for index, text in enumerate(self._list(("meters",), top.get("meters", ["4/4"]))):
            try:
                found.append(Meter.parse(self._text(("meters", index), text)))
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

    def _beats(self, top: dict[str, Any]) -> tuple[Fraction, ...]:
        if not self.meters:
            return (Fraction(1), Fraction(1))
        meter = self.meters[0]
        if "grouping" in top:
            text = self._text(("grouping",), top["grouping"])
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

    def _tempo(self, top: dict[str, Any]) -> tuple[float, float, float]:
        fields = self._group(("tempo",), top.get("tempo", {}))
        low = self._number(("tempo", "from"), fields.get("from", 40), 20, 400)
        high = self._number(("tempo", "to"), fields.get("to", 300), 20, 400)
        if low > high:
            self._fail(
                ("tempo",), f"the tempo runs from {low:g} to {high:g}", "the lower number comes first"
            )
        middle = USUAL_TEMPO if low <= USUAL_TEMPO <= high else (low + high) / 2
        usual = self._number(("tempo", "usual"), fields.get("usual", middle), low, high)
        return low, high, usual

    def _swing(self, top: dict[str, Any]) -> float | None:
        value = top.get("swing", "none")
        if isinstance(value, str):
            if value.strip() not in ("none", "by tempo"):
                self._fail(
                    ("swing",),
                    f"'{value}' is no swing",
                    "write none, by tempo, or a ratio: 2 for triplet swing, 1.5 for less",
                )
            return None if value.strip() == "by tempo" else 1.0
        return self._number(("swing",), value, 1.0, MAX_SWING_RATIO)

    # Parts

    def _mix(self, part: str, group: dict[str, Any], *, level: float, room: float) -> Mix:
        return Mix(
            level_db=self._number((part, "level"), group.get("level", level), -60, 12),
            pan=self._number((part, "pan"), group.get("pan", 0.0), -1, 1),
            room=self._number((part, "room"), group.get("room", room), 0, 1),
        )

    def _touch(self, part: str, group: dict[str, Any], timing_ms: float, velocity: float) -> Touch:
        looseness = self._number((part, "looseness"), group.get("looseness", 1.0), 0, 3)
        behind = self._number((part, "behind"), group.get("behind", 0.0), -30, 30)
        return Touch(timing_ms * looseness, velocity * looseness, behind)

    def _drums(self, value: Any) -> DrumRules:
        group = self._group(("drums",), value)
        kit = self._word(("drums", "kit"), group.get("kit", "standard"), KIT_PROGRAMS)
        if not isinstance(group.get("layers"), dict) or not group["layers"]:
            self._fail(
                ("drums", "layers"),
                "the drums need layers",
                "write 'layers:' and below it for example 'time:'",
            )
        layers = []
        for layer in group["layers"]:
            path: KeyPath = ("drums", "layers", layer)
            choices = self._list(path, group["layers"][layer])
            layers.append(tuple(self._drum_choice((*path, i), c, kit) for i, c in enumerate(choices)))
        fills = group.get("fills", [])
        path = ("drums", "fills")
        read = [
            self._drum_choice((*path, i), c, kit)
            for i, c in enumerate(self._list(path, fills) if fills else [])
        ]
        for index, fill in enumerate(read):
            if fill.length != 1 or not any(fill.bars[0].values()):
                self._fail(
                    (*path, index),
                    "a fill is one bar with at least one stroke",
                    "take the other bars away",
                )
        crash = group.get("crash")
        return DrumRules(
            kit=kit,
            layers=tuple(layers),
            fills=tuple(read),
            crash=None if crash is None else self._word(("drums", "crash"), crash, VOICES),
            crash_loudness=int(
                self._number(("drums", "crash loudness"), group.get("crash loudness", 7), 1, 9)
            ),
            mix=self._mix("drums", group, level=-4.0, room=0.18),
            touch=self._touch("drums", group, 4.0, 5.0),
        )

    def _drum_choice(self, path: KeyPath, value: Any, kit: str) -> DrumChoice:
        voices = VOICES if kit == "brush" else [name for name in VOICES if name not in BRUSH_ONLY]
        group = self._group(path, value, ("weight", *voices))
        weight = self._number((*path, "weight"), group.get("weight", 1), 0.01, 1000)
        read = {
            voice: self._bars((*path, voice), text, DRUM_SIGNS)
            for voice, text in group.items()
            if voice != "weight"
        }
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

    def _bass(self, value: Any) -> BassRules:
        group = self._group(("bass",), value)
        if ("walking" in group) == ("patterns" in group):
            self._fail(
                ("bass",),
                "the bass needs either 'walking' or 'patterns'",
                "write 'walking: {skips: 0.1}'",
            )
        walk = None
        if "walking" in group:
            fields = self._group(("bass", "walking"), group["walking"] or {})
            walk = WalkRules(self._number(("bass", "walking", "skips"), fields.get("skips", 0.1), 0, 1))
        return BassRules(
            instrument=self._word(("bass", "instrument"), group.get("instrument", BASSES[0]), BASSES),
            walk=walk,
            patterns=self._patterns(("bass", "patterns"), group["patterns"], BASS_SIGNS)
            if walk is None
            else (),
            centre=int(self._number(("bass", "centre"), group.get("centre", 38), 34, 42)),
            mix=self._mix("bass", group, level=-2.0, room=0.06),
            touch=self._touch("bass", group, 4.0, 4.0),
        )

    def _comping(self, value: Any) -> CompingRules:
        group = self._group(("comping",), value)
        if ("rhythms" in group) == ("picking" in group):
            self._fail(
                ("comping",),
                "the comping needs either 'rhythms' or 'picking'",
                "write 'rhythms:' and patterns",
            )
        picked = "picking" in group
        kind, signs = ("picking", PICKING_SIGNS) if picked else ("rhythms", COMPING_SIGNS)
        path: KeyPath = ("comping", "voicings")
        styles = self._list(path, group.get("voicings", ["close"]))
        return CompingRules(
            instrument=self._word(
                ("comping", "instrument"), group.get("instrument", "piano"), INSTRUMENTS
            ),
            voicings=tuple(
                self._word((*path, i), style, VOICING_STYLES) for i, style in enumerate(styles)
            ),
            patterns=self._patterns(("comping", kind), group[kind], signs),
            picked=picked,
            centre=int(self._number(("comping", "centre"), group.get("centre", 60), 48, 72)),
            strum_ms=self._number(("comping", "strum"), group.get("strum", 0.0), 0, 40),
            mix=self._mix("comping", group, level=-7.0, room=0.2),
            touch=self._touch("comping", group, 5.0, 5.0),
        )

    def _patterns(self, path: KeyPath, value: Any, signs: str) -> tuple[PatternChoice, ...]:
        if isinstance(value, (str, int, float)):
            return (PatternChoice(1.0, self._bars(path, value, signs)),)
        if not isinstance(value, dict) or not 0 < len(value) <= MAX_CHOICES:
            self._fail(
                path,
                f"'{_field(path)}' needs patterns",
                'write each as "7 .4 . .": 2 (the number is its weight)',
            )
        found = []
        for text, weight in value.items():
            number = self._number((*path, text), weight, 0.01, 1000)
            found.append(PatternChoice(number, self._bars((*path, text), text, signs, of_key=True)))
        return tuple(found)

    def _bars(
        self, path: KeyPath, value: Any, signs: str, *, of_key: bool = False
    ) -> tuple[StepBar, ...]:
        text = self._text(path, value)
        try:
            bars = parse_bars(text, self.beats, signs)
        except PatternError as fault:
            span = (self.source.keys if of_key else self.source.values)[path]
            quoted = self.source.text[span.start : span.start + 1] in ("'", '"')
            place = self.source.place_at(span.start + fault.offset + quoted)
            voice = "" if of_key else f"'{_field(path)}': "
            raise GrooveError(f"{voice}{fault}", hint=fault.hint, place=place) from None
        if len(bars) > MAX_PATTERN_BARS:
            self._fail(
                path, f"the pattern has {len(bars)} bars", f"at most {MAX_PATTERN_BARS} are allowed"
            )
        return bars


def _field(path: KeyPath) -> str:
    words = [str(part) for part in path if isinstance(part, str)]
    return words[-1] if words else "the file"


def stem_of(path: Path) -> str:
    """The name that a groove file gives its feel."""
    return path.stem.replace("_", "-")
