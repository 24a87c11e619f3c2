"""What a process that stays need not compose again, and that it is the same as composed anew."""

from __future__ import annotations

from pathlib import Path

import pytest

from genex import band
from genex.compose import Memory, compose
from genex.compose import piece as pieces
from genex.compose.kept import UNHEARD
from genex.recipe import parse_recipe, read_recipe
from genex.recipe.fields import RecipeFields

TUNE = """
title: Rain on the Gate
key: F
tempo: {tempo}
feel: swing
sections: {{A: F | Dm7 | Gm7 | C7, B: {{chords: Bb | C7, tempo: 90}}}}
form: A B
exercise: etude
guide: {{sound: piano}}
{more}
"""


@pytest.fixture
def composed(monkeypatch):
    """How often a line and a band were made."""
    counts = {"lines": 0, "bands": 0}

    def counted(module, name, what):
        made = getattr(module, name)

        def count(*words, **named):
            counts[what] += 1
            return made(*words, **named)

        monkeypatch.setattr(module, name, count)

    counted(pieces, "played", "lines")
    counted(pieces, "play_band", "bands")
    return counts


def tune(tempo=120, more=""):
    return parse_recipe(TUNE.format(tempo=tempo, more=more))


@pytest.mark.parametrize(
    ("change", "lines", "bands"),
    [
        ({"more": "mix: {bass: {level: 3, pan: 0.5}}"}, 0, 0),
        ({"more": "audio: {loudness: -20}"}, 0, 0),
        ({"more": "homework: Twice a day.\noutputs: midi"}, 0, 0),
        ({"tempo": 100}, 0, 2),
        ({"more": "tempos: [100, 140]"}, 0, 2),
        ({"more": "seed: 2"}, 1, 2),
        ({"tempo": 220}, 1, 2),  # an etude has longer phrases from 200 on
    ],
)
def test_only_what_changed_is_composed_again(composed, change, lines, bands):
    memory, after = Memory(), tune(**change)
    with memory.active():
        compose(tune())
        composed |= {"lines": 0, "bands": 0}
        found = compose(after)
        assert composed == {"lines": lines, "bands": bands}
    assert found == compose(after)


def test_sections_keep_their_own_tempo_beside_another_one():
    """At 100 the one recipe has B at 75, in proportion, and the other at 90, as it says."""
    memory = Memory()
    with memory.active():
        for one in (tune(120, "tempos: [100]"), tune(100)):
            found = compose(one)
            assert found.score.tempo == compose_alone(one).score.tempo


def compose_alone(recipe):
    with Memory().active():
        return compose(recipe)


def test_files_that_composing_reads_are_looked_at_again(tmp_path):
    path, groove = tmp_path / "gate.yaml", tmp_path / "patter.yaml"
    path.write_text(TUNE.format(tempo=120, more="").replace("feel: swing", "feel: patter.yaml"))
    text = (Path(band.__file__).parent / "grooves" / "two-beat.yaml").read_text()
    memory, found = Memory(), []
    with memory.active():
        for said in (text, text.replace("level: -1.5", "level: -6", 1)):
            groove.write_text(said)
            recipe = read_recipe(path)
            found.append(compose(recipe))
            assert found[-1] == compose_alone(recipe)
    assert found[0] != found[1]


def test_what_is_not_heard_are_fields_of_recipes():
    assert set(RecipeFields.model_fields) > UNHEARD
