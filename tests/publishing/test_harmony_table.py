"""What ``genex harmony`` and ``genex check`` say of recipes and charts."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from genex.compose import compose
from genex.errors import InputError
from genex.publishing.harmony_table import harmony_answer, harmony_text, keys_line
from genex.recipe import parse_recipe
from genex.resources import example_recipes
from genex.theory import SCALES, Key

FIELDS = [
    "bar", "beat", "symbol", "key", "numeral", "scale", "scale_notes", "guide_tones", "reason",
]  # fmt: skip


def rows(subject: str, key: str | None = None) -> list[dict]:
    return harmony_answer(subject, Key.parse(key) if key else None)["bars"]


def test_a_chart_bar_by_bar():
    answer = harmony_answer("Dm7 G7 | Cmaj7 | % | N.C. |")
    assert list(answer) == ["key", "bars"]
    assert answer["key"] == "C major"
    assert all(list(row) == FIELDS for row in answer["bars"])
    assert [(row["bar"], row["beat"], row["symbol"]) for row in answer["bars"]] == [
        (1, 1, "Dm7"), (1, 3, "G7"), (2, 1, "Cmaj7"), (3, 1, "Cmaj7"), (4, 1, "N.C."),
    ]  # fmt: skip
    # [common practice]
    assert [row["numeral"] for row in answer["bars"]] == ["ii7", "V7", "Imaj7", "Imaj7", ""]
    assert answer["bars"][1]["scale_notes"] == "G A B C D E F".split()
    assert answer["bars"][1]["guide_tones"] == ["B", "F"]
    assert answer["bars"][4]["scale"] is None


def test_a_chart_in_a_key_with_numerals():
    found = rows("ii7 | V7 | Imaj7 |", "Eb")
    assert [row["symbol"] for row in found] == ["Fm7", "Bb7", "Ebmaj7"]
    assert {row["key"] for row in found} == {"Eb major"}


def test_the_table_reads_bar_by_bar():
    lines = harmony_text(harmony_answer("Dm7 | G7 | Cmaj7 | % |")).splitlines()
    assert lines[0] == "Key: C major"
    assert lines[2].split() == "bar chord key numeral scale notes guide tones why".split()
    assert lines[-1].startswith("3 to 4  Cmaj7  C major  Imaj7")


@pytest.mark.parametrize("path", sorted(example_recipes().glob("*.yaml")), ids=lambda p: p.stem)
def test_every_example_has_a_reading_or_has_several_charts(path: Path):
    try:
        answer = harmony_answer(str(path))
    except InputError as error:
        assert "series" in error.message or "several charts" in error.message
        return
    for row in answer["bars"]:
        assert (row["scale"] in SCALES) == (row["symbol"] != "N.C.")


def test_a_recipe_is_read_as_it_is_played(tmp_path):
    path = tmp_path / "tune.yaml"
    path.write_text(
        "key: C\nsections:\n  door: G7\n  A: {chords: Cm | F7 | Bb, key: Bb}\n  B: Dm7 | G7 | C | %\n"
        "intro: door\nform: A B\nrepeats: 3\nscales: {Dm7: phrygian, 7: lydian}\n"
    )
    answer = harmony_answer(str(path))
    assert [row["bar"] for row in answer["bars"]] == list(range(1, 9))
    found = [(row["key"], row["numeral"], row["scale"]) for row in answer["bars"]]
    assert found == [
        ("C major", "V7", "mixolydian"),
        ("Bb major", "ii", "dorian"),
        ("Bb major", "V7", "mixolydian"),
        ("Bb major", "I", "major"),
        ("C major", "ii7", "phrygian"),
        ("C major", "V7", "mixolydian"),
        ("C major", "I", "major"),
        ("C major", "I", "lydian"),
    ]
    assert answer["bars"][4]["reason"] == "chosen by the teacher"


@pytest.mark.parametrize(
    ("subject", "said", "hint"),
    [
        ("Dm7 | Hmaj7 |", "chart:1:7: 'Hmaj7'", "did you mean Bmaj7?"),
        ("ii7 | V7", "needs a key", "--key 'G minor'"),
        ("", "the chart is empty", "Gm7 | C7"),
        ("nowhere.yaml", "nowhere.yaml", ""),
    ],
)
def test_what_cannot_be_read(subject: str, said: str, hint: str):
    with pytest.raises(InputError) as caught:
        harmony_answer(subject)
    assert said in str(caught.value)
    assert hint in str(caught.value)


def test_one_line_on_keys():
    line = keys_line(
        compose(parse_recipe("key: F\nchords: F | Ebm7 Ab7 | Db | Gm7 C7 |\nrepeats: 2")).score.timeline
    )
    assert line == "F major; bars 2 to 3 in Db major"
    line = keys_line(compose(parse_recipe("chords: F | Bb | C7 | F")).score.timeline)
    assert line == "F major throughout"


def test_the_commands(genex, tmp_path):
    run = genex("harmony", "Dm7 | G7 | Cmaj7 |", "--json")
    assert json.loads(run.out)["key"] == "C major"
    run = genex("harmony", "Dm7 | G7 | Cmaj7 |", "--key", "D dorian")
    assert run.out.startswith("Key: D dorian")
    run = genex("chord", "G", "--key", "C", "--json")
    assert json.loads(run.out)["in_key"]["numeral"] == "V"
    assert json.loads(run.out)["in_key"]["scale"] == "mixolydian"
    run = genex("chord", "G", "--key", "H")
    assert run.code == 2
    assert "did you mean B?" in run.err
