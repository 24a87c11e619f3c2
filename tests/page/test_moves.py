from __future__ import annotations

from genex.page.moves import SHIFTS, shifts_of
from genex.score import Fretting, Part, Role
from tests.audio.material import note
from tests.page.pages import tune


def test_the_twelve_keys_lie_the_nearer_way() -> None:
    assert SHIFTS == (-5, -4, -3, -2, -1, 0, 1, 2, 3, 4, 5, 6)
    assert {shift % 12 for shift in SHIFTS} == set(range(12))


def test_a_kit_stays_as_it_is() -> None:
    assert set(shifts_of(tune().score.part("drums"))) == {0}


def test_every_other_part_goes_to_the_key() -> None:
    for part in tune().score.parts:
        if not part.is_percussion:
            assert [shift % 12 for shift in shifts_of(part)] == [shift % 12 for shift in SHIFTS]


def test_a_line_stays_on_the_neck() -> None:
    part = tune().score.part("exercise")
    frets = [note.fretting.fret for note in part.notes if note.fretting]
    assert min(frets) > 0
    for shift in shifts_of(part):
        assert min(frets) + shift >= 1 and max(frets) + shift <= 22


def test_open_strings_only_go_up() -> None:
    place = [Fretting(6, 0, 0), Fretting(5, 3, 3)]
    notes = [note(at, 1, 40 + 8 * at, fretting=one) for at, one in enumerate(place)]
    assert min(shifts_of(Part.of("line", Role.EXERCISE, 26, notes))) == 0


def test_a_bass_goes_no_lower_than_its_lowest_string() -> None:
    # E1, the lowest string of a bass [common practice].
    low = Part.of("bass", Role.BASS, 32, [note(0, 1, 28), note(1, 1, 40)])
    assert min(28 + shift for shift in shifts_of(low)) == 28
