"""Vertical diagrams, read back from the picture as a guitarist reads them."""

from __future__ import annotations

import io
import re
from xml.etree import ElementTree

import pytest
from PIL import Image

from genex.compose import compose
from genex.export.diagrams import PALETTES, UNIT_MM, svg_to_png
from genex.export.grip_diagrams import (
    GripStyle,
    dots_of,
    grip_size,
    grip_svg,
    grips_svg,
    played_svg,
)
from genex.fretboard import STANDARD, TUNINGS, Grip, Tuning, every_grip, grips_of
from genex.recipe import parse_recipe
from genex.theory import parse_chord

SPACE = "{http://www.w3.org/2000/svg}"


def grip_of(symbol: str, kind: str, frets: str, neck: Tuning = STANDARD) -> Grip:
    count = len(neck.strings)
    for grip in every_grip(parse_chord(symbol), neck, [kind]):
        if "".join(str(grip.held.frets.get(s, "x")) for s in range(count, 0, -1)) == frets:
            return grip
    raise LookupError(frets)


def read(svg: str) -> dict:
    """What a diagram shows: strings by their places, marks above them, dots, bars, words below."""
    root = ElementTree.fromstring(svg)
    ink, rects = PALETTES["light"].ink, list(root.iter(f"{SPACE}rect"))
    lines = [{k: float(v) for k, v in e.attrib.items() if k in ("x1", "y1", "x2", "y2", "stroke-width")}
             | {"stroke": e.get("stroke")} for e in root.iter(f"{SPACE}line")]  # fmt: skip
    upright = sorted({each["x1"] for each in lines if each["x1"] == each["x2"]})
    level = sorted({each["y1"] for each in lines if each["y1"] == each["y2"] and each["stroke"] != ink})
    nut = [each for each in lines if each["y1"] == each["y2"] and each["stroke"] == ink]
    crossed = sorted(
        {(e["x1"] + e["x2"]) / 2 for e in lines if e["x1"] != e["x2"] and e["y1"] != e["y2"]}
    )
    texts = [(float(e.get("x")), float(e.get("y")), e.text) for e in root.iter(f"{SPACE}text")]
    dots = {}
    for x, y, text in texts:
        row = next((i for i, top in enumerate(level[:-1]) if top < y < level[i + 1]), None)
        if row is not None and min(abs(x - at) for at in upright) < 1:
            dots[min(upright, key=lambda at: abs(x - at))] = (row, text)
    return {
        "strings": upright,
        "frets": len(level) - 1,
        "nut": bool(nut),
        "muted": [upright.index(min(upright, key=lambda at: abs(at - x))) for x in crossed],
        "open": sorted(
            upright.index(float(e.get("cx"))) for e in root.iter(f"{SPACE}circle")
            if float(e.get("cy")) < level[0]
        ),
        "dots": {upright.index(x): value for x, value in dots.items()},
        "bars": [(float(e.get("x")), float(e.get("width"))) for e in rects[1:]],
        "below": [t for x, y, t in sorted(texts) if y > level[-1]],
        "beside": [t for x, y, t in texts if min(abs(x - at) for at in upright) >= 1 and y < level[-1]],
        "desc": root.findtext(f"{SPACE}desc"),
    }  # fmt: skip


def test_an_open_chord() -> None:
    shown = read(grip_svg(dots_of(grip_of("C", "open", "x32010")), STANDARD, GripStyle("degrees")))
    assert len(shown["strings"]) == 6 and shown["frets"] == 4 and shown["nut"]
    assert shown["muted"] == [0] and shown["open"] == [3, 5]
    assert shown["dots"] == {1: (2, "3"), 2: (1, "2"), 4: (0, "1")}
    assert shown["below"] == ["1", "3", "5", "1", "3"] and shown["bars"] == [] and not shown["beside"]
    assert shown["desc"].startswith("string 6 muted, string 5 fret 3 finger 3 (1), string 4 fret 2")
    assert "string 3 open (5)" in shown["desc"]


def test_a_barre_chord_has_a_bar_and_a_fret_number() -> None:
    shown = read(grip_svg(dots_of(grip_of("Ab", "barre", "466544")), STANDARD, GripStyle("notes")))
    assert shown["nut"] is False and shown["beside"] == ["4"] and shown["muted"] == []
    ((left, width),) = shown["bars"]
    assert left < shown["strings"][0] and left + width > shown["strings"][-1], "from 6 to 1"
    assert shown["dots"] == {
        0: (0, "1"),
        1: (2, "3"),
        2: (2, "4"),
        3: (1, "2"),
        4: (0, "1"),
        5: (0, "1"),
    }
    assert shown["below"] == ["A♭", "E♭", "A♭", "C", "E♭", "A♭"]


def test_left_handed_is_the_mirror() -> None:
    dots = dots_of(grip_of("C", "open", "x32010"))
    right, left = (read(grip_svg(dots, STANDARD, GripStyle(left_handed=hand))) for hand in (False, True))
    assert left["muted"] == [5] and left["open"] == [0, 2]
    assert left["dots"] == {5 - string: value for string, value in right["dots"].items()}
    assert right["below"] == []


@pytest.mark.parametrize("neck", ["ukulele", "seven-string", "four-string bass"])
def test_other_necks_have_their_own_strings(neck: str) -> None:
    tuning = TUNINGS[neck]
    for grip in grips_of(parse_chord("C7"), tuning)[:6]:
        shown = read(grip_svg(dots_of(grip), tuning))
        assert len(shown["strings"]) == len(tuning.strings)
        assert len(shown["dots"]) + len(shown["open"]) == len(grip.strings)


@pytest.mark.parametrize("symbol", ["Cmaj7", "F", "Bm7b5", "E13", "Bb"])
def test_every_grip_is_drawn_whole(symbol: str) -> None:
    """Each sounding string has its finger or its o, each other one its x, all inside the picture."""
    for grip in grips_of(parse_chord(symbol), STANDARD):
        svg = grip_svg(dots_of(grip), STANDARD, GripStyle("degrees"))
        shown, held = read(svg), grip.held
        stopped = {6 - s: f for s, f in held.frets.items() if f}
        first = int(shown["beside"][0]) if shown["beside"] else 1
        assert {s: row + first for s, (row, _) in shown["dots"].items()} == stopped
        assert {s: int(text) for s, (_, text) in shown["dots"].items()} == {
            6 - s: finger for s, finger in held.fingers.items() if finger
        }
        assert shown["muted"] == sorted({*range(6)} - {6 - s for s in held.frets})
        assert len(shown["bars"]) == len(held.barres)
        width, height = (float(re.search(rf'{k}="([\d.]+)"', svg)[1]) for k in ("width", "height"))
        for x in re.findall(r' (?:c?x|x1|x2)="([-\d.]+)"', svg):
            assert 0 <= float(x) <= width
        for y in re.findall(r' (?:c?y|y1|y2)="([-\d.]+)"', svg):
            assert 0 <= float(y) <= height


def test_a_page_of_grips_is_a_picture_with_words() -> None:
    chord = parse_chord("F7")
    grips = grips_of(chord, STANDARD)
    svg = grips_svg(chord, grips, STANDARD)
    root = ElementTree.fromstring(svg)
    assert root.findtext(f"{SPACE}title") == "F7"
    assert (
        root.findtext(f"{SPACE}desc").count("; ") + root.findtext(f"{SPACE}desc").count(". ")
        >= len(grips) - 1
    )
    for kind in {grip.kind for grip in grips}:
        assert f">{kind}<" in svg
    assert "below: degrees" in svg and "below" not in grips_svg(chord, grips, STANDARD, GripStyle())
    picture = Image.open(io.BytesIO(svg_to_png(svg)))
    assert picture.size[0] == round(float(root.get("width")) * UNIT_MM / 25.4 * 300)
    with pytest.raises(ValueError, match="at least one"):
        grips_svg(chord, [], STANDARD)


def test_the_size_of_a_diagram_is_known_before_it_is_drawn() -> None:
    style = GripStyle("degrees")
    svg = grip_svg(dots_of(grip_of("C", "open", "x32010")), STANDARD, style, rows=5)
    width, height = grip_size(STANDARD, style, 5)
    assert f'width="{width:g}" height="{height:g}"' in svg


def test_the_grips_of_a_piece_stand_in_order_of_play() -> None:
    recipe = parse_recipe(
        "title: Hinges\nkey: F\nsections:\n  A: Fmaj7 | D7 | Gm7 | C7\n  B: Cm7 | F7\n"
        "form: A B A\nexercise: {kind: grips, rhythm: whole}\n"
    )
    score = compose(recipe).score
    root = ElementTree.fromstring(played_svg(score, STANDARD))
    assert root.findtext(f"{SPACE}title") == "Hinges"
    texts = [e.text for e in root.iter(f"{SPACE}text")]
    shown = [text for text in texts if text in "A B Fmaj7 D7 Gm7 C7 Cm7 F7".split()]
    # The names of degrees and fingers are numbers, those of sections and chords begin with a letter.
    assert shown == ["A", "Fmaj7", "D7", "Gm7", "C7", "B", "Cm7", "F7"]
    desc = root.findtext(f"{SPACE}desc")
    assert desc.startswith("bar 1, Fmaj7: string 6 muted") and "bar 6, F7: " in desc
    with pytest.raises(ValueError, match="no part of chords"):
        played_svg(score.only("drums"), STANDARD)


@pytest.mark.parametrize("ending", ["svg", "png"])
def test_diagrams_of_a_grips_exercise_are_its_grips(ending: str, genex, tmp_path) -> None:
    path = tmp_path / "hinges.yaml"
    path.write_text(
        "title: Hinges\nchords: Dm7 | G7\nexercise: {kind: grips, rhythm: whole}\noutputs: diagrams\n"
        f"diagrams: {{format: {ending}}}\nleft_handed: true\n"
    )
    answer = genex("build", path, "--out", tmp_path)
    assert answer.code == 0, answer.err
    made = {file.name for file in (tmp_path / "hinges").iterdir()} - {"manifest.json"}
    assert made == {f"hinges.grips.{ending}"}


def test_grips_are_drawn_from_the_command_line(genex, tmp_path) -> None:
    for name, label, below in (("a.svg", "degrees", True), ("b.svg", "fingers", False)):
        answer = genex("shapes", "Cm7b5", "--grips", "--picture", tmp_path / name, "--label", label)
        assert answer.code == 0 and answer.out.startswith("wrote ")
        assert ("below: degrees" in (tmp_path / name).read_text()) == below
    genex("shapes", "Cm7b5", "--grips", "--picture", tmp_path / "c.png", "--theme", "dark")
    with Image.open(tmp_path / "c.png") as picture:
        assert picture.size[0] > 1000
    refused = genex("shapes", "C", "--grips", "--picture", tmp_path / "d.gif")
    assert refused.code == 2 and "end it in .svg or .png" in refused.err
