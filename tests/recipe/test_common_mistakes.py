"""What is wrong with a single field, in words for a musician."""

import pytest

from genex.errors import RecipeError
from genex.recipe import parse_recipe


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        ("chords: C\ntempoo: 3", "2:1", "no field 'tempoo'", "did you mean 'tempo'?"),
        ("chords: C\ntempo: 0", "2:8", "0 is too small", "least is 20"),
        ("chords: C\ntempo: 10000", "2:8", "10000 is too large", "most is 400"),
        ("chords: C\ntempo: .nan", "2:8", "usable number", "plain number"),
        ("chords: C\ntempo: fast", "2:8", "'fast' is not a number", "plain number"),
        ("chords: C\ntempo: true", "2:8", "not a number", "plain number"),
        ("chords: C\nrepeats: 2.5", "2:10", "not a whole number", "without a point"),
        ("chords: C\nrepeats:", "2:1", "'repeats' is empty", "behind the colon"),
        ("chords: C\nparts: drums bas", "2:8", "'bas'", "did you mean 'bass'?"),
        ("chords: C\nexercise: arpegio", "2:11", "'arpegio'", "did you mean 'arpeggio'?"),
        ("chords: C\nexercise: {kind: arpeggio, rythm: eighths}", "2:28", "'rythm'", "'rhythm'"),
        ("chords: C\nguide:\n  rhythm: wole", "3:11", "'wole'", "did you mean 'whole'?"),
        ("chords: C\nmix: {bass: {level: loud}}", "2:21", "'mix.bass.level'", "plain number"),
        ("chords: [C]", "1:9", "a list stands where a text belongs, in 'chords'", "as one text"),
        ("chords: C\nleft_handed: maybe", "2:14", "'maybe' is neither true nor false", "true or false"),
        ("chords: C\nhand: huge", "2:7", "'huge'", "small, medium, large"),
        ("chords: C\nstops: 0", "2:8", "0 is too small", "least is 1"),
        ("chords: C\nstops: 1 two", "2:8", "'two' is not a whole number", "plain number"),
        ("chords: C\nstops: 1.5", "2:8", "'1.5' is not a whole number", "without a point"),
        ("chords: C\nstops: [1, -2]", "2:12", "-2 is too small", "least is 1"),
        ("chords: C\nexercise: {rhythm: eighths}", "2:11", "'kind' is missing", "kind: arpeggio"),
        ("chords: C\ntitle: [a]", "2:8", "a list stands where a text belongs, in 'title'", "one value"),
        ("chords: C\ntitle: " + "x" * 301, "2:8", "too long", "300 characters"),
        ("chords: C\naudio: loud", "2:8", "fields are missing in 'audio'", "{format: mp3}"),
        ("chords: C\nparts: {a: b}", "2:8", "list is missing in 'parts'", "drums bass"),
    ],
)
def test_what_is_wrong_is_said_with_its_place_and_a_hint(text, place, message, hint):
    with pytest.raises(RecipeError) as caught:
        parse_recipe(text, "r.yaml")
    assert message in caught.value.message
    assert str(caught.value.place) == f"r.yaml:{place}"
    assert hint in caught.value.hint
