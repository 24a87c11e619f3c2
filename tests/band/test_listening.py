"""What is heard of a line: busy beats, rests, ends of phrases; and what the chords make of it."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from genex.band import Heard, play_band
from genex.score import Note, Part, Role
from genex.theory import Pitch
from tests.band.charts import GROOVES, notes_by_bar, timeline

F = Fraction
LINE = timeline(" | ".join(["Dm7", "G7", "Cmaj7", "Am7"] * 4))


def lead(*spans: tuple[str, str], role: Role = Role.EXERCISE) -> Part:
    """A part from onset and length of each note."""
    notes = [Note(F(onset), F(length), Pitch.parse("A4")) for onset, length in spans]
    return Part.of("line", role, 26, notes)


def eighths(first_bar: int, bars: int) -> list[tuple[str, str]]:
    return [(str(first_bar * 4 + F(i, 2)), "1/2") for i in range(8 * bars)]


def test_phrases_end_in_rests_of_a_pulse_and_a_half_and_more():
    part = lead(("0", "2"), ("4", "3"), ("8", "5/2"), ("12", "4"))
    found = Heard([part], timeline("C | C | C | C")).phrase_ends
    assert found == {0: F(2), 2: F(5, 2)}


def test_a_long_silence_and_the_rests_of_an_asking_line_are_left_to_the_student():
    calls = lead(("0", "2"), ("16", "2"))
    assert Heard([calls], LINE).phrase_ends == {}
    short = lead(("0", "2"), ("4", "4"))
    assert Heard([short], LINE).phrase_ends == {0: F(2)}
    assert Heard([short], LINE, asks=True).phrase_ends is None
    assert Heard([lead(("0", "2"), role=Role.CUE)], LINE).phrase_ends is None
    assert Heard([], LINE).range is None


def strikes(name: str, part: Part, seed: int = 1) -> dict[int, int]:
    found = play_band(LINE, GROOVES[name], parts=("comping",), seed=seed, heard=Heard([part], LINE))
    bars = notes_by_bar(found[0], LINE)
    return {bar: len({note.onset_beats for note in notes}) for bar, notes in bars.items()}


def test_a_bar_of_eighths_has_fewer_strokes_and_hardly_ever_none():
    for name in ("swing", "straight", "soul"):
        busy = [strikes(name, lead(*eighths(0, 16)), seed) for seed in range(6)]
        calm = [strikes(name, lead(*((str(4 * i), "4") for i in range(16))), seed) for seed in range(6)]
        assert sum(sum(s.values()) for s in busy) < 0.75 * sum(sum(s.values()) for s in calm)
        empty = sum(count == 0 for found in busy for count in found.values())
        assert empty <= 0.1 * 6 * 16  # where the chord was struck ahead, in the bar before


def test_a_change_of_the_line_in_a_bar_is_answered_there():
    """Other bars stay as they were; a pattern of two bars is drawn as a whole."""
    part = lead(*eighths(0, 6), *eighths(8, 8))
    other = lead(*eighths(0, 5), ("20", "1"), *eighths(8, 8))
    for name in ("swing", "straight"):
        one, two = (
            notes_by_bar(
                play_band(LINE, GROOVES[name], parts=("comping",), seed=2, heard=Heard([p], LINE))[0],
                LINE,
            )
            for p in (part, other)
        )
        changed = {bar for bar in one if one[bar] != two[bar]}
        assert changed <= {5, 6, 7, 8}  # bar 7 is where it rests now for longer


def test_a_feel_that_does_not_listen_plays_the_same_under_every_line():
    groove = GROOVES["swing"]
    deaf = replace(groove, comping=replace(groove.comping, listening=0.0))
    busy, calm = lead(*eighths(0, 16)), lead(*((str(4 * i), "4") for i in range(16)))
    one, two = (
        play_band(LINE, deaf, parts=("comping",), seed=1, heard=Heard([part], LINE))[0].notes
        for part in (busy, calm)
    )
    assert one == two
