"""Tunes and lead sheets of an open corpus, read by another library [package: music21 10.5].

music21 is wrong where a repeat has no sign at its beginning: it goes back to the first bar and not, as
the standard says, behind the repeat before [published: ABC standard v2.1, 4.8]. Of 133 tunes drawn
(each eighth of the collection) all have its meter, 130 its written length, 118 its played length;
all 15 others were looked at, and are of that kind or have bars that music21 drops or cuts.
"""

from __future__ import annotations

import re
import warnings
from fractions import Fraction
from functools import cache
from pathlib import Path

import music21
import pytest

from genex.compose import compose, usual_of_feel
from genex.export.lead_sheet import lead_sheet_text
from genex.export.musicxml import musicxml_text
from genex.readers.charts import read_chart, recipe_text
from genex.readers.charts.abc import read_abc
from genex.readers.charts.foreign_chart import played_bars
from genex.readers.charts.musicxml import read_musicxml
from genex.recipe import Recipe, parse_recipe, read_lessons
from genex.resources import example_recipes
from genex.theory import parse_chord

CORPUS = Path(music21.__file__).parent / "corpus"


def text_of(path: Path) -> str:
    data = path.read_bytes()
    try:
        return data.decode()
    except UnicodeDecodeError:
        return data.decode("latin-1")


def marked(path: Path) -> bool:
    """Whether every repeat has a sign at its beginning."""
    music = re.split(r"^K:.*$", text_of(path), maxsplit=1, flags=re.MULTILINE)[1]
    signs = re.findall(r"\|:|:\||::", re.sub(r'"[^"]*"', "", music))
    return bool(signs) and signs == ["|:", ":|"] * (len(signs) // 2)


NOT_READ_BY_MUSIC21 = {
    # It cannot expand their repeats, or (the last) loses beats of notes beside a chord in brackets.
    "BoyneHuntReel", "BrooksideHornpipe", "JackOnTheGreenJig", "JennyDangedTheWeaverReel",
    "EssenceOfCinnamonSeed",
    "Eviction",  # it drops a second ending at the head of a line
}  # fmt: skip
TUNES = [
    path
    for path in [one for one in sorted((CORPUS / "ryansMammoth").glob("*.abc")) if marked(one)][:30]
    if path.stem not in NOT_READ_BY_MUSIC21
]


def by_music21(text: str, format: str):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        read = music21.converter.parse(text, format=format)
        return read.parts[0] if read.parts else read


def test_there_are_tunes() -> None:
    assert len(TUNES) == 24


@pytest.mark.parametrize("path", TUNES, ids=lambda path: path.stem)
def test_meter_and_length_written_and_played(path: Path) -> None:
    chart = read_abc(text_of(path), path.name)
    part = by_music21(text_of(path), "abc")
    meter = part.recurse().getElementsByClass(music21.meter.TimeSignature).first()
    assert str(chart.bars[0].meter) == meter.ratioString
    lengths = [Fraction(one.highestTime) for one in part.getElementsByClass("Measure")]
    assert sum(bar.length_beats for bar in chart.bars) == sum(lengths)
    played = part.expandRepeats().getElementsByClass("Measure")
    ours = sum(chart.bars[index].length_beats for index in played_bars(chart.bars))
    assert ours == sum(Fraction(one.highestTime) for one in played)


def their_chords(part) -> list[tuple[Fraction, frozenset[int], int]]:
    found = []
    for measure in part.getElementsByClass("Measure"):
        for symbol in measure.getElementsByClass(music21.harmony.ChordSymbol):
            if not isinstance(symbol, music21.harmony.NoChord):
                at = Fraction(measure.offset) + Fraction(symbol.offset)
                tones = frozenset(pitch.pitchClass for pitch in symbol.pitches)
                found.append((at, tones, symbol.bass().pitchClass))
    return found


def our_chords(chart) -> list[tuple[Fraction, frozenset[int], int]]:
    found, at = [], Fraction(0)
    for bar in chart.bars:
        for one in bar.symbols:
            if one.text:
                chord = parse_chord(one.text)
                tones = chord.pitch_classes | {chord.bass.pitch_class}
                found.append((at + Fraction(one.onset_beats), tones, chord.bass.pitch_class))
        at += bar.length_beats
    return found


@pytest.mark.parametrize("name", ["berlinAlexandersRagtime", "fosterBrownHair"])
def test_chords_of_lead_sheets(name: str) -> None:
    path = CORPUS / "leadSheet" / f"{name}.mxl"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = music21.converter.parse(path).parts[0]
    ours = our_chords(read_chart(path))
    assert ours == their_chords(part)
    assert len(ours) > 15


@pytest.mark.parametrize("number", [80, 81])
def test_chords_of_folk_tunes_in_their_bars(number: int) -> None:
    """By a reading that shares no code: quotes between bar lines, in order."""
    text = (CORPUS / "nottingham-dataset" / "reelsa-c.abc").read_text("latin-1")
    body = re.split(rf"^X: {number}$", text, flags=re.MULTILINE)[1].split("\nX:")[0]
    music = re.sub(r"\\\n|^[A-Z]:.*$", "", body.split("K:")[1].split("\n", 1)[1], flags=re.MULTILINE)
    wanted = []
    for bar in re.split(r"[|:\]]+|\[(?=[12])", music):
        symbols = [one.strip().replace("+", "#") for one in re.findall(r'"([^"]*)"', bar)]
        wanted += [symbols] if symbols else []
    chart = read_abc(text, "reelsa-c.abc", number)
    ours = [[one.text for one in bar.symbols] for bar in chart.bars if bar.symbols]
    assert [[text.lower() for text in row] for row in ours] == [
        [text.lower() for text in row] for row in wanted
    ]
    assert chart.listed == []
    parse_recipe(recipe_text(chart, "x"), "x.yaml", usual_of_feel)


@cache
def examples() -> list[Path]:
    return [
        path
        for path in sorted(example_recipes().glob("*.yaml"))
        if isinstance(recipe := read_lessons(path, usual_of_feel), Recipe)
        and not recipe.exercises
        and any(chord for section in recipe.form for bar in section.bars for chord, _ in bar.chords)
    ]


def merged(spans) -> list[tuple[object, Fraction]]:
    found: list[list] = []
    for chord, beats in spans:
        what = None if chord is None else (chord.root, chord.bass, chord.pitch_classes)
        if found and found[-1][0] == what:
            found[-1][1] += beats
        else:
            found.append([what, beats])
    return [(what, beats) for what, beats in found]


@pytest.mark.parametrize("write", [lead_sheet_text, musicxml_text])
@pytest.mark.parametrize("path", examples(), ids=lambda path: path.stem)
def test_recipe_to_musicxml_to_recipe(path: Path, write) -> None:
    """Every example: the same chords for the same beats, meter, key and tempo."""
    score = compose(read_lessons(path, usual_of_feel)).score
    text = recipe_text(read_musicxml(write(score).encode(), "x.musicxml"), "x")
    again = parse_recipe(text, "x.yaml", usual_of_feel)
    assert merged((span.chord, span.length_beats) for span in score.timeline.chords) == merged(
        span for section in again.form for bar in section.bars for span in bar.chords
    )
    assert again.meter == score.timeline.bars[0].meter
    assert again.key.fifths == score.timeline.key.fifths
