"""Fields that are right by themselves and do not go together."""

import pytest

from genex.errors import RecipeError
from genex.fretboard import SEQUENCES
from genex.recipe import parse_recipe, read_recipe


@pytest.mark.parametrize(
    "text",
    [
        "chords: C | F\nstops: 2",
        "chords: C | F\nstops: 1 2",
        "chords: C | F\nstops: [1, 2]",
        "chords: '|: C :|x4'\nstops: 4",
        "chords: C\nexercise: {kind: targets, beat: 4}",
        "chords: C\nmeter: 12/8\nexercise: {kind: targets, beat: 4}",
        "chords: G7 | CM7\nexercise: {kind: scales, scales: {G7: altered, Cmaj7: Lydian}}",
        "chords: C\nguide: {low: D3, high: A4}",
        "chords: C\naudio: {minus: bass drums}",
        "chords: C\nparts: bass",
        "chords: C\noutputs: tab\nparts: guide",
        "chords: C\noutputs: answers\nexercise: calls",
        "chords: C\noutputs: band loop\nparts: drums bass",
        "chords: C\nexercise: {kind: arpeggio, form: E}",
        "chords: C\nminus: exercise\nexercise: arpeggio",
        "chords: C\nhandout: {shapes_for: Gm7 C7}",
        "chords: C\nhand: small",
        "chords: N.C.\noutputs: midi",
    ],
)
def test_what_goes_together_is_accepted(text):
    assert parse_recipe(text)


@pytest.mark.parametrize("name", SEQUENCES)
def test_every_pattern_is_known(name):
    assert parse_recipe(f"chords: C\nexercise: {{kind: sequence, pattern: {name}}}")


@pytest.mark.parametrize(
    ("text", "place", "message", "hint"),
    [
        ("chords: C\nfeel: ''", "2:7", "'feel' is empty", "genex feels"),
        ("chords: C\noutputs: []", "2:10", "'outputs' is empty", "midi loop"),
        ("chords: C\noutputs: ''", "2:10", "'outputs' is empty", "midi loop"),
        ("chords: C\nhandout: {blocks: []}", "2:19", "'handout.blocks' is empty", "leave the line away"),
        ("chords: C\naudio: {soundfont: ' '}", "2:20", "'audio.soundfont' is empty", ".sf2"),
        (
            "chords: C\nexercise: {kind: targets, approaches: []}",
            "2:39", "'exercise.approaches' is empty", "enclosure",
        ),
        ("chords: C\nexercise: {kind: drill, ask: chord, items: []}", "2:44", "is empty", "third"),
        ("chords: C | F\nstops: 1 3", "2:8", "names bar 3, and the form has 2", "from 1 to 2"),
        ("chords: C | F\nstops: [1, 9]", "2:12", "names bar 9", "from 1 to 2"),
        ("chords: C\nguide: {low: X3}", "2:14", "'X3' is not a pitch", "E2"),
        ("chords: C\nguide: {high: A}", "2:15", "'A' is not a pitch", "octave"),
        ("chords: C\nguide: {low: A4, high: D3}", "2:14", "A4 does not lie below", "D3 to A4"),
        ("chords: C\nminus: exercise\nexercise: tour", "2:8", "'tour' is not played", "leave"),
        ("chords: C\nparts: bass\nexercise: calls", "2:8", "'calls' is not played", "leave"),
        (
            "chords: C\nexercise: {kind: arpeggio, form: E, position: 5}",
            "2:34", "'form' and 'position' both", "keep one",
        ),
        ("chords: C\nexercise: {kind: targets, beat: 9}", "2:33", "no beat 9 in 4/4", "1 to 4"),
        ("chords: C\nmeter: 6/8\nexercise: {kind: targets, beat: 3}", "3:33", "no beat 3", "1 to 2"),
        (
            "chords: G7 | C\nexercise: {kind: scales, scales: {Q7: altered}}",
            "2:35", "Q7", None,
        ),
        (
            "chords: G7 | C\nexercise: {kind: scales, scales: {D7: altered}}",
            "2:35", "names D7, which is not in the chart", "G7 C",
        ),
        (
            "chords: G7\nexercise: {kind: scales, scales: {G7: alterd}}",
            "2:39", "'alterd' is not a scale", "altered",
        ),
        (
            "chords: C\nexercise: {kind: sequence, pattern: groups of tree}",
            "2:37", "'groups of tree' is not a sequence", "groups of three",
        ),
        ("chords: C\nexercise: {kind: shapes, scale: dorain}", "2:33", "'dorain'", "dorian"),
        (
            "chords: C\nexercise: {kind: positions, phrase: no.mid}",
            "2:37", "no file 'no.mid'", "from the recipe",
        ),
        ("chords: C\nparts: bass\noutputs: midi tab", "3:10", "'tab' shows a guide", "add guide"),
        ("chords: C\nparts: bass\noutputs: [midi, musicxml]", "3:17", "'musicxml' shows", "away"),
        ("chords: C\noutputs: [midi, answers]", "2:17", "'answers' belong to calls", "exercise: calls"),
        ("chords: C\nparts: guide\noutputs: band", "3:10", "no band", "drums, bass or comping"),
        ("chords: C\nparts: bass\noutputs: band", "3:10", "all there is", "write loop"),
        ("chords: N.C.\noutputs: diagrams", "2:10", "no chord to draw", "write chords"),
        ("chords: N.C.\ndiagrams: {theme: dark}", "2:11", "no chord to draw", "write chords"),
        ("chords: C\nhandout: {shapes_for: [Gm7, H7]}", "2:29", "H7", None),
        ("chords: C\nhandout: {shapes_for: Gm7 H7}", "2:23", "H7", None),
        ("chords: C\naudio: {soundfont: no.sf2}", "2:20", "no file 'no.sf2'", "from the recipe"),
        ("chords: C\naudio: {minus: exercise}", "2:16", "'exercise', which is not played", "drums bass"),
        ("chords: C\naudio: {minus: [bass, click]}", "2:23", "'click', which is not played", "drums"),
        ("chords: C\nparts: bass\naudio: {minus: bass}", "3:16", "nothing is left", "away"),
        ("chords: C\noutputs: take\naudio: {minus: bass}", "3:16", "no loop is wanted", "add loop"),
    ],
)  # fmt: skip
def test_what_does_not_go_together_is_said_with_its_place_and_a_hint(text, place, message, hint):
    with pytest.raises(RecipeError) as caught:
        parse_recipe(text, "r.yaml")
    assert message in caught.value.message
    assert str(caught.value.place) == f"r.yaml:{place}"
    if hint:
        assert hint in caught.value.hint


def test_the_first_of_several_faults_is_said():
    with pytest.raises(RecipeError) as caught:
        parse_recipe("outputs: answers\nstops: 9\nchords: C\nfeel: ''")
    assert caught.value.place.line == 1


@pytest.mark.parametrize("name", ["a.sf2", "sounds/b.sf3"])
def test_a_soundfont_is_looked_for_beside_the_recipe(tmp_path, name):
    (tmp_path / name).parent.mkdir(exist_ok=True)
    (tmp_path / name).touch()
    (tmp_path / "r.yaml").write_text(f"chords: C\naudio: {{soundfont: {name}}}")
    assert read_recipe(tmp_path / "r.yaml").fields.audio.soundfont == name


@pytest.mark.parametrize("name", ["x" * 5000, '"a\\0b"', "~nobody-of-this-name/a.sf2", "."])
def test_names_that_no_file_can_have(name):
    with pytest.raises(RecipeError, match="there is no file"):
        parse_recipe(f"chords: C\naudio: {{soundfont: {name}}}")


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("chords: C | F\nexercise: tour\nstops: 1", "3:1"),
        ("chords: C | F\nexercise: calls\nturnaround: G7", "3:1"),
        ("sections: {A: {chords: C, rest: bass}}\nexercise: shapes", "1:27"),
        ("sections: {i: C, A: F}\nintro: i\nexercise: tour", "2:1"),
    ],
)
def test_what_is_said_of_bars_is_no_use_in_a_study(text, place):
    with pytest.raises(RecipeError, match="no effect on a study") as caught:
        parse_recipe(text, "r.yaml")
    assert str(caught.value.place) == f"r.yaml:{place}"
