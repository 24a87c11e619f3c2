"""WebVTT and the timeline for the editor."""

from __future__ import annotations

import csv
import io
import json
import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.export.captions import (
    Caption,
    Turn,
    captions_vtt,
    timeline_csv,
    timeline_json,
    timeline_rows,
    turns_vtt,
)
from genex.score import Score, TempoChange, TempoMap

from .builders import beats, small_score, timeline

STAMP = r"(?:(\d{2,}):)?([0-5]\d):([0-5]\d)\.(\d{3})"


def read_vtt(text: str) -> list[tuple[float, float, str, str]]:
    """(start, end, settings, payload) of each cue; the rules of the W3C document, strictly.

    [published: W3C WebVTT, CR 2019-04-04] signature, cue blocks between blank lines, stamps with
    three digits of milliseconds, ends after starts, starts in order, no raw ``<`` or ``-->``.
    """
    blocks = text.removesuffix("\n").split("\n\n")
    assert blocks[0] == "WEBVTT"
    cues = []
    for block in blocks[1:]:
        timing, *payload = block.split("\n")
        match = re.fullmatch(rf"{STAMP} --> {STAMP}( \S+)*", timing)
        assert match, timing
        numbers = [int(group or 0) for group in match.groups()[:8]]
        start, end = (h * 3600 + m * 60 + s + ms / 1000 for h, m, s, ms in (numbers[:4], numbers[4:]))
        assert end > start
        assert not cues or start >= cues[-1][0]
        assert payload
        assert all(line and "-->" not in line and "<" not in line for line in payload)
        assert not re.search(r"&(?!amp;|lt;|gt;)", payload[0])
        cues.append((start, end, match.group(9) or "", "\n".join(payload)))
    return cues


def test_takes_in_turn_are_announced_up_to_their_first_bars():
    first, second = small_score(tempo=120), small_score(tempo=60)
    turns = [
        Turn(first, [Caption(beats(0), beats(4), "one & all")], beats(0), beats(3), "1. First"),
        Turn(second, [Caption(beats(4), beats(4), "two")], beats("11.5"), beats("14.5"), "2. Second"),
    ]
    lead = first.lead_in_beats
    assert read_vtt(turns_vtt(turns)) == [
        (0, 3 + lead / 2, "", "1. First"),
        (3 + lead / 2, 5 + lead / 2, "", "one &amp; all"),
        (11.5, 14.5 + lead, "", "2. Second"),
        (18.5 + lead, 22.5 + lead, "", "two"),
    ]


def test_chords_and_sections_with_their_times():
    score = small_score(tempo=120, sections=(("Verse", 2), ("Coda", 2)))
    assert (
        captions_vtt(score)
        == """\
WEBVTT

00:00:00.000 --> 00:00:04.000 line:10%
Verse

00:00:00.000 --> 00:00:02.000
Gm7

00:00:02.000 --> 00:00:04.000
C7

00:00:04.000 --> 00:00:08.000 line:10%
Coda

00:00:04.000 --> 00:00:06.000
Fmaj7
"""
    )


def test_the_take_starts_after_its_count_in():
    cues = read_vtt(captions_vtt(small_score(tempo=120), include_lead_in=True))
    assert [(start, text) for start, _, settings, text in cues if not settings] == [
        (2.0, "Gm7"), (4.0, "C7"), (6.0, "Fmaj7"),
    ]  # fmt: skip


def test_passes_follow_each_other():
    cues = read_vtt(captions_vtt(small_score(tempo=120), passes=3))
    assert [start for start, _, settings, text in cues if text == "C7"] == [2.0, 10.0, 18.0]


@given(st.text(), st.fractions(20, 400, max_denominator=50))
@settings(max_examples=60, deadline=None)
def test_any_text_makes_a_valid_file(text, bpm):
    score = small_score(tempo=bpm)
    cues = read_vtt(
        captions_vtt(score, [Caption(beats(0), beats(3), text), Caption(beats(3), beats(1), "C")])
    )
    assert len(cues) == (2 if text.split() else 1)


def test_flats_are_printed_as_signs():
    score = Score("Flat", "swing", timeline("Bbm7b5 | Eb7b9"), ())
    assert [text for *_, text in read_vtt(captions_vtt(score, None)) if text != "A"] == [
        "B♭m7♭5",
        "E♭7♭9",
    ]


def test_rows_are_counted_beats_and_chord_changes():
    score = Score("Rows", "swing", timeline("Gm7 C7 | F6", tempo=90), ())
    rows = timeline_rows(score, 48000)
    assert [(row.bar, row.beat, row.chord) for row in rows] == [
        (1, 1, "Gm7"), (1, 2, "Gm7"), (1, 3, "C7"), (1, 4, "C7"),
        (2, 1, "F6"), (2, 2, "F6"), (2, 3, "F6"), (2, 4, "F6"),
    ]  # fmt: skip
    assert [row.sample for row in rows] == [32000 * index for index in range(8)]
    assert rows[1].seconds == pytest.approx(2 / 3, abs=1e-6)


def test_compound_meters_count_dotted_quarters():
    score = Score("Rows", "slow blues", timeline("Gm7 | C7", meter="12/8", tempo=90), ())
    rows = timeline_rows(score, 44100)
    assert [row.beat for row in rows] == [1, 2, 3, 4] * 2
    assert rows[1].seconds == 1.0


def test_a_chord_between_two_beats_has_its_row():
    score = Score("Push", "bossa", timeline("Gm7 C7 F6 | F6", meter="4/4"), ())
    assert [row.beat for row in timeline_rows(score, 48000)][:6] == [1, 2, 2.3333, 3, 3.6667, 4]


@given(
    st.fractions(20, 400, max_denominator=50),
    st.integers(1, 4),
    st.booleans(),
    st.sampled_from([44100, 48000]),
)
@settings(max_examples=60, deadline=None)
def test_samples_are_those_of_the_tempo_map(bpm, passes, lead, rate):
    score = small_score(tempo=bpm)
    rows = timeline_rows(score, rate, include_lead_in=lead, passes=passes)
    length = score.tempo.sample_at(score.length_beats, rate)
    tempo = score.tempo.shifted(Fraction(4)) if lead else score.tempo
    for index, row in enumerate(rows):
        number, beat = divmod(index, 16)
        assert row.sample == tempo.sample_at(Fraction(beat + (4 if lead else 0)), rate) + number * length
        assert abs(row.sample / rate - row.seconds) < (passes + 1) / rate


def test_csv_and_json_say_the_same():
    tempo = TempoMap((TempoChange(beats(0), beats(100)), TempoChange(beats(8), beats(120))))
    score = replace(small_score(tempo_map=tempo), title='Say "when", then')
    table = list(csv.DictReader(io.StringIO(timeline_csv(score, 48000, include_lead_in=True))))
    content = json.loads(timeline_json(score, 48000, include_lead_in=True))
    assert content["title"] == 'Say "when", then'
    assert content["first_bar_seconds"] == 2.4
    assert content["last_bar_line_seconds"] == pytest.approx(2.4 + 4.8 + 4.0)
    assert content["last_bar_line_sample"] == round(11.2 * 48000)
    assert len(table) == len(content["rows"]) == 16
    for row, same in zip(table, content["rows"], strict=True):
        assert {key: str(value) for key, value in same.items() if key not in ("beat", "seconds")} == {
            key: value for key, value in row.items() if key not in ("beat", "seconds")
        }
        assert float(row["seconds"]) == same["seconds"]
        assert float(row["beat"]) == same["beat"]
