"""Timing for the video editor: WebVTT captions, and the timeline as CSV and JSON.

All three describe one audio file: a loop, played ``passes`` times, or the take with its count-in
(``include_lead_in``). Times count from the start of that file. Samples are rounded as the
renderer rounds them, so a row's sample is the sample at which its beat begins.

WebVTT follows [published: W3C WebVTT, Candidate Recommendation of 4 April 2019]: cues in order
of their start, milliseconds in three digits, ``&``, ``<`` and ``>`` escaped, no empty lines.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable
from dataclasses import asdict, dataclass, replace

from genex.exact import Fraction
from genex.export.note_names import chord_name
from genex.export.phrases import words
from genex.export.typography import with_signs
from genex.plain_text import cell
from genex.score import FileClock, Score
from genex.units import round_half_up

SECTION_SETTINGS = "line:10%"
"""Section names and announcements stand near the top of the picture, chord names at the bottom."""


@dataclass(frozen=True, slots=True)
class Caption:
    """A text and how long it stands, in beats from the first bar."""

    onset_beats: Fraction
    length_beats: Fraction
    text: str
    is_heading: bool = False

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats


@dataclass(frozen=True, slots=True)
class TimelineRow:
    """A counted beat, or a chord that begins between two.

    bar, beat  bar from 1 over the whole file; beat from 1.0 in counted pulses
    chord      what sounds, ``N.C.`` for none; nothing in a piece without chords
    seconds    rounded to a microsecond; ``sample`` is exact at the timeline's rate
    """

    bar: int
    beat: float
    section: str
    chorus: int
    chord: str
    seconds: float
    sample: int


def chord_captions(score: Score, language: str = "en") -> list[Caption]:
    """A caption for each chord (nothing where the chart says N.C.), with ♭ and ♯."""
    spans, phrases = score.timeline.merged_chords, words(language)
    ends = [*(span.struck_beats for span in spans[1:]), score.length_beats]
    return [
        Caption(span.struck_beats, end - span.struck_beats, with_signs(chord_name(span.chord, phrases)))
        for span, end in zip(spans, ends, strict=True)
        if span.chord is not None
    ]


def section_captions(score: Score) -> list[Caption]:
    """A heading for each section that has a name."""
    return [
        Caption(span.onset_beats, span.length_beats, span.name, is_heading=True)
        for span in score.timeline.sections
        if span.name.strip()
    ]


def chords_and_sections(score: Score, language: str = "en") -> list[Caption]:
    """What captions tell where they tell nothing else."""
    return [*section_captions(score), *chord_captions(score, language)]


def captions_vtt(
    score: Score,
    captions: Iterable[Caption] | None = None,
    *,
    include_lead_in: bool = False,
    passes: int = 1,
) -> str:
    """A WebVTT file: chord names and section names, or the captions given."""
    clock = FileClock.of(score, include_lead_in=include_lead_in)
    return _vtt(_cues(score, captions, clock, passes))


@dataclass(frozen=True, slots=True)
class Turn:
    """One of several takes in a file: its score and captions as ``captions_vtt`` takes them, where it
    starts, and what is announced from a little before, up to its first bar."""

    score: Score
    captions: Iterable[Caption] | None
    announced_seconds: Fraction
    start_seconds: Fraction
    announcement: str


def turns_vtt(turns: Iterable[Turn]) -> str:
    """A WebVTT file of several takes, one after the other in one file, each announced."""
    cues: list[_Cue] = []
    for turn in turns:
        clock = FileClock.of(turn.score, include_lead_in=True)
        begin, later = (round_half_up(at * 1000) for at in (turn.announced_seconds, turn.start_seconds))
        cues.append(
            (begin, later + clock.milliseconds(Fraction(0)), True, " ".join(turn.announcement.split()))
        )
        cues += [
            (later + start, later + end, is_plain, text)
            for start, end, is_plain, text in _cues(turn.score, turn.captions, clock)
        ]
    return _vtt(cues)


_Cue = tuple[int, int, bool, str]
"""Start and end in milliseconds, whether it is no heading, and its text."""


def _cues(
    score: Score, captions: Iterable[Caption] | None, clock: FileClock, passes: int = 1
) -> list[_Cue]:
    if captions is None:
        captions = chords_and_sections(score)
    cues = []
    for number in range(passes):
        for caption in captions:
            start = clock.milliseconds(caption.onset_beats, number)
            end = clock.milliseconds(caption.end_beats, number)
            text = " ".join(caption.text.split())
            if text and end > start:
                cues.append((start, end, not caption.is_heading, text))
    return cues


def _vtt(cues: Iterable[_Cue]) -> str:
    blocks = ["WEBVTT"]
    for start, end, is_plain, text in sorted(cues, key=lambda cue: (cue[0], cue[2], cue[1])):
        settings = "" if is_plain else f" {SECTION_SETTINGS}"
        blocks.append(f"{_stamp(start)} --> {_stamp(end)}{settings}\n{_escape(text)}")
    return "\n\n".join(blocks) + "\n"


def timeline_rows(
    score: Score, rate_hz: int, *, include_lead_in: bool = False, passes: int = 1
) -> list[TimelineRow]:
    """A row for every counted beat and every chord change, in order."""
    clock = FileClock.of(score, include_lead_in=include_lead_in)
    timeline = score.timeline
    bars = len(timeline.bars)
    rows = []
    for number in range(passes):
        pickup = timeline.pickup_bar
        for bar in (*([pickup] if pickup else []), *timeline.bars):
            pulses = (bar.counted_from + pulse for pulse in bar.meter.pulses)
            times = {bar.onset_beats, *(at for at in pulses if at > bar.onset_beats)}
            times |= {span.onset_beats for span in timeline.chords_in(bar)}
            for at in sorted(times):
                rows.append(
                    TimelineRow(
                        bar=number * bars + bar.number,
                        beat=round(float((at - bar.counted_from) / bar.meter.pulse_beats) + 1, 4),
                        section=bar.section,
                        chorus=bar.chorus,
                        chord="" if bar.is_pickup else timeline.chord_label(timeline.chord_at(at)),
                        seconds=round(float(clock.seconds(at, number)), 6),
                        sample=clock.sample(at, rate_hz, number),
                    )
                )
    return rows


def timeline_csv(score: Score, rate_hz: int, *, include_lead_in: bool = False, passes: int = 1) -> str:
    """The rows as comma-separated values with a heading (RFC 4180, lines end in CR LF)."""
    rows = timeline_rows(score, rate_hz, include_lead_in=include_lead_in, passes=passes)
    return _table(({}, row) for row in rows)


def turns_csv(turns: Iterable[Turn], rate_hz: int) -> str:
    """The rows of several takes, in the first column what was announced."""
    return _table(
        ({"exercise": turn.announcement}, row) for turn in turns for row in _turn_rows(turn, rate_hz)
    )


def _table(rows: Iterable[tuple[dict[str, str], TimelineRow]]) -> str:
    """Rows, each with further cells before it, as comma-separated values under a heading."""
    cells = []
    for before, row in rows:
        fields: dict[str, object] = before | asdict(row)
        texts = {name: cell(text) for name, text in fields.items() if isinstance(text, str)}
        cells.append(fields | texts | {"beat": f"{row.beat:g}", "seconds": f"{row.seconds:.6f}"})
    buffer = io.StringIO(newline="")
    writer = csv.DictWriter(buffer, list(cells[0]))
    writer.writeheader()
    writer.writerows(cells)
    return buffer.getvalue()


def _turn_rows(turn: Turn, rate_hz: int) -> list[TimelineRow]:
    """The rows of a take as times of the file in which it starts later."""
    later = turn.start_seconds
    return [
        replace(
            row,
            seconds=round(row.seconds + float(later), 6),
            sample=row.sample + round_half_up(later * rate_hz),
        )
        for row in timeline_rows(turn.score, rate_hz, include_lead_in=True)
    ]


def timeline_json(score: Score, rate_hz: int, *, include_lead_in: bool = False, passes: int = 1) -> str:
    """The rows as JSON, with what they are counted from."""
    clock = FileClock.of(score, include_lead_in=include_lead_in)
    rows = timeline_rows(score, rate_hz, include_lead_in=include_lead_in, passes=passes)
    content = _described(score, rate_hz, clock, rows, passes=passes)
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def turns_json(title: str, turns: Iterable[Turn], rate_hz: int) -> str:
    """The rows of several takes as JSON, for each with what they are counted from."""
    takes = [
        {"announcement": turn.announcement, "announced_seconds": float(turn.announced_seconds)}
        | _described(
            turn.score,
            rate_hz,
            FileClock.of(turn.score, include_lead_in=True),
            _turn_rows(turn, rate_hz),
            later=turn.start_seconds,
        )
        for turn in turns
    ]
    content = {"title": title, "sample_rate_hz": rate_hz, "exercises": takes}
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def _described(
    score: Score,
    rate_hz: int,
    clock: FileClock,
    rows: Iterable[TimelineRow],
    *,
    passes: int = 1,
    later: Fraction = Fraction(0),
) -> dict[str, object]:
    """A piece that starts ``later`` in its file, with its rows."""
    end = score.length_beats
    return {
        "title": score.title,
        "key": str(score.timeline.key),
        "meter": str(score.timeline.meter),
        "sample_rate_hz": rate_hz,
        "first_bar_seconds": round(float(clock.seconds(Fraction(0)) + later), 6),
        "last_bar_line_seconds": round(float(clock.seconds(end, passes - 1) + later), 6),
        "last_bar_line_sample": clock.sample(end, rate_hz, passes - 1) + round_half_up(later * rate_hz),
        "rows": [asdict(row) for row in rows],
    }


def _stamp(milliseconds: int) -> str:
    seconds, thousandths = divmod(milliseconds, 1000)
    minutes, seconds = divmod(seconds, 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours:02}:{minutes:02}:{seconds:02}.{thousandths:03}"


def _escape(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
