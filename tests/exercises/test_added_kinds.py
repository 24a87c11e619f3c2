"""Adding a kind of exercise: a model and its function; all the rest comes by itself.

One kind is registered here, another stands in a little package that is installed into a folder.
"""

import importlib
import json
import sys
from typing import Literal

import mido
import pytest
from jsonschema import Draft202012Validator
from pydantic import Field

from genex.exercises import ChartFacts, Exercise, Fault, find_kind, kinds, register, registry
from genex.lines.placement import fingered, fretted_part
from genex.score import Note, Role
from genex.text.field_kinds import Whole


class Pedal(Exercise):
    """One root under every bar, held or struck again."""

    composed_by = f"{__name__}:pedal_line"
    usual_outputs = ("midi", "tab", "handout")
    usual_blocks = ("chart", "lines")

    kind: Literal["pedal"] = "pedal"
    strikes: Whole = Field(default=1, ge=1, le=8, description="How often it is struck in a bar.")

    def faults(self, chart: ChartFacts):
        if self.strikes > len(chart.meter.pulses):
            yield Fault("more strikes than beats", "strike less often", ("strikes",))


def pedal_line(timeline, exercise, player):
    """The line of a pedal."""
    notes = []
    for bar in timeline.bars:
        chord = timeline.chord_at(bar.onset_beats).chord
        length = bar.length_beats / exercise.strikes
        for index in range(exercise.strikes):
            root = chord.root.at_or_above(player.tuning.open_midi[-1])
            notes.append(Note(bar.onset_beats + index * length, length, root, 80))
    return fretted_part(player, Role.EXERCISE, fingered(notes, player.tuning))


@pytest.fixture
def pedal():
    """The kind, known while a test lasts."""
    register(Pedal)
    yield Pedal
    del registry._registered["pedal"]


@pytest.fixture
def recipe(tmp_path):
    def written(text):
        path = tmp_path / "rain.yaml"
        path.write_text(text)
        return path

    return written


def test_a_kind_that_is_registered_builds_a_lesson(pedal, genex, recipe, tmp_path):
    path = recipe("title: Rain\nchords: Gm7 | C7 |\nexercise: {kind: pedal, strikes: 2}\n")
    answer = genex("build", path, "--out", tmp_path)
    assert (answer.code, answer.err) == (0, "")
    folder = tmp_path / "rain"
    names = {file.name for file in folder.iterdir()}
    assert names == {"manifest.json", "rain.mid", "rain.tab.txt", "rain.handout.pdf"}
    tracks = {track.name: track for track in mido.MidiFile(folder / "rain.mid").tracks}
    struck = [m.note % 12 for m in tracks["exercise"] if m.type == "note_on" and m.velocity]
    assert struck == [7, 7, 0, 0]  # G and C, twice each
    assert "rain" in (folder / "rain.tab.txt").read_text().lower()


def test_it_is_checked_by_its_own_limits_and_its_own_rules(pedal, genex, recipe):
    assert genex("check", recipe("chords: C\nexercise: pedal\n")).code == 0
    for fields, place, message, hint in (
        ("strikes: 9", "2:34", "9 is too large for 'exercise.strikes'", "the most is 8"),
        ("strikes: 5", "2:34", "more strikes than beats", "strike less often"),
        ("strike: 2", "2:25", "no field 'strike'", "did you mean 'strikes'?"),
    ):
        answer = genex("check", recipe(f"chords: C\nexercise: {{kind: pedal, {fields}}}\n"))
        assert answer.code == 2
        assert f"rain.yaml:{place}: " in answer.err and message in answer.err and hint in answer.err
    answer = genex("check", recipe("chords: C\nexercise: pedals\n"))
    assert "did you mean 'pedal'?" in answer.err


def test_it_stands_in_the_schema_and_among_the_kinds(pedal, genex):
    assert kinds()["pedal"] is Pedal
    schema = json.loads(genex("schema").out)
    assert schema["$defs"]["Pedal"]["properties"]["strikes"]["maximum"] == 8
    check = Draft202012Validator(schema)
    check.validate({"chords": "C", "exercise": {"kind": "pedal", "strikes": 2}})
    check.validate({"chords": "C", "exercise": "pedal"})
    for wrong in ({"kind": "pedal", "strikes": 0}, {"strikes": 2}, {"kind": "pedals"}, "pedals"):
        assert not check.is_valid({"chords": "C", "exercise": wrong})


def test_a_name_is_given_once(pedal):
    assert register(Pedal) is Pedal
    with pytest.raises(ValueError, match="'pedal' is"):

        @register
        class Other(Exercise):
            """Another."""

            kind: Literal["pedal"] = "pedal"


MODULE = '''\
"""An exercise of a package of its own."""

from typing import Literal

from genex.exercises import Exercise
from genex.lines.placement import fingered, fretted_part
from genex.score import Note, Role


class Roots(Exercise):
    """The root of each chord, held."""

    composed_by = "little_roots:root_line"

    kind: Literal["roots"] = "roots"


def root_line(timeline, exercise, player):
    notes = [
        Note(span.onset_beats, span.length_beats, span.chord.root.at_or_above(45), 80)
        for span in timeline.merged_chords
    ]
    return fretted_part(player, Role.EXERCISE, fingered(notes, player.tuning))
'''


@pytest.fixture
def package(tmp_path, monkeypatch):
    """Installs a package with a module and an entry point into a folder of the path."""
    folder = tmp_path / "site"

    def installed(module, value="little_roots:Roots", kind="roots"):
        info = folder / "little_roots-1.0.dist-info"
        info.mkdir(parents=True)
        (folder / "little_roots.py").write_text(module)
        (info / "METADATA").write_text("Metadata-Version: 2.1\nName: little-roots\nVersion: 1.0\n")
        (info / "entry_points.txt").write_text(f"[{registry.GROUP}]\n{kind} = {value}\n")
        monkeypatch.syspath_prepend(str(folder))
        importlib.invalidate_caches()

    yield installed
    registry._registered.pop("roots", None)
    sys.modules.pop("little_roots", None)


def test_a_kind_of_an_installed_package(package, genex, recipe, tmp_path):
    assert find_kind("roots") is None
    package(MODULE)
    assert genex("check", recipe("chords: Gm7 | C7\nexercise: roots\n")).code == 0
    assert "Roots" in json.loads(genex("schema").out)["$defs"]
    answer = genex(
        "build", recipe("chords: Gm7 | C7\noutputs: midi tab\nexercise: roots\n"), "--out", tmp_path
    )
    assert (answer.code, answer.err) == (0, "")
    assert (tmp_path / "rain" / "rain.tab.txt").is_file()
    answer = genex("check", recipe("chords: C\nexercise: rots\n"))
    assert "did you mean 'roots'?" in answer.err


def test_a_lesson_is_built_anew_when_its_package_changes(package, genex, recipe, tmp_path):
    package(MODULE)
    build = ("build", recipe("chords: Gm7 | C7\noutputs: midi\nexercise: roots\n"), "--out", tmp_path)
    assert "(unchanged)" not in genex(*build).out
    assert "(unchanged)" in genex(*build).out
    (tmp_path / "site" / "little_roots.py").write_text(MODULE.replace("80)", "70)"))
    assert "(unchanged)" not in genex(*build).out


def test_a_package_is_not_looked_for_where_genex_has_the_kind(package, genex, recipe):
    package("raise RuntimeError('read')", kind="arpeggio")
    assert genex("check", recipe("chords: C\nexercise: arpeggio\n")).code == 0
    assert find_kind("arpeggio").__module__ == "genex.exercises.models.over_the_chart"


@pytest.mark.parametrize(
    ("module", "value", "reason"),
    [
        ("import a_thing_that_is_not_installed", "little_roots:Roots", "a_thing_that_is_not_installed"),
        ("raise RuntimeError('out of tune')", "little_roots:Roots", "out of tune"),
        ("Roots = 3", "little_roots:Roots", "'little_roots:Roots' is not an exercise of that kind"),
        (MODULE.replace('"roots"', '"rests"'), "little_roots:Roots", "is not an exercise of that kind"),
        (MODULE, "little_roots:Missing", "Missing"),
        (MODULE.replace(":root_line", ":rot_line"), "little_roots:Roots", "rot_line"),
    ],
)
def test_a_broken_package_is_named(package, genex, recipe, module, value, reason):
    package(module, value)
    answer = genex("check", recipe("chords: C\nexercise: roots\n"))
    assert answer.code == 1
    assert "'roots' of the package 'little" in answer.err and reason in answer.err
    assert "update the package 'little" in answer.err
    # other recipes, right or wrong, do not need it
    assert genex("check", recipe("chords: C\nexercise: tour\n")).code == 0
    assert "did you mean 'tour'?" in genex("check", recipe("chords: C\nexercise: tuor\n")).err
