"""A few dozen drawn recipes, grooves, MIDI files and command lines: each is answered."""

import os

import pytest
from hypothesis import HealthCheck, given, settings

from tests import fuzzing

# tests/bench/fuzz.py asks for more of them, other ones each time.
MANY = int(os.environ.get("GENEX_FUZZ", "0"))
BOUNDED = settings(
    max_examples=MANY or 40, derandomize=not MANY, deadline=None, suppress_health_check=list(HealthCheck)
)
PHRASE = (
    b"MThd\x00\x00\x00\x06\x00\x00\x00\x01\x00\x60MTrk\x00\x00\x00\x0c"
    b"\x00\x90\x3c\x40\x60\x80\x3c\x00\x00\xff\x2f\x00"
)


@pytest.fixture(autouse=True)
def not_stopped(own_ctrl_c):
    """Every run of the command line sets signals; the fixture puts them back."""


@pytest.mark.slow
@BOUNDED
@given(recipe=fuzzing.recipes())
def test_recipes(recipe):
    files = {"recipe.yaml": recipe, "other.yaml": fuzzing.OTHER, "phrase.mid": PHRASE}
    for answer in fuzzing.run([["check", "recipe.yaml"]], files):
        fuzzing.require_answered(*answer)


@pytest.mark.slow
@BOUNDED
@given(groove=fuzzing.grooves())
def test_grooves(groove):
    files = {"recipe.yaml": b"chords: C | F\nfeel: ./mine.yaml\noutputs: midi\n", "mine.yaml": groove}
    for answer in fuzzing.run([["check", "recipe.yaml"]], files):
        fuzzing.require_answered(*answer)


@pytest.mark.slow
@BOUNDED
@given(phrase=fuzzing.midi_files())
def test_midi_files(phrase):
    recipe = b"chords: C | F\noutputs: midi\nexercise: {kind: positions, phrase: phrase.mid}\n"
    lines = [["tab", "phrase.mid"], ["tab", "phrase.mid", "--json"], ["check", "recipe.yaml"]]
    for answer in fuzzing.run(lines, {"recipe.yaml": recipe, "phrase.mid": phrase}):
        fuzzing.require_answered(*answer)


@pytest.mark.slow
@BOUNDED
@given(line=fuzzing.command_lines())
def test_command_lines(line):
    files = {"recipe.yaml": fuzzing.OTHER, "other.yaml": fuzzing.OTHER, "phrase.mid": PHRASE}
    for answer in fuzzing.run([line], files):
        fuzzing.require_answered(*answer)
