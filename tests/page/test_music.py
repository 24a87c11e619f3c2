from __future__ import annotations

import base64
import gzip
import json
import xml.etree.ElementTree as ElementTree

from genex.page.music import MOST_BARS, packed_music, studied_part
from tests.page.pages import TUNE, piece, tune


def systems(text: str = TUNE) -> list[dict]:
    packed = packed_music(tune(text).score)
    assert packed is not None
    return json.loads(gzip.decompress(base64.b64decode(packed["packed"])))


def test_every_note_of_the_line_has_its_place_and_places_go_from_left_to_right() -> None:
    found = systems()
    places = [place for system in found for place in system["places"]]
    assert {at for at, _ in places} >= {
        int(960 * note.onset_beats) for note in tune().score.part("exercise").notes
    }
    for system in found:
        shares = [share for _, share in system["places"]]
        assert shares == sorted(shares)
        assert 0 < shares[0] < shares[-1] < 1


def test_the_line_with_frets_is_the_one_that_is_studied() -> None:
    part = studied_part(tune().score)
    assert part is not None and part.name == "exercise"
    assert studied_part(tune().score.only("drums", "bass")) is None


def test_pictures_hold_nothing_that_a_policy_would_stop_or_that_asks_for_anything() -> None:
    for system in systems():
        root = ElementTree.fromstring(system["svg"])
        for element in root.iter():
            assert element.tag.split("}")[1] in {
                *("svg", "g", "defs", "path", "use", "text", "tspan"),
                *("polygon", "polyline", "rect", "ellipse", "circle"),
            }
            assert "style" not in element.attrib
            for name, value in element.attrib.items():
                assert not name.endswith("href") or value.startswith("#")


def test_what_the_engraver_hides_is_not_there() -> None:
    assert all("ellipse" not in system["svg"] for system in systems())


def test_a_piece_that_is_too_long_is_left_to_the_pages_own_tab() -> None:
    long = piece(
        TUNE.replace("count_in", f"repeats: {MOST_BARS // 4 + 1}\ncount_in").replace("132", "200")
    )
    assert packed_music(long.score) is None
    assert packed_music(tune().score.only("drums")) is None
