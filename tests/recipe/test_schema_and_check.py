"""The schema says what the check says: 2,000 values, each allowed by both or by neither.

Only what is plainly meant otherwise (a number for a text, a number in quotes) the check takes and an
editor may underline.

[package: jsonschema] reads the schema as an editor does.
"""

import json
import random

import jsonschema
from pydantic import ValidationError

from genex.recipe.fields import RecipeFields

DRAWS = 2000
TEXTS = [
    "",
    " ",
    "A",
    "C",
    "swing",
    "arpeggio",
    "midi tab",
    "drums, bass",
    "4/4",
    "90",
    "yes",
    "ü",
    "a: b",
]
OTHERS = [None, True, False, [], {}, [1], ["A", "B"], [None], {"kind": "arpeggio"}, {"start": 1}]


def parts_of(schema, definitions):
    """A schema and all that stand in it, references followed once."""
    seen, todo = [], [schema]
    while todo:
        part = todo.pop()
        if isinstance(part, dict) and part not in seen:
            seen.append(part)
            if "$ref" in part:
                todo.append(definitions[part["$ref"].rpartition("/")[2]])
            todo += list(part.values())
        elif isinstance(part, list):
            todo += part
    return seen


def candidates(schema, definitions):
    """Values worth trying: words, numbers at and beyond limits, and what is of another kind."""
    found = [*TEXTS, *OTHERS, 0, 1, -1, 2.5, 1e9]
    for part in parts_of(schema, definitions):
        words = [*part.get("enum", []), *([part["const"]] if "const" in part else [])]
        found += [*words, *(str(word).upper() for word in words), *([word] for word in words)]
        for limit in ("minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum"):
            if isinstance(part.get(limit), (int, float)):
                found += [part[limit] - 1, part[limit], part[limit] + 1, part[limit] + 0.5]
        for name in part.get("properties", {}):
            found += [{name: value} for value in (1, "A", None, True, [], -5)]
    return found


def foreign_words(schema, definitions):
    """Whether limits are written in words that JSON Schema does not have, and so mean nothing."""
    return any({"ge", "le", "gt", "lt"} & part.keys() for part in parts_of(schema, definitions))


def accepted(recipe):
    try:
        RecipeFields.model_validate(recipe)
    except ValidationError:
        return False
    return True


def scalars(value):
    if isinstance(value, dict):
        return [one for part in value.values() for one in scalars(part)]
    return [one for part in value for one in scalars(part)] if isinstance(value, list) else [value]


def is_forgiven(value):
    """What the check reads as it is meant though it is of another kind: ``title: 1999``, ``"90"``."""
    return any(isinstance(one, (int, float)) or one in ("90", "yes") for one in scalars(value))


def test_schema_and_check_agree(genex):
    schema = json.loads(genex("schema").out)
    definitions, fields = schema["$defs"], schema["else"]["properties"]
    validator = jsonschema.Draft202012Validator(schema)
    names = [name for name in fields if not foreign_words(fields[name], definitions)]
    assert len(names) > len(fields) / 3
    rng = random.Random("schema")
    agreed = {True: 0, False: 0}
    differ = []
    for _ in range(DRAWS):
        name = rng.choice(names)
        value = rng.choice(candidates(fields[name], definitions))
        recipe = {"chords": "C", name: value}
        says = accepted(recipe)
        agreed[says] += 1
        if validator.is_valid(recipe) != says and not (says and is_forgiven(value)):
            differ.append((name, value, "check takes it" if says else "schema takes it"))
    assert differ == []
    assert min(agreed.values()) > DRAWS / 20
