"""The words that a recipe may choose from are those that the music knows."""

from typing import get_args

import pytest

from genex.fretboard import SEQUENCES
from genex.lines import drills, guide, targets
from genex.lines.note_slots import RHYTHMS
from genex.lines.vocabulary import LEVELS
from genex.recipe import exercises, parse_recipe
from genex.recipe.fields import GuideFields, PartName
from genex.score import Role
from genex.theory import CYCLES

KINDS = [*get_args(exercises.Line), *get_args(exercises.Study)]


def words(model, field):
    """The words of a field, None left out."""
    annotation = model.model_fields[field].annotation
    nested = [get_args(option) for option in get_args(annotation)]
    return {word for word in (*get_args(annotation), *sum(nested, ())) if isinstance(word, str)}


def test_rhythms():
    assert get_args(exercises.Rhythm) == RHYTHMS


def test_targets_and_their_approaches():
    assert get_args(exercises.Target) == get_args(targets.Target)
    assert get_args(exercises.Approach) == tuple(targets.APPROACHES)


def test_cycles():
    assert get_args(exercises.Cycle) == CYCLES


def test_directions_of_intervals():
    assert words(exercises.Drill, "direction") == set(get_args(drills.Direction))


def test_what_a_drill_asks_for_has_a_drill():
    for ask in get_args(exercises.Ask):
        assert callable(getattr(drills, f"{ask}_drill"))


def test_guide_lines():
    assert words(GuideFields, "rhythm") == set(get_args(guide.GuideRhythm))
    assert words(GuideFields, "start") == set(get_args(guide.Start))
    assert words(GuideFields, "contour") == set(get_args(guide.Contour))


def test_parts_are_roles():
    assert set(get_args(PartName)) <= {role.value for role in Role}


def test_the_pattern_of_a_sequence_that_names_none():
    assert exercises.Sequence(kind="sequence").pattern in SEQUENCES


@pytest.mark.parametrize("model", [exercises.Etude, exercises.Positions, exercises.Calls])
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
    (kind,) = get_args(model.model_fields["kind"].annotation)
    ask = ", ask: chord" if kind == "drill" else ""
    recipe = parse_recipe(f"chords: C\nexercise: {{kind: {kind}{ask}}}")
    assert isinstance(recipe.fields.exercise, model)
    assert "exercise" in recipe.parts
