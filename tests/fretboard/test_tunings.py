"""Tunings: names, lists of pitches, places on the neck.

Sources beside the checks: frets.csv and positions.csv are [computed] from 2^(1/12).
"""

from __future__ import annotations

import csv
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import TUNINGS, Place, Tuning, pitch_at, places, tuning
from genex.fretboard.tunings import require_on_instrument
from genex.theory import Pitch

DATA = Path(__file__).parent.parent / "data"
STANDARD = tuning("standard")


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", rows("positions.csv"), ids=lambda row: f"midi {row['midi']}")
def test_every_place_of_a_pitch_is_found(row: dict[str, str]) -> None:
    """[computed]: positions.csv, standard tuning with 22 frets"""
    expected = {
        Place(*map(int, place.split(":"))) for place in row["positions_string_fret_22frets"].split()
    }
    assert set(places(STANDARD, int(row["midi"]))) == expected


@pytest.mark.parametrize("row", rows("frets.csv"), ids=lambda row: f"fret {row['fret']}")
def test_frets_lie_where_equal_temperament_puts_them(row: dict[str, str]) -> None:
    """[computed]: 2^(1/12) at 648 mm; the lutherie rule of 17.817 agrees to 0.01 mm"""
    fret = int(row["fret"])
    assert STANDARD.fret_mm(fret) == pytest.approx(float(row["nut_to_fret_648mm"]), abs=0.001)
    assert STANDARD.fret_mm(fret) == pytest.approx(float(row["648_by_17.817_rule"]), abs=0.01)
    four_frets = STANDARD.fret_mm(fret + 3) - STANDARD.fret_mm(fret)
    assert four_frets == pytest.approx(float(row["width_fret_n_to_n+3_mm"]), abs=0.06)


@pytest.mark.parametrize(
    ("name", "open_strings"),
    [
        # [common practice], written from the lowest string
        ("standard", "E2 A2 D3 G3 B3 E4"),
        ("drop D", "D2 A2 D3 G3 B3 E4"),
        ("DADGAD", "D2 A2 D3 G3 A3 D4"),
        ("half-step down", "Eb2 Ab2 Db3 Gb3 Bb3 Eb4"),
        ("open G", "D2 G2 D3 G3 B3 D4"),
        ("open D", "D2 A2 D3 F#3 A3 D4"),
        ("open E", "E2 B2 E3 G#3 B3 E4"),
        ("open A", "E2 A2 E3 A3 C#4 E4"),
        ("seven-string", "B1 E2 A2 D3 G3 B3 E4"),
        ("four-string bass", "E1 A1 D2 G2"),
        ("five-string bass", "B0 E1 A1 D2 G2"),
        ("ukulele", "G4 C4 E4 A4"),
    ],
)
def test_tunings_by_name(name: str, open_strings: str) -> None:
    assert [str(pitch) for pitch in reversed(tuning(name).strings)] == open_strings.split()


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Drop-D", "drop D"),
        ("dropd", "drop D"),
        ("dadgad", "DADGAD"),
        ("D A D G A D", "DADGAD"),
        ("D,A,D,G,A,D", "DADGAD"),
        ("HALF STEP DOWN", "half-step down"),
        ("bass", "four-string bass"),
        ("Uke", "ukulele"),
        ("Open  g", "open G"),
    ],
)
def test_case_spaces_and_hyphens_do_not_matter(written: str, meant: str) -> None:
    assert tuning(written) == TUNINGS[meant]


@pytest.mark.parametrize("name", TUNINGS)
def test_every_tuning_can_be_written_as_its_pitches(name: str) -> None:
    row = TUNINGS[name]
    pitches = [str(pitch) for pitch in reversed(row.strings)]
    assert tuning(pitches).strings == row.strings
    assert tuning(" ".join(pitches)).strings == row.strings
    assert tuning(",".join(pitches)).strings == tuning(", ".join(pitches)).strings == row.strings


def test_a_list_from_the_highest_string_is_understood() -> None:
    assert tuning(["E4", "B3", "G3", "D3", "A2", "E2"]).strings == STANDARD.strings


def test_a_capo_raises_the_strings_and_shortens_the_neck() -> None:
    neck = tuning("standard", capo=3)
    assert neck.last_fret == 19
    assert pitch_at(neck, 6, 0) == Pitch.parse("G2").midi
    assert places(neck, Pitch.parse("F2").midi) == ()


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("standrad", "did you mean 'standard'"),
        ("opne G", "did you mean 'open G'"),
        ("xylophone", "as pitches"),
        ([], "1 to 12 strings"),
        (["E2"] * 13, "1 to 12 strings"),
        (["E9"], "C0 and E7"),
        (["E2", "H3"], "a note and an octave"),
    ],
)
def test_absurd_tunings_are_refused(written: str | list[str], says: str) -> None:
    with pytest.raises(FretboardError) as caught:
        tuning(written)
    assert says in str(caught.value)


@pytest.mark.parametrize(("frets", "capo"), [(0, 0), (37, 0), (-1, 0), (12, 12), (22, 30), (22, -1)])
def test_absurd_necks_are_refused(frets: int, capo: int) -> None:
    with pytest.raises(FretboardError):
        tuning("standard", frets=frets, capo=capo)


@pytest.mark.parametrize(("string", "fret"), [(0, 1), (7, 1), (1, 23), (1, -1)])
def test_places_that_do_not_exist_are_refused(string: int, fret: int) -> None:
    with pytest.raises(FretboardError):
        pitch_at(STANDARD, string, fret)


necks = st.builds(
    lambda midis, frets, capo: Tuning(
        "some", tuple(Pitch.from_midi(m) for m in midis), frets, min(capo, frets - 1)
    ),
    st.lists(st.integers(12, 100), min_size=1, max_size=12),
    st.integers(1, 36),
    st.integers(0, 12),
)


@given(necks, st.integers(0, 140))
def test_places_are_exactly_the_frets_that_sound_the_pitch(neck: Tuning, midi: int) -> None:
    expected = {
        (string, fret)
        for string in range(1, len(neck.strings) + 1)
        for fret in range(neck.last_fret + 1)
        if pitch_at(neck, string, fret) == midi
    }
    found = places(neck, midi)
    assert set(found) == expected
    assert [place.fret for place in found] == sorted(place.fret for place in found)


def test_looking_at_the_neck_does_not_load_numpy() -> None:
    code = "import sys, genex.fretboard; sys.exit('numpy' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# [common practice] frets and string lengths of the usual instruments
@pytest.mark.parametrize(
    ("name", "frets", "scale_mm"),
    [
        ("standard", 22, 648.0),
        ("tenor guitar", 19, 584.0),
        ("baritone guitar", 22, 686.0),
        ("four-string bass", 21, 864.0),
        ("six-string bass", 24, 864.0),
        ("ukulele", 15, 381.0),
        ("low G ukulele", 15, 381.0),
        ("baritone ukulele", 17, 482.0),
    ],
)
def test_frets_and_lengths(name: str, frets: int, scale_mm: float) -> None:
    assert (TUNINGS[name].frets, TUNINGS[name].scale_mm) == (frets, scale_mm)


@pytest.mark.parametrize(
    ("name", "is_standard"),
    [
        ("standard", True),
        ("half-step down", True),
        ("baritone guitar", True),
        ("drop D", False),
        ("all fourths", False),
        ("seven-string", False),
        ("ukulele", False),
    ],
)
def test_tunings_with_the_intervals_of_the_standard_one(name: str, is_standard: bool) -> None:
    assert TUNINGS[name].has_standard_intervals == is_standard


@pytest.mark.parametrize("scale_mm", [99.0, 2001.0])
def test_absurd_string_lengths_are_refused(scale_mm: float) -> None:
    with pytest.raises(FretboardError, match="string length"):
        replace(STANDARD, scale_mm=scale_mm)


@pytest.mark.parametrize("scale_mm", [100.0, 2000.0])
def test_string_lengths_at_the_limits(scale_mm: float) -> None:
    assert replace(STANDARD, scale_mm=scale_mm).scale_mm == scale_mm


@pytest.mark.parametrize(
    ("midi", "hint"),
    [
        # E2 is 40 and the guitar's lowest, D6 its highest [common practice].
        (39, "1 octave up"),
        (27, "2 octaves up"),
        (87, "1 octave down"),
        (100, "2 octaves down"),
    ],
)
def test_a_note_off_the_neck_is_told_how_to_come_onto_it(midi: int, hint: str) -> None:
    with pytest.raises(FretboardError) as caught:
        require_on_instrument(STANDARD, midi)
    assert caught.value.hint is not None and caught.value.hint.endswith(f"move it {hint}")


def test_what_can_be_rolled_is_asked_of_the_tuning() -> None:
    assert tuning("standard").rolled_semitones == {4, 5}
    assert tuning("all fourths").rolled_semitones == {5}
    assert tuning("tenor guitar").rolled_semitones == {7}
    assert tuning("open C").rolled_semitones == {7, 5, 4}
