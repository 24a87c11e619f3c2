"""Spellings of chord symbols in open collections, and what a recipe makes of them.

[data: Nottingham Music Database, the ABC files of waltzes, jigs, reels, hornpipes, morris and Playford
dances and carols, read page by page: of about 8,000 symbols on these pages all spellings that are not a
letter, an accidental, ``m`` and ``7``] [package: music21 10.5, its corpus: one file of that collection
and the lead sheets]
"""

from __future__ import annotations

import re
from pathlib import Path

import music21
import pytest

from genex.compose import usual_of_feel
from genex.readers.charts import read_chart, recipe_text
from genex.readers.charts.abc import read_abc
from genex.recipe import parse_recipe

SPELLINGS = {
    # in the collection: what stands in the recipe
    "D/f+": "D/F#", "A7/c+": "A7/C#", "E7/g+": "E7/G#", "Am/g+": "Am/G#", "C/g": "C/G",
    "F#m/c+": "F#m/C#", "Am7/g": "Am7/G", "Gm/bb": "Gm/Bb", "D/nF": "D/F", "C6": "C6", "Gd": "Gdim",
    "Cd": "Cdim",
    "Fd": "Fdim", "Bbd7": "Bbdim7", "Da": "Daug", "(D7)": "(D7)", "G (A7)": "G(A7)", " Em": "Em",
    "D(Bm)": "D(Bm)", "G7/f": "G7/F", "Cm/g": "Cm/G",
}  # fmt: skip
REFUSED = {"C  drone": "'C drone' is not a chord that can be read"}


def tune(music: str):
    chart = read_abc(f"X:1\nM:4/4\nL:1/4\nK:C\n{music}\n", "t.abc")
    text = recipe_text(chart, "x")
    return chart, parse_recipe(text, "x.yaml", usual_of_feel), text


def bars_of(text: str) -> list[str]:
    return re.findall(r"[^|:]+(?=\|)", text.split("chords: |\n")[1].split("\n\n")[0].replace("\n", " "))


@pytest.mark.parametrize(("written", "wanted"), SPELLINGS.items())
def test_spellings(written: str, wanted: str) -> None:
    chart, _, text = tune(f'"{written}"c4|"G"d4|')
    assert [bar.strip() for bar in bars_of(text)] == [wanted, "G"]
    assert chart.listed == []


def test_a_small_letter_is_a_bass_note_under_the_chord() -> None:
    chart, _, text = tune('"G"c2"f#"d2|"Em"c2"d"c2|"C"c2 z2|"b"c2"c"c2|"D7/a"c"c"c"d"c"f+"c|')
    assert [bar.strip() for bar in bars_of(text)] == [
        "G G/F#", "Em Em/D", "C", "C/B C", "D7/A D7/C D7 D7/F#",
    ]  # fmt: skip
    assert chart.listed == []


def test_a_second_symbol_over_a_note_is_optional() -> None:
    """``"G""Bm"b3`` gives a choice of two; a blank is none."""
    chart, recipe, text = tune('"G""Bm"c2 "D"" "c2|"Em""C""Qx"c4|"Am""Am"c4|"f"c4|')
    assert [bar.strip() for bar in bars_of(text)] == ["G(Bm) D", "Em(C)", "Am", "Am/F"]
    assert chart.listed == ["line 5: 'Qx', a further symbol over one note"]
    assert [str(chord) for _, chord in recipe.form[0].bars[0].optional] == ["Bm"]


@pytest.mark.parametrize(("written", "said"), REFUSED.items())
def test_what_is_no_chord_is_listed(written: str, said: str) -> None:
    chart, *_ = tune(f'"{written}"c4|"G"d4|')
    assert chart.listed == [f"line 5: {said}"]
    chart, *_ = tune('"d"c4|"G"d4|')
    assert chart.listed == ["line 5: 'd' is not a chord that can be read"]


def test_every_symbol_of_the_corpus() -> None:
    """All chord symbols in ABC and lead sheets that music21's corpus carries."""
    corpus = Path(music21.__file__).parent / "corpus"
    for number in (80, 81):
        chart = read_abc((corpus / "nottingham-dataset/reelsa-c.abc").read_text("latin-1"), "x", number)
        assert not [one for one in chart.listed if "chord" in one]
    for path in sorted((corpus / "leadSheet").glob("*.mxl")):
        assert not [one for one in read_chart(path).listed if "harmony" in one or "chord" in one]
