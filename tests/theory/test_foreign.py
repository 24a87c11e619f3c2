"""Notes and keys as German, French, Italian and Spanish have them [common practice]."""

from __future__ import annotations

import pytest

from genex.theory.foreign import english_key, english_note


@pytest.mark.parametrize(
    ("text", "name", "rest"),
    [
        ("Cis7", "C#", "7"),
        ("Es", "Eb", ""),
        ("As", "Ab", ""),
        ("H7", "B", "7"),
        ("Heses", "Bbb", ""),
        ("Gisis", "G##", ""),
        ("Sol7", "G", "7"),
        ("Ré b", "Db", ""),
        ("Do#m", "C#", "m"),
        ("Fa diese", "F#", ""),
        ("Si bémol", "Bb", ""),
    ],
)
def test_notes(text: str, name: str, rest: str) -> None:
    assert english_note(text) == (name, rest)


@pytest.mark.parametrize("text", ["Asus4", "Esus", "C", "quatsch", ""])
def test_what_is_no_foreign_name_is_left_alone(text: str) -> None:
    assert english_note(text) is None


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("Es-Dur", "Eb"),
        ("fis moll", "F# minor"),
        ("B-Dur", "Bb"),
        ("H-Dur", "B"),
        ("Hm", "B minor"),
        ("Edur", "E"),
        ("Si bémol majeur", "Bb"),
        ("la mineur", "A minor"),
        ("do maggiore", "C"),
        ("re menor", "D minor"),
    ],
)
def test_keys(text: str, key: str) -> None:
    assert english_key(text) == key


@pytest.mark.parametrize("text", ["Gisis-Dur", "X-Dur", "Es-Traum", ""])
def test_what_is_no_key(text: str) -> None:
    assert english_key(text) is None
