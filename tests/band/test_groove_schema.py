"""The JSON Schema of groove files, and the reader beside it."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
from ruamel.yaml import YAML

import genex.band
from genex.band import groove_schema
from genex.band.groove_files import groove_of
from genex.errors import GrooveError
from genex.resources import example_recipes
from genex.text.yaml_source import parse_source

FILES = sorted(
    path
    for folder in (Path(genex.band.__file__).parent, example_recipes())
    for path in (folder / "grooves").glob("*.yaml")
)
BEAT = {"layers": {"beat": [{"kick": "8 . 8 .", "snare": ". 8 . 8"}]}}


def is_valid(data: object) -> bool:
    return jsonschema.Draft202012Validator(groove_schema()).is_valid(data)


def is_read(data: object) -> bool:
    try:
        groove_of(parse_source(json.dumps(data), "g.yaml"), "g")
    except GrooveError:
        return False
    return True


def test_there_are_files_of_both_kinds():
    assert len(FILES) > 30
    assert any(path.stem == "slow-drip" for path in FILES)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_every_groove_file_is_valid_by_the_schema(path):
    """[package: jsonschema] reads it as an editor does, and ruamel.yaml the file."""
    data = YAML(typ="safe").load(path.read_text("utf-8"))
    jsonschema.validate(data, groove_schema(), cls=jsonschema.Draft202012Validator)
    assert not is_valid({**data, "style": "swing"})


@pytest.mark.parametrize(
    ("change", "good"),
    [
        ({}, True),
        ({"drums": None}, True),
        ({"drums": {**BEAT, "fills": {"snare": ". . . 6"}}}, True),
        ({"drums": {"layers": {"beat": {"kick": "8 . 8 ."}}}}, True),
        ({"drums": {"layers": {"beat": {"kick": 7}}}, "meters": "3/8", "grouping": 3}, True),
        ({"drums": {"layers": {}}}, False),
        ({"drums": {"layers": {"beat": []}}}, False),
        ({"drums": {"layers": {"beat": [{"kick": "8 . 8 .", "gong": "8 . . ."}]}}}, False),
        ({"drums": {"layers": {"beat": [{"weight": 0}]}}}, False),
        ({"drums": {**BEAT, "crash": "bang"}}, False),
        ({"drums": {**BEAT, "crash loudness": 6.5}}, False),
        ({"bass": {"walking": None}}, True),
        ({"bass": {"patterns": "R - 5 a"}}, True),
        ({"bass": {"patterns": {}}}, False),
        ({"bass": {"patterns": "R - 5 a", "walking": {}}}, False),
        ({"bass": {}}, False),
        ({"comping": {"picking": {"1 3 4 3": 2}}}, True),
        ({"comping": {"picking": "1 3 4 3", "rhythms": "7 . 7 ."}}, False),
        ({"comping": {"rhythms": "7 . 7 .", "voicings": "shell"}}, True),
        ({"comping": {"rhythms": "7 . 7 .", "voicings": ["shell", "cluster"]}}, False),
        ({"comping": {"rhythms": "7 . 7 .", "level": "loud"}}, False),
        ({"swing": "by tempo"}, True),
        ({"swing": "hard"}, False),
        ({"swing": 3.6}, False),
        ({"swing": None}, False),
        ({"swing of": "triplets"}, False),
        ({"tempo": {"from": 90, "to": 100}}, True),
        ({"tempo": {"from": 90, "till": 100}}, False),
        ({"meters": "any", "drums": {"layers": {"beat": {"kick": "8 5"}}}}, True),
        ({"meters": []}, False),
        ({"about": ["a", "list"]}, False),
    ],
)
def test_the_schema_and_the_reader_agree(change, good):
    data = {"drums": BEAT, "bass": {"walking": {}}, **change}
    if data.get("meters") == "any":
        del data["bass"]
    assert (is_valid(data), is_read(data)) == (good, good)


def test_a_file_needs_a_part():
    assert not is_valid({"title": "Empty"})
    assert not is_read({"title": "Empty"})


def test_names_are_offered():
    """What an editor completes: kits, voices, instruments, voicings."""
    groups = groove_schema()["$defs"]
    assert groups["DrumFields"]["properties"]["kit"]["enum"] == ["standard", "room", "jazz", "brush"]
    assert {"kick", "snare", "pedal hi-hat", "brush sweep"} <= groups["StrokeFields"][
        "properties"
    ].keys()
    assert "jazz guitar" in groups["CompingFields"]["properties"]["instrument"]["enum"]
