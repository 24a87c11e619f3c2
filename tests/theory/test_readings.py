"""Charts of all kinds, each read as a musician reads it, in twelve keys [common practice].

``data/readings.txt`` was written before genex was asked; it says what was added later. What the
field's handbooks say of the kinds of chord, clause by clause, is held below it.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from genex.theory import Key, Place, Reading, analyse, parse_chord, transpose_chord
from genex.theory.key import simplest_key
from genex.theory.likely_key import likely_key
from tests.theory.charts import SHORT, places

_FILE = Path(__file__).parent.parent / "data" / "readings.txt"


def _rows() -> list[tuple[str, str, str, list[str]]]:
    rows = []
    for line in _FILE.read_text(encoding="utf-8").splitlines():
        if line and not line.startswith("#"):
            name, key, chart, readings = (cell.strip() for cell in line.split(";"))
            rows.append((name, key, chart, readings.split(", ")))
    return rows


_ROWS = _rows()


def _home(key: str, chart: str) -> Key:
    if key != "*":
        return Key.parse(key.removeprefix("!"))
    return likely_key(place.chord for place in places(chart) if place.chord)


def _allowed(cell: str, home: Key) -> list[tuple[Key, str, str]]:
    """The readings that a cell allows: key, numeral (a star for any) and scale."""
    found = []
    for text in cell.split("~"):
        key, _, rest = text.strip().rpartition(":")
        numeral, _, scale = rest.partition(" ")
        found.append((Key.parse(key) if key else home, numeral, SHORT[scale]))
    return found


def _agrees(reading: Reading, cell: str, home: Key, there: Key) -> bool:
    """Whether a reading in the key ``there`` is one that a cell allows in the key ``home``."""
    if cell.strip() == "-" or reading.chord is None:
        return cell.strip() == "-" and reading.chord is None
    away = (reading.key.tonic.pitch_class - there.tonic.pitch_class) % 12
    for key, numeral, scale in _allowed(cell, home):
        same_key = numeral == "*" or (
            (key.tonic.pitch_class - home.tonic.pitch_class) % 12 == away
            and key.mode == reading.key.mode
        )
        if same_key and numeral in ("*", reading.numeral) and scale == str(reading.scale):
            return True
    return False


def test_there_are_many_charts() -> None:
    assert len(_ROWS) >= 230
    assert len({name for name, *_ in _ROWS}) == len(_ROWS)


@pytest.mark.parametrize(("name", "key", "chart", "cells"), _ROWS, ids=[row[0] for row in _ROWS])
def test_charts_are_read_as_musicians_read_them(
    name: str, key: str, chart: str, cells: list[str]
) -> None:
    home = _home(key, chart)
    found = analyse(places(chart), home).readings
    assert len(found) == len(cells)
    for reading, cell in zip(found, cells, strict=True):
        told = (str(reading.key), reading.numeral, str(reading.scale), reading.reason)
        assert _agrees(reading, cell, home, home), (str(reading.chord), told, cell)


@pytest.mark.parametrize(("name", "key", "chart", "cells"), _ROWS, ids=[row[0] for row in _ROWS])
def test_their_keys_are_found(name: str, key: str, chart: str, cells: list[str]) -> None:
    if key[0] not in "!*":
        assert _home("*", chart) == Key.parse(key)


@pytest.mark.slow
def test_charts_are_read_and_their_keys_found_in_twelve_keys() -> None:
    for name, key, chart, cells in _ROWS:
        home = _home(key, chart)
        for tonic in range(12):
            target = simplest_key(tonic, home.mode)
            moved = [
                Place(place.chord and transpose_chord(place.chord, home, target))
                for place in places(chart)
            ]
            for reading, cell in zip(analyse(moved, target).readings, cells, strict=True):
                assert _agrees(reading, cell, home, target), (name, str(target), str(reading.chord))
            if key[0] not in "!*":
                found = likely_key(place.chord for place in moved if place.chord)
                assert (found.tonic.pitch_class, found.mode) == (tonic, home.mode), (name, str(target))


# What common practice says of the kinds of chord, one clause a line:
# clause; key; chart; the scale of each chord
_CLAUSES = """
diatonic triads take the key's notes; C; C Dm Em F G Am Bdim; ion dor phr lyd mix aeo loc
diatonic sevenths take the key's notes; C; Cmaj7 Dm7 Em7 Fmaj7 G7 Am7 Bm7b5; \
ion dor phr lyd mix aeo loc
diatonic chords of minor; C minor; Cm Ddim Eb Fm Gm Ab Bb; aeo loc ion dor phr lyd mix
a minor tonic is aeolian; C minor; Cm7 Fm7 Cm7 G7; aeo dor aeo pd
a minor tonic is dorian where the chart has the major sixth; C minor; Cm7 F7 Cm7 F7; dor mix dor mix
a minor sixth and a major seventh are melodic minor; C minor; Cm6 Fm7 Cm(maj7) G7; mel dor mel pd
V and V7 of minor; C minor; Cm G Fm G7; aeo pd dor pd
the chord on the lowered seventh of minor; C minor; Cm Bb Ab Bb7; aeo mix lyd mix
ii of minor; C minor; Dm7b5 G7 Cm; loc pd aeo
a secondary dominant before a major chord; C; C C7 F D7 G; ion mix lyd mix mix
a secondary dominant before a minor chord; C; C A7 Dm B7 Em E7 Am G7; ion pd dor pd phr pd aeo mix
a ii-V-I elsewhere; C; C Ebm7 Ab7 Dbmaj7 G7; ion dor mix ion mix
a ii-V elsewhere without its I; C; Cmaj7 Ebm7 Ab7 Dm7 G7; ion dor mix dor mix
a chain of ii-Vs; C; Cmaj7 Fm7 Bb7 Ebm7 Ab7 Dm7 G7; ion dor mix~ld dor mix dor mix
a minor ii-V-i elsewhere; C; C Cm7b5 F7 Bbm7 Dm7 G7; ion loc pd aeo dor mix
the IV that turns minor; C; C F Fm C; ion lyd mel~dor ion
the dominant on the lowered seventh; C; Cmaj7 Bb7 Cmaj7; ion ld ion
the dominant on the lowered second; C; Dm7 Db7 Cmaj7; dor ld ion
the fourth degree's dominant outside a blues; C; Cmaj7 F7 Cmaj7 G7; ion ld ion mix
major sevenths borrowed from minor; C; Cmaj7 Abmaj7 Ebmaj7 G7; ion lyd lyd mix
the major seventh on the lowered second; C; Cmaj7 Dbmaj7 Cmaj7; ion lyd ion
triads borrowed from minor; C; C Eb Ab Bb; ion ion lyd mix
bVII beside IV; C; C Bb F C; ion lyd lyd ion
a minor seventh that belongs nowhere; C; Cmaj7 F#m7 Cmaj7; ion dor ion
a major seventh that belongs nowhere; C; Cmaj7 F#maj7 Cmaj7; ion lyd ion
a blues; C; C7 F7 C7 G7 F7 C7; mix mix mix mix mix mix
a vamp of a minor seventh; C dorian; Cm7; dor
alterations decide; C; Dm7 G7alt C7#11 G9#5 C; dor alt ld wt ion
sus, dim and aug decide; C; C F#dim7 Gsus4 Gaug C; ion wh mix wt ion
a sus chord before its third in minor; C minor; Cm Fm G7sus4 G7; aeo dor phr pd
"""
_CLAUSE_ROWS = [
    tuple(cell.strip() for cell in line.split(";"))
    for line in _CLAUSES.replace("\\\n", "").strip().splitlines()
]


@pytest.mark.parametrize(
    ("clause", "key", "chart", "scales"), _CLAUSE_ROWS, ids=[row[0] for row in _CLAUSE_ROWS]
)
def test_clauses_of_common_practice_in_twelve_keys(
    clause: str, key: str, chart: str, scales: str
) -> None:
    home = Key.parse(key)
    for tonic in range(12):
        target = simplest_key(tonic, home.mode)
        moved = [Place(transpose_chord(parse_chord(symbol), home, target)) for symbol in chart.split()]
        for reading, cell in zip(analyse(moved, target).readings, scales.split(), strict=True):
            wanted = [SHORT[name] for name in cell.split("~")]
            assert str(reading.scale) in wanted, (str(target), str(reading.chord), reading.reason)


# --- words -----------------------------------------------------------------------------------------

_WORDS = """
Cmaj7 Am7 Dm7 G7; C; tonic of the key | chord of the key, tonic function | \
chord of the key, subdominant function | dominant of the key
C A7 Dm G7; C; tonic of the key | dominant of Dm, a minor chord | \
chord of the key, subdominant function | dominant of the key
C A7 F G7; C; tonic of the key | dominant of ii, which does not follow | subdominant of the key | \
dominant of the key
C Ab Bb C; C; tonic of the key | borrowed from the minor key | borrowed from the minor key | \
tonic of the key
C Bb F C; C; tonic of the key | borrowed from the mixolydian mode | subdominant of the key | \
tonic of the key
C Eb F C; C; tonic of the key | borrowed from the dorian mode | subdominant of the key | \
tonic of the key
Cmaj7 Eb7 Fmaj7 G7; C; tonic of the key | tritone substitute of V7/ii; ii does not follow | \
subdominant of the key | dominant of the key
Am E7sus4 E7 Am; A minor; tonic of the key | dominant of the key | \
V of the minor key | tonic of the key
Gm7 Em7b5 A7 Dm7 Cm7 D7; G minor; tonic of the key | ii of a ii-V to D minor | V of D minor | \
tonic of D minor | subdominant of the key | V of the minor key
Cmaj7 Gm7 C7 Fmaj7; C; tonic of the key | ii of a ii-V to F major | dominant of F major | \
tonic of F major
Cmaj7 F7 Cmaj7 G7; C; tonic of the key | IV7: all but its seventh is the key's | tonic of the key | \
dominant of the key
"""


@pytest.mark.parametrize("line", _WORDS.replace("\\\n", "").strip().splitlines())
def test_reasons_are_true_and_short(line: str) -> None:
    # A reason may have a semicolon of its own.
    chart, key, reasons = (cell.strip() for cell in line.split(";", 2))
    found = [reading.reason for reading in analyse(places(chart), Key.parse(key)).readings]
    assert found == [reason.strip() for reason in reasons.split("|")]


def test_no_reason_is_longer_than_a_line() -> None:
    for _, key, chart, _ in _ROWS:
        for reading in analyse(places(chart), _home(key, chart)).readings:
            assert len(reading.reason) <= 60, reading.reason
