"""Score -> guitar tab in plain text.

Every line of tab reads from top to bottom: bar numbers; chord symbols where they change (no such
row in a piece without chords); note values as letters; the strings, highest first; left-hand
fingers; what the hand does (rolls and shifts); and, if wished, chord degrees. Columns are
proportional to time within a line. Strings, frets and fingers are those of the notes' ``fretting``;
nothing is worked out here.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from genex.errors import InputError
from genex.export.held_grips import hand_changes
from genex.export.note_names import chord_name, key_words, pitch_name
from genex.export.page_bars import measures
from genex.export.phrases import part_name, words
from genex.export.tab_layout import System, TabStyle, lay_out
from genex.export.tab_signs import Marks
from genex.export.tempo_words import tempo_words
from genex.export.under_chords import shape_chord
from genex.score import BASE_VALUES, Note, Part, Role, Score, Stroke, Timeline

MIN_WIDTH = 40
_GUIDE = "guide"


def tab_text(
    score: Score,
    part_names: Sequence[str] | None = None,
    *,
    width: int = 80,
    show_degrees: bool = False,
    show_fingers: bool = True,
    language: str = "en",
) -> str:
    """Tab of the named parts, or of all lead parts, at most ``width`` columns wide.

    Raises InputError for a page narrower than 40 columns, KeyError for an unknown part and
    ValueError for a part with notes that lie on no string.
    """
    if width < MIN_WIDTH:
        raise InputError(
            f"tab does not fit into {width} columns", hint=f"give it at least {MIN_WIDTH} columns"
        )
    parts = score.lead_parts if part_names is None else [score.part(name) for name in part_names]
    style = TabStyle(width, show_degrees, show_fingers, language=language)
    phrases = words(language)
    return "\n\n".join(_part_text(score, part, style, phrases) for part in _together(parts))


def _together(parts: Iterable[Part]) -> list[Part]:
    """The parts, the voices of a guide-tone line as one: they are held together, as double stops."""
    found: list[Part] = []
    for part in parts:
        if part.role is Role.GUIDE and found and found[-1].role is Role.GUIDE:
            other = found.pop()
            found.append(replace(other, name=_GUIDE, notes=_merged(other, part)))
        else:
            found.append(part)
    return found


def _merged(upper: Part, lower: Part) -> tuple[Note, ...]:
    return tuple(sorted((*upper.notes, *lower.notes), key=lambda note: (note.onset_beats, -note.midi)))


def _part_text(score: Score, part: Part, style: TabStyle, phrases: Mapping[str, str]) -> str:
    if any(note.fretting is None for note in part.notes):
        raise ValueError(f"{part.name} has notes without a place on the neck")
    ways = {note.stroke for note in part.notes}
    changes = hand_changes(part) if part.chordal else None
    style = replace(style, changes=changes, show_strokes=Stroke.UP in ways)
    bars = [
        measure
        for measure in measures(part, score.timeline)
        if not measure.bar.is_pickup or any(event.notes for event in measure.events)
    ]
    systems = lay_out(bars, part.strings, score.timeline, style)
    lines = [*_header(score, part, style.width, phrases), *_legend(systems, style, phrases)]
    for system in systems:
        lines.append("")
        lines += [line.rstrip() for line in system.lines]
    return "\n".join(lines) + "\n"


def _header(score: Score, part: Part, width: int, phrases: Mapping[str, str]) -> list[str]:
    timeline = score.timeline
    tuning = " ".join(pitch_name(pitch, phrases) for pitch in reversed(part.strings))
    facts = [
        f"{phrases['key']}: {key_words(timeline.key, phrases)}",
        f"{phrases['tempo']}: {tempo_words(timeline.tempo, timeline.meter, phrases)}",
        f"{phrases['meter']}: {timeline.meter}",
        f"{phrases['feel']}: {score.feel}",
    ]
    tuned = phrases["tab_tuning"].format(pitches=tuning, last=len(part.strings))
    if part.capo:
        tuned += f", {phrases['capo_counted'].format(capo=part.capo)}"
    name = part_name(part.name, phrases)
    lines = textwrap.wrap(f"{score.title}: {name}", width) or [name]
    lines += [*_wrap_facts(facts, width), *textwrap.wrap(tuned, width)]
    return lines + (textwrap.wrap(_shapes(timeline, part.capo, phrases), width) if part.capo else [])


def _shapes(timeline: Timeline, capo: int, phrases: Mapping[str, str]) -> str:
    """The shape of every chord, as it is called without the capo; empty without chords."""
    shapes = {
        chord_name(span.chord, phrases): chord_name(shape_chord(span.chord, timeline.key, capo), phrases)
        for span in timeline.chords
        if span.chord is not None
    }
    pairs = [phrases["capo_held_for"].format(shape=held, chord=name) for name, held in shapes.items()]
    return phrases["capo_held"].format(pairs=", ".join(pairs)) if pairs else ""


def _wrap_facts(facts: Sequence[str], width: int) -> list[str]:
    """Facts side by side, broken between them; inside one only where it is wider than the page."""
    lines: list[str] = []
    for fact in facts:
        if lines and len(lines[-1]) + 3 + len(fact) <= width:
            lines[-1] += f"   {fact}"
        else:
            lines += textwrap.wrap(fact, width)
    return lines


_LEGEND = {
    Marks.DOT: "tab_dot",
    Marks.TRIPLET: "tab_triplet",
    Marks.REST: "tab_rest",
    Marks.TIE: "tab_tie",
    Marks.FINGERS: "tab_fingers",
    Marks.PAIRS: "tab_pairs",
    Marks.CHORDS: "tab_chords",
    Marks.STROKES: "tab_strokes",
    Marks.PICKED: "tab_picked",
    Marks.ROLL: "tab_roll",
    Marks.SHIFT: "tab_shift",
    Marks.SLIDE: "tab_slide",
    Marks.LEGATO: "tab_legato",
    Marks.BEND: "tab_bend",
    Marks.RELEASE: "tab_release",
    Marks.VIBRATO: "tab_vibrato",
    Marks.RINGS: "tab_rings",
    Marks.DEAD: "tab_dead",
    Marks.ACCENT: "tab_accent",
    Marks.STACCATO: "tab_staccato",
    Marks.GHOST: "tab_ghost",
    Marks.DEGREES: "tab_degrees",
    Marks.COUNT: "tab_count",
    Marks.PUSH: "pushed",
    Marks.WORDS: "tab_words",
}


def _legend(systems: Sequence[System], style: TabStyle, phrases: Mapping[str, str]) -> list[str]:
    """What the signs that really occur mean."""
    written = {letter for system in systems for letter in system.letters}
    values = [
        f"{base.letter} {phrases[base.type_name]}" for base in BASE_VALUES if base.letter in written
    ]
    used = {mark for system in systems for mark in system.marks}
    if Marks.WORDS in used:
        used.discard(Marks.COUNT)
    facts = [f"{phrases['tab_values']}: {', '.join(values)}"] if values else []
    facts += [phrases[key] for mark, key in _LEGEND.items() if mark in used]
    return _wrap_facts(facts, style.width)
