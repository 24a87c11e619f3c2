"""The tree of the tests is that of the rooms, and rooms are entered by their doors."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import genex

HOUSE = Path(genex.__file__).parent
TESTS = Path(__file__).parent

WITHOUT_TESTS_OF_THEIR_OWN = {
    # Modules by their path in the house, each with the reason.
    "export/handout/settings.py": "choices without behaviour",
    "fretboard/best_path.py": "the search itself, which test_fingering.py holds against an oracle",
    "fretboard/held.py": "a chord held down, which test_grips.py reads",
    "fretboard/own_shape.py": "an entry of a file, which test_own_shapes_file.py reads",
    "fretboard/shape.py": "a shape as it is made by shapes.py, and test_shapes.py",
    "fretboard/wishes.py": "wishes without behaviour",
    "score/tempo_signs.py": "a sign without behaviour",
    "theory/signs.py": "patterns of chord symbols, which test_symbol.py reads",
}
NOT_YET = ("audio", "band", "compose", "exercises", "lines", "publishing", "readers", "recipe", "")
"""Rooms (the last one is the house itself) whose tests are not yet held to it module by module."""

OF_MANY_MODULES = {
    # Tests that hold several modules to one thing.
    "export/test_capo.py": "a capo on every page",
    "band/test_ensemble.py": "bands as wholes, and by a line",
    "band/test_hits.py": "what all strike together",
    "band/test_groove_schema.py": "groove files, by their schema",
    "band/test_time_and_touch.py": "when and how loud the band plays",
    "band/test_variety.py": "every feel over 96 bars",
    "band/test_clave.py": "feels with a clave",
    "band/test_takes.py": "every feel at its slowest, usual and fastest tempo",
    "compose/test_changing_meters.py": "exercises over charts that change their meter",
    "compose/test_meters.py": "rare meters, in every kind of file",
    "compose/test_sections.py": "key, tempo and meter of sections, in every kind of file",
    "compose/test_chord_scales_played.py": "whatever plays a scale",
    "exercises/test_added_kinds.py": "a kind that is added",
    "exercises/test_kinds.py": "every kind",
    "fretboard/test_open_forms.py": "the form at the nut, from shapes to exercises",
    "fretboard/test_practice_path.py": "the forms that every method prints",
    "export/test_modal_keys.py": "modes, in every file that tells a key",
    "export/test_no_chords.py": "no N.C. in any file of a piece without chords",
    "theory/test_readings.py": "charts, read as musicians read them",
    "lines/test_against_music21.py": "lines, read by another library",
    "lines/test_every_kind_is_whole.py": "every kind that walks over chords or scales",
    "lines/test_fingered_lines.py": "how the hand plays lines",
    "lines/test_whole_necks.py": "no tone dropped in any tuning",
    "page/test_heard.py": "the page's sound, from score to speaker",
    "page/test_in_browser.py": "the page as a student has it",
    "page/test_picture.py": "the picture of the page, by a browser",
    "page/test_scripts.py": "the page's modules, by node",
    "readers/lines/test_against_music21.py": "typed lines, read by another library",
    "readers/charts/test_against_music21.py": "charts, read by another library and read back",
    "publishing/test_faults.py": "builds on a disk that fails",
    "publishing/test_house_fingerings.py": "own fingerings, in every file",
    "publishing/test_in_step.py": "only what changed is made anew",
    "publishing/test_inputs_at_any_stage.py": "whatever input changes, at whatever stage",
    "publishing/test_killed.py": "builds that are killed",
    "publishing/test_owners.py": "one folder, one owner",
    "recipe/test_mistakes.py": "messages for mistakes",
    "recipe/test_schema_and_check.py": "the schema and the checks, held to each other",
    "soundfonts/test_default_soundfont.py": "the soundfont that comes with genex",
    "band/test_sound.py": "feels, heard",
    "theory/test_open_collection.py": "the harmony of tunes that others wrote down",
    "test_clean_sound.py": "presets, feels and takes, measured",
    "test_compose.py": "recipes to scores",
    "test_docs.py": "documents",
    "test_fuzzed.py": "what anybody might write",
    "test_hard_circumstances.py": "terminals, disks and folders at their worst",
    "test_lines_heard.py": "lines, heard",
    "test_recipes.py": "the examples",
    "test_rooms.py": "this",
}

DOORS = {
    "theory": {"genex.theory"},
    "fretboard": {"genex.fretboard"},
    "score": {"genex.score"},
    # A format a module, each of which stands for itself: who wants MIDI loads no typesetting.
    "export": {
        f"genex.export.{name}"
        for name in (
            "answer_key",
            "captions",
            "chord_chart",
            "chord_chart_svg",
            "diagrams",
            "grip_diagrams",
            "grip_text",
            "handout",
            "joined_midi",
            "lead_sheet",
            "made_texts",
            "midi",
            "musicxml",
            "neck_marks",
            "neck_text",
            "note_names",
            "phrases",
            "placed_systems",
            "page_signs",
            "repeat_signs",
            "tab",
            "tempo_words",
            "typography",
            "xml_swing",
            "xml_techniques",
        )
    },
}
BY_MODULES = {"lines", "compose", "exercises", "band", "docs_tables.py"}
"""Rooms and modules that still reach into others."""


def modules() -> Iterator[str]:
    for path in sorted(HOUSE.rglob("*.py")):
        if path.name not in ("__init__.py", "__main__.py"):
            yield path.relative_to(HOUSE).as_posix()


def room_of(path: str) -> str:
    return path.split("/")[0] if "/" in path else ""


def test_every_module_has_its_tests_in_the_same_place() -> None:
    missing = []
    for module in modules():
        folder, _, name = module.rpartition("/")
        if room_of(module) in NOT_YET or module in WITHOUT_TESTS_OF_THEIR_OWN:
            continue
        if not (TESTS / folder / f"test_{name}").is_file():
            missing.append(module)
    assert missing == []


def test_every_test_is_of_a_module_or_of_many_for_a_reason() -> None:
    known = set(modules())
    strays = []
    for path in sorted(TESTS.rglob("test_*.py")):
        test = path.relative_to(TESTS).as_posix()
        module = "/".join([*test.split("/")[:-1], path.name.removeprefix("test_")])
        if module not in known and test not in OF_MANY_MODULES:
            strays.append(test)
    assert strays == []


def test_the_lists_of_exceptions_name_what_is_there() -> None:
    assert set(WITHOUT_TESTS_OF_THEIR_OWN) <= set(modules())
    assert all((TESTS / test).is_file() for test in OF_MANY_MODULES)
    for module in WITHOUT_TESTS_OF_THEIR_OWN:
        folder, _, name = module.rpartition("/")
        assert not (TESTS / folder / f"test_{name}").exists(), module


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module:
            yield node.module
        elif isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)


def test_other_rooms_come_in_by_the_doors() -> None:
    through_walls = []
    for module in modules():
        here = room_of(module)
        if here in BY_MODULES or module in BY_MODULES:
            continue
        for name in imported(HOUSE / module):
            room = name.split(".")[1] if name.startswith("genex.") else ""
            if room in DOORS and room != here and name not in DOORS[room]:
                through_walls.append(f"{module}: {name}")
    assert through_walls == []
