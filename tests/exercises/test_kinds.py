"""The words that a recipe may choose from are those that the music knows; every kind is described."""

from typing import get_args

import pytest
from pydantic import ValidationError

from genex.exercises import Exercise, GuideLine, composing_function, families, kind_of, kinds
from genex.exercises.models.asking import Ask, Drill
from genex.exercises.models.over_the_chart import Approach, Target
from genex.exercises.recipe_words import PartName
from genex.fretboard import SEQUENCES
from genex.lines import drills, targets
from genex.lines.note_slots import RHYTHMS
from genex.lines.vocabulary import LEVELS
from genex.recipe import parse_recipe
from genex.score import Role
from genex.theory import CYCLES, parse_chord

KINDS = tuple(kinds().values())


def test_rhythms():
    assert get_args(families.Rhythm) == RHYTHMS


def test_targets_and_their_approaches():
    chord = parse_chord("Cmaj9")
    found = [str(targets.target_degree(chord, target)) for target in get_args(Target)]
    assert found == ["1", "3", "5", "7", "9", "3"]  # guide: third or seventh, drawn elsewhere
    assert get_args(Approach) == tuple(targets.APPROACHES)


def test_cycles():
    assert get_args(families.Cycle) == CYCLES


def test_what_a_drill_asks_for_has_a_drill():
    for ask in get_args(Ask):
        assert callable(getattr(drills, f"{ask}_drill"))


def test_parts_are_roles():
    assert set(get_args(PartName)) <= {role.value for role in Role}


def test_the_pattern_of_a_sequence_that_names_none():
    assert kinds()["sequence"]().pattern in SEQUENCES


@pytest.mark.parametrize("model", [kinds()["etude"], kinds()["positions"], kinds()["calls"]])
def test_levels(model):
    schema = model.model_json_schema()["properties"]["level"]
    assert list(range(schema["minimum"], schema["maximum"] + 1)) == list(LEVELS)


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_every_kind_and_field_is_described(model):
    assert model.__doc__
    for name, field in model.model_fields.items():
        assert name == "kind" or field.description, name


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_a_kind_alone_is_enough(model):
    kind = kind_of(model)
    ask = {"drill": ", ask: chord", "line": ", abc: C8", "lick": ", abc: C8"}.get(kind, "")
    recipe = parse_recipe(f"chords: C\nexercise: {{kind: {kind}{ask}}}")
    assert isinstance(recipe.fields.exercise, model)
    assert "exercise" in recipe.parts


@pytest.mark.parametrize("model", KINDS, ids=lambda model: model.__name__)
def test_a_kind_is_composed_by_a_function_that_there_is(model):
    assert callable(composing_function(model))
    assert get_args(model.model_fields["kind"].annotation) == (kind_of(model),)


@pytest.mark.parametrize(
    ("kind", "wrong"),
    [
        ("targets", {"target": "octave"}),
        ("targets", {"approaches": ("leap",)}),
        ("targets", {"density": 4}),
        ("targets", {"beat": 0}),
        ("etude", {"bars": 0}),
        ("shapes", {"times": 0}),
        ("shapes", {"rest_bars": -1}),
        ("calls", {"bars": 3}),
        ("calls", {"calls": 0}),
        ("calls", {"repeats": 0}),
        ("calls", {"level": 7}),
        ("drill", {"ask": "chord", "rounds": 0}),
        ("drill", {"ask": "chord", "think_bars": 0}),
        ("arpeggio", {"kind": "tour"}),
        ("arpeggio", {"speed": 3}),
    ],
)
def test_what_is_not_in_a_field_is_refused(kind, wrong):
    with pytest.raises(ValidationError):
        kinds()[kind](**wrong)


@pytest.mark.parametrize(
    "wrong", [{"voices": 3}, {"start": "root"}, {"rhythm": "dotted"}, {"contour": "flat"}]
)
def test_a_guide_line_that_is_none_is_refused(wrong):
    with pytest.raises(ValidationError):
        GuideLine(**wrong)


def test_fields_have_the_defaults_of_their_kind():
    # one line a fact that the kinds differ in
    assert [kinds()[kind]().level for kind in ("etude", "positions", "calls")] == [3, 2, 1]
    assert [kinds()[kind]().rest_bars for kind in ("shapes", "sequence", "tour")] == [0, 0, 1]
    assert [kinds()[kind]().slides for kind in ("etude", "calls")] == [True, False]
    assert Drill(ask="chord").position == 5


def test_an_exercise_is_of_no_kind_itself():
    assert Exercise not in KINDS
