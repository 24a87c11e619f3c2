"""The harmony of charts: textbook progressions, each read as every handbook reads it.

Expected readings are [common practice] unless another source stands beside them: what harmony and
jazz theory textbooks print for these progressions.
"""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.theory import (
    SCALES,
    Analysis,
    Key,
    Place,
    all_keys,
    analyse,
    chord_from_numeral,
    interval_between,
    parse_chord,
    scales_for,
    transpose_chord,
)
from genex.theory.key_search import Search, State
from genex.theory.places import events_of
from genex.theory.qualities import QUALITIES
from tests.theory.charts import SHORT, places


def read(chart: str, key: str | None = None) -> Analysis:
    return analyse(places(chart), Key.parse(key) if key else None)


# name; key; chart; numeral and scale of each chord; keys passed through stand before a colon
_TEXTBOOK = """
ii-V-I; C; Dm7 G7 Cmaj7; ii7 dor, V7 mix, Imaj7 ion
ii-V-I with extensions; C; Dm9 G13 Cmaj9; ii9 dor, V13 mix, Imaj9 ion
minor ii-V-i; C minor; Dm7b5 G7 Cm6; iiø7 loc, V7 pd, iadd6 mel
minor ii-V-i, altered; C minor; Dm7b5 G7b9 Cm(maj7); iiø7 loc, V7b9 pd, imaj7 mel
minor ii-V-i to a minor seventh; C minor; Dm7b5 G7 Cm7; iiø7 loc, V7 pd, i7 aeo
pop: I V vi IV; C; C G Am F; I ion, V mix, vi aeo, IV lyd
pop: vi IV I V; C; Am F C G; vi aeo, IV lyd, I ion, V mix
doo-wop; G; G Em C D; I ion, vi aeo, IV lyd, V mix
canon; D; D A Bm F#m G D G A; I ion, V mix, vi aeo, iii phr, IV lyd, I ion, IV lyd, V mix
turnaround; C; Cmaj7 Am7 Dm7 G7; Imaj7 ion, vi7 aeo, ii7 dor, V7 mix
turnaround with VI7; C; Cmaj7 A7 Dm7 G7; Imaj7 ion, V7/ii pd, ii7 dor, V7 mix
iii VI ii V; C; Em7 A7 Dm7 G7; iii7 phr, V7/ii pd, ii7 dor, V7 mix
V of V; C; C D7 G7 C; I ion, V7/V mix, V7 mix, I ion
II7 before ii V; C; Cmaj7 D7 Dm7 G7; Imaj7 ion, V7/V mix, ii7 dor, V7 mix
V of vi; C; C E7 Am F; I ion, V7/vi pd, vi aeo, IV lyd
V of iii; C; C B7 Em F; I ion, V7/iii pd, iii phr, IV lyd
V of IV; C; C C7 F G7; I ion, V7/IV mix, IV lyd, V7 mix
all secondary dominants; C; C A7 Dm B7 Em C7 F D7 G E7 Am G7; I ion, V7/ii pd, ii dor, V7/iii pd, \
iii phr, V7/IV mix, IV lyd, V7/V mix, V mix, V7/vi pd, vi aeo, V7 mix
triads as secondary dominants; C; C A Dm G; I ion, V/ii pd, ii dor, V mix
a dominant that does not go home; C; C E7 F G; I ion, V7/vi pd, IV lyd, V mix
circle of dominants; Bb; D7 G7 C7 F7; V7/VI mix, V7/II mix, V7/V mix, V7 mix
subdominant turned minor; C; C F Fm C; I ion, IV lyd, iv mel, I ion
subdominant turned minor seventh; C; Fmaj7 Fm7 Cmaj7; IVmaj7 lyd, iv7 dor, Imaj7 ion
subdominant turned minor sixth; C; F6 Fm6 C6; IVadd6 lyd, ivadd6 mel, Iadd6 ion
backdoor; C; Fm7 Bb7 Cmaj7; iv7 dor, bVII7 ld, Imaj7 ion
tritone substitute; C; Dm7 Db7 Cmaj7; ii7 dor, bII7 ld, Imaj7 ion
tritone substitute of V/V; C; Cmaj7 Ab7 G7; Imaj7 ion, bVI7 ld, V7 mix
lowered third dominant; C; Cmaj7 Eb7 Dm7 G7; Imaj7 ion, bIII7 ld, ii7 dor, V7 mix
borrowed major sevenths; C; Cmaj7 Ebmaj7 Abmaj7 Dbmaj7; Imaj7 ion, bIIImaj7 lyd, bVImaj7 lyd, bIImaj7 lyd
rock: bVII IV; C; C Bb F C; I ion, bVII lyd, IV lyd, I ion
rock: bVI bVII; C; C Ab Bb C; I ion, bVI lyd, bVII mix, I ion
borrowed ii; C; Dm7b5 G7 Cmaj7; iiø7 loc, V7 pd, Imaj7 ion
raised IV; C; C F F#dim7 C/G; I ion, IV lyd, #iv°7 wh, I64 ion
passing diminished up; C; Cmaj7 C#dim7 Dm7 G7; Imaj7 ion, #i°7 wh, ii7 dor, V7 mix
passing diminished down; C; Em7 Ebdim7 Dm7 G7; iii7 phr, biii°7 wh, ii7 dor, V7 mix
leading-note seventh in minor; A minor; Am G#dim7 Am E7; i aeo, vii°7 ab7, i aeo, V7 pd
ii-V to IV; C; Cmaj7 Gm7 C7 Fmaj7; Imaj7 ion, F major:ii7 dor, F major:V7 mix, F major:Imaj7 ion
ii-V without its I; C; Cmaj7 Bbm7 Eb7 Dm7 G7; Imaj7 ion, Ab major:ii7 dor, Ab major:V7 mix, \
ii7 dor, V7 mix
ii-V-I far away; F; Fmaj7 Ebm7 Ab7 Dbmaj7 Gm7 C7; Imaj7 ion, Db major:ii7 dor, Db major:V7 mix, \
Db major:Imaj7 ion, ii7 dor, V7 mix
ii-Vs down in semitones; C; Em7 A7 Ebm7 Ab7 Dm7 G7 Cmaj7; D major:ii7 dor, D major:V7 mix, \
Db major:ii7 dor, Db major:V7 mix, ii7 dor, V7 mix, Imaj7 ion
ii-Vs down in whole tones; G; Gmaj7 Gm7 C7 Fmaj7 Fm7 Bb7 Ebmaj7 Am7b5 D7; Imaj7 ion, F major:ii7 dor, \
F major:V7 mix, F major:Imaj7 ion, Eb major:ii7 dor, Eb major:V7 mix, Eb major:Imaj7 ion, iiø7 loc, V7 pd
minor ii-Vs in a row; C; F#m7b5 B7 Em7b5 A7 Dm7b5 G7 Cmaj7; E minor:iiø7 loc, E minor:V7 pd, \
D minor:iiø7 loc, D minor:V7 pd, iiø7 loc, V7 pd, Imaj7 ion
minor ii-V-i inside; G minor; Gm7 Em7b5 A7 Dm7 Cm7 D7; i7 aeo, D minor:iiø7 loc, D minor:V7 pd, \
D minor:i7 aeo, iv7 dor, V7 pd
major thirds; B; Bmaj7 D7 Gmaj7 Bb7 Ebmaj7 F#7 Bmaj7; Imaj7 ion, G major:V7 mix, G major:Imaj7 ion, \
Eb major:V7 mix, Eb major:Imaj7 ion, V7 mix, Imaj7 ion
circle of fifths in minor; A minor; Am7 Dm7 G7 Cmaj7 Fmaj7 Bm7b5 E7 Am; i7 aeo, iv7 dor, VII7 mix, \
IIImaj7 ion, VImaj7 lyd, iiø7 loc, V7 pd, i aeo
Andalusian; A minor; Am G F E; i aeo, VII mix, VI lyd, V pd
Neapolitan; A minor; Am Bb E7 Am; i aeo, bII lyd, V7 pd, i aeo
Picardy; A minor; Am Dm E A; i aeo, iv dor, V pd, I ion
line cliche; C minor; Cm Cm(maj7) Cm7 Cm6; i dor, imaj7 mel, i7 dor, iadd6 mel
minor with the major sixth; A minor; Am7 D7; i7 dor, IV7 mix
minor with both sixths; A minor; Am C D F; i aeo, III ion, IV mix, VI lyd
VI7 before V7; C minor; Cm7 Ab7 G7 Cm7; i7 aeo, VI7 ld, V7 pd, i7 aeo
V of iv; C minor; Cm7 C7 Fm7 G7; i7 aeo, V7/iv pd, iv7 dor, V7 pd
V of V in minor; C minor; Cm D7 G7 Cm; i aeo, V7/V mix, V7 pd, i aeo
blues; C; C7 F7 C7 G7; I7 mix, IV7 mix, I7 mix, V7 mix
jazz blues; F; F7 Bb7 F7 Cm7 F7 Bb7 Bdim7 F7 D7 Gm7 C7; I7 mix, IV7 mix, I7 mix, Bb major:ii7 dor, \
Bb major:V7 mix, IV7 mix, #iv°7 wh, I7 mix, V7/ii pd, ii7 dor, V7 mix
minor blues; C minor; Cm7 Fm7 Cm7 Ab7 G7 Cm7; i7 aeo, iv7 dor, i7 aeo, VI7 ld, V7 pd, i7 aeo
dorian vamp; D dorian; Dm7 Em7; i7 dor, ii7 phr
dorian vamp with IV; D dorian; Dm7 G7 Dm7 Cmaj7; i7 dor, IV7 mix, i7 dor, bVIImaj7 ion
mixolydian; D mixolydian; D C G D; I mix, bVII lyd, IV ion, I mix
lydian; F lydian; Fmaj7 G; Imaj7 lyd, II mix
phrygian; E phrygian; Em F Em; i phr, bII lyd, i phr
a minor seventh from nowhere; D dorian; Dm7 Ebm7 Dm7; i7 dor, bii7 dor, i7 dor
altered symbols decide; C; Dm7 G7alt Cmaj7#11; ii7 dor, V7alt alt, Imaj7#11 lyd
half-whole; C; Dm7 G13b9 C6; ii7 dor, V13b9 hw, Iadd6 ion
whole tone; C; Dm7 G9#5 C6; ii7 dor, V9#5 wt, Iadd6 ion
lydian dominant by symbol; C; D7#11 G7 C; V7#11/V ld, V7 mix, I ion
suspended; C; Gsus4 G C; Vsus4 mix, V mix, I ion
suspended before the V of ii; C; A7sus4 A7 Dm7 G7; VI7sus4 phr, V7/ii pd, ii7 dor, V7 mix
slash chords; C; C/E F/G C Am/G; I6 ion, IV/5 lyd, I ion, vi42 aeo
bass of a seventh; C; C C/Bb F G; I ion, V42/IV mix, IV lyd, V mix
power chords; E minor; E5 G5 A5 D5; I5 aeo, III5 ion, IV5 dor, VII5 mix
no chord; C; C N.C. F G; I ion, -, IV lyd, V mix
"""


def _cases() -> list[tuple[str, str, str, list[str]]]:
    lines = _TEXTBOOK.replace("\\\n", "").strip().splitlines()
    cells = [[cell.strip() for cell in line.split(";")] for line in lines]
    return [(name, key, chart, expected.split(", ")) for name, key, chart, expected in cells]


_CASES = _cases()


def _expected(cell: str, home: Key) -> tuple[str, str, str]:
    key, _, rest = cell.strip().rpartition(":")
    numeral, _, scale = rest.rpartition(" ")
    return (key or str(home), numeral, SHORT[scale])


@pytest.mark.parametrize(("name", "key", "chart", "expected"), _CASES, ids=[c[0] for c in _CASES])
def test_textbook_progressions(name: str, key: str, chart: str, expected: list[str]) -> None:
    home = Key.parse(key)
    readings = read(chart, key).readings
    assert len(readings) == len(expected)
    for reading, cell in zip(readings, expected, strict=True):
        if cell.strip() == "-":
            assert (reading.chord, reading.scale, reading.numeral) == (None, None, "")
            continue
        found = (str(reading.key), reading.numeral, str(reading.scale))
        assert found == _expected(cell, home), f"{name}: {reading.chord}"
        assert reading.reason


def test_textbook_progressions_in_twelve_keys() -> None:
    """The same readings in every key: keys, numerals and scales move with the chords."""
    checked = 0
    for name, key, chart, expected in _CASES:
        home = Key.parse(key)
        for tonic in range(12):
            target = next(
                found
                for found in sorted(_keys_of(home.mode), key=lambda found: abs(found.fifths))
                if found.tonic.pitch_class == tonic
            )
            moved = [
                Place(place.chord and transpose_chord(place.chord, home, target))
                for place in places(chart)
            ]
            for reading, cell in zip(analyse(moved, target).readings, expected, strict=True):
                if cell.strip() == "-":
                    continue
                there, numeral, scale = _expected(cell, home)
                away = (Key.parse(there).tonic.pitch_class - home.tonic.pitch_class) % 12
                assert (reading.key.tonic.pitch_class - target.tonic.pitch_class) % 12 == away, name
                assert reading.key.mode == Key.parse(there).mode
                assert (reading.numeral, str(reading.scale)) == (numeral, scale), (name, target)
            checked += 1
    assert checked >= 700


def _keys_of(mode: str) -> list[Key]:
    found = []
    for letter, sign in itertools.product("ABCDEFG", ("", "b", "#")):
        try:
            found.append(Key.parse(f"{letter}{sign} {mode}"))
        except Exception:  # more than seven signs
            continue
    return found


# Building blocks of tunes: a key's own cadences and excursions, each a row of chords that a
# handbook explains by itself; any order of them makes a tune [common practice].
_BLOCKS = {
    "major": [
        ("ii7 V7 Imaj7", "dor mix ion"),
        ("Imaj7 vi7 ii7 V7", "ion aeo dor mix"),
        ("I V vi IV", "ion mix aeo lyd"),
        ("Imaj7 V7/ii ii7 V7", "ion pd dor mix"),
        ("IVmaj7 iv7 Imaj7", "lyd dor ion"),
        ("IV ivadd6 I", "lyd mel ion"),
        ("I V7/vi vi IV", "ion pd aeo lyd"),
        ("ii7 bII7 Imaj7", "dor ld ion"),
        ("iv7 bVII7 Imaj7", "dor ld ion"),
        ("I #io7 ii7 V7", "ion wh dor mix"),
        ("I V7/V V7 I", "ion mix mix ion"),
        ("I bVII IV I", "ion lyd lyd ion"),
        ("bVImaj7 V7 Imaj7", "lyd mix ion"),
    ],
    "minor": [
        ("iiø7 V7 i7", "loc pd aeo"),
        ("i7 iv7 VII7 IIImaj7", "aeo dor mix ion"),
        ("i VI VII i", "aeo lyd mix aeo"),
        ("i7 VI7 V7 i7", "aeo ld pd aeo"),
        ("i V7/iv iv V7", "aeo pd dor pd"),
        ("i bII V7 i", "aeo lyd pd aeo"),
        ("VImaj7 iiø7 V7b9 i7", "lyd loc pd aeo"),
    ],
}


@pytest.mark.slow
def test_two_hundred_random_tunes_of_textbook_blocks() -> None:
    rng = random.Random(11)
    for _ in range(200):
        mode = rng.choice(["major", "major", "minor"])
        blocks = [rng.choice(_BLOCKS[mode]) for _ in range(rng.randint(2, 6))]
        # Every tune has the minor sixth, so that a minor tonic is aeolian.
        blocks = blocks if mode == "major" else [_BLOCKS["minor"][0], *blocks]
        for key in (found for found in all_keys() if found.mode == mode and abs(found.fifths) <= 6):
            numerals = [numeral for chords, _ in blocks for numeral in chords.split()]
            wanted = [SHORT[name] for _, scales in blocks for name in scales.split()]
            chart = [Place(chord_from_numeral(numeral, key)) for numeral in numerals]
            found = [str(reading.scale) for reading in analyse(chart, key).readings]
            assert found == wanted, (str(key), numerals)


# --- properties ------------------------------------------------------------------------------------

_DIATONIC = {
    "major": "I Imaj7 Imaj9 ii ii7 ii9 iii iii7 IV IVmaj7 IVmaj9 V V7 V9 vi vi7 vi9 viio viiø7",
    "minor": "i i7 i9 iio iiø7 III IIImaj7 IIImaj9 iv iv7 iv9 v v7 V V7 VI VImaj7 VImaj9 VII VII7 VII9",
}
_KEYS = st.sampled_from(all_keys())


@given(_KEYS, st.data())
@settings(max_examples=300, deadline=None)
def test_diatonic_charts_have_no_foreign_note(key: Key, data: st.DataObject) -> None:
    numerals = data.draw(st.lists(st.sampled_from(_DIATONIC[key.mode].split()), min_size=1, max_size=12))
    chart = [Place(chord_from_numeral(numeral, key)) for numeral in numerals]
    own = {note.pitch_class for note in key.scale}
    leading = (key.tonic.pitch_class - 1) % 12
    for numeral, reading in zip(numerals, analyse(chart, key).readings, strict=True):
        assert reading.chord is not None and reading.scale is not None
        foreign = reading.scale.pitch_classes(reading.chord.root) - own
        # Harmonic minor's leading note on V of minor [common practice].
        allowed = {leading} if key.mode == "minor" and numeral in ("V", "V7") else set()
        assert foreign <= allowed, (str(key), numerals, str(reading.chord), str(reading.scale))
        assert reading.key == key


_QUALITIES = ["", "m", "7", "m7", "maj7", "m7b5", "dim7", "6", "m6", "sus4", "7alt", "aug", "9", "m9"]
_ROOTS = ["C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
_CHORDS = st.builds(
    lambda r, q: parse_chord(r + q), st.sampled_from(_ROOTS), st.sampled_from(_QUALITIES)
)


@given(st.lists(_CHORDS, min_size=1, max_size=10), _KEYS, _KEYS)
@settings(max_examples=200, deadline=None)
def test_transposing_a_chart_transposes_its_readings(chords, source: Key, target: Key) -> None:
    target = target if target.mode == source.mode else target.relative
    shift = interval_between(source, target).semitones
    here = analyse([Place(chord) for chord in chords], source).readings
    moved = [transpose_chord(chord, source, target) for chord in chords]
    there = analyse([Place(chord) for chord in moved], target).readings
    for one, other in zip(here, there, strict=True):
        assert (one.key.tonic.pitch_class + shift) % 12 == other.key.tonic.pitch_class
        assert (one.key.mode, one.function, one.scale) == (other.key.mode, other.function, other.scale)
        assert one.numeral == other.numeral


@given(st.lists(_CHORDS, min_size=1, max_size=8), _KEYS)
@settings(max_examples=200, deadline=None)
def test_every_scale_holds_its_chord(chords, key: Key) -> None:
    for reading in analyse([Place(chord) for chord in chords], key).readings:
        assert reading.chord is not None and reading.scale in SCALES.values()
        missing = {d for d in reading.chord.degrees if d.semitones % 12 not in reading.scale.semitones}
        assert {str(degree) for degree in missing} <= {"5", "11"}


@pytest.mark.parametrize("closed", [True, False])
def test_the_search_agrees_with_brute_force(closed: bool) -> None:
    """Every way through the keys of short charts is tried [computed]."""
    rng = random.Random(5)
    for trial in range(14):
        length = 1 + trial % 3
        chords = [parse_chord(rng.choice(_ROOTS) + rng.choice(_QUALITIES)) for _ in range(length)]
        own = Key.parse("Eb") if trial % 5 == 4 else None
        chart = [Place(c, key=own if i else None, starts=i == 1) for i, c in enumerate(chords)]
        home = rng.choice([*all_keys(), Key.parse("D dorian"), Key.parse("G mixolydian")])
        events, _ = events_of(chart, closed=closed)
        search = Search(events, home, closed=closed)
        least = min(search.cost(way) for way in itertools.product(search.states, repeat=len(events)))
        assert search.least == least
        assert search.cost(search.best()) == least


def test_the_search_agrees_with_brute_force_over_the_likely_keys() -> None:
    """Longer charts, with only the keys near them tried: a ii-V-I that is left and come back to."""
    chart = places("Cmaj7 Gm7 C7 Fmaj7 Fm7 Bb7")
    events, _ = events_of(chart, closed=True)
    search = Search(events, Key.parse("C"))
    near = [State(0, "major"), State(5, "major"), State(3, "major"), State(0, "minor")]
    assert search.least == min(search.cost(way) for way in itertools.product(near, repeat=6))


# --- overruling ------------------------------------------------------------------------------------


def test_the_teacher_overrules_by_chord_and_by_place() -> None:
    chart = places("Dm7 G7 Cmaj7 Dm7")
    chart[3] = Place(chart[3].chord, scale=SCALES["natural minor"])
    found = analyse(chart, Key.parse("C"), scales={"D-7": SCALES["phrygian"]}).readings
    assert [str(reading.scale) for reading in found] == [
        "phrygian", "mixolydian", "major", "natural minor",
    ]  # fmt: skip
    assert found[0].reason == found[3].reason == "chosen by the teacher"
    assert " ".join(map(str, found[0].scale_notes)) == "D Eb F G A Bb C"


def test_a_section_has_a_key_of_its_own() -> None:
    chart = places("C Am F G")
    chart += [
        Place(p.chord, starts=i == 0, key=Key.parse("Eb")) for i, p in enumerate(places("Cm F Bb"))
    ]
    found = analyse(chart, Key.parse("C")).readings
    assert [str(reading.key) for reading in found] == ["C major"] * 4 + ["Eb major"] * 3
    assert [reading.numeral for reading in found[4:]] == ["vi", "V/V", "V"]
    assert all(reading.is_home for reading in found)


def test_guide_tones_and_borrowed_tones() -> None:
    found = read("Dm7 G7 Fm6 Cmaj7", "C").readings
    assert [" ".join(map(str, reading.guide_tones)) for reading in found] == [
        "F C",
        "B F",
        "Ab D",
        "E B",
    ]
    assert [" ".join(map(str, reading.outside(Key.parse("C")))) for reading in found] == [
        "",
        "",
        "Ab",
        "",
    ]


_ANY_KEY = st.sampled_from(
    [*all_keys(), *map(Key.parse, ("D dorian", "B locrian", "C ionian", "A aeolian"))]
)
_ANY_CHORD = st.builds(
    lambda root, quality, bass: parse_chord(
        root + (f"({quality})" if quality[:1] in ("b", "#") else quality) + (f"/{bass}" if bass else "")
    ),
    st.sampled_from([*_ROOTS, "B#", "Fb", "D#", "Gb"]),
    st.sampled_from(sorted(QUALITIES)),
    st.sampled_from(["", "", "", *_ROOTS]),
)
_ANY_PLACE = st.builds(
    lambda chord, starts, key: Place(chord, starts=starts, key=key),
    st.none() | _ANY_CHORD,
    st.booleans(),
    st.none() | _ANY_KEY,
)


@given(st.lists(_ANY_PLACE, max_size=8), st.none() | _ANY_KEY, st.booleans())
@settings(max_examples=150, deadline=None)
def test_whatever_is_written_is_read(chart: list[Place], key: Key | None, closed: bool) -> None:
    found = analyse(chart, key, closed=closed)
    assert len(found.readings) == len(chart)
    for place, reading in zip(chart, found.readings, strict=True):
        assert reading.chord == place.chord
        told = bool(reading.scale and reading.numeral and reading.reason and reading.scale_notes)
        assert told == (place.chord is not None)


def test_nothing_to_read() -> None:
    assert analyse([], Key.parse("C")).readings == ()
    assert [reading.chord for reading in read("N.C. N.C.").readings] == [None, None]
    assert str(read("N.C.").key) == "C major"


def test_the_loop_leads_back() -> None:
    """The last A7 is the dominant of the first Dm7; a chart that ends there leads nowhere."""
    chart = places("Dm7 G7 Cmaj7 A7")
    assert analyse(chart, Key.parse("C")).readings[-1].reason.startswith("dominant of Dm7")
    open_end = analyse(chart, Key.parse("C"), closed=False).readings[-1]
    assert "does not follow" in open_end.reason


@pytest.mark.parametrize("key", ["C", "Eb", "A minor", "D dorian"])
@pytest.mark.parametrize("symbol", ["C", "G7", "Dm7", "Bb7", "Fm6", "Abmaj7", "E7", "Bdim7", "F/G"])
def test_the_first_of_the_listed_scales_is_that_of_the_analysis(symbol: str, key: str) -> None:
    (reading,) = analyse([Place(parse_chord(symbol))], Key.parse(key), closed=False).readings
    assert scales_for(parse_chord(symbol), Key.parse(key))[0] == reading.scale
