"""The keys and tempos of a recipe, and what sets their files apart."""

from fractions import Fraction as F

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import RecipeError
from genex.recipe import parse_recipe
from genex.recipe.versions import MAX_VERSIONS


def suffixes(text):
    return [version.suffix for version in parse_recipe(text).versions]


def keys(text):
    return [str(version.key) for version in parse_recipe(text).versions]


def test_one_version_needs_no_suffix():
    (version,) = parse_recipe("chords: Dm7 | G7 | C\ntempo: 99.5").versions
    assert (str(version.key), version.tempo, version.suffix) == ("C major", F("99.5"), "")


def test_versions_are_keys_times_tempos():
    found = suffixes("chords: C\nkeys: [C, Bb]\ntempos: [90, 100.5]")
    assert found == [".C.90", ".C.100.5", ".Bb.90", ".Bb.100.5"]


def test_all_twelve_keys_in_a_cycle():
    found = suffixes("chords: Am | E7 | Am\nkeys: fourths")
    assert len(found) == 12
    assert found[:3] == [".A-minor", ".D-minor", ".G-minor"]


@pytest.mark.parametrize(
    ("ladder", "expected"),
    [
        ("{start: 80, end: 100, step: 10}", ".80 .90 .100"),
        ("{start: 100, end: 85, step: 10}", ".100 .90 .85"),
        ("{start: 60, end: 65, step: 10}", ".60 .65"),
        ("{start: 60, end: 60}", ""),
        ("{start: 60.1, end: 63.4, step: 1.1}", ".60.1 .61.2 .62.3 .63.4"),
    ],
)
def test_a_ladder_begins_and_ends_as_it_says(ladder, expected):
    assert "".join(suffixes(f"chords: C\ntempos: {ladder}")) == expected.replace(" ", "")


def test_tempos_that_differ_little_keep_files_apart():
    assert suffixes("chords: C\ntempos: [100.00001, 100.00002, 100]") == [
        ".100.00001",
        ".100.00002",
        ".100",
    ]


@given(st.lists(st.floats(20, 400), min_size=2, max_size=6, unique=True))
def test_every_tempo_has_a_suffix_of_its_own_that_says_it(tempos):
    recipe = parse_recipe(f"chords: C\ntempos: {tempos}")
    assert [float(version.suffix[1:]) for version in recipe.versions] == tempos
    assert len({version.suffix for version in recipe.versions}) == len(tempos)


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("[F, Bb]", ["F minor", "Bb minor"]),
        ("[Gmin]", ["G minor"]),
        ("[Gm, G minor, g min, G-, f# minor]", ["G minor", "F# minor"]),
        ("[E flat, B-flat minor]", ["Eb minor", "Bb minor"]),
    ],
)
def test_a_bare_tonic_takes_the_mode_of_the_recipe(written, expected):
    assert keys(f"key: C minor\nchords: Cm\nkeys: {written}") == expected


def test_major_may_be_written_out():
    assert keys("chords: C\nkeys: [F major, Gmaj, Ab]") == ["F major", "G major", "Ab major"]


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        ("chords: C\nkeys: fourth", "2:7", "not a key", "fourths"),
        ("chords: C\nkeys: [F, A minor]", "2:11", "same kind", "A major"),
        ("chords: C\nkeys: []", "2:7", "'keys' is empty", "fourths"),
        ("chords: C\ntempos: []", "2:9", "'tempos' is empty", "90"),
        ("chords: C\ntempos: [90, 1000]", "2:14", "too large", "400"),
        ("chords: C\ntempos: {start: 20, end: 400, step: 1}", "2:37", "381 tempos", "larger steps"),
        ("chords: C\ntempos: {start: 20, stop: 40}", "2:21", "'stop'", "step"),
        ("chords: C\nkeys: [Gmin]", "2:8", "G minor is not a key of the same kind", "G major"),
        ("chords: C\nkeys: [G#]", "2:8", "8 accidentals", "fourths"),
        (
            f"chords: C\nkeys: fourths\ntempos: {list(range(60, 77))}",
            "3:9",
            "204 versions",
            f"at most {MAX_VERSIONS}",
        ),
    ],
)
def test_what_is_wrong_is_said_with_its_place_and_a_hint(text, place, message, hint):
    with pytest.raises(RecipeError) as caught:
        parse_recipe(text, "r.yaml")
    assert message in caught.value.message
    assert str(caught.value.place) == f"r.yaml:{place}"
    assert hint in caught.value.hint
