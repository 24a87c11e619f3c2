"""What students fill in or play from: lines of a drill, bars of calls, an improvising task; the key."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from xml.etree.ElementTree import Element

from genex.export.diagrams import DiagramStyle, neck_svg
from genex.export.engraved_rows import System
from genex.export.engraving import engrave
from genex.export.handout.chart_block import chart_block
from genex.export.handout.pictures import (
    DIAGRAM_MARGIN,
    Json,
    legible_unit,
    paper_picture,
    svg_size,
    system_pictures,
)
from genex.export.handout.settings import (
    LARGE_PT,
    Asked,
    HandoutSettings,
    ImprovisingTask,
    Offered,
    Rhythm,
    text_width_mm,
)
from genex.export.handout.system_breaks import Line, engrave_lines
from genex.export.musicxml import Look, parts_document
from genex.export.neck_marks import Mark, fret_window
from genex.export.note_names import note_name
from genex.export.phrases import language_tag, named
from genex.export.phrases import words as words_of
from genex.export.repeat_signs import PageBar, full_page
from genex.export.spoken import bar_sentence, rhythm_sentences
from genex.export.typography import with_signs
from genex.score import Bar, Note, Part, Role, Score, Timeline
from genex.theory import Pitch

SLASH_PITCH = Pitch.parse("B4")
"""Slashes stand on the middle line."""
CHOICE_MM = 52.0
"""Width of a rhythm to choose."""
FRET_MM = 9.0
"""Width of a fret on paper."""
LONG_ANSWER = 26
"""Letters beyond which answers stand in one column."""
SHORT_STAFF_BARS = 2
"""So many bars to write into fill a line."""


def task_block(score: Score, settings: HandoutSettings, words: Mapping[str, str]) -> Json | None:
    """An improvising task: its rules, the notes on the neck, the rhythm or staves to write into."""
    task = settings.worksheet.task
    if task is None:
        return None
    lines = [] if task.aims else _task_lines(score, task, settings, words)
    return {
        "kind": "task",
        "heading": words["task"],
        "rules": [with_signs(rule) for rule in task.rules],
        "necks": [_neck(heading, marks, settings) for heading, marks in task.necks],
        "caption": words["given_rhythm" if task.rhythm else "own_ideas"] if lines else "",
        "systems": lines,
    }


def aims_chart(
    score: Score, task: ImprovisingTask, words: Mapping[str, str], share: float = 1.0
) -> Json:
    """The chart with what to aim at under each of its chords."""
    form = form_of(score.timeline, task)
    told = dict(task.aims)
    # A tone and its degree stay in one line.
    texts = {
        span.onset_beats: (told.get(span.onset_beats, "").replace(" (", "\N{NO-BREAK SPACE}("),)
        for span in form.chords
    }
    return chart_block(form, words, texts=texts, share=share)


def form_of(timeline: Timeline, task: ImprovisingTask) -> Timeline:
    """One chorus of a timeline."""
    bars = timeline.bars[task.form[0] : task.form[1]]
    start, end = bars[0].onset_beats, bars[-1].end_beats
    return replace(
        timeline,
        bars=bars,
        chords=tuple(span for span in timeline.chords if start <= span.onset_beats < end),
        sections=tuple(span for span in timeline.sections if start <= span.onset_beats < end),
        repeats=(),
        jumps=(),
    )


def questions_block(score: Score, settings: HandoutSettings, words: Mapping[str, str]) -> Json | None:
    """Numbered lines to fill in, with the choices; of calls what is done in which bars, over staves."""
    sheet = settings.worksheet
    if not sheet.asked:
        return None
    if not sheet.prompt:
        return _calls(score, settings, words)
    signs = max((offered.signs for offered in sheet.offered), default=1)
    pictures = [
        _choice(offered, score, words, settings.growth) for offered in sheet.offered if offered.rhythm
    ]
    return {
        "kind": "questions",
        "heading": with_signs(sheet.prompt),
        "choose": named(words["choose_from"], "", words).rstrip(" "),
        "choices": [] if pictures else [_answer_text(offered.text) for offered in sheet.offered],
        "pictures": pictures,
        "numbers": [str(asked.number) for asked in sheet.asked],
        "signs": signs,
    }


def key_block(settings: HandoutSettings, words: Mapping[str, str]) -> Json | None:
    """The answers, on a page of their own."""
    asked = settings.worksheet.asked
    if not asked:
        return None
    longest = max(len(one.answer) for one in asked)
    return {
        "kind": "key",
        "heading": words["answers"],
        "columns": 1 if longest > 2 * LONG_ANSWER else 2,
        "items": [{"number": f"{one.number}.", "text": _answer_text(one.answer)} for one in asked],
    }


def _answer_text(text: str) -> str:
    return with_signs(text) if text else "–"


def _calls(score: Score, settings: HandoutSettings, words: Mapping[str, str]) -> Json:
    width_mm = text_width_mm(settings.paper) / settings.growth
    (part, *_) = [part for part in score.lead_parts if part.notes]
    bars = {bar.number: bar for bar in score.timeline.bars}
    rows = []
    for asked in settings.worksheet.asked:
        told = turns_text(asked, words)
        own = [bars[number] for number in _written_into(asked, score.timeline, bars)]
        rows.append(
            {
                "number": f"{asked.number}.",
                "turns": told,
                "systems": _empty_pictures(
                    _blank(score, part, own, width_mm, words), own, words, settings.growth
                ),
            }
        )
    return {"kind": "calls", "heading": words["calls"], "note": words["calls_note"], "rows": rows}


def turns_text(asked: Asked, words: Mapping[str, str]) -> list[str]:
    """What is done in which bars of a call: ``listen: bars 3–4``."""
    return [
        words[f"turn_{kind}"].format(bars=_bars(first, last, words)) for kind, first, last in asked.turns
    ]


def _bars(first: int, last: int, words: Mapping[str, str]) -> str:
    number = str(first) if first == last else f"{first}–{last}"
    return words["bar" if first == last else "bars"].format(bars=number)


def _written_into(asked: Asked, timeline: Timeline, bars: Mapping[int, Bar]) -> Sequence[int]:
    """The bars that a call's staff has: those of the call; with the next chord also the answer's."""
    listen = next(turn for turn in asked.turns if turn[0] == "listen")
    play = next(turn for turn in asked.turns if turn[0] == "play")

    def chords(turn: tuple[str, int, int]) -> list[str]:
        spans = [timeline.chord_at(bars[number].onset_beats) for number in range(turn[1], turn[2] + 1)]
        return [timeline.chord_label(span) for span in spans]

    last = listen[2] if chords(listen) == chords(play) else play[2]
    return range(listen[1], last + 1)


def _blank(
    score: Score, part: Part, bars: Sequence[Bar], width_mm: float, words: Mapping[str, str]
) -> tuple[System, ...]:
    """Empty staves under the chords of some bars."""
    document, _, _ = _drawn(score, replace(part, notes=()), bars, "blank", words)
    starts = range(0, len(bars), SHORT_STAFF_BARS * 2)
    return engrave(document, width_mm=width_mm, system_starts=starts, stretched=True)


def _task_lines(
    score: Score, task: ImprovisingTask, settings: HandoutSettings, words: Mapping[str, str]
) -> list[Json]:
    """The given rhythm of a chorus in slashes, else empty staves."""
    width_mm = text_width_mm(settings.paper) / settings.growth
    bars = score.timeline.bars[task.form[0] : task.form[1]]
    (part, *_) = score.lead_parts
    if not task.rhythm:
        return _empty_pictures(_blank(score, part, bars, width_mm, words), bars, words, settings.growth)
    document, alone, page = _drawn(score, _slashes(task.rhythm), bars, "slashes", words)
    told = rhythm_text(task.rhythm, score.timeline, bars, words)
    return system_pictures(engrave_lines(document, alone, page, width_mm), told, settings.growth)


def _drawn(
    score: Score, part: Part, bars: Sequence[Bar], look: Look, words: Mapping[str, str]
) -> tuple[Element, Score, list[PageBar]]:
    numbers = {bar.number for bar in bars}
    page = [entry for entry in full_page(score.timeline) if entry.bar.number in numbers]
    alone = replace(score, parts=(part,))
    tag = language_tag(words["language"], words["note_names"])
    return parts_document(alone, (part,), page, look=look, engraved_in=tag), alone, page


def _choice(offered: Offered, score: Score, words: Mapping[str, str], growth: float) -> Json:
    """A rhythm to choose, in slashes, with its letter."""
    bars = _bars_of(offered, score.timeline)
    document, _, _ = _drawn(score, _slashes(offered.rhythm), bars, "slashes", words)
    (system, *_) = engrave(document, width_mm=CHOICE_MM, system_starts=[0], stretched=True)
    told = choice_text(offered, score.timeline, words)
    return {"letter": offered.text, **system_pictures([Line(system)], told, growth)[0]}


def choice_text(offered: Offered, timeline: Timeline, words: Mapping[str, str]) -> list[str]:
    """A rhythm to choose in words, a sentence a bar, its letter before the first."""
    first, *others = rhythm_text(offered.rhythm, timeline, _bars_of(offered, timeline), words)
    return [f"{words['rhythm_of'].format(letter=offered.text)}: {first}", *others]


def rhythm_text(
    rhythm: Rhythm, timeline: Timeline, bars: Collection[Bar], words: Mapping[str, str]
) -> list[str]:
    """The values of a rhythm in words, a sentence for each of the bars."""
    return rhythm_sentences(_slashes(rhythm), timeline, bars, words)


def _slashes(rhythm: Rhythm) -> Part:
    notes = [Note(onset, length, SLASH_PITCH) for onset, length in rhythm]
    return Part.of("rhythm", Role.LEAD, 0, notes)


def _bars_of(offered: Offered, timeline: Timeline) -> list[Bar]:
    """The bars that a rhythm to choose lies in."""
    end = max(onset + length for onset, length in offered.rhythm)
    return [bar for bar in timeline.bars if bar.onset_beats < end]


def _empty_pictures(
    systems: Sequence[System], bars: Sequence[Bar], words: Mapping[str, str], growth: float
) -> list[Json]:
    """Staves to write on."""
    told = [bar_sentence((words["bar"].format(bars=bar.number), words["empty_staves"])) for bar in bars]
    return system_pictures([Line(system) for system in systems], told, growth)


def _neck(heading: str, marks: Sequence[Mark], settings: HandoutSettings) -> Json:
    first, last = frets = fret_window(marks)
    style = DiagramStyle("notes", "degrees", left_handed=settings.left_handed)
    svg = neck_svg(marks, settings.tuning, style, frets=frets, language=settings.language)
    width_mm = FRET_MM * (last - first + 2)
    if settings.large_print:
        width_mm = legible_unit(svg, LARGE_PT) * (svg_size(svg)[0] - 2 * DIAGRAM_MARGIN)
    width_mm = min(text_width_mm(settings.paper), width_mm)
    phrases = words_of(settings.language)
    alt = " ".join(f"{note_name(m.note, phrases)} {m.string}/{m.fret}" for m in marks)
    return {"heading": with_signs(heading), **paper_picture(svg, width_mm, alt=alt)}
