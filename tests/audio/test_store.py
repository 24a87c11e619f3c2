from __future__ import annotations

import json
import os
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from genex.audio import Renderer, Soundfont, store
from genex.audio.store import NoteStore, Record
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


def database(cache: Path) -> Path:
    return cache / "notes.sqlite3"


def asked(cache: Path, question: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(database(cache))) as opened:
        return opened.execute(question).fetchall()


@pytest.fixture(autouse=True)
def proven_when_played(monkeypatch: pytest.MonkeyPatch) -> None:
    """As of a soundfont of one's own: nothing is known of its notes beforehand."""
    monkeypatch.setattr("genex.audio.render.proven_traits", lambda *of: {})


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[object]:
    """The notes that are synthesised."""
    found: list[object] = []
    held = store.Soundfont.held

    def counted(self: store.Soundfont, wanted: object) -> object:
        some = list(wanted)  # type: ignore[call-overload]
        found.extend(some)
        return held(self, some)

    monkeypatch.setattr(store.Soundfont, "held", counted)
    return found


def test_the_cache_changes_nothing_that_is_heard(tmp_path: Path) -> None:
    plain, first, second = render(None), render(tmp_path), render(tmp_path)
    assert np.array_equal(plain, first)
    assert np.array_equal(plain, second)


def test_a_second_build_synthesises_no_note_anew(tmp_path: Path, made: list[object]) -> None:
    render(tmp_path)
    before = database(tmp_path).read_bytes()
    made.clear()
    render(tmp_path)
    assert made == []
    assert database(tmp_path).read_bytes() == before


def test_every_damaged_region_of_the_cache_is_noticed(tmp_path: Path) -> None:
    plain = render(tmp_path)
    whole = database(tmp_path).read_bytes()
    for region in range(16):
        start = region * len(whole) // 16
        damaged = bytearray(whole)
        for at in range(start, min(start + 64, len(whole))):
            damaged[at] ^= 0x55
        database(tmp_path).write_bytes(bytes(damaged))
        assert np.array_equal(plain, render(tmp_path)), region


def test_facts_that_were_changed_are_noticed(tmp_path: Path) -> None:
    """Of notes, traits and gains, by one sign."""
    plain = render(tmp_path)
    kinds = {json.loads(name)[0] for (name,) in asked(tmp_path, "SELECT name FROM records")}
    assert kinds == {"held", "trait", "gains"}
    whole = database(tmp_path).read_bytes()
    for kind in kinds:
        database(tmp_path).write_bytes(whole)
        with closing(sqlite3.connect(database(tmp_path))) as opened, opened:
            opened.execute(
                "UPDATE records SET facts = replace(replace(facts, 'true', 'false'), '1', '2') "
                f"WHERE name LIKE '[\"{kind}%'"
            )
        assert np.array_equal(plain, render(tmp_path)), kind


@pytest.mark.parametrize("rest", [0, 5, 300, 20_000, 1_000_000])
def test_a_database_cut_short_is_made_again(tmp_path: Path, made: list[object], rest: int) -> None:
    plain = render(tmp_path)
    database(tmp_path).write_bytes(database(tmp_path).read_bytes()[:rest])
    assert np.array_equal(plain, render(tmp_path))
    render(tmp_path)
    made.clear()
    render(tmp_path)
    assert made == []


def test_foreign_files_and_folders_do_no_harm(tmp_path: Path) -> None:
    plain = render(None)
    database(tmp_path).write_text("a shopping list")
    assert np.array_equal(plain, render(tmp_path))
    database(tmp_path).unlink(missing_ok=True)
    with closing(sqlite3.connect(database(tmp_path))) as opened, opened:
        opened.execute("CREATE TABLE records (shopping TEXT)")
    assert np.array_equal(plain, render(tmp_path))
    assert not database(tmp_path).exists() or asked(tmp_path, "SELECT soundfont FROM records")
    database(tmp_path).unlink(missing_ok=True)
    database(tmp_path).mkdir()
    assert np.array_equal(plain, render(tmp_path))


def test_a_build_killed_while_it_writes_leaves_what_was_there(tmp_path: Path) -> None:
    render(tmp_path)
    before = asked(tmp_path, "SELECT * FROM records")
    code = (
        "import os, sqlite3, sys\n"
        "opened = sqlite3.connect(sys.argv[1])\n"
        "opened.execute('PRAGMA cache_size = 1')\n"  # so that it reaches the file before its end
        "opened.execute('UPDATE records SET samples = zeroblob(400000), facts = 0')\n"
        "os.kill(os.getpid(), 9)\n"
    )
    subprocess.run([sys.executable, "-c", code, str(database(tmp_path))], check=False)
    assert database(tmp_path).with_name("notes.sqlite3-journal").exists()
    assert np.array_equal(render(tmp_path), render(None))
    assert asked(tmp_path, "SELECT * FROM records") == before


def test_a_locked_database_is_waited_for_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    render(tmp_path)
    connect, waits = sqlite3.connect, []

    def quick(*words: Any, **options: Any) -> sqlite3.Connection:
        waits.append(words)
        return connect(*words, **options, timeout=0.1)

    monkeypatch.setattr(store.sqlite3, "connect", quick)
    with closing(connect(database(tmp_path), isolation_level=None)) as other:
        other.execute("BEGIN EXCLUSIVE")
        assert np.array_equal(render(tmp_path), render(None))
    assert len(waits) == 1
    assert database(tmp_path).exists()


def test_many_builds_at_once_share_one_database(tmp_path: Path, soundfont: Soundfont) -> None:
    def write(number: int) -> None:
        samples = np.full(100_000, number, np.float32)
        for turn in range(5):
            NoteStore(tmp_path, soundfont).write({("a", number, turn): Record(number, samples)})

    with ThreadPoolExecutor(8) as pool:
        list(pool.map(write, range(8)))
    names = [("a", number, turn) for number in range(8) for turn in range(5)]
    found = NoteStore(tmp_path, soundfont).read(names)
    assert {name: record.facts for name, record in found.items()} == {name: name[1] for name in names}
    assert all((record.samples == record.facts).all() for record in found.values())


def test_other_rates_have_other_notes(tmp_path: Path) -> None:
    render(tmp_path)
    render(tmp_path, 44_100)
    assert len(asked(tmp_path, "SELECT DISTINCT soundfont FROM records")) == 2


def softened(blob: bytes) -> bytes:
    """A soundfont whose samples are half as loud: of the same size, with the same presets."""
    at = blob.index(b"smpl")
    size = int.from_bytes(blob[at + 4 : at + 8], "little")
    body = slice(at + 8, at + 8 + size)
    return blob[: body.start] + (np.frombuffer(blob[body], "<i2") // 2).tobytes() + blob[body.stop :]


def played_with(font: Path, cache: Path | None) -> np.ndarray:
    with Renderer(font, 48_000, cache) as renderer:
        return renderer.loop(music()).samples


def test_a_soundfont_changed_in_place_has_other_notes(tmp_path: Path) -> None:
    """Also where size and time are as they were."""
    font, cache = tmp_path / "font.sf2", tmp_path / "cache"
    whole = default_soundfont().read_bytes()
    for blob in (whole, softened(whole)):
        font.write_bytes(blob)
        os.utime(font, ns=(1, 1))
        assert np.array_equal(played_with(font, cache), played_with(font, None))
    assert len(asked(cache, "SELECT DISTINCT soundfont FROM records")) == 2


def test_soundfonts_exchanged_under_each_others_names_sound_right(
    tmp_path: Path, made: list[object]
) -> None:
    cache, one, other = tmp_path / "cache", tmp_path / "one.sf2", tmp_path / "other.sf2"
    one.write_bytes(default_soundfont().read_bytes())
    other.write_bytes(softened(one.read_bytes()))
    for font in (one, other):
        os.utime(font, ns=(1, 1))
    loud, soft = played_with(one, cache), played_with(other, cache)
    assert 0.4 < np.abs(soft).max() / np.abs(loud).max() < 0.6
    one.rename(tmp_path / "kept")
    other.rename(one)
    (tmp_path / "kept").rename(other)
    made.clear()
    assert np.array_equal(played_with(one, cache), soft)
    assert np.array_equal(played_with(other, cache), loud)
    assert made == []  # and a copy under another name finds what is known of it


def test_a_cache_that_cannot_be_written_is_done_without(tmp_path: Path) -> None:
    (tmp_path / "cache").write_text("a file where the folder should be")
    assert np.array_equal(render(None), render(tmp_path / "cache"))


def test_the_cache_stays_within_its_limit(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    render(tmp_path)
    ((first,),) = asked(tmp_path, "SELECT DISTINCT soundfont FROM records")
    size = database(tmp_path).stat().st_size
    monkeypatch.setattr(store, "MOST_BYTES", size + 100_000)
    render(tmp_path, 44_100)
    ((second,),) = asked(tmp_path, "SELECT DISTINCT soundfont FROM records")
    assert second != first
    assert database(tmp_path).stat().st_size <= store.MOST_BYTES


def test_a_damaged_note_is_made_again_and_serves(tmp_path: Path, made: list[object]) -> None:
    render(tmp_path)
    data = bytearray(database(tmp_path).read_bytes())
    for at in range(len(data) // 2, len(data), 512):  # every note of the second half
        data[at] ^= 1
    database(tmp_path).write_bytes(bytes(data))
    render(tmp_path)  # makes what it found damaged
    render(tmp_path)  # makes what was whole and went with it
    made.clear()
    render(tmp_path)
    assert made == []


def test_a_longer_note_of_another_build_is_checked_too(soundfont: Soundfont, tmp_path: Path) -> None:
    """Even where the shorter one had been found whole; and it is not lost to a shorter one."""
    mine, other = NoteStore(tmp_path, soundfont), NoteStore(tmp_path, soundfont)
    short, long = (Record(None, np.ones(n * 64, np.float32), n) for n in (20, 60))
    mine.write({("held",): short})
    assert mine.read([("held",)])["held",].blocks == 20
    other.write({("held",): long})
    mine.write({("held",): short})
    assert mine.read([("held",)])["held",].blocks == 60
    data = bytearray(database(tmp_path).read_bytes())
    data[data.rindex(np.ones(8, np.float32).tobytes())] ^= 1
    database(tmp_path).write_bytes(bytes(data))
    assert mine.read([("held",)]) == {}


RECORDS = {("held", 1): Record([1], np.ones(4, np.float32), 1)}


@pytest.fixture
def notes(tmp_path: Path) -> NoteStore:
    (tmp_path / "cache").mkdir()
    with Soundfont(default_soundfont(), 48_000) as soundfont:
        return NoteStore(tmp_path / "cache", soundfont, "digest")


def test_a_link_in_place_of_the_database_is_not_followed(tmp_path: Path, notes: NoteStore) -> None:
    other = tmp_path / "precious"
    other.write_bytes(b"of somebody else")
    for name in ("notes.sqlite3", "notes.sqlite3-journal"):
        place = tmp_path / "cache" / name
        place.symlink_to(other)
        notes.write(RECORDS)
        assert not notes.read(RECORDS)
        assert other.read_bytes() == b"of somebody else"
        assert place.is_symlink()
        place.unlink()
    (tmp_path / "cache" / "notes.sqlite3").unlink()  # empty: made on the way
    os.link(other, tmp_path / "cache" / "notes.sqlite3")
    notes.write(RECORDS)
    assert other.read_bytes() == b"of somebody else"


def test_a_pipe_in_place_of_the_database_is_not_waited_for(tmp_path: Path, notes: NoteStore) -> None:
    os.mkfifo(tmp_path / "cache" / "notes.sqlite3")
    notes.write(RECORDS)
    assert not notes.read(RECORDS)


def test_a_folder_where_everybody_may_write_keeps_no_notes(tmp_path: Path, notes: NoteStore) -> None:
    (tmp_path / "cache").chmod(0o777)
    notes.write(RECORDS)
    assert not list((tmp_path / "cache").iterdir())
    (tmp_path / "cache").chmod(0o755)
    notes.write(RECORDS)
    assert notes.read(RECORDS)[("held", 1)].facts == [1]


def test_somebody_elses_folder_keeps_no_notes(
    tmp_path: Path, notes: NoteStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    user = os.geteuid()
    monkeypatch.setattr(os, "geteuid", lambda: user + 1)
    notes.write(RECORDS)
    assert not list((tmp_path / "cache").iterdir())
