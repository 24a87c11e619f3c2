"""A piece without chords and section names, as a MIDI file or a drill gives: nothing says so."""

from __future__ import annotations

import inspect
import io
import json
from collections.abc import Callable
from dataclasses import replace
from types import ModuleType

import mido
import pytest

from genex.audio import loop_markers, take_markers
from genex.export import captions, chord_chart, chord_chart_svg, handout, lead_sheet, midi, musicxml, tab
from genex.export.chord_chart import chart_text
from genex.export.chord_chart_svg import chart_svg
from genex.export.handout import HandoutSettings
from genex.export.handout.content import handout_data
from genex.export.lead_sheet import lead_sheet_text
from genex.export.midi import midi_bytes
from genex.export.musicxml import musicxml_text
from genex.export.tab import tab_text
from genex.score import Score, SectionSpan

from .builders import count_in, fretted, lead, timeline
from .tab_reader import read_tab
from .test_musicxml import valid


def phrase(chart: str = "N.C. | N.C.", name: str = "", chorus: int = 1) -> Score:
    over = timeline(chart)
    over = replace(
        over, sections=(SectionSpan(over.bars[0].onset_beats, over.length_beats, name, chorus),)
    )
    notes = [fretted(0, 1, 3, 5, 1), fretted(2, 4, 2, 6, 2)]
    return Score("Lamps", "as read", over, (lead(notes),), count_in())


def sheet(score: Score) -> str:
    """All that a handout says, as the data that is set."""
    return json.dumps(handout_data(score, HandoutSettings()))


def in_bars(score: Score) -> str:
    return "\n".join(
        marker.label for marker in (*loop_markers(score, 48_000), *take_markers(score, 48_000))
    )


# Every file of a score, as text.
FILES: dict[str, Callable[[Score], str]] = {
    "captions_vtt": lambda score: captions.captions_vtt(score, include_lead_in=True),
    "timeline_csv": lambda score: captions.timeline_csv(score, 48_000, include_lead_in=True),
    "timeline_json": lambda score: captions.timeline_json(score, 48_000),
    "chart_text": chart_text,
    "chart_svg": chart_svg,
    "handout_pdf": sheet,
    "spoken_html": lambda score: handout.spoken_html(score).replace("no chord", "N.C."),
    "midi_bytes": lambda score: midi_bytes(score).decode("latin-1"),
    "musicxml_text": musicxml_text,
    "lead_sheet_text": lead_sheet_text,
    "tab_text": tab_text,
    "markers": in_bars,
}
SILENT = {"captions_vtt"}
"""Captions leave N.C. out wherever it stands: nothing is shown while nothing is played."""


@pytest.mark.parametrize("file", FILES)
def test_no_file_says_n_c_where_there_is_no_chord_at_all(file: str) -> None:
    assert "N.C." not in FILES[file](phrase())
    assert ("N.C." in FILES[file](phrase("C | N.C."))) == (file not in SILENT)


def test_every_exporter_of_a_score_is_asked() -> None:
    def writers(module: ModuleType) -> set[str]:
        """The public functions from a score to text or bytes."""
        return {
            name
            for name, function in inspect.getmembers(module, inspect.isfunction)
            if not name.startswith("_")
            and next(iter(inspect.signature(function).parameters), "") == "score"
            and inspect.signature(function).return_annotation in ("str", "bytes")
        }

    modules = (captions, chord_chart, chord_chart_svg, handout, lead_sheet, midi, musicxml, tab)
    asked_through_another = {"chart_facts"}
    assert set().union(*map(writers, modules)) - asked_through_another == set(FILES) - {"markers"}


def test_tab_has_no_row_of_chords_and_no_empty_name() -> None:
    text = tab_text(phrase())
    assert "N.C." not in text
    assert "[" not in text
    block = text.split("\n\n")[1].split("\n")
    assert block[0].split() == ["1", "2"]
    assert block[1].split() == ["q", "rq", "h~", "h", "rh"]
    assert block[2].startswith("e |")
    assert [note.bar for note in read_tab(text)] == [1, 1]


def test_one_chord_brings_the_row_back() -> None:
    block = tab_text(phrase("C | N.C.")).split("\n\n")[1].split("\n")
    assert block[1].split() == ["C", "N.C."]


def test_names_and_choruses_stand_alone_or_together() -> None:
    assert "  [A]\n" in tab_text(phrase(name="A"))
    assert "  [A, chorus 2]\n" in tab_text(phrase(name="A", chorus=2))
    assert "  [chorus 2]\n" in tab_text(phrase(name=" ", chorus=2))


def test_musicxml_has_no_harmony() -> None:
    for text in (musicxml_text(phrase()), lead_sheet_text(phrase())):
        root = valid(text)
        assert list(root.iter("harmony")) == []
        assert list(root.iter("rehearsal")) == []
    assert len(list(valid(musicxml_text(phrase("C | N.C."))).iter("harmony"))) == 2


def test_a_handout_has_no_chart() -> None:
    def kinds(score: Score) -> list[str]:
        settings = HandoutSettings(blocks=("chart", "shapes", "lines"))
        return [block["kind"] for block in handout_data(score, settings)["blocks"]]

    assert kinds(phrase()) == ["lines"]
    assert kinds(phrase("C | N.C.")) == ["chart", "lines", "shapes"]


def test_a_chart_has_empty_bars() -> None:
    assert chart_text(phrase()).split("\n\n")[1].replace(" ", "") == "||||\n"
    assert "N.C." not in chart_svg(phrase())
    assert ">%<" not in chart_svg(phrase())


def test_midi_has_no_empty_markers() -> None:
    def markers(score: Score) -> list[tuple[str, str]]:
        tracks = mido.MidiFile(file=io.BytesIO(midi_bytes(score))).tracks
        wanted = ("marker", "cue_marker")
        return [(m.type, m.text) for track in tracks for m in track if m.type in wanted]

    assert markers(phrase()) == []
    assert markers(phrase("C | N.C.", name="A")) == [
        ("cue_marker", "A"),
        ("marker", "C"),
        ("marker", "N.C."),
    ]
