"""A line in words, bar by bar, for whoever does not see it: read aloud, or by a screen reader.

    bar 1, C major seventh: eighth: second finger, fifth string, fret three, C, root; open fourth
    string, D, ninth; quarter: …

A note value holds within its bar until another one is named; a bar names its chord, and each further
one with the beat on which it begins. The order within a note, finger, string, fret, name, is that in
which the hand needs them [common practice of lessons told by word of mouth].
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import replace

from genex.exact import Fraction
from genex.export.neck_text import shape_heading
from genex.export.notation import Written, written_measure
from genex.export.note_names import key_words, note_name
from genex.export.page_bars import Measure, measures
from genex.export.phrases import capitalised, listed, named, sentence, words
from genex.export.tempo_words import MARKS, TempoSigns, plain_number
from genex.fretboard import HandMove, Shape
from genex.score import (
    Articulation,
    Bar,
    ChordSpan,
    Fretting,
    Meter,
    Note,
    NoteValue,
    Part,
    Timeline,
)
from genex.theory import STEPS, Chord, Degree, Key, NoteName, describe

_SIGNS = {"♭♭": "double_flat", "♯♯": "double_sharp", "♭": "flat", "♯": "sharp"}
"""Accidentals, which screen readers skip or name as characters."""
_SIGN = re.compile("♭♭|♯♯|♭|♯")
_DEGREE = re.compile(r"(?<!\w)(♭♭|♯♯|♭|♯)(\d+)")
_NEEDS_A_SPACE = re.compile(r"(?<=[A-Goóeéiaál])(?=[♭♯])|(?<=[♭♯])(?=\d)")
"""Behind a letter or a syllable, and before a degree."""

_PART_OF_A_SYMBOL = re.compile(r"maj|dim|aug|sus|add|alt|no|m|b|#|\d+")
_SIGN_OF_A_SYMBOL = {"b": "flat", "#": "sharp"}

_TEMPO_WORDS = {"rit.": "say_ritardando", "a tempo": "say_a_tempo"}

_OF_FIFTHS = {-1: "lowered", 1: "augmented"}
_OF_THIRDS = {-2: "diminished", -1: "minor", 0: "major", 1: "augmented"}
"""Qualities by alteration of the major scale: of octaves, fourths and fifths, and of all others
[common practice]."""
_ALTERED = {-2: "double_flat", -1: "flat", 1: "sharp", 2: "double_sharp"}


def signs_in_words(text: str, phrases: Mapping[str, str]) -> str:
    """Text whose accidentals are words: ``B♭ (♭7)`` becomes ``B flat (flat 7)``; where the language has
    it so, ``si bemol (7 bemol)``."""

    def degree(found: re.Match[str]) -> str:
        return phrases[f"{_SIGNS[found[1]]}_degree"].format(degree=found[2])

    spaced = _NEEDS_A_SPACE.sub(" ", _DEGREE.sub(degree, text))
    return _SIGN.sub(lambda sign: phrases[_SIGNS[sign[0]]], spaced)


def name_in_words(name: NoteName, phrases: Mapping[str, str]) -> str:
    """``B flat``, ``Fis``, ``si bemolle``: syllables have small letters within a sentence."""
    if phrases["note_names"] == "german":
        return note_name(name, phrases)
    altered = _ALTERED.get(name.alter)
    letter = STEPS[name.step]
    if phrases["note_names"] == "solfege":
        letter = phrases["syllables"].split()[name.step].lower()
    return f"{letter} {phrases[altered]}" if altered else letter


def key_in_words(key: Key, phrases: Mapping[str, str]) -> str:
    """``B flat major``, ``h-Moll``, ``si bemolle maggiore``."""
    if phrases["note_names"] == "german":
        return key_words(key, phrases)
    return f"{name_in_words(key.tonic, phrases)} {phrases[key.mode]}"


def degree_in_words(degree: Degree, phrases: Mapping[str, str]) -> str:
    """``root``, ``flat seventh``; where the language names intervals so, ``kleine Septime``."""
    if degree == Degree(1):
        return phrases["root"]
    ordinal = listed(phrases, "ordinals", degree.number)
    qualities = _OF_FIFTHS if (degree.number - 1) % 7 in (0, 3, 4) else _OF_THIRDS
    if quality := qualities.get(degree.alter):
        return phrases[f"interval_{quality}"].format(degree=ordinal)
    altered = _ALTERED.get(degree.alter)
    return phrases[f"{altered}_degree"].format(degree=ordinal) if altered else ordinal


def type_names(chord: Chord, phrases: Mapping[str, str]) -> tuple[str, ...]:
    """What a chord is called without its root: ``major seventh``, and its other names.

    In English these are names of the table of qualities. In other languages its symbol is read out,
    sign by sign, as musicians do: ``menor siete bemol cinco`` [common practice].
    """
    if phrases["language"] == "en":
        return describe(chord).names
    told = [_read_out(part, phrases) for part in _PART_OF_A_SYMBOL.findall(chord.reading.text)]
    name = " ".join(told) or phrases["chord_major"]
    if chord.has_slash:
        name = phrases["over_bass"].format(chord=name, bass=name_in_words(chord.bass, phrases))
    return (name,)


def _read_out(part: str, phrases: Mapping[str, str]) -> str:
    if part.isdigit():
        return listed(phrases, "numbers", int(part))
    return phrases[_SIGN_OF_A_SYMBOL.get(part, f"chord_{part}")]


def chord_in_words(chord: Chord | None, phrases: Mapping[str, str]) -> str:
    """``C major seventh``, ``A minor seventh over G``."""
    if chord is None:
        return phrases["no_chord"]
    above = replace(chord, bass=chord.root)  # whose name says nothing of the bass
    told = f"{name_in_words(chord.root, phrases)} {type_names(above, phrases)[0]}"
    if not chord.has_slash:
        return told
    return phrases["over_bass"].format(chord=told, bass=name_in_words(chord.bass, phrases))


def place_in_words(note: Note, phrases: Mapping[str, str]) -> str:
    """``second finger, fifth string, fret three, C``: whatever of it a note has."""
    told = [] if note.fretting is None else _place_in_words(note.fretting, phrases)
    if note.articulation is Articulation.DEAD:
        return ", ".join((phrases["say_dead"], *told))
    told.append(name_in_words(note.pitch.name, phrases))
    return ", ".join(told)


def _place_in_words(place: Fretting, phrases: Mapping[str, str]) -> list[str]:
    string = listed(phrases, "string_ordinals", place.string)
    if place.fret == 0:
        return [phrases["say_open"].format(string=string)]
    told = []
    if place.finger:
        finger = listed(phrases, "finger_ordinals", place.finger)
        told.append(phrases["say_finger"].format(finger=finger))
    fret = listed(phrases, "numbers", place.fret)
    return [*told, phrases["say_string"].format(string=string), phrases["say_fret"].format(fret=fret)]


def shape_in_words(shape: Shape, language: str = "en") -> str:
    """``E form, 8th position: sixth string, fret eight, second finger, root; …``, up the strings."""
    phrases = words(language)
    told = []
    for note in sorted(shape.notes, key=lambda note: (-note.string, note.fret)):
        place = Fretting(note.string, note.fret, note.finger)
        at = _place_in_words(place, phrases)
        told.append(", ".join((*at, degree_in_words(note.degree, phrases))))
    return f"{shape_heading(shape, language)}: {'; '.join(told)}"


def spoken_bars(part: Part, timeline: Timeline, language: str = "en") -> dict[int, tuple[str, str]]:
    """By its number, what a bar is called and what is played in it: ``bar 1, C major seventh`` and
    ``eighth: second finger, …``."""
    phrases = words(language)
    return {
        measure.bar.number: (
            bar_heading(measure.bar, timeline, phrases),
            _bar_text(measure, part, timeline, phrases),
        )
        for measure in measures(part, timeline)
    }


def bar_sentence(bar: tuple[str, str]) -> str:
    """One of ``spoken_bars`` as a sentence."""
    heading, text = bar
    return f"{capitalised(heading)}: {text}."


def bar_heading(bar: Bar, timeline: Timeline, phrases: Mapping[str, str]) -> str:
    """``bar 1, C major seventh``; without a chord where the piece has none.

    Key, meter and tempo are named where they are not those of the bar before.
    """
    if bar.is_pickup:
        return phrases["pickup"]
    told = [phrases["bar"].format(bars=bar.number)]
    if bar.onset_beats > 0:
        before = timeline.bar_before(bar)
        key = timeline.key_at(bar.onset_beats)
        if key != timeline.key_at(before.onset_beats):
            told.append(named(phrases["key"], key_in_words(key, phrases), phrases))
        if bar.meter != before.meter:
            told.append(named(phrases["meter"], bar.meter, phrases))
        change = timeline.tempo.change_at(bar.onset_beats)
        if change.onset_beats == bar.onset_beats and change != timeline.tempo.changes[0]:
            told.append(
                tempo_in_words(plain_number(change.mark(bar.meter), phrases), bar.meter, phrases)
            )
    if timeline.has_chords:
        span = timeline.chord_at(bar.onset_beats)
        told.append(_struck_chord(span, phrases, begins=span.onset_beats == bar.onset_beats))
    signs = TempoSigns(timeline)
    for at in signs.fermatas(bar):
        held = chord_in_words(timeline.chord_at(at).chord, phrases)
        told.append(phrases["say_fermata"].format(chord=held))
    told[1:1] = [phrases[_TEMPO_WORDS[name]] for name in signs.names(bar)]
    if bar.hits is not None:
        counts = ", ".join(hit.struck_count.replace("&", f" {phrases['and']}") for hit in bar.hits)
        told.append(phrases["say_hits" if bar.hits else "say_silent_band"].format(counts=counts))
    return ", ".join(told)


def tempo_in_words(count: str, meter: Meter, phrases: Mapping[str, str]) -> str:
    """``96 quarter notes a minute``; in compound meters dotted quarters."""
    return phrases["say_tempo"].format(count=count, value=phrases[MARKS[meter.mark_beats]])


def _struck_chord(span: ChordSpan, phrases: Mapping[str, str], *, begins: bool = True) -> str:
    """A chord, and whether it is pushed, where it begins."""
    chord = chord_in_words(span.chord, phrases)
    return f"{chord}, {phrases['say_pushed']}" if begins and span.push_beats else chord


def later_chords(
    bar: Bar, timeline: Timeline, phrases: Mapping[str, str]
) -> Iterator[tuple[Fraction, str]]:
    """The chords that begin within a bar, by onset: ``beat three, G dominant seventh``."""
    if not timeline.has_chords:
        return
    for span in timeline.chords_in(bar):
        if span.onset_beats > bar.onset_beats:
            beat = (span.onset_beats - bar.onset_beats) * bar.meter.unit / 4 + 1
            whole, rest = divmod(beat, 1)
            told = listed(phrases, "numbers", int(whole)) + (f" {phrases['and']}" if rest else "")
            chord = _struck_chord(span, phrases)
            yield span.onset_beats, f"{phrases['say_beat'].format(beat=told)}, {chord}"


def chart_in_words(timeline: Timeline, bars: Iterable[Bar], phrases: Mapping[str, str]) -> str:
    """The chords of bars, a sentence a bar."""
    told = []
    for bar in bars:
        chords = [bar_heading(bar, timeline, phrases)]
        chords += [text for _, text in later_chords(bar, timeline, phrases)]
        told.append(sentence(chords))
    return " ".join(told)


def _bar_text(measure: Measure, part: Part, timeline: Timeline, phrases: Mapping[str, str]) -> str:
    changes = list(later_chords(measure.bar, timeline, phrases))
    told: list[str] = []
    value: NoteValue | None = None
    rings = False
    for written in written_measure(measure, timeline.key):
        lead = ""
        while changes and changes[0][0] <= written.onset_beats:
            lead += f"{changes.pop(0)[1]}: "
        if written.value is None and written.is_rest:
            told.append(lead + phrases["say_silent_bar"])
            value = None
            continue
        if written.value is not None and written.value != value:
            lead += f"{value_in_words(written.value, phrases)}: "
        value = written.value
        told.append(lead + _event(written, part, phrases, rings=rings))
        rings = any(note.rings for note in written.notes)
    told += [text for _, text in changes]
    return "; ".join(told)


def value_in_words(value: NoteValue, phrases: Mapping[str, str]) -> str:
    """``dotted quarter``, ``triplet eighth``."""
    name = phrases[value.base.type_name]
    for _ in range(value.dots):
        name = phrases["say_dotted"].format(value=name)
    return phrases[f"say_tuplet_{value.tuplet}"].format(value=name) if value.tuplet > 1 else name


def _event(written: Written, part: Part, phrases: Mapping[str, str], *, rings: bool) -> str:
    """A note, chord or rest; ``rings`` if the one before it in the bar was told to ring."""
    if written.is_rest:
        return phrases["say_rest"]
    if not written.is_start:
        return phrases["say_held"]
    told = []
    first = written.notes[0]
    if first.fretting is not None and first.fretting.move is not HandMove.NONE:
        told.append(phrases["say_roll" if first.fretting.move is HandMove.ROLL else "say_shift"])
    if first.legato is not None:
        told.append(phrases[f"say_{first.legato.value}"])
    if first.slide is not None:
        told.append(phrases["say_slide_up" if first.slide.from_semitones < 0 else "say_slide_down"])
    if first.articulation in (Articulation.ACCENT, Articulation.STACCATO, Articulation.GHOST):
        told.append(phrases[f"say_{first.articulation.value}"])
    if len(written.notes) > 1:
        told.append(phrases["say_together"])
    for note in written.notes:
        told.append(place_in_words(note, phrases))
        told += _of_the_string(note, phrases)
        if note.degree is not None and not part.chordal and note.articulation is not Articulation.DEAD:
            told.append(degree_in_words(note.degree, phrases))
        if note.syllable:
            count = phrases["and"] if note.syllable == "&" else note.syllable.removesuffix("-")
            told.append(phrases["say_count"].format(count=count))
    if first.rings and not rings:
        told.append(phrases["say_rings"])
    return ", ".join(told)


def _of_the_string(note: Note, phrases: Mapping[str, str]) -> Iterator[str]:
    """What the string does while the note sounds: ``bent up a whole step and let back``."""
    if note.bend is not None:
        steps = note.bend.semitones
        told = phrases.get(f"say_bend_{steps}") or phrases["say_bend"].format(count=steps)
        yield f"{told} {phrases['say_release']}" if note.bend.releases else told
    if note.vibrato:
        yield phrases["say_vibrato"]


def rhythm_sentences(
    part: Part, timeline: Timeline, bars: Collection[Bar], phrases: Mapping[str, str]
) -> list[str]:
    """The values of bars alone: ``Bar 1: quarter, eighth rest, eighth.``"""
    return [
        _rhythm_sentence(measure, timeline, phrases)
        for measure in measures(part, timeline)
        if measure.bar in bars
    ]


def _rhythm_sentence(measure: Measure, timeline: Timeline, phrases: Mapping[str, str]) -> str:
    told = []
    for written in written_measure(measure, timeline.key):
        if written.value is None:
            told.append(phrases["say_silent_bar" if written.is_rest else "say_held"])
            continue
        value = value_in_words(written.value, phrases)
        if written.is_rest or not written.is_start:
            kind = "say_value_rest" if written.is_rest else "say_value_held"
            value = phrases[kind].format(value=value)
        told.append(value)
    heading = phrases["bar"].format(bars=measure.bar.number)
    return f"{capitalised(heading)}: {', '.join(told)}."
