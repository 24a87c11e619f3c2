"""Score -> the sheet to be read aloud: plain HTML, every block under a heading, every bar under its own.

It says what the sheet says, block by block, without a picture: a screen reader walks over headings, a
browser reads it out, and text of any size can be made of it [published: WCAG 2.2, 1.1.1, 1.3.1, 2.4.6].
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from html import escape
from itertools import groupby
from typing import Literal

from genex.export.chord_chart import chart_of, named_by_chord
from genex.export.grip_diagrams import dots_of_held
from genex.export.handout.chart_block import form_remarks
from genex.export.handout.content import (
    also_text,
    key_text,
    part_heading,
    printed_parts,
    shown_shapes,
    speed_text,
    tuning_text,
)
from genex.export.handout.lesson_sheet import SheetPart
from genex.export.handout.neck_windows import resolutions
from genex.export.handout.practice_notes import ears, hand_sentences, tempo_ladder
from genex.export.handout.settings import (
    BLOCKS,
    STANDARD_HANDOUT,
    Block,
    HandoutSettings,
    Letterhead,
    StudentWords,
)
from genex.export.handout.worksheet import choice_text, form_of, rhythm_text, turns_text
from genex.export.held_grips import grips_by_section
from genex.export.note_names import chord_name
from genex.export.page_signs import UNDERSTOOD_TIMES, Signs
from genex.export.phrases import capitalised, named, sentence, words
from genex.export.repeat_signs import PageBar, chart_page, line_page, printed_once
from genex.export.spoken import (
    bar_heading,
    chord_in_words,
    later_chords,
    shape_in_words,
    signs_in_words,
    spoken_bars,
    tempo_in_words,
)
from genex.export.typography import with_signs
from genex.score import Score, Timeline
from genex.text.marked_text import read_marked

_STYLE = "body{font:1.25rem/1.6 sans-serif;max-width:42rem;margin:2rem auto;padding:0 1rem}"
_HEADING = re.compile(r"(^<h|</h)([1-6])>")
Phrases = Mapping[str, str]
Lines = Iterator[str]


def spoken_html(score: Score, settings: HandoutSettings = STANDARD_HANDOUT) -> str:
    """The spoken edition of a handout as one HTML page; ``settings`` are those of the handout.

    Raises InputError for unknown languages, KeyError for an unknown part.
    """
    phrases = words(settings.language)
    body = [_tag("p", sentence(_facts(score, settings, phrases)))]
    if settings.student.aim:
        body.append(_tag("p", settings.student.aim))
    for _, lines in _blocks(score, settings, phrases):
        body += lines
    return _page(score.title, settings, body)


def lesson_spoken_html(title: str, parts: Sequence[SheetPart], whole: HandoutSettings) -> str:
    """The spoken edition of a lesson of several exercises as one HTML page.

    As on its sheet, what the exercises have in common is told once: facts, how to read, a chart that
    comes again, the caution; answers come last. Raises as ``spoken_html``.
    """
    phrases = words(whole.language)
    facts = [list(_facts(part.score, part.settings, phrases)) for part in parts]
    common = [fact for fact in facts[0] if all(fact in others for others in facts)]
    body = [_tag("p", sentence(common))] if common else []
    if whole.student.aim:
        body.append(_tag("p", whole.student.aim))
    keys: list[str] = []
    charts: list[list[str]] = []
    note = _tag("p", phrases["spoken_note"])
    for number, (part, its_facts) in enumerate(zip(parts, facts, strict=True), start=1):
        heading = f"{number}. {part.score.title}"
        body.append(_tag("h2", heading))
        if own := [fact for fact in its_facts if fact not in common]:
            body.append(_tag("p", sentence(own)))
        if part.settings.student.aim:
            body.append(_tag("p", part.settings.student.aim))
        charts.append([])
        for block, lines in _blocks(part.score, part.settings, phrases):
            if block == "key" and lines:
                keys += [_tag("h2", named(phrases["answers"], heading, phrases)), *lines[1:]]
            elif block == "chart" and lines and lines in charts:
                first = charts.index(lines) + 1
                body.append(_tag("p", phrases["chart_as_in"].format(number=first)))
            elif block not in ("key", "care"):
                if block == "chart":
                    charts[-1] = lines
                body += _deeper(line for line in lines if line != note or note not in body)
    body += _own_words(whole.student, phrases)
    if "care" in whole.blocks:
        body += _care(parts[0].score, whole, phrases)
    return _page(title, whole, (*body, *keys))


def _blocks(
    score: Score, settings: HandoutSettings, phrases: Phrases
) -> Iterator[tuple[Block | Literal["words"], list[str]]]:
    """The blocks of an exercise in order, each with its lines; the teacher's words among them."""
    makers: dict[Block, Callable[[Score, HandoutSettings, Phrases], Lines]] = {
        "chart": _chart,
        "task": _task,
        "questions": _questions,
        "grips": _grips,
        "lines": _lines,
        "practice": _practice,
        "shapes": _shapes,
        "care": _care,
        "key": _key,
    }
    for block in BLOCKS:
        if block == "shapes":
            yield "words", list(_own_words(settings.student, phrases))
        if block in settings.blocks:
            yield block, list(makers[block](score, settings, phrases))


def _page(title: str, settings: HandoutSettings, body: Iterable[str]) -> str:
    """The page of a title, facts and blocks; letterhead, language and licence are of the settings."""
    head = settings.letterhead
    licence = [_tag("p", head.licence)] if head.licence.strip() else []
    return "\n".join(
        (
            "<!doctype html>",
            f'<html lang="{words(settings.language)["language"]}">',
            f'<head><meta charset="utf-8"><title>{escape(title, quote=False)}</title>',
            '<meta name="viewport" content="width=device-width">',
            f"<style>{_STYLE}</style></head>",
            "<body><main>",
            *_letterhead(head),
            _tag("h1", title),
            *body,
            *licence,
            "</main></body></html>",
            "",
        )
    )


def _deeper(lines: Iterable[str]) -> Lines:
    """Blocks with their headings one level down, for a place within a larger whole."""
    for line in lines:
        yield _HEADING.sub(lambda found: f"{found[1]}{int(found[2]) + 1}>", line)


def _letterhead(head: Letterhead) -> Lines:
    yield from (_tag("p", text) for text in (head.school, head.teacher, head.contact) if text)
    if head.link:
        yield f'<p><a href="{escape(head.link)}">{escape(head.link, quote=False)}</a></p>'


def _tag(name: str, text: str) -> str:
    return f"<{name}>{escape(text, quote=False)}</{name}>"


def _list(items: Iterable[str]) -> Lines:
    yield "<ul>"
    yield from (_tag("li", item) for item in items)
    yield "</ul>"


def _facts(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    timeline = score.timeline
    yield signs_in_words(key_text(timeline.key, phrases), phrases)
    yield str(timeline.meter)
    yield tempo_in_words(speed_text(timeline.tempo, timeline.meter, phrases), timeline.meter, phrases)
    if score.feel:
        yield score.feel
    part = next((p for p in printed_parts(score, settings) if p.strings), None)
    yield signs_in_words(
        tuning_text(part.strings if part else settings.tuning.strings, phrases), phrases
    )
    if capo := part.capo if part else settings.tuning.capo:
        yield phrases["capo_counted"].format(capo=capo)


def _before(signs: Signs, phrases: Phrases) -> Lines:
    """The signs that stand before a bar, to be said with its name."""
    if signs.opens:
        yield phrases["say_opens"]
    if signs.segno:
        yield phrases["say_segno"]
    if signs.coda:
        yield phrases["say_coda"]
    if signs.ending_begins:
        yield phrases["say_ending"].format(number=signs.ending)


def _behind(signs: Signs, phrases: Phrases) -> Lines:
    """Those that stand behind it."""
    if signs.closes:
        yield phrases["say_closes"]
    if signs.times > UNDERSTOOD_TIMES:
        yield phrases["say_times"].format(count=signs.times)
    if signs.said:
        yield signs.said


def _chart(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    if not score.timeline.has_chords:
        return
    task = settings.worksheet.task
    timeline = form_of(score.timeline, task) if task is not None and task.aims else score.timeline
    aims = dict(task.aims) if task is not None else {}
    yield _tag("h2", phrases["chart"])
    chart = chart_of(timeline, phrases=phrases)
    for remark in form_remarks(chart, phrases):
        yield _tag("p", f"{capitalised(remark.rstrip('.'))}.")
    written_once = len(chart.sections) < len(chart.order)
    known: set[str] = set()
    for name, bars in _sections(timeline, chart_page(timeline).bars):
        if name in known and written_once:
            continue  # the order says where it comes again
        known.add(name)
        if name:
            yield _tag("h3", _name_in_words(name, timeline, phrases))
        told = []
        for entry in bars:
            chords = [*_before(entry.signs, phrases), bar_heading(entry.bar, timeline, phrases)]
            chords += [text for _, text in later_chords(entry.bar, timeline, phrases)]
            chords += [with_signs(aims[s.onset_beats]) for s in timeline.chords_in(entry.bar) if aims]
            told.append(capitalised("; ".join((*chords, *_behind(entry.signs, phrases)))))
        yield from _list(told)


def _sections(timeline: Timeline, bars: Sequence[PageBar]) -> Iterator[tuple[str, list[PageBar]]]:
    """Runs of bars with the names of their sections; no name where there is but one."""
    begun = {entry.bar.onset_beats for entry in bars}
    by_chord = named_by_chord(timeline)
    sections = [span for span in timeline.sections if span.onset_beats in begun]
    names = {s.onset_beats: s.name.strip() for s in sections if s.onset_beats not in by_chord}
    run: list[PageBar] = []
    name = names.get(bars[0].bar.onset_beats, "") if len(names) > 1 else ""
    for entry in bars:
        fresh = names.get(entry.bar.onset_beats)
        if run and fresh is not None:
            yield name, run
            name, run = fresh, []
        run.append(entry)
    yield name, run


def _name_in_words(name: str, timeline: Timeline, phrases: Phrases) -> str:
    """The name of a section, where it begins with the symbol of a chord, in words: ``Bb7, E form``.

    A single letter is the name of a section, as it is typed.
    """
    symbol, comma, rest = name.strip().partition(",")
    chords = {chord_name(span.chord, phrases): span.chord for span in timeline.chords}
    if len(symbol) < 2 or symbol not in chords:
        return name
    return f"{capitalised(chord_in_words(chords[symbol], phrases))}{comma}{rest}"


def _lines(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    parts = printed_parts(score, settings)
    for part in parts:
        yield _tag("h2", part_heading(part, parts, phrases))
        if part is parts[0]:
            yield _tag("p", phrases["spoken_note"])
        page = printed_once(line_page(score.timeline, (part,)), score.timeline, part)
        if page.times > 1:
            yield _tag("p", phrases["every_chorus_same"].format(count=page.times))
        spoken = spoken_bars(part, score.timeline, settings.language)
        for name, bars in _sections(score.timeline, page.bars):
            if name:
                yield _tag("h3", _name_in_words(name, score.timeline, phrases))
            for entry in bars:
                number = entry.bar.number
                heading, text = spoken[number]
                told = [heading, *_before(entry.signs, phrases)]
                if number in page.also:
                    told.append(also_text(page.also[number], phrases))
                yield _tag("h4" if name else "h3", capitalised("; ".join(told)))
                yield _tag("p", sentence((text, *_behind(entry.signs, phrases))))


def _grips(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    part = next((part for part in printed_parts(score, settings) if part.chordal), None)
    if part is None:
        return
    yield _tag("h2", phrases["grips"])
    count = len(settings.tuning.strings)
    for section in grips_by_section(part, score.timeline):
        if section.name.strip() and len(score.timeline.sections) > 1:
            yield _tag("h3", _name_in_words(section.name, score.timeline, phrases))
        yield from _list(
            f"{capitalised(phrases['bar'].format(bars=shown.bar.number))}, "
            f"{chord_in_words(shown.chord, phrases)}: "
            + signs_in_words(
                with_signs(dots_of_held(shown.held).in_words(count, settings.language)), phrases
            )
            for shown in section.grips
        )


def _practice(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    parts = printed_parts(score, settings)
    spoken_symbol = {
        with_signs(chord_name(span.chord, phrases)): chord_in_words(span.chord, phrases)
        for span in score.timeline.chords
        if span.chord is not None
    }
    found: list[str] = []
    for part in parts:
        if told := hand_sentences(part, score.timeline, phrases):
            heading = part_heading(part, parts, phrases)
            found.append(_tag("p", signs_in_words(named(heading, sentence(told), phrases), phrases)))
    if heard := ears(parts, score.timeline, phrases):
        found.append(_tag("h3", phrases["listen"]))
        found += _list(
            f"{capitalised(phrases['bars' if ',' in ear.bars else 'bar'].format(bars=ear.bars))}, "
            f"{phrases['say_to'].join(spoken_symbol.get(s, s) for s in ear.chords.split(' – '))}: "
            f"{signs_in_words(ear.what, phrases)}"
            for ear in heard
        )
    if resolved := resolutions(score, parts, settings):
        found.append(_tag("h3", phrases["resolve"]))
        found += _list(each.in_words(phrases) for each in resolved)
    if ladder := tempo_ladder(score, settings.tempo_steps):
        found.append(_tag("h3", phrases["tempo_steps"]))
        found.append(_tag("p", ", ".join(map(str, ladder)) + ". " + phrases["tempo_note"]))
    if found:
        yield _tag("h2", phrases["practice"])
        yield from found


def _task(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    task = settings.worksheet.task
    if task is None:
        return
    yield _tag("h2", phrases["task"])
    yield from (_tag("p", signs_in_words(with_signs(rule), phrases)) for rule in task.rules)
    for heading, marks in task.necks:
        if heading:
            yield _tag("h3", signs_in_words(with_signs(heading), phrases))
        strings: dict[int, list[int]] = {}
        for mark in marks:
            strings.setdefault(mark.string, []).append(mark.fret)
        yield from _list(
            phrases["say_neck"].format(string=string, frets=", ".join(map(str, sorted(frets))))
            for string, frets in sorted(strings.items(), reverse=True)
        )
    if task.rhythm:
        first, end = task.form
        yield _tag("h3", phrases["given_rhythm"])
        bars = score.timeline.bars[first:end]
        yield from _list(rhythm_text(task.rhythm, score.timeline, bars, phrases))


def _questions(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    sheet = settings.worksheet
    if not sheet.asked:
        return
    yield _tag("h2", with_signs(sheet.prompt) if sheet.prompt else phrases["calls"])
    if not sheet.prompt:
        yield _tag("p", phrases["calls_note"])
        yield from _list(f"{one.number}: {', '.join(turns_text(one, phrases))}" for one in sheet.asked)
        return
    yield _tag("p", named(phrases["choose_from"], "", phrases).rstrip())
    told = []
    for offered in sheet.offered:
        if offered.rhythm:
            told.append(" ".join(choice_text(offered, score.timeline, phrases)))
        else:
            told.append(signs_in_words(with_signs(offered.text), phrases))
    yield from _list(told)
    numbers = [one.number for one in sheet.asked]
    yield _tag("p", phrases["say_numbers"].format(first=numbers[0], last=numbers[-1]))


def _key(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    if settings.worksheet.asked:
        yield _tag("h2", phrases["answers"])
        yield from _list(
            f"{one.number}: {signs_in_words(with_signs(one.answer), phrases) or '–'}"
            for one in settings.worksheet.asked
        )


def _shapes(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    for at, (chord, shapes) in enumerate(shown_shapes(score, settings)):
        if at == 0:
            yield _tag("h2", phrases["shapes"])
        yield _tag("h3", capitalised(chord_in_words(chord, phrases)))
        yield from _list(shape_in_words(shape, settings.language) for shape in shapes)


def _own_words(student: StudentWords, phrases: Phrases) -> Lines:
    for name, text in (("remarks", student.remarks), ("homework", student.homework)):
        if text.strip():
            yield _tag("h2", phrases[name])
            for listed, run in groupby(read_marked(text), key=lambda paragraph: bool(paragraph.marker)):
                told = [paragraph.plain.strip() for paragraph in run]
                yield from _list(told) if listed else (_tag("p", text) for text in told)


def _care(score: Score, settings: HandoutSettings, phrases: Phrases) -> Lines:
    yield _tag("h2", phrases["care"])
    yield _tag("p", phrases["care_note"])
