"""What was found out about a soundfont, and its held notes, on disk for the builds that follow.

One SQLite database in the user's cache folder. A record belongs to a soundfont (a digest of all that
is in its file, whatever it is called and wherever it lies), a sample rate and a version of the
synthesizer, and has a checksum over all that it says.
Whatever goes wrong, a build does without: a database that is damaged is deleted and made anew by
later builds, one that cannot be opened, read or written is left alone. Any number of builds may
share it, be killed in the middle (SQLite takes back what they had not finished), or find it gone.
When it outgrows ``MOST_BYTES`` the oldest records make room.
"""

from __future__ import annotations

import hashlib
import json
import os
import sqlite3
import stat
import zlib
from collections.abc import Callable, Iterable, Mapping
from contextlib import closing, suppress
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from genex.audio.sf2 import content_digest
from genex.audio.sound import Samples
from genex.audio.synth import Soundfont

MOST_BYTES = 1 << 30
_FORMAT = 5  # goes up when notes are rendered or kept differently
_OLDEST = 64  # records that make room at a time
_NO_FAULT_OF_THE_FILE = frozenset(
    {
        sqlite3.SQLITE_PERM,
        sqlite3.SQLITE_BUSY,
        sqlite3.SQLITE_LOCKED,
        sqlite3.SQLITE_NOMEM,
        sqlite3.SQLITE_READONLY,
        sqlite3.SQLITE_IOERR,
        sqlite3.SQLITE_FULL,
        sqlite3.SQLITE_CANTOPEN,
        sqlite3.SQLITE_PROTOCOL,
    }
)
_SETTINGS = (
    "PRAGMA page_size = 65536",  # notes are large
    "PRAGMA synchronous = OFF",  # what a power cut spoils is noticed and made again
    "PRAGMA temp_store = MEMORY",  # no file elsewhere
)
_TABLE = """
    CREATE TABLE IF NOT EXISTS records (
        id INTEGER PRIMARY KEY, soundfont TEXT, name TEXT, blocks INTEGER, facts TEXT, samples BLOB,
        checksum INTEGER, UNIQUE (soundfont, name)
    )
"""
_READ = "SELECT blocks, facts, samples, checksum FROM records WHERE soundfont = ? AND name = ?"
_WRITE = """
    INSERT INTO records (soundfont, name, blocks, facts, samples, checksum) VALUES (?, ?, ?, ?, ?, ?)
    ON CONFLICT (soundfont, name) DO UPDATE SET
        blocks = excluded.blocks, facts = excluded.facts,
        samples = excluded.samples, checksum = excluded.checksum
    WHERE excluded.blocks > blocks
"""
_MAKE_ROOM = f"DELETE FROM records WHERE id IN (SELECT id FROM records ORDER BY id LIMIT {_OLDEST})"

RecordName = tuple[Any, ...]  # of whatever JSON can say


class Record(NamedTuple):
    """What is kept under a name.

    facts    anything that JSON can say
    samples  of a held note, shape (n_values,); empty if there are none
    blocks   how long the note was asked for: of two records the longer one stays
    """

    facts: Any
    samples: Samples = np.zeros(0, np.float32)
    blocks: int = 0


class NoteStore:
    """The records of one soundfont at one rate. Never raises for what is wrong with the database.

    Every call opens the database for itself, so that calls may come from several threads.
    """

    def __init__(self, folder: Path, soundfont: Soundfont, digest: str | None = None) -> None:
        """``digest`` is that of the soundfont's content (``sf2.content_digest``) if it is known."""
        self._path = folder / "notes.sqlite3"
        self._is_usable = True
        depends_on = (
            digest or content_digest(soundfont.path),
            *(soundfont.rate_hz, soundfont.synthesizer_version, _FORMAT),
        )
        self._soundfont = hashlib.sha256("\n".join(map(str, depends_on)).encode()).hexdigest()

    def read(self, names: Iterable[RecordName]) -> dict[RecordName, Record]:
        """The records of those names, as far as there are any."""
        found: dict[RecordName, Record] = {}

        def work(database: sqlite3.Connection) -> None:
            database.execute("BEGIN")  # locked once, not for every record
            for name in names:
                key = self._soundfont, json.dumps(name)
                row = database.execute(_READ, key).fetchone()
                if row is None:
                    continue
                blocks, facts, samples, checksum = row
                if checksum != _checksum(*key, blocks, facts, samples):
                    raise sqlite3.DatabaseError("damaged")
                found[name] = Record(json.loads(facts), np.frombuffer(samples, "<f4"), blocks)

        if self._path.is_file():
            self._try(work)
        return found

    def write(self, records: Mapping[RecordName, Record]) -> None:
        """Keep records, of each name the longest."""

        def work(database: sqlite3.Connection) -> None:
            database.execute("BEGIN IMMEDIATE")
            _make_room(database, sum(record.samples.nbytes for record in records.values()))
            for name, (facts, samples, blocks) in records.items():
                data = np.ascontiguousarray(samples, "<f4").data.cast("B")
                row = (self._soundfont, json.dumps(name), blocks, json.dumps(facts), data)
                database.execute(_WRITE, (*row, _checksum(*row)))

        with suppress(OSError):
            self._path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            self._try(work)

    def _try(self, work: Callable[[sqlite3.Connection], None]) -> None:
        """Do something with the database, all of it or nothing."""
        if not self._is_usable or not is_ours(self._path):
            return
        try:
            with closing(sqlite3.connect(self._path, isolation_level=None)) as database, database:
                for setting in _SETTINGS:
                    database.execute(setting)
                database.execute(_TABLE)
                work(database)
        except (sqlite3.Error, ValueError, TypeError) as problem:
            code = getattr(problem, "sqlite_errorcode", sqlite3.SQLITE_CORRUPT)
            if code & 0xFF in _NO_FAULT_OF_THE_FILE:
                self._is_usable = False  # waiting for it once is enough
                return
            with suppress(OSError):
                self._path.unlink()


def is_ours(path: Path) -> bool:
    """Whether a database may be opened there; it is made if it is not there yet.

    Its folder has to be this user's and writable by nobody else, it and its journal plain files of
    this user under one name: SQLite follows links, and would write to wherever one leads.
    """
    if not hasattr(os, "geteuid"):
        return True
    user = os.geteuid()
    try:
        folder = os.stat(path.parent)  # noqa: PTH116 - beside lstat and fstat
        if folder.st_uid != user or folder.st_mode & stat.S_IWOTH:
            return False
        flags = os.O_RDWR | os.O_CREAT | os.O_NOFOLLOW | os.O_NONBLOCK
        handle = os.open(path, flags, 0o600)
        try:
            found = [os.fstat(handle)]
        finally:
            os.close(handle)
        with suppress(FileNotFoundError):
            found.append(os.lstat(f"{path}-journal"))
    except OSError:
        return False
    return all(stat.S_ISREG(one.st_mode) and one.st_uid == user and one.st_nlink == 1 for one in found)


def _make_room(database: sqlite3.Connection, size_bytes: int) -> None:
    """Delete the oldest records until new ones fit in. Their pages are used again."""
    while True:
        pages, free, page_bytes = (
            database.execute(f"PRAGMA {what}").fetchone()[0]
            for what in ("page_count", "freelist_count", "page_size")
        )
        if (pages - free) * page_bytes + size_bytes <= MOST_BYTES:
            return
        if not database.execute(_MAKE_ROOM).rowcount:
            return


def _checksum(soundfont: str, name: str, blocks: int, facts: str, samples: bytes | memoryview) -> int:
    return zlib.crc32(samples, zlib.crc32("\n".join((soundfont, name, str(blocks), facts)).encode()))
