"""Signs for print."""

from __future__ import annotations

from genex.export.typography import with_signs


def test_signs_for_print():
    assert with_signs("Bbm7b5") == "B♭m7♭5"
    assert with_signs("F#7#11") == "F♯7♯11"
    assert with_signs("bb7") == "♭♭7"
    assert with_signs("Abb") == "A♭♭"
    assert with_signs("Gsus4/Bb") == "Gsus4/B♭"
