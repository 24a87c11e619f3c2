from __future__ import annotations

import os
from pathlib import Path

import numpy as np
import pytest

from genex.audio import Renderer, Soundfont, store
from genex.audio.store import Findings, NoteStore
from genex.audio.timing import Strike
from genex.resources import default_soundfont
from genex.score import Role, Score
from tests.audio.material import drums, note, part, score


def music() -> Score:
    return score(
        part(note("0", "1", 60), note("1", "1/2", 64, 70), note("2", "3/2", 60), name="a", program=26),
        part(note("0", "2", 36), note("2", "2", 43), name="bass", program=33, role=Role.BASS),
        drums(
            note("0", "1/4", 51, 90),
            note("1", "1/4", 51, 60),
            note("2", "1/4", 46),
            note("3", "1/4", 42),
        ),
    )


def render(cache: Path | None, rate_hz: int = 48_000) -> np.ndarray:
    with Renderer(default_soundfont(), rate_hz, cache) as renderer:
        return renderer.loop(music()).samples


def packs(cache: Path) -> list[Path]:
    return sorted((cache / "notes").glob("*.notes"))


def test_the_cache_changes_nothing_that_is_heard(tmp_path: Path) -> None:
    plain, first, second = render(None), render(tmp_path), render(tmp_path)
    assert np.array_equal(plain, first)
    assert np.array_equal(plain, second)


def test_a_second_build_synthesises_no_note_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    render(tmp_path)
    before = packs(tmp_path)
    made: list[object] = []
    held = store.Soundfont.held

    def counted(self: store.Soundfont, wanted: object) -> object:
        some = list(wanted)  # type: ignore[call-overload]
        made.extend(some)
        return held(self, some)

    monkeypatch.setattr(store.Soundfont, "held", counted)
    render(tmp_path)
    assert made == []
    assert packs(tmp_path) == before


def test_every_damaged_region_of_the_cache_is_noticed(tmp_path: Path) -> None:
    plain = render(tmp_path)
    (pack,) = packs(tmp_path)
    whole = pack.read_bytes()
    for region in range(16):
        start = region * len(whole) // 16
        damaged = bytearray(whole)
        for at in range(start, min(start + 64, len(whole))):
            damaged[at] ^= 0x55
        for other in packs(tmp_path):
            other.unlink()
        pack.write_bytes(bytes(damaged))
        assert np.array_equal(plain, render(tmp_path)), region


@pytest.mark.parametrize("rest", [0, 5, 16, 300, 20_000])
def test_a_pack_cut_short_is_made_again(tmp_path: Path, rest: int) -> None:
    plain = render(tmp_path)
    (pack,) = packs(tmp_path)
    pack.write_bytes(pack.read_bytes()[:rest])
    assert np.array_equal(plain, render(tmp_path))


def test_foreign_files_and_folders_do_no_harm(tmp_path: Path) -> None:
    plain = render(tmp_path)
    (pack,) = packs(tmp_path)
    (tmp_path / "notes" / f"{pack.name.split('-')[0]}-1-1.notes").mkdir()
    for mark in (tmp_path / "notes").glob("*.sha256"):
        mark.write_text("not a digest")
    assert np.array_equal(plain, render(tmp_path))


def test_other_rates_have_other_notes(tmp_path: Path) -> None:
    render(tmp_path)
    render(tmp_path, 44_100)
    assert len({pack.name.split("-")[0] for pack in packs(tmp_path)}) == 2


def test_a_changed_soundfont_has_other_notes(tmp_path: Path) -> None:
    copy = tmp_path / "copy.sf2"
    copy.write_bytes(default_soundfont().read_bytes())
    names = set()
    for change in (b"", b"x"):
        data = bytearray(copy.read_bytes())
        data[100 : 100 + len(change)] = change  # in its texts
        copy.write_bytes(bytes(data))
        os.utime(copy, ns=(1, len(change)))
        with Renderer(copy, 48_000, tmp_path / "cache") as renderer:
            renderer.loop(music())
        names |= {pack.name.split("-")[0] for pack in packs(tmp_path / "cache")}
    assert len(names) == 2


def test_a_cache_that_cannot_be_written_is_done_without(tmp_path: Path) -> None:
    (tmp_path / "notes").write_text("a file where the folder should be")
    assert np.array_equal(render(None), render(tmp_path))


def test_the_cache_stays_within_its_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    render(tmp_path)
    (first,) = packs(tmp_path)
    os.utime(first, (0, 0))
    monkeypatch.setattr(store, "MOST_BYTES", first.stat().st_size + 1000)
    render(tmp_path, 44_100)
    assert first not in packs(tmp_path)
    assert len(packs(tmp_path)) == 1


def test_a_damaged_pack_goes_away_and_the_next_one_serves(tmp_path: Path) -> None:
    render(tmp_path)
    (pack,) = packs(tmp_path)
    data = bytearray(pack.read_bytes())
    for at in range(len(data) // 2, len(data), 512):  # every note of the second half
        data[at] ^= 1
    pack.write_bytes(bytes(data))
    render(tmp_path)  # makes what it found damaged
    assert pack not in packs(tmp_path)
    render(tmp_path)  # makes what was whole in the pack that is gone
    made_again = packs(tmp_path)
    render(tmp_path)
    assert packs(tmp_path) == made_again


def test_a_longer_note_of_another_build_is_checked_too(soundfont: Soundfont, tmp_path: Path) -> None:
    """Even where the shorter one had been found whole."""
    name = ((False, 26, 60), 100)
    strike = Strike(False, 26, 60, 100, 1)
    mine, other = NoteStore(tmp_path, soundfont), NoteStore(tmp_path, soundfont)
    nothing = Findings({}, {})
    ((_, short),) = soundfont.held([(strike, 20)])
    ((_, long),) = soundfont.held([(strike, 60)])
    mine.save(nothing, {name: short})
    assert mine.get(name, 20) is not None
    other.save(nothing, {name: long})
    (pack,) = set(packs(tmp_path)) - mine._read
    data = bytearray(pack.read_bytes())
    data[-2000] ^= 1
    pack.write_bytes(bytes(data))
    mine.load()
    assert mine.get(name, 60) is None
