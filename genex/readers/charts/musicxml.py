"""Charts in MusicXML [published: MusicXML 4.0, W3C Community Group]: harmony, bars and their signs.

Read with the standard library: of some hundreds of elements a chart needs about thirty, and music21,
which reads them all, takes longer to load than a lesson to build. The tests read the same files by it.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

from genex.errors import ChartFileError, NotationError, Place
from genex.exact import Fraction
from genex.plain_text import clean
from genex.readers.charts.foreign_chart import (
    MAX_PASSES,
    ForeignBar,
    ForeignChart,
    ForeignNote,
    cut,
    quoted,
)
from genex.readers.charts.form_signs import add_sign, sign_in_words
from genex.readers.charts.symbols import add_symbol, is_symbol
from genex.readers.charts.xml_tree import Element, read_tree
from genex.score import PUSH_BEATS, Meter
from genex.theory import STEPS, Key, NoteName, Pitch, is_no_chord

KINDS = {
    "major": "", "minor": "m", "dominant": "7", "major-seventh": "maj7", "minor-seventh": "m7",
    "diminished": "dim", "augmented": "aug", "half-diminished": "m7b5", "diminished-seventh": "dim7",
    "augmented-seventh": "7#5", "major-minor": "m(maj7)", "major-sixth": "6", "minor-sixth": "m6",
    "dominant-ninth": "9", "major-ninth": "maj9", "minor-ninth": "m9", "dominant-11th": "11",
    "major-11th": "maj11", "minor-11th": "m11", "dominant-13th": "13", "major-13th": "maj13",
    "minor-13th": "m13", "suspended-second": "sus2", "suspended-fourth": "sus4", "power": "5",
}  # fmt: skip
"""How a recipe writes each kind [published: MusicXML 4.0, simple type kind-value]."""

_NOTE_BEATS = {
    "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1),
    "eighth": Fraction(1, 2), "16th": Fraction(1, 4),
}  # fmt: skip
_SIGNS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}
_MODES = ("major", "minor", "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian")
_JUMPS = {
    "dacapo": "D.C.", "dalsegno": "D.S.", "tocoda": "To Coda", "fine": "Fine", "segno": "Segno",
    "coda": "Coda",
}  # fmt: skip
"""What a player does [published: MusicXML 4.0, element sound], as a recipe writes it."""
_FIFTHS = "F C G D A E B".split()


def read_musicxml(data: bytes, file: str) -> ForeignChart:
    """The chart of a score in parts. Raises ChartFileError with line and column."""
    root = read_tree(data, file)
    if root.tag != "score-partwise":
        hint = "export the chart as MusicXML in parts (score-partwise)"
        raise ChartFileError(f"the file holds <{cut(root.tag)}>, no score in parts", hint=hint,
                             place=root.place)  # fmt: skip
    chart = ForeignChart(file, "MusicXML")
    _heading(root, chart)
    first, *others = _parts_with_chords(root, chart)
    PartReader(chart).read(first)
    for other in others:
        beside = ForeignChart(file, "MusicXML")
        PartReader(beside).read(other)
        if _harmony_of(beside) != _harmony_of(chart):
            raise ChartFileError(
                "two parts of the score have chord symbols that differ",
                hint="leave them in one part only, and export it again",
                place=other.place,
            )
    return chart


def _harmony_of(chart: ForeignChart) -> list[list[tuple[str, Fraction]]]:
    return [[(one.text, one.onset_beats) for one in bar.symbols] for bar in chart.bars]


def _heading(root: Element, chart: ForeignChart) -> None:
    title = root.said("work", "work-title") or root.said("movement-title")
    for credit in root.all("credit"):
        if not title and credit.said("credit-type") in ("", "title"):
            title = credit.said("credit-words")
    chart.title = " ".join(clean(title).split())
    for creator in root.walk("creator"):
        if creator.text.strip():
            kind = creator.attributes.get("type", "creator")
            chart.credits.append(f"{cut(kind)}: {cut(creator.text)}")
    for rights in root.walk("rights"):
        chart.credits.append(f"rights: {cut(rights.text)}")


def _parts_with_chords(root: Element, chart: ForeignChart) -> list[Element]:
    """The parts that have chord symbols, or the first one. The others are listed."""
    parts = root.all("part")
    if not any(part.all("measure") for part in parts):
        raise ChartFileError("the score has no bars", hint="export the chart again", place=root.place)
    found = [part for part in parts if next(part.walk("harmony"), None) is not None] or parts[:1]
    names = {one.attributes.get("id"): one.said("part-name") for one in root.walk("score-part")}
    for part in parts:
        if part not in found:
            name = names.get(part.attributes.get("id")) or part.attributes.get("id", "")
            chart.leave(f"the part {quoted(name)}", part.place)
    return found


@dataclass
class PartReader:
    """Reads the measures of a part one by one. Who wants its notes overrides ``note``."""

    chart: ForeignChart
    divisions: int = 1
    meter: Meter | None = None
    key: Key | None = None
    tempo: Fraction | None = None
    left: set[str] = field(default_factory=set)
    voice: tuple[str, str] | None = None

    def read(self, part: Element) -> None:
        for measure in part.all("measure"):
            self._measure(measure)

    def _measure(self, measure: Element) -> None:
        bar = ForeignBar(measure.place, self.meter or Meter(4, 4))
        bar.pickup = measure.attributes.get("implicit") == "yes"
        at = longest = Fraction(0)
        for child in measure.children:
            if child.tag == "attributes":
                self._attributes(child, bar)
            elif child.tag == "note":
                self.note(child, bar, at)
                if child.find("chord") is None and child.find("grace") is None:
                    at += self.duration(child)
            elif child.tag == "backup":
                at = max(Fraction(0), at - self.duration(child))
            elif child.tag == "forward":
                at += self.duration(child)
            elif child.tag == "harmony":
                self._harmony(child, bar, at)
            elif child.tag in ("direction", "sound"):
                self._direction(child, bar, at)
            elif child.tag == "barline":
                self._barline(child, bar)
            longest = max(longest, at)
        bar.length_beats = longest or bar.meter.bar_beats
        self.chart.add_bar(bar)

    def note(self, note: Element, bar: ForeignBar, at: Fraction) -> None:
        """What a note is read for, beyond its time; ``at`` is where the one before it ended.

        The melody is the first voice that has notes.
        """
        pitch = note.find("pitch")
        if note.find("grace") is not None:
            self._leave_once("grace notes", note)
        if pitch is None or note.find("grace") is not None or note.find("cue") is not None:
            return
        voice = note.said("voice") or "1", note.said("staff") or "1"
        self.voice = self.voice or voice
        if voice != self.voice:
            self._leave_once("notes of other voices than the first", note)
            return
        ties = any(tie.attributes.get("type") == "start" for tie in note.all("tie"))
        if note.find("chord") is not None and bar.notes:
            below = bar.notes[-1]
            pitches = sorted({*below.pitches, read_pitch(pitch)}, key=lambda one: one.midi)
            bar.notes[-1] = replace(below, pitches=tuple(pitches))
        elif (length := self.duration(note)) > 0:
            bar.notes.append(ForeignNote(at, length, (read_pitch(pitch),), ties))

    def _leave_once(self, what: str, element: Element) -> None:
        if what not in self.left:
            self.left.add(what)
            self.chart.leave(what, element.place)

    def duration(self, element: Element) -> Fraction:
        """Written length of a note, a backup or a forward in quarter notes."""
        return Fraction(_whole(element, "duration", most=1 << 24), self.divisions)

    def _attributes(self, element: Element, bar: ForeignBar) -> None:
        if element.find("divisions") is not None:
            self.divisions = max(1, _whole(element, "divisions", most=1 << 16))
        time = element.find("time")
        if time is not None:
            self.meter = self._time(time)
            bar.meter = self.meter
        key = element.find("key")
        if key is not None:
            read = self._key(key)
            if self.chart.key is None and not self.chart.bars:
                self.chart.key = read
            elif read != self.key:
                bar.key = read
            self.key = read
        if (transpose := element.find("transpose")) is not None:
            self.transpose(transpose)
        if element.find("measure-style", "measure-repeat") is not None:
            self.chart.leave("a sign that repeats the bars before", element.place)

    def transpose(self, element: Element) -> None:
        """What is done where the part sounds elsewhere than it is written."""
        self._leave_once(
            "the part is for a transposing instrument; its chords and notes are taken as written",
            element,
        )

    def _time(self, time: Element) -> Meter:
        beats = [one.text.strip() for one in time.all("beats")]
        units = [one.text.strip() for one in time.all("beat-type")]
        counts = [part for text in beats for part in text.split("+")]
        try:
            if not beats or len(set(units)) != 1 or not all(part.strip().isdecimal() for part in counts):
                raise NotationError("no plain meter")
            return Meter.parse(f"{sum(int(part) for part in counts)}/{units[0]}")
        except NotationError:
            said = " ".join(f"{a}/{b}" for a, b in zip(beats, units, strict=False)) or "free meter"
            self.chart.leave(f"the meter {quoted(said)}; its bars are taken for 4/4", time.place)
            return Meter(4, 4)

    def _key(self, key: Element) -> Key | None:
        fifths, mode = key.said("fifths"), key.said("mode") or "major"
        try:
            return _key_of(int(fifths[:4]), mode if mode in _MODES else "major")
        except (ValueError, NotationError):
            self.chart.leave(f"the key signature {quoted(fifths)}", key.place)
            return None

    def _harmony(self, harmony: Element, bar: ForeignBar, at: Fraction) -> None:
        place = harmony.place
        onset = at + Fraction(_whole(harmony, "offset", most=1 << 20), self.divisions)
        if len(harmony.all("root")) > 1 or harmony.all("function") or harmony.all("numeral"):
            self.chart.leave("a harmony written as a function or with several roots", place)
            return
        kind = harmony.said("kind")
        if kind == "none":
            add_symbol(self.chart, bar, "N.C.", max(-PUSH_BEATS, onset), place)
            return
        text = _symbol(harmony, kind)
        if text is None:
            self.chart.leave(f"a harmony of the kind {quoted(kind or '?')}", place)
            return
        for frame in harmony.all("frame"):
            self._leave_once("the chord diagrams", frame)
        add_symbol(self.chart, bar, text, max(-PUSH_BEATS, onset), place)

    def _direction(self, element: Element, bar: ForeignBar, at: Fraction) -> None:
        for rehearsal in element.walk("rehearsal"):
            if rehearsal.text.strip():
                bar.section = " ".join(clean(rehearsal.text).split())
        marks = [child for kind in element.walk("direction-type") for child in kind.children]
        sounds = [element] if element.tag == "sound" else element.all("sound")
        leaves = any("tocoda" in sound.attributes for sound in sounds)
        for mark in marks:
            if mark.tag in ("segno", "coda"):
                add_sign(bar, "To Coda" if leaves else mark.tag.capitalize(), mark.place)
            elif mark.tag == "words" and (name := sign_in_words(mark.text)) is not None:
                add_sign(bar, "To Coda" if leaves and name == "Coda" else name, mark.place)
            elif mark.tag == "words" and is_no_chord(mark.text):
                add_symbol(self.chart, bar, mark.text, at, mark.place)
            elif mark.tag == "words" and mark.text.strip():
                self.chart.leave(f"the words {quoted(mark.text)}", mark.place)
            elif mark.tag == "metronome":
                self._metronome(mark, bar, at)
        for sound in sounds:
            self._sound(sound, bar, at)

    def _metronome(self, mark: Element, bar: ForeignBar, at: Fraction) -> None:
        beats = _NOTE_BEATS.get(mark.said("beat-unit"))
        rate = _number(mark.said("per-minute"))
        if beats is None or rate is None or len(mark.all("beat-unit")) > 1:
            self.chart.leave("a metronome mark without a plain number", mark.place)
            return
        dots = len(mark.all("beat-unit-dot"))
        self._tempo(rate * beats * (2 - Fraction(1, 2**dots)), bar, at, mark.place)

    def _sound(self, sound: Element, bar: ForeignBar, at: Fraction) -> None:
        rate = _number(sound.attributes.get("tempo", ""))
        if rate is not None:
            self._tempo(rate, bar, at, sound.place)
        for attribute, name in _JUMPS.items():
            if attribute in sound.attributes:
                add_sign(bar, name, sound.place)

    def _tempo(self, quarters: Fraction, bar: ForeignBar, at: Fraction, place: Place) -> None:
        if self.chart.tempo is None and not at and not self.chart.bars:
            self.chart.tempo = self.tempo = quarters
        elif quarters != self.tempo and not at and self.chart.tempo is not None:
            bar.tempo = self.tempo = quarters
        elif quarters != self.tempo:
            self.chart.leave(f"the change of tempo to {float(quarters):g} quarter notes a minute", place)

    def _barline(self, line: Element, bar: ForeignBar) -> None:
        ending = line.find("ending")
        if ending is not None and ending.attributes.get("type") == "start":
            numbers = ending.attributes.get("number", "").replace(" ", ",").split(",")
            bar.ending = tuple(int(one[:2]) for one in numbers if one.isdecimal() and int(one[:2]) <= 16)
        elif ending is not None:
            bar.divides = True
        repeat = line.find("repeat")
        if repeat is not None and repeat.attributes.get("direction") == "forward":
            bar.opens = True
        elif repeat is not None:
            times = repeat.attributes.get("times", "2")
            bar.passes = (
                min(int(times[:3]), MAX_PASSES) if times.isdecimal() and int(times[:3]) > 1 else 2
            )
        if line.said("bar-style") in ("light-light", "light-heavy"):
            bar.divides = True
        for sign in ("segno", "coda"):
            if line.find(sign) is not None:
                add_sign(bar, sign.capitalize(), line.place)
        if line.find("fermata") is not None:
            self.chart.leave("the sign fermata", line.place)


def _symbol(harmony: Element, kind: str) -> str | None:
    """The symbol of a harmony; None where there is no way to write it."""
    root = _note(harmony.find("root"), "root")
    if root is None:
        return None
    if kind not in KINDS:
        # An unusual kind may be printed by a symbol that can be read.
        printed = harmony.find("kind")
        text = "" if printed is None else printed.attributes.get("text", "")
        return f"{root}{text}" if text and is_symbol(f"{root}{text}") else None
    changes = []
    for degree in harmony.all("degree"):
        value, how = degree.said("degree-value"), degree.said("degree-type")
        alter = whole_number(degree.said("degree-alter"))
        if not value.isdecimal() or alter is None:
            return None
        if how == "subtract":
            changes.append(f"no{value}")
        elif how == "add" and not alter and value != "7":
            changes.append(f"add{value}")
        elif how == "add" and value == "7":
            changes.append({0: "7", 1: "maj7"}.get(alter, "?"))
        elif how == "alter" and value == "3" and alter == 1:
            changes.append("sus4")
        elif (
            how == "alter" and value == "3" and alter == -1 and kind in ("dominant", "augmented-seventh")
        ):
            changes.append("?")
        else:
            changes.append(f"{_SIGNS.get(alter, '?')}{value}")
    inside = f"({','.join(changes)})" if changes else ""
    bass = _note(harmony.find("bass"), "bass")
    return f"{root}{KINDS[kind]}{inside}{f'/{bass}' if bass else ''}"


def _note(element: Element | None, name: str) -> str | None:
    if element is None:
        return None
    step, alter = element.said(f"{name}-step"), whole_number(element.said(f"{name}-alter"))
    return f"{step}{_SIGNS[alter]}" if step in tuple("ABCDEFG") and alter in _SIGNS else None


def read_pitch(element: Element) -> Pitch:
    """A pitch as it is written. Raises ChartFileError."""
    step, alter = element.said("step"), whole_number(element.said("alter")) or 0
    octave = element.said("octave")
    if step not in tuple(STEPS) or abs(alter) > 2 or not octave.removeprefix("-").isdecimal():
        raise ChartFileError(
            "this is no pitch", hint="export the file again as MusicXML", place=element.place
        )
    return Pitch(NoteName(STEPS.index(step), alter), int(octave[:2]))


def whole_number(text: str) -> int | None:
    """``-1`` or ``1.0``, decimals as the format allows; 0 for no text, None for what is not whole."""
    number = _number(text or "0")
    return int(number) if number is not None and number == int(number) else None


def _number(text: str) -> Fraction | None:
    """A plain decimal number with at most six digits on each side."""
    plain = text.strip()
    whole, _, part = plain.removeprefix("-").partition(".")
    if not (whole.isdecimal() and (part or "0").isdecimal() and len(whole) < 7):
        return None
    value = Fraction(int(whole + part[:6]), 10 ** len(part[:6]))
    return -value if plain.startswith("-") else value


def _whole(element: Element, tag: str, *, most: int) -> int:
    found = element.find(tag)
    if found is None:
        return 0
    number = _number(found.text)
    if number is None or abs(number) > most:
        raise ChartFileError(
            f"'{cut(found.text)}' is no {tag}", hint="export the chart again", place=found.place
        )
    return int(number)


def _key_of(fifths: int, mode: str) -> Key:
    """The key of a mode that has a signature."""
    for letter in _FIFTHS:
        for sign in ("", "b", "#"):
            try:
                key = Key(NoteName.parse(letter + sign), mode)  # type: ignore[arg-type]
            except NotationError:
                continue
            if key.fifths == fifths:
                return key
    raise NotationError(f"no key has {fifths} accidentals")
