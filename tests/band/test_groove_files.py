"""Groove files: what is read, and what is said about one that is wrong."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.band import Groove, groove_names, grooves_for, load_groove, require_meter
from genex.band import catalogue as catalogue_module
from genex.band.groove_files import groove_of
from genex.errors import GrooveError, Place, RecipeError
from genex.score import Meter
from genex.text.yaml_source import parse_source
from tests.band.charts import GROOVES

F = Fraction

WANTED = """swing fast-swing ballad two-beat jazz-waltz bossa samba shuffle slow-blues rock pop-ballad
soul funk reggae country ballad-6-8 five-four seven-eight click straight gospel-6-8 train-beat two-step
soul-eighths disco half-time-shuffle bolero cha-cha tango montuno-2-3 montuno-3-2 afro-12-8
ballad-double-time boogie surf metal-gallop half-time-trap three-eight six-four eleven-eight""".split()

GOOD = """\
title: Porch
about: A small feel.
meters: [4/4]
tempo: {from: 80, to: 160, usual: 110}
swing: 1.5
drums:
  kit: standard
  layers:
    time:
      - {weight: 3, closed hi-hat: "64 64 64 64"}
      - {closed hi-hat: "6 6 6 6 | 64 6 6 6"}
    beat:
      - {kick: "8 . 8 .", snare: ". 8 . 8"}
  fills:
    - {snare: ". . . 6767"}
  crash: crash
bass:
  instrument: electric bass
  level: -3
  patterns:
    "R - 5 a": 2
comping:
  instrument: piano
  voicings: [close]
  rhythms:
    "5 - .4 -": 1
"""


def read(text: str) -> Groove:
    return groove_of(parse_source(text, "porch.yaml"), "porch")


def wrong(old: str, new: str) -> GrooveError:
    assert old in GOOD
    with pytest.raises(GrooveError) as caught:
        read(GOOD.replace(old, new, 1))
    return caught.value


def test_a_groove_file_says_it_all():
    groove = read(GOOD)
    assert (groove.title, groove.description, groove.parts) == (
        "Porch",
        "A small feel.",
        ("drums", "bass", "comping"),
    )
    assert (groove.tempo_low, groove.tempo_high, groove.tempo_usual) == (80, 160, 110)
    assert groove.swing == 1.5
    assert groove.drums is not None and groove.bass is not None
    time, beat = groove.drums.layers
    assert [(choice.weight, choice.length) for choice in time] == [(3, 1), (1, 2)]
    assert set(beat[0].bars[0]) == {"kick", "snare"}
    assert groove.bass.mix.level_db == -3
    assert groove.suits_tempo(100) and not groove.suits_tempo(200)


@pytest.mark.parametrize(
    ("old", "new", "line", "column", "message", "hint"),
    [
        ("snare: \". 8 . 8\"", "snair: \". 8 . 8\"", 13, 27, "no field 'snair'", "'snare'"),
        ("{snare: \". . . 6767\"}", "{snare: \". . 6767\"}", 15, 16, "3 beats, the meter has 4",
         "one word"),
        ("\"R - 5 a\": 2", "\"R - Q a\": 2", 21, 10, "'Q' means nothing", "R"),
        ("\"5 - .4 -\": 1", "\"5 - .4 -\": lots", 26, 17, "'lots' is not a number", "number, such as 2"),
        ("kit: standard", "kit: jazzy", 7, 8, "'jazzy' is not one of", "'jazz'"),
        ("voicings: [close]", "voicings: [drop2]", 24, 14, "'drop2'", "'drop 2'"),
        ("meters: [4/4]", "meters: [4/4, 3/4]", 3, 15, "3/4 has not the same beats", "own"),
        ("meters: [4/4]", "meters: [7/8]", 3, 9, "beats of 7/8 are uneven", "grouping"),
        ("meters: [4/4]", "meters: [four]", 3, 10, "not a meter", "4/4"),
        ("swing: 1.5", "swing: 9", 5, 8, "9 is too large", "3.5"),
        ("swing: 1.5", "swing: hard", 5, 8, "'hard'", "by tempo"),
        ("swing: 1.5", "swing: 66%", 5, 8, "'66%' is not a number", "2 for triplet swing"),
        ("\"R - 5 a\": 2", "\"1 - 5 a\": 2", 21, 6, "'1' means nothing", "the root is R"),
        ("tempo: {from: 80", "tempo: {from: 200", 4, 8, "runs from 200 to 160", "lower"),
        ("instrument: piano", "instrument: pianno", 23, 15, "'pianno'", "'piano'"),
        ("title: Porch", "tittle: Porch", 1, 1, "no field 'tittle'", "'title'"),
        ("  patterns:\n    \"R - 5 a\": 2", "  level: 1", 17, None, "written twice", None),
        ("{kick: \"8 . 8 .\", snare: \". 8 . 8\"}",
         "{snare: \"8 8 8 8\", cowbell: \"8 8 8 8\", ride: \"8 8 8 8\"}", 13, 9, "cannot strike",
         "two hands"),
        ("- {snare: \". . . 6767\"}", "- {snare: \". . . .\"}", 15, 7, "at least one stroke", None),
        ("about: A small", "bpm: 100", 2, 1, "no field 'bpm'", "'tempo' gives the range"),
        ("    \"R - 5 a\": 2", "  \"R - 5 a\": 2", 21, 3, "no field 'R - 5 a'", "belongs to 'patterns'"),
        ("    beat:\n      - {kick", "    kick:\n      - {kik", 13, 10, "no field 'kik'", "'kick'"),
        ("{kick: \"8 . 8 .\"", "{brush tap: \"8 . 8 .\"", 13, 10, "standard kit has no brush tap",
         "kit: brush"),
        ("weight: 3", "weight: 0", 10, 18, "0 is too small", "least is 0.01: such as 2"),
        ("usual: 110", "usual: 170", 4, 35, "usual tempo, 170", "from 80 to 160"),
        ("{from: 80", "{from: slow", 4, 15, "'slow' is not a number", "beats a minute"),
        ("tempo: {from: 80, to: 160, usual: 110}", "tempo: 110", 4, 8, "fields are missing in 'tempo'",
         "{from: 80"),
        ("level: -3", "level: -300", 19, 10, "-300 is too small for 'bass.level'", "-60: in dB"),
        ("level: -3", "level:", 19, 3, "'bass.level' is empty", "behind the colon"),
        ("level: -3", "walking: {}", 18, 3, "exactly one of 'walking' and 'patterns'", "{skips: 0.1}"),
        ("patterns:\n    \"R - 5 a\": 2", "patterns: \"R - Q a\"", 20, 18, "'Q' means nothing", "R"),
        ("patterns:\n    \"R - 5 a\": 2", "patterns: []", 20, 13, "fields are missing", "weight"),
        ("rhythms:\n    \"5 - .4 -\": 1", "rhythms: {}", 25, 12, "fields are missing", "weight"),
        ("voicings: [close]", "voicings: []", 24, 13, "something is missing", "[drop 2, shell]"),
        ("crash: crash", "crash loudness: 6.5", 16, 19, "6.5 is not a whole number", "without a point"),
        ("  layers:", "  fill: []\n  lairs:", 8, 3, "no field 'fill'", "did you mean 'fills'?"),
    ],
)  # fmt: skip
def test_a_fault_is_placed_and_comes_with_a_hint(old, new, line, column, message, hint):
    try:
        error: GrooveError | RecipeError = wrong(old, new)
    except RecipeError as syntax:
        error = syntax
    assert message in error.message
    assert error.place is not None and error.place.file == "porch.yaml"
    if column is not None:
        assert (error.place.line, error.place.column) == (line, column)
    if hint is not None:
        assert error.hint is not None and hint in error.hint


@pytest.mark.parametrize(
    "text",
    [
        "",
        "just words",
        "- a list",
        "title: Empty",
        "drums: 7",
        "drums: {kit: jazz}",
        "bass: {}",
        "comping: {rhythms: {}}",
    ],
)
def test_a_file_without_a_part_is_refused(text):
    with pytest.raises(GrooveError) as caught:
        read(text)
    assert caught.value.place is not None


@settings(max_examples=150)
@given(st.data())
def test_a_mutilated_file_is_read_or_refused_but_never_breaks(data):
    start = data.draw(st.integers(0, len(GOOD) - 1))
    length = data.draw(st.integers(0, 30))
    inserted = data.draw(st.text("x.-|:{}[]\"' 0597R\n", max_size=6))
    try:
        read(GOOD[:start] + inserted + GOOD[start + length :])
    except (GrooveError, RecipeError) as error:
        assert error.exit_code == 2
        assert error.message


def test_a_file_that_says_nothing_of_its_tempo_is_for_a_usual_one():
    text = 'drums: {layers: {a: [{kick: "8 8 8 8"}]}}\n'
    assert read(text).tempo_usual == 110
    assert read("tempo: {from: 140, to: 200}\n" + text).tempo_usual == 170


def test_odd_meters_say_how_their_beats_are_grouped():
    text = 'meters: [7/8]\ngrouping: 3+2+2\ndrums: {layers: {a: [{kick: "864 8 8"}]}}\n'
    groove = read(text)
    assert groove.beats == (F(3, 2), F(1), F(1))
    with pytest.raises(GrooveError, match="makes 8, 7/8 has 7"):
        read(text.replace("3+2+2", "3+3+2"))


def test_a_feel_for_any_meter_has_drums_alone():
    groove = load_groove("click")
    seven = groove.in_meter(Meter.parse("7/8"))
    assert seven.beats == (F(1), F(1), F(3, 2))
    assert groove.in_meter(Meter.parse("12/8")).beats == (F(3, 2),) * 4
    with pytest.raises(GrooveError, match="any meter has no bass"):
        read('meters: any\ndrums: {layers: {a: [{kick: "8 6"}]}}\nbass: {walking: {}}\n')


def test_the_feels_that_lessons_need_are_there():
    assert set(WANTED) <= set(groove_names())
    assert list(groove_names()) == sorted(groove_names())


@pytest.mark.parametrize("name", groove_names())
def test_every_feel_is_complete(name):
    groove = GROOVES[name]
    assert groove.title and groove.description.endswith(".")
    assert groove.tempo_low < groove.tempo_usual < groove.tempo_high
    if name == "click":
        return
    assert groove.parts == ("drums", "bass", "comping")
    assert groove.drums is not None and groove.bass is not None and groove.comping is not None
    variations = sum(len(layer) for layer in groove.drums.layers)
    assert variations >= 5
    assert len(groove.drums.fills) >= 2


def test_titles_are_unique():
    assert len({groove.title for groove in GROOVES.values()}) == len(GROOVES)


def test_an_unknown_feel_names_the_nearest():
    with pytest.raises(GrooveError) as caught:
        load_groove("bosa", Place("tune.yaml", 4, 7))
    assert str(caught.value).startswith("tune.yaml:4:7: there is no feel 'bosa'")
    assert caught.value.hint == "did you mean 'bossa'?"


def test_spelling_of_a_name_is_forgiving():
    assert load_groove("Jazz Waltz").name == "jazz-waltz"


def test_a_player_s_own_file_works_like_the_others(tmp_path):
    (tmp_path / "my_porch.yaml").write_text(GOOD, encoding="utf-8")
    assert load_groove("./my_porch.yaml", folder=tmp_path).name == "my-porch"
    assert load_groove(tmp_path / "my_porch.yaml").title == "Porch"


def test_a_groove_file_that_is_not_there_is_said_so(tmp_path):
    with pytest.raises(GrooveError, match=r"no groove file './none.yaml'"):
        load_groove("./none.yaml", Place("tune.yaml", 2, 1), folder=tmp_path)


def test_a_groove_file_that_is_no_yaml_is_said_so(tmp_path):
    (tmp_path / "bad.yaml").write_text("drums: [", encoding="utf-8")
    with pytest.raises(GrooveError) as caught:
        load_groove("bad.yaml", folder=tmp_path)
    assert caught.value.place is not None and caught.value.place.line


@pytest.mark.parametrize(
    ("meter", "feel"),
    [("4/4", "swing"), ("3/4", "jazz-waltz"), ("6/8", "ballad-6-8"), ("12/8", "slow-blues"),
     ("5/4", "five-four"), ("7/8", "seven-eight"), ("2/2", "two-beat"), ("9/8", "click")],
)  # fmt: skip
def test_feels_are_found_by_meter(meter, feel):
    found = grooves_for(Meter.parse(meter))
    assert feel in found
    assert "click" in found


def test_a_feel_in_a_meter_without_patterns_names_those_that_have():
    with pytest.raises(GrooveError) as caught:
        require_meter(load_groove("bossa"), Meter.parse("3/4"), Place("t.yaml", 3, 1))
    assert caught.value.message == "the feel 'bossa' has no pattern for 3/4"
    assert caught.value.hint is not None and "jazz-waltz" in caught.value.hint


def test_names_are_listed_without_reading_a_file(monkeypatch):
    monkeypatch.setattr(catalogue_module, "read_source", lambda path: pytest.fail("a file was read"))
    catalogue_module.groove_names.cache_clear()
    assert "swing" in groove_names()
