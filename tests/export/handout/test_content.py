"""What a handout says, as data for the templates."""

from __future__ import annotations

import json
import re

import pytest

from genex.compose import compose
from genex.export.handout import HandoutSettings, handout_pdf
from genex.export.handout.content import handout_data
from genex.fretboard import STANDARD, TUNINGS, chord_shapes
from genex.recipe import parse_recipe
from genex.score import Score
from genex.theory import parse_chord
from tests.export.builders import fretted, lead, small_score, timeline
from tests.export.handout.sheets import block, empty, pages


def test_every_chord_has_its_five_shapes() -> None:
    chords = block(empty("Gm7 | C7 | Gm7 | Bb/D | Bb"), "shapes")["chords"]
    assert [chord["symbol"] for chord in chords] == ["Gm7", "C7", "B♭/D"]
    for chord, symbol in zip(chords, ("Gm7", "C7", "Bb"), strict=True):
        wanted = chord_shapes(parse_chord(symbol), STANDARD, with_open=True)
        captions = [shape["caption"].split()[0].lower() for shape in chord["shapes"]]
        assert captions == [s.form.lower() for s in wanted]
        assert len([caption for caption in captions if caption != "open"]) == 5
    closed = block(empty("Gm7"), "shapes", closed=True)["chords"][0]["shapes"]
    assert [shape["caption"].split()[0] for shape in closed] == [
        s.form for s in chord_shapes(parse_chord("Gm7"), STANDARD)
    ]


def test_shapes_of_chosen_chords_only() -> None:
    chosen = (parse_chord("Am7"),)
    assert [c["symbol"] for c in block(empty("Gm7 | C7"), "shapes", shapes_for=chosen)["chords"]] == [
        "Am7"
    ]


def test_the_shape_that_the_exercise_plays_is_marked() -> None:
    shape = chord_shapes(parse_chord("Gm7"), STANDARD)[2]
    notes = [
        fretted(f"{index}/2", "1/2", note.string, note.fret, note.finger)
        for index, note in enumerate(shape.notes[:8])
    ]
    score = Score("T", "swing", timeline("Gm7"), (lead(notes),))
    (chord,) = block(score, "shapes")["chords"]
    used = [s["caption"].split()[0] for s in chord["shapes"] if s["used"]]
    assert used == [shape.form]


def test_diagrams_are_of_one_scale_and_fit_into_their_cells() -> None:
    for paper in ("a4", "letter"):
        chords = block(empty("Gm7 | F7 | Bbmaj7 | C13"), "shapes", paper=paper)["chords"]
        scales = set()
        for chord in chords:
            for shape in chord["shapes"]:
                picture = shape["picture"]
                width = float(re.search(r' width="([\d.]+)"', picture["svg"])[1])  # type: ignore[index]
                scales.add(round(picture["width_mm"] / width, 6))
                assert picture["width_mm"] - 2 * chord["pull_mm"] <= chord["cell_mm"] + 1e-6
        assert len(scales) == 1


def test_left_handed_diagrams_are_mirrored() -> None:
    def nut(left_handed: bool) -> float:
        (chord,) = block(empty("E7"), "shapes", left_handed=left_handed)["chords"]
        svg = chord["shapes"][0]["picture"]["svg"]
        width = float(re.search(r' width="([\d.]+)"', svg)[1])  # type: ignore[index]
        thick = re.search(r'<line x1="([\d.]+)"[^>]*stroke-width="4"', svg)
        assert thick is not None
        return float(thick[1]) / width

    assert nut(False) < 0.5 < nut(True)


def test_other_instruments_have_their_own_shapes() -> None:
    text = "\n".join(
        pages(handout_pdf(empty("Gm7"), HandoutSettings(blocks=("shapes",), tuning=TUNINGS["ukulele"])))
    )
    assert "form 1" in text.lower()


def test_an_unknown_part_is_refused() -> None:
    with pytest.raises(KeyError):
        handout_pdf(small_score(), HandoutSettings(part_names=("nobody",)))


def test_the_data_is_plain_json() -> None:
    data = handout_data(small_score(), HandoutSettings())
    assert json.loads(json.dumps(data)) == data


@pytest.mark.parametrize("tag", ["fr-x-solfege", "pt-x-solfege", "de-x-german"])
def test_the_longest_names_of_chords_meet_nothing(tag: str) -> None:
    """A system in which two things cover each other is not set (``_require_clear``)."""
    chords = "Abmaj7#11/G F#m7b5/E | Gb7sus4 Abm(maj7) Db7#9 G7alt | Bbmaj7/A | B13 |"
    recipe = f"chords: {chords}\nkey: Gb\nexercise: {{kind: changes}}"
    score = compose(parse_recipe(recipe)).score
    assert handout_pdf(score, HandoutSettings(blocks=("chart", "lines"), language=tag))[:5] == b"%PDF-"


def test_the_legend_tells_what_stands_on_the_sheet_and_nothing_else() -> None:
    def note(words: str, sign: str) -> str:
        abc = f"{sign}B2 c2 d2 f2 | e8 |\\n{words}"
        recipe = f'chords: Gm7 | C7\nexercise: {{kind: line, octave: -1, abc: "{abc}"}}'
        score = compose(parse_recipe(recipe)).score
        return str(block(score, "lines")["parts"][0]["note"])

    plain = note("", "!vibrato!")
    assert "degrees" in plain and "Square" in plain and "vib.: vibrato." in plain
    assert "hammer" not in plain and "bend" not in plain
    sung = note("w: o-ver the wall", "!half-bend!")
    assert "the words" in sung and "Square" not in sung and "½ and full" in sung and "vib." not in sung
