from __future__ import annotations

import xml.etree.ElementTree as ElementTree

from genex.export.musicxml import musicxml_text
from genex.export.placed_systems import PlacedSystem, placed_systems
from tests.export.test_engraving import one_line


def systems(bars: int = 1, width_mm: float = 120) -> tuple[PlacedSystem, ...]:
    places = [(4, 5), (3, 3), (3, 5), (2, 3)] * bars
    score = one_line(places, " | ".join(["Gm7"] * bars))
    return placed_systems(musicxml_text(score), width_mm=width_mm)


def test_every_note_stands_where_its_head_is() -> None:
    (system,) = systems()
    root = ElementTree.fromstring(system.svg)
    sheet = next(one for one in root if one.tag.endswith("}svg"))
    page = next(one for one in sheet.iter() if "translate" in one.get("transform", ""))
    margin = float(page.get("transform", "")[10:].partition(",")[0])
    width = float(sheet.get("viewBox", "").split()[2])
    heads = [
        (margin + float(use.get("transform", "")[10:].partition(",")[0])) / width
        for use in root.iter()
        if use.tag.endswith("}use") and "#E0A" in "".join(use.attrib.values())
    ]
    assert [at for at, _ in system.places][:4] == [0, 0.5, 1, 1.5]
    assert {round(share, 4) for _, share in system.places} >= {round(share, 4) for share in heads}


def test_systems_follow_each_other_in_time() -> None:
    found = systems(bars=8, width_mm=90)
    assert len(found) > 1
    onsets = [at for system in found for at, _ in system.places]
    assert onsets == sorted(onsets) and len(set(onsets)) == len(onsets)


def test_a_picture_holds_no_more_than_is_seen() -> None:
    for system in systems(bars=2):
        assert "<style" not in system.svg and "<desc" not in system.svg
        assert "placeholder" not in system.svg and 'class="reh"' not in system.svg
        assert 'class="harm"' in system.svg  # for the styles of the page around it
