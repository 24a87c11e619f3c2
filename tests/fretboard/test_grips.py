"""Grips: chords held by one hand, against what every method prints."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import STANDARD, TUNINGS, Hand, pitch_at
from genex.fretboard.grips import KINDS, grips_of
from genex.fretboard.held import held_chord
from genex.theory import parse_chord
from genex.theory.qualities import QUALITIES


def frets_of(text: str) -> dict[int, int]:
    """``x32010``, string 6 first."""
    return {6 - i: int(fret) for i, fret in enumerate(text) if fret != "x"}


@pytest.mark.parametrize(
    ("frets", "fingers"),
    [
        # open chords [common practice]
        ("x32010", "x32010"), ("xx0232", "xx0132"), ("x02220", "x01230"), ("022100", "023100"),
        ("x02210", "x02310"), ("xx0231", "xx0231"), ("320001", "320001"), ("x21202", "x21304"),
        ("xx0212", "xx0213"), ("x32310", "x32410"), ("020100", "020100"), ("320003", "210003"),
        # barre chords over the E and the A form
        ("133211", "134211"), ("133111", "134111"), ("353433", "131211"), ("353333", "131111"),
        ("x24432", "x13421"), ("x35343", "x13121"), ("x35353", "x13141"),
    ],
)  # fmt: skip
def test_fingers_that_every_method_prints(frets: str, fingers: str) -> None:
    held = held_chord(frets_of(frets), STANDARD)
    assert held is not None
    assert "".join(str(held.fingers.get(string, "x")) for string in range(6, 0, -1)) == fingers


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        # drop 2 on the four thin strings, all inversions [memory]
        ("Cmaj7", ["xx2413", "xx5557", "xx9988", "xx10.12.12.12"]),
        ("C7", ["xx2313", "xx5556", "xx8988", "xx10.12.11.12"]),
        ("Cm7", ["xx1313", "xx5546", "xx8888", "xx10.12.11.11"]),
        ("Cm7b5", ["xx1312", "xx4546", "xx8878", "xx10.11.11.11"]),
    ],
)
def test_drop_2(symbol: str, expected: list[str]) -> None:
    found = []
    for grip in grips_of(parse_chord(symbol), STANDARD, "drop 2"):
        if grip.strings == (4, 3, 2, 1):
            frets = [str(grip.held.frets[string]) for string in grip.strings]
            found.append("xx" + ("." if len("".join(frets)) > 4 else "").join(frets))
    assert found == expected


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        # drop 2 on the middle strings, all inversions from the lowest place up [common practice]
        ("Dm7", ["3 3 2 3", "5 7 5 6", "8 10 7 10"]),
        ("G7", ["5 5 4 6", "8 9 7 8", "10 12 10 12"]),
        ("Cmaj7", ["3 5 4 5", "7 9 5 8", "10 10 9 12"]),
        ("Bm7b5", ["2 3 2 3", "5 7 4 6", "8 9 7 10"]),
    ],
)
def test_drop_2_on_the_middle_strings(symbol: str, expected: list[str]) -> None:
    found = {
        tuple(grip.held.frets[s] for s in grip.strings)
        for grip in grips_of(parse_chord(symbol), STANDARD, "drop 2")
        if grip.strings == (5, 4, 3, 2)
    }
    for text in expected:
        assert tuple(map(int, text.split())) in found, text
    assert len(found) == 4


@pytest.mark.parametrize(
    ("symbol", "triad"),
    # A seventh chord without its root is a triad of another [common practice].
    [("Dm7", "F"), ("G7", "Bdim"), ("Cmaj7", "Em"), ("Bm7b5", "Dm"), ("C6", "Am"), ("Dm6", "Bdim"),
     ("C13", "Edim"), ("Cm(maj7)", "Ebaug"), ("C7sus4", "Gm7")],
)  # fmt: skip
def test_rootless_grips_are_triads(symbol: str, triad: str) -> None:
    expected = parse_chord(triad).pitch_classes
    for grip in grips_of(parse_chord(symbol), STANDARD, "rootless"):
        assert len(grip.strings) == 3
        if triad != "Gm7":
            assert {midi % 12 for midi in grip.midis} == expected
        assert set(parse_chord(symbol).guide_tones) <= set(grip.degrees.values())


def test_triads_have_no_rootless_grip() -> None:
    with pytest.raises(FretboardError, match="no grip of C"):
        grips_of(parse_chord("C"), STANDARD, "rootless")


def test_a_ninth_chord_is_held_as_the_seventh_chord_on_its_third_too() -> None:
    """[common practice]: D7b9 as a diminished seventh, C9 as Em7b5."""
    for symbol, upper in (("D7b9", "F#dim7"), ("C9", "Em7b5"), ("Fmaj9", "Am7")):
        wanted = {tuple(g.held.frets.items()) for g in grips_of(parse_chord(upper), STANDARD, "drop 2")}
        found = {tuple(g.held.frets.items()) for g in grips_of(parse_chord(symbol), STANDARD, "drop 2")}
        assert wanted <= found


def test_shells_and_drop_3_of_a_dominant() -> None:
    """[common practice]: G7 as 3x34xx and x10.9.10xx; drop 3 from string 6 as 3x343x"""
    shells = {tuple(g.held.frets.items()) for g in grips_of(parse_chord("G7"), STANDARD, "shell")}
    assert ((6, 3), (4, 3), (3, 4)) in shells
    assert ((5, 10), (4, 9), (3, 10)) in shells
    drops = {tuple(g.held.frets.items()) for g in grips_of(parse_chord("G7"), STANDARD, "drop 3")}
    assert ((6, 3), (4, 3), (3, 4), (2, 3)) in drops


def test_triads_lie_on_every_three_strings_in_every_inversion() -> None:
    found = grips_of(parse_chord("C"), STANDARD, "triad")
    assert {(grip.strings, str(grip.bass)) for grip in found} == {
        ((top + 2, top + 1, top), bass) for top in range(1, 5) for bass in ("1", "3", "5")
    }


@settings(max_examples=80, deadline=None)
@given(
    st.dictionaries(st.integers(1, 6), st.integers(0, 9), min_size=1, max_size=6), st.sampled_from(Hand)
)
def test_what_is_held_can_be_held(frets: dict[int, int], hand: Hand) -> None:
    held = held_chord(frets, STANDARD, hand=hand)
    if held is None:
        return
    pressed = {string: fret for string, fret in frets.items() if fret}
    assert {s for s, finger in held.fingers.items() if finger} == set(pressed)
    for a in pressed:
        for b in pressed:
            if pressed[a] < pressed[b]:
                assert held.fingers[a] < held.fingers[b]
            if a > b and held.fingers[a] == held.fingers[b]:
                assert all(frets.get(s, -1) >= pressed[a] for s in range(b, a + 1)), "a clean barre"
    if pressed:
        reach = STANDARD.fret_mm(max(pressed.values())) - STANDARD.fret_mm(min(pressed.values()))
        assert reach <= hand.reach_mm
    larger = {Hand.SMALL: Hand.MEDIUM, Hand.MEDIUM: Hand.LARGE}.get(hand)
    assert larger is None or held_chord(frets, STANDARD, hand=larger) is not None


@pytest.mark.parametrize("quality", sorted(QUALITIES))
def test_every_quality_has_grips_that_sound_its_tones(quality: str) -> None:
    chord = parse_chord(f"C{quality}") if quality != "5" else None
    if chord is None:
        return
    for grip in grips_of(chord, STANDARD):
        assert grip.kind in KINDS
        midis = [pitch_at(STANDARD, string, grip.held.frets[string]) for string in grip.strings]
        assert midis == sorted(midis)
        assert {midi % 12 for midi in midis} <= chord.pitch_classes


def test_grips_on_other_necks_and_what_cannot_be() -> None:
    assert {g.kind for g in grips_of(parse_chord("C"), TUNINGS["ukulele"], "triad")} == {"triad"}
    with pytest.raises(FretboardError, match="not a kind of grip"):
        grips_of(parse_chord("C"), STANDARD, "drop 7")


def test_grips_from_the_command_line(genex) -> None:
    answer = genex("shapes", "Cm7b5", "--grips")
    assert answer.code == 0 and "drop 2, " in answer.out and "strings 5 4 3 2" in answer.out
    data = json.loads(genex("shapes", "C", "--grips", "--json").out)
    assert {grip["kind"] for grip in data["grips"]} >= {"triad", "shell"}
