"""How the tests of this room write charts and scales."""

from __future__ import annotations

from genex.theory import Place, parse_chord

SHORT = {
    "ion": "major", "dor": "dorian", "phr": "phrygian", "lyd": "lydian", "mix": "mixolydian",
    "aeo": "natural minor", "loc": "locrian", "mel": "melodic minor", "pd": "phrygian dominant",
    "ld": "lydian dominant", "alt": "altered", "wh": "whole-half diminished", "wt": "whole tone",
    "hw": "half-whole diminished", "ab7": "altered bb7", "mb6": "mixolydian b6",
    "lyd+": "lydian augmented",
}  # fmt: skip


def places(chart: str) -> list[Place]:
    """A chart's chords, bar lines or not; % repeats the one before, N.C. is none."""
    found: list[Place] = []
    for symbol in chart.replace("|", " ").split():
        if symbol == "%":
            found.append(found[-1])
        else:
            found.append(Place(None if symbol == "N.C." else parse_chord(symbol)))
    return found
