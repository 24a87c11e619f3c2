"""What single chords cost and do in a key, seen from its tonic [common practice]."""

from __future__ import annotations

import itertools

import pytest

from genex.theory import SCALES, Key, Place, parse_chord
from genex.theory.functions import SAME_NOTES, Role, is_dark, kind_of, mode_notes, role_in
from genex.theory.key import Mode, simplest_key
from genex.theory.places import events_of, sight_of
from genex.theory.qualities import QUALITIES

_MODES: tuple[Mode, ...] = (
    "major", "minor", "ionian", "dorian", "phrygian", "lydian", "mixolydian", "aeolian", "locrian",
)  # fmt: skip


def _role(symbols: str, key: str, *, blues: bool = False) -> Role:
    """The role of the first chord; those behind it are its neighbours."""
    home = Key.parse(key)
    events, _ = events_of([Place(parse_chord(symbol)) for symbol in symbols.split()], closed=False)
    return role_in(home.mode, sight_of(events[0], home.tonic.pitch_class, blues=blues))


@pytest.mark.parametrize(
    ("symbol", "kind"),
    [
        ("C", "major"), ("C6", "major"), ("C6/9", "major"), ("Cadd9", "major"),
        ("Cmaj7", "major seventh"), ("Cmaj9", "major seventh"), ("Cmaj7#11", "major seventh"),
        ("C7", "dominant"), ("C13", "dominant"), ("C7alt", "dominant"), ("C7#5", "dominant"),
        ("Caug", "augmented"), ("Cmaj7#5", "augmented"),
        ("Cm", "minor"), ("Cm7", "minor seventh"), ("Cm11", "minor seventh"), ("Cm6", "minor sixth"),
        ("Cm(maj7)", "minor major"), ("Cm7b5", "half-diminished"), ("Cdim", "diminished"),
        ("Cdim7", "diminished"), ("Csus4", "suspended"), ("C7sus4", "suspended"),
        ("Csus2", "suspended"), ("C5", "open"),
    ],
)  # fmt: skip
def test_kinds(symbol: str, kind: str) -> None:
    assert kind_of(parse_chord(symbol)) == kind


def test_dark_kinds_are_those_with_a_minor_third() -> None:
    for quality in QUALITIES:
        chord = parse_chord(f"C({quality})" if quality[:1] in ("b", "#") else f"C{quality}")
        third = chord.find(3)
        assert is_dark(kind_of(chord)) == (third is not None and third.alter == -1), quality


def test_the_notes_of_modes() -> None:
    """The same as the scales of these names."""
    names = {"ionian": "major", "aeolian": "natural minor", "minor": "natural minor"}
    for mode in _MODES:
        steps = {step for step in range(12) if mode_notes(mode) >> step & 1}
        assert steps == SCALES[names.get(mode, mode)].semitones


def test_chords_of_the_key_cost_nothing() -> None:
    for symbol in "Cmaj7 Dm7 Em7 Fmaj7 G7 Am7 Bm7b5".split():
        assert _role(symbol, "C").cost == 0
    for symbol in "Cm7 Dm7b5 Ebmaj7 Fm7 G G7 Abmaj7 Bb7".split():
        assert _role(symbol, "C minor").cost == 0


# chord and what follows; key; what it may cost
@pytest.mark.parametrize(
    ("dear", "cheap", "key"),
    [
        ("F#m7", "Fm7", "C"),  # from nowhere; borrowed from minor
        ("F#maj7", "Abmaj7", "C"),
        ("A7 F", "A7 Dm7", "C"),  # a secondary dominant that does not get there; one that does
        ("Db7 F", "Db7 C", "C"),
        ("G7 Cm", "G7 C", "C"),  # the other third
        ("G C", "G Cm", "C minor"),
        ("C7", "Cmaj7", "C"),
        ("Bbm7 Eb7", "Bbm7", "C"),  # the ii of another key
        ("Cmaj7", "C", "C minor"),
    ],
)
def test_what_is_further_from_the_key_costs_more(dear: str, cheap: str, key: str) -> None:
    assert _role(dear, key).cost > _role(cheap, key).cost


@pytest.mark.parametrize(
    ("symbols", "key", "scale", "function"),
    [
        ("Fm6", "C", "melodic minor", "subdominant"),
        ("Fm7", "C", "dorian", "subdominant"),
        ("F7", "C", "lydian dominant", "subdominant"),
        ("Bb7", "C", "lydian dominant", "dominant"),
        ("Db7 C", "C", "lydian dominant", "dominant"),
        ("A7 Dm", "C", "phrygian dominant", "secondary dominant"),
        ("D7 G", "C", "mixolydian", "secondary dominant"),
        ("G7", "C minor", "phrygian dominant", "dominant"),
        ("Gsus4", "C minor", "phrygian", "dominant"),
        ("Cm6", "C minor", "melodic minor", "tonic"),
        ("F#dim7 G", "C", "whole-half diminished", "dominant"),
        ("F#dim7 F", "C", "whole-half diminished", "passing"),
        ("Bdim7", "C minor", "altered bb7", "dominant"),
        ("Am7b5 D7", "G minor", "locrian", "subdominant"),
        ("Dm7", "D dorian", "dorian", "tonic"),
        ("G7", "G mixolydian", "mixolydian", "tonic"),
    ],
)
def test_scales_and_functions(symbols: str, key: str, scale: str, function: str) -> None:
    role = _role(symbols, key)
    assert (role.scale, role.function) == (scale, function)


def test_a_secondary_dominant_names_its_target() -> None:
    assert (_role("A7 Dm", "C").target, _role("A7 Dm", "C").target_is_minor) == (2, True)
    assert (_role("D7 G", "C").target, _role("D7 G", "C").target_is_minor) == (7, False)
    assert _role("G7 C", "C").target is None


def test_in_a_blues_tonic_and_subdominant_are_dominant_sevenths() -> None:
    for symbol in ("C7", "F7"):
        role = _role(symbol, "C", blues=True)
        assert role.scale == "mixolydian"
        assert role.cost < _role(symbol, "C").cost


@pytest.mark.parametrize("next_chord", ["Ab", "Fm"])
def test_borrowed_triads_listen_to_their_neighbours(next_chord: str) -> None:
    """Beside chords with the lowered sixth they have minor's notes, else the key's sixth."""
    assert _role(f"Bb {next_chord}", "C").scale == "mixolydian"
    assert _role(f"Eb {next_chord}", "C").scale == "major"
    assert _role("Bb F", "C").scale == _role("Eb F", "C").scale == "lydian"


def test_every_kind_of_chord_on_every_degree_has_a_role() -> None:
    for mode, root, quality in itertools.product(_MODES, range(12), QUALITIES):
        name = simplest_key(root).tonic
        chord = parse_chord(f"{name}({quality})" if quality[:1] in ("b", "#") else f"{name}{quality}")
        (event,), _ = events_of([Place(chord)], closed=False)
        role = role_in(mode, sight_of(event, 0))
        assert 0 <= role.cost < 3
        assert role.scale in SCALES or role.scale == ""
        assert role == role_in(SAME_NOTES.get(mode, mode), sight_of(event, 0))
