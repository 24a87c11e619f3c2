"""Score -> what a handout says, as plain data for the templates."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from genex.exact import Fraction
from genex.export.diagrams import DiagramStyle, shape_svg, shape_width
from genex.export.handout.chart_block import chart_block
from genex.export.handout.grips_block import grips_block
from genex.export.handout.letterhead import letterhead_data
from genex.export.handout.neck_windows import Resolution, resolutions, with_windows
from genex.export.handout.pictures import (
    DIAGRAM_MARGIN,
    legible_unit,
    on_paper,
    svg_size,
    system_pictures,
)
from genex.export.handout.practice_notes import bars_text, ears, hand_sentences, tempo_ladder
from genex.export.handout.settings import (
    BLOCKS,
    LARGE_PT,
    LARGE_SHARE,
    MARGIN_MM,
    SETTINGS,
    Block,
    Drawn,
    HandoutSettings,
    Paper,
    Setting,
    text_width_mm,
)
from genex.export.handout.student_words import words_block
from genex.export.handout.system_breaks import Line, engrave_lines
from genex.export.handout.typeset import plain_text
from genex.export.handout.worksheet import aims_chart, key_block, questions_block, task_block
from genex.export.moved_sections import Moved, printed_at_one_fret
from genex.export.musicxml import parts_document
from genex.export.neck_text import shape_heading
from genex.export.note_names import chord_name, key_words, note_name
from genex.export.note_values import is_counted
from genex.export.phrases import part_name, sentence, words
from genex.export.repeat_signs import line_page, printed_once
from genex.export.resolving import resolving_notes
from genex.export.spoken import (
    bar_sentence,
    chord_in_words,
    shape_in_words,
    spoken_bars,
    type_names,
)
from genex.export.tempo_words import MARKS, first_and_last
from genex.export.typography import with_signs
from genex.fretboard import OPEN_FORM, Shape
from genex.readers.font import Font
from genex.score import Meter, Part, Role, Score, TempoMap
from genex.theory import Chord, Key, Pitch, distinct_chords

Json = dict[str, Any]

SHAPE_COLUMNS, LARGE_SHAPE_COLUMNS = 3, 1
CELL_GAP_MM = 5.0
LARGE_OTHER_FINGER = 8.4
"""With it the widest shape has 14 points on either paper."""
LARGEST_UNIT_MM = 0.185
"""A diagram's own unit on paper where there is room: a disc is then 3.7 mm wide."""

_PAPER_NAMES: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
_SHORT_TITLE = 70
_AFTER_WORDS = ("shapes", "care", "key")
"""Blocks that the teacher's own words go before."""


def handout_data(score: Score, settings: HandoutSettings, setting: Setting = SETTINGS[0]) -> Json:
    """Everything that ``templates/handout.typ`` sets. Raises InputError, FretboardError, KeyError."""
    phrases = words(settings.language)
    title = plain_text(score.title)
    makers: dict[Block, Callable[[], Json | None]] = {
        "chart": lambda: _chart(score, settings, phrases),
        "practice": lambda: _practice(score, printed_parts(score, settings), settings, phrases),
        "grips": lambda: grips_block(score, printed_parts(score, settings), settings, phrases),
        "lines": lambda: lines_block(score, settings, setting),
        "shapes": lambda: _shapes(score, settings, phrases),
        "task": lambda: task_block(score, settings, phrases),
        "questions": lambda: questions_block(score, settings, phrases),
        "key": lambda: key_block(settings, phrases),
        "care": lambda: care_block(phrases),
    }
    blocks = [makers[block]() for block in BLOCKS if block in settings.blocks]
    # The teacher's words come before the caution, or last.
    own = words_block(settings.student, phrases)
    at = next((i for i, b in enumerate(blocks) if b and b["kind"] in _AFTER_WORDS), len(blocks))
    blocks.insert(at, own)
    return {
        **page_data(title, settings.paper, settings.language, settings.font),
        **letterhead_data(settings.letterhead),
        "facts": facts(score, phrases, _strings(score, settings), capo=_capo(score, settings)),
        "large_print": settings.large_print,
        "aim": plain_text(settings.student.aim),
        "blocks": [block for block in blocks if block is not None],
    }


def care_block(phrases: Mapping[str, str]) -> Json:
    """The cautions about hand and ear."""
    return {"kind": "care", "heading": phrases["care"], "text": phrases["care_note"]}


def _chart(score: Score, settings: HandoutSettings, phrases: Mapping[str, str]) -> Json | None:
    if not score.timeline.has_chords:
        return None
    share = LARGE_SHARE if settings.large_print else 1.0
    task = settings.worksheet.task
    if task is not None and task.aims:
        return aims_chart(score, task, phrases, share)
    capo = _capo(score, settings)
    return chart_block(score.timeline, phrases, settings.under_chords, capo=capo, share=share)


def page_data(title: str, paper: Paper, language: str, font: Font | None = None) -> Json:
    """What every template needs."""
    return {
        "title": title,
        "short_title": title if len(title) <= _SHORT_TITLE else title[: _SHORT_TITLE - 1].rstrip() + "…",
        "language": words(language)["language"],
        "paper": _PAPER_NAMES[paper],
        "margin_mm": MARGIN_MM,
        "font": font,
        "words": dict(words(language)),
    }


def facts(
    score: Score, phrases: Mapping[str, str], strings: Sequence[Pitch], *, capo: int = 0
) -> list[str]:
    """Key, meter, tempo, feel and tuning; the capo where there is one."""
    timeline = score.timeline
    return [
        key_text(timeline.key, phrases),
        str(timeline.meter),
        tempo_text(timeline.tempo, timeline.meter, phrases),
        plain_text(score.feel),
        tuning_text(strings, phrases),
        *([f"{phrases['pickup']} {score.pickup_value}"] if score.pickup_beats else []),
        *([phrases["capo_counted"].format(capo=capo)] if capo else []),
    ]


def tuning_text(strings: Sequence[Pitch], phrases: Mapping[str, str]) -> str:
    """``tuning E A D G B E``: from string 6 to string 1."""
    names = " ".join(with_signs(note_name(pitch.name, phrases)) for pitch in reversed(strings))
    return phrases["tuning"].format(strings=names)


def _capo(score: Score, settings: HandoutSettings) -> int:
    """The capo of the lines, or that of the diagrams where no line has one."""
    return next(
        (part.capo for part in printed_parts(score, settings) if part.capo), settings.tuning.capo
    )


def _strings(score: Score, settings: HandoutSettings) -> Sequence[Pitch]:
    """The strings of the lines, or those of the diagrams where no line has any."""
    found = (part.strings for part in printed_parts(score, settings) if part.strings)
    return next(found, settings.tuning.strings)


def key_text(key: Key, phrases: Mapping[str, str]) -> str:
    """``G minor``, ``B♭ major``."""
    return with_signs(key_words(key, phrases))


def tempo_text(tempo: TempoMap, meter: Meter, phrases: Mapping[str, str]) -> str:
    """``♩ = 96``, with a dotted note in compound meters; first and last where it rises or falls."""
    return f"{mark_sign(meter, phrases)} = {speed_text(tempo, meter, phrases)}"


def speed_text(tempo: TempoMap, meter: Meter, phrases: Mapping[str, str]) -> str:
    """``96``; first and last where it rises or falls."""
    first, last = first_and_last(tempo, meter, phrases)
    return first if first == last else f"{first} – {last}"


def mark_sign(meter: Meter, phrases: Mapping[str, str]) -> str:
    """The note value that a tempo counts; a word for the half note, which text fonts lack."""
    return {"dotted_quarter": "♩.", "quarter": "♩"}.get(MARKS[meter.mark_beats], phrases["half"])


def printed_parts(score: Score, settings: HandoutSettings) -> tuple[Part, ...]:
    """The lead parts of a sheet. Raises KeyError."""
    if settings.part_names is None:
        return tuple(part for part in score.lead_parts if part.notes)
    return tuple(score.part(name) for name in settings.part_names)


def _practice(
    score: Score, parts: Sequence[Part], settings: HandoutSettings, phrases: Mapping[str, str]
) -> Json | None:
    rows: list[Json] = []
    for part in parts:
        told = hand_sentences(part, score.timeline, phrases)
        if told:
            label = part_heading(part, parts, phrases)
            rows.append({"kind": "text", "label": label, "text": sentence(told)})
    heard = ears(parts, score.timeline, phrases)
    if heard:
        items = [{"bars": ear.bars, "chords": ear.chords, "what": ear.what} for ear in heard]
        rows.append({"kind": "ears", "label": phrases["listen"], "items": items})
    resolved = resolutions(score, parts, settings)
    if resolved:
        cards = [_card(found, settings, phrases) for found in resolved]
        rows.append(
            {
                "kind": "cards",
                "label": phrases["resolve"],
                "cards": cards,
                "note": phrases["resolve_note"],
            }
        )
    ladder = tempo_ladder(score, settings.tempo_steps)
    if ladder:
        sign = mark_sign(score.timeline.meter, phrases)
        tempos = [f"{sign} = {tempo}" for tempo in ladder]
        note = phrases["tempo_note"]
        rows.append({"kind": "tempos", "label": phrases["tempo_steps"], "tempos": tempos, "note": note})
    if not rows:
        return None
    return {"kind": "practice", "heading": phrases["practice"], "rows": rows}


def _card(found: Resolution, settings: HandoutSettings, phrases: Mapping[str, str]) -> Json:
    """The picture of a change and its moves in words."""
    old, new = (with_signs(chord_name(chord, phrases)) for chord in found.chords)
    picture = found.picture
    growth = legible_unit(picture.svg, LARGE_PT) if settings.large_print else 1.0  # drawn in millimetres
    return {
        "chords": f"{old} – {new}",
        "told": found.moves_text(phrases),
        "svg": picture.svg,
        "width_mm": picture.width_mm * growth,
        "height_mm": picture.height_mm * growth,
        "alt": found.in_words(phrases),
    }


def part_heading(part: Part, parts: Sequence[Part], phrases: Mapping[str, str]) -> str:
    """The word for the part's role, with its name where other parts have the same role."""
    role = part.role if part.role in (Role.EXERCISE, Role.GUIDE) else Role.LEAD
    word = phrases[role.value]
    alone = sum(other.role is part.role for other in parts) <= 1
    if alone and role is not Role.LEAD:
        return word
    return phrases["part_and_name"].format(part=word, name=plain_text(part_name(part.name, phrases)))


def _told_below(part: Part) -> str:
    """The phrase for what stands around the staff of a line, by what stands below it."""
    syllables = [note.syllable for note in part.notes if note.syllable]
    if not syllables:
        return "line_note"
    return "count_note" if all(map(is_counted, syllables)) else "words_note"


def signs_told(part: Part, phrases: Mapping[str, str]) -> list[str]:
    """What the letters over a line mean: those that stand on it, a sentence, or none."""
    used = (
        any(note.legato for note in part.notes),
        any(note.bend for note in part.notes),
        any(note.vibrato for note in part.notes),
    )
    told = phrases["signs_note"].removesuffix(".").split(";")
    found = ";".join(sign for sign, is_used in zip(told, used, strict=True) if is_used)
    return [f"{found.strip()}."] if found else []


Engraved = dict[object, tuple[tuple[Line, ...], Sequence[str]]]
"""Systems by part, size and bars, and each bar in words: settings that differ in other things share
them."""


def lines_block(
    score: Score, settings: HandoutSettings, setting: Setting, known: Engraved | None = None
) -> Json | None:
    """The lines in notation and tab, the only block that is set larger or smaller; None without any.

    What is in ``known`` is not engraved anew, and what is engraved goes there.
    """
    known = {} if known is None else known
    parts, phrases = printed_parts(score, settings), words(settings.language)
    if not parts:
        return None
    width = text_width_mm(settings.paper) / setting.growth
    made = []
    for part in parts:
        alone = replace(score, parts=(part,))
        has_diagrams = part.chordal and "grips" in settings.blocks
        page = printed_once(line_page(score.timeline, (part,)), score.timeline, part)
        also = {bar: also_text(numbers, phrases) for bar, numbers in page.also.items()}
        if setting.folded:
            page, moved = printed_at_one_fret(page, score.timeline, part)
            for bar, places in moved.items():
                also[bar] = "; ".join(filter(None, (also.get(bar), moved_text(places, phrases))))
        name = part.name, setting.staff_space_mm, setting.growth, page.bars
        if name not in known:
            document = parts_document(
                alone,
                (part,),
                page.bars,
                show_degrees=True,
                show_positions=not part.chordal,
                chord_fingers=not has_diagrams,
                courtesy=settings.courtesy_accidentals,
                engraved_in=settings.language,
            )
            engraved = engrave_lines(
                document, alone, page.bars, width, staff_space_mm=setting.staff_space_mm, also=also
            )
            spoken = spoken_bars(part, score.timeline, settings.language)
            known[name] = engraved, [bar_sentence(spoken[entry.bar.number]) for entry in page.bars]
        lines, sentences = known[name]
        told = "chords_note" if part.chordal else _told_below(part)
        legend = [phrases[told]] if part.role is not Role.GUIDE and not has_diagrams else []
        # The marks stand under degrees, which give way to words.
        if legend and told == "line_note" and resolving_notes(part, score.timeline):
            legend.append(phrases["resolve_marks"])
        legend += signs_told(part, phrases)
        remarks = []
        if page.inner and "chart" not in settings.blocks:
            remarks.append(phrases["bars_as_played"])
        if page.times > 1:
            remarks.append(phrases["every_chorus_same"].format(count=page.times))
        systems = system_pictures(lines, sentences, setting.growth)
        if setting.has_windows and part.role is not Role.GUIDE and not part.chordal:
            necks = with_windows(
                lines,
                part,
                score.timeline,
                page.bars,
                settings.tuning,
                left_handed=settings.left_handed,
                language=settings.language,
            )
            if any(necks):
                legend.append(phrases["window_note"])
            for system, windows in zip(systems, necks, strict=True):
                system["windows"] = windows
        made.append(
            {
                "heading": part_heading(part, parts, phrases),
                "note": " ".join([*legend, *remarks]),
                "legend": legend,
                "remarks": remarks,
                "systems": systems,
            }
        )
    return {"kind": "lines", "parts": made}


def also_text(numbers: Sequence[int], phrases: Mapping[str, str]) -> str:
    """``also bars 9 and 25``."""
    return phrases["also_bars"].format(bars=bars_text(numbers, phrases))


def moved_text(places: Sequence[Moved], phrases: Mapping[str, str]) -> str:
    """``same fingers, so many frets higher or lower: F7 +5 (bar 6), B♭7 −2 (bar 11)``."""
    told = []
    for place in places:
        symbol, bar = with_signs(chord_name(place.chord, phrases)), phrases["bar"].format(bars=place.bar)
        told.append(f"{symbol} {place.frets:+d} ({bar})")
    return phrases["same_fingers"].format(places=", ".join(told).replace("-", "−"))


def _shapes(score: Score, settings: HandoutSettings, phrases: Mapping[str, str]) -> Json | None:
    found = shown_shapes(score, settings)
    if not found:
        return None
    every = [shape for _, shapes in found for shape in shapes]
    columns = LARGE_SHAPE_COLUMNS if settings.large_print else SHAPE_COLUMNS
    grid = ShapeGrid.of(every, settings, columns=columns, largest_unit_mm=LARGEST_UNIT_MM)
    return {
        "kind": "shapes",
        "heading": phrases["shapes"],
        "note": phrases["shapes_note"],
        "chords": [
            chord_data(chord, shapes, settings, grid, used=_used_shape(chord, shapes, score))
            for chord, shapes in found
        ],
    }


def shown_shapes(score: Score, settings: HandoutSettings) -> list[tuple[Chord, tuple[Shape, ...]]]:
    """The chords whose shapes are shown, with these."""
    chords = settings.shapes_for
    if chords is None:
        chords = distinct_chords(span.chord for span in score.timeline.chords if span.chord is not None)
    return [(chord, settings.shapes_of(chord)) for chord in chords]


@dataclass(frozen=True, slots=True)
class ShapeGrid:
    """How diagrams are laid out: cells of one width, drawings of one scale in all of them."""

    columns: int
    cell_mm: float
    unit_mm: float

    @classmethod
    def of(
        cls, shapes: Sequence[Shape], settings: Drawn, *, columns: int, largest_unit_mm: float
    ) -> ShapeGrid:
        """The largest scale at which every shape fits into a cell."""
        style = _shape_style(settings)
        widths = [shape_width(each, settings.tuning, style) - 2 * DIAGRAM_MARGIN for each in shapes]
        cell_mm = text_width_mm(settings.paper) / columns - CELL_GAP_MM
        if settings.large_print:
            largest_unit_mm = max(legible_unit(_drawing(each, settings), LARGE_PT) for each in shapes)
        return cls(columns, cell_mm, min(largest_unit_mm, cell_mm / max(widths)))


def chord_data(
    chord: Chord, shapes: Sequence[Shape], settings: Drawn, grid: ShapeGrid, *, used: Shape | None = None
) -> Json:
    """A chord with its shapes as the shape grid of the templates takes them."""
    phrases = words(settings.language)
    return {
        "symbol": with_signs(chord_name(chord, phrases)),
        "name": type_names(chord, phrases)[0],
        "degrees": [with_signs(str(degree)) for degree in chord.degrees],
        "notes": [with_signs(note_name(note, phrases)) for note in chord.notes],
        "columns": grid.columns,
        "cell_mm": grid.cell_mm,
        "pull_mm": DIAGRAM_MARGIN * grid.unit_mm,
        "shapes": [
            {
                "caption": shape_heading(shape, settings.language),
                "used": shape is used,
                "picture": diagram(chord, shape, settings, grid.unit_mm),
            }
            for shape in shapes
        ],
    }


def diagram(chord: Chord, shape: Shape, settings: Drawn, unit_mm: float) -> Json:
    """The diagram of a shape as a picture."""
    svg = _drawing(shape, settings)
    width, height = svg_size(svg)
    return {
        "svg": svg,
        "width_mm": width * unit_mm,
        "height_mm": height * unit_mm,
        "alt": f"{chord_in_words(chord, words(settings.language))}, "
        + shape_in_words(shape, settings.language),
    }


def _drawing(shape: Shape, settings: Drawn) -> str:
    style = _shape_style(settings)
    return on_paper(shape_svg(shape, settings.tuning, style, title="", language=settings.language))


def _shape_style(settings: Drawn) -> DiagramStyle:
    style = DiagramStyle(second="fingers", left_handed=settings.left_handed)
    return replace(style, other_size=LARGE_OTHER_FINGER) if settings.large_print else style


def _used_shape(chord: Chord, shapes: Sequence[Shape], score: Score) -> Shape | None:
    """The shape that holds most notes of the exercise over a chord, if it holds most of them.

    Of two that do, not the open one: exercises are closed unless it is asked for.
    """
    places: list[tuple[int, int]] = []
    for part in score.lead_parts:
        if part.role is not Role.EXERCISE:
            continue
        for note in part.notes:
            under = score.timeline.chord_at(note.onset_beats).chord
            if under is not None and under.same_shapes_as(chord) and note.fretting is not None:
                places.append((note.fretting.string, note.fretting.fret))
    if not places:
        return None
    held = [
        sum(place in {(note.string, note.fret) for note in shape.notes} for place in places)
        for shape in shapes
    ]
    best = max(range(len(shapes)), key=lambda index: (held[index], shapes[index].form != OPEN_FORM))
    return shapes[best] if Fraction(held[best], len(places)) > Fraction(1, 2) else None
