"""Held notes on disk, so that the next build need not synthesise them again.

The store is a folder of packs. A pack holds the notes that one build had to make, under a name
that begins with a digest of everything their samples depend on: the soundfont's content, the
sample rate, the synthesizer's version. Packs are written beside and moved into place, are never
changed afterwards, and every note is checked against its checksum the first time that a build
uses it; whatever is missing, foreign or damaged then is made again, and a damaged pack is deleted.
So any number of builds may share the folder, and it may be deleted at any time. When it outgrows
``MOST_BYTES`` the packs unused for longest go.

Layout: magic, length and CRC-32 of the header, the header (JSON), then for each note its planes
and its peaks as float32, one after the other; little-endian. Notes are used where they lie in the
file, so builds that run at once share them in memory.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import struct
import time
import zlib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import astuple, dataclass, replace
from pathlib import Path
from threading import Lock
from typing import TYPE_CHECKING, Any

from genex.audio.envelope import Envelope
from genex.audio.held import Held
from genex.audio.sound import BLOCK_SAMPLES
from genex.audio.synth import Soundfont

if TYPE_CHECKING:
    from genex.audio.sound import Samples

MOST_BYTES = 1 << 30
_MOST_PACKS = 96
_FORMAT = 2  # goes up when notes are rendered differently
_HEAD = struct.Struct("<8sII")
_MAGIC = b"genexpk2"
_SUFFIX = ".notes"
_ABANDONED_SECONDS = 3600

Key = tuple[bool, int, int]  # kit, program, key
Name = tuple[Key, int]  # and velocity


@dataclass(frozen=True, slots=True)
class Findings:
    """What was found out about a soundfont: see ``notes``.

    traits  by key of a preset: whether lengths may be derived, cut-offs too, and velocities
    gains   gain left and right of a velocity over the reference, None if it is more than gain
    """

    traits: Mapping[Key, tuple[bool, bool, bool]]
    gains: Mapping[Name, tuple[float, float] | None]


@dataclass(frozen=True, slots=True)
class _Entry:
    """Where a held note lies in its pack."""

    pack: Path
    offset: int
    planes: int
    frames: int
    crc: int
    blocks: int
    envelope: Envelope | None


class NoteStore:
    """The notes of one soundfont at one rate. Never raises for what is wrong with the folder."""

    def __init__(self, folder: Path, soundfont: Soundfont) -> None:
        self._folder = folder / "notes"
        self._digest = _digest(self._folder, soundfont)
        self._entries: dict[Name, _Entry] = {}
        self._maps: dict[Path, Any] = {}
        self._whole: set[_Entry] = set()
        self._lock = Lock()  # notes are saved in a thread of their own
        self._read: set[Path] = set()
        self._folder_time = -1

    def load(self) -> Findings:
        """Read what packs know that have come since the last time, from other builds too.

        The notes themselves are read when they are asked for.
        """
        traits: dict[Key, tuple[bool, bool, bool]] = {}
        gains: dict[Name, tuple[float, float] | None] = {}
        for pack in self._new_packs():
            self._read.add(pack)
            try:
                header, start = _read_header(pack)
                entries = dict(_entries(header, pack, start))
                traits.update(_read_traits(header))
                gains.update(_read_gains(header))
                self._add(entries)
            except OSError:
                continue  # it has gone, or is no file
            except (ValueError, KeyError, TypeError):
                self._give_up(pack)
        return Findings(traits, gains)

    def has(self, name: Name, blocks: int) -> bool:
        """Whether there should be a held note of at least so many blocks."""
        entry = self._entries.get(name)
        return entry is not None and entry.blocks >= blocks

    def get(self, name: Name, blocks: int) -> Held | None:
        """A held note of at least so many blocks, or None. Valid after ``forget`` too."""
        entry = self._entries.get(name)
        if entry is None or entry.blocks < blocks:
            return None
        with contextlib.suppress(OSError, ValueError):
            samples = self._samples(entry)
            if entry in self._whole or zlib.crc32(_bytes(samples)) == entry.crc:
                self._whole.add(entry)
                count = entry.planes * entry.frames
                planes = samples[:count].reshape(entry.planes, entry.frames)
                return Held(planes, samples[count:], entry.blocks, entry.envelope)
        self._give_up(entry.pack)
        return None

    def _add(self, entries: Mapping[Name, _Entry]) -> None:
        with self._lock:
            for name, entry in entries.items():
                known = self._entries.get(name)
                if known is None or known.blocks < entry.blocks:
                    self._entries[name] = entry

    def _give_up(self, pack: Path) -> None:
        """Do without a damaged pack, now and in the builds that follow."""
        with self._lock:
            self._entries = {n: entry for n, entry in self._entries.items() if entry.pack != pack}
        with contextlib.suppress(OSError):
            pack.unlink()

    def forget(self) -> None:
        """Let go of the files, and of the memory that their notes take up once nobody has them."""
        self._maps.clear()

    def save(self, findings: Findings, notes: Mapping[Name, Held]) -> None:
        """Write a new pack. A folder that cannot be written is left alone."""
        offset, described = 0, []
        entries: dict[Name, _Entry] = {}
        pack = self._folder / f"{self._digest}-{os.getpid()}-{time.time_ns()}{_SUFFIX}"
        for ((kit, program, key), velocity), held in notes.items():
            crc = zlib.crc32(_bytes(held.peaks), zlib.crc32(_bytes(held.planes)))
            planes, frames = held.planes.shape
            entry = _Entry(pack, offset, planes, frames, crc, held.blocks, held.envelope)
            entries[(kit, program, key), velocity] = entry
            where = (offset, planes, frames, crc)
            described.append([kit, program, key, velocity, held.blocks, _plain(held.envelope), *where])
            offset += held.size_bytes
        header = json.dumps(
            {
                "notes": described,
                "traits": [[*key, *trait] for key, trait in findings.traits.items()],
                "gains": [[*key, v, gains] for (key, v), gains in findings.gains.items()],
            }
        ).encode()
        temporary = self._folder / f".{os.getpid()}-{time.time_ns()}.part"
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._make_room(len(header) + offset)
            with temporary.open("xb") as file:
                file.write(_HEAD.pack(_MAGIC, len(header), zlib.crc32(header)) + header)
                file.write(bytes(_start(len(header)) - _HEAD.size - len(header)))
                for held in notes.values():
                    file.write(_bytes(held.planes))
                    file.write(_bytes(held.peaks))
            temporary.replace(pack)
            self._read.add(pack)
            start = _start(len(header))
            self._add({n: replace(entry, offset=start + entry.offset) for n, entry in entries.items()})
        except OSError:
            with contextlib.suppress(OSError):
                temporary.unlink(missing_ok=True)

    def _samples(self, entry: _Entry) -> Samples:
        """Planes and peaks of a note, as they lie in its pack."""
        import numpy as np

        if entry.pack not in self._maps:
            # As a plain array: a memmap's own slices take several times as long to make.
            self._maps[entry.pack] = np.asarray(np.memmap(entry.pack, np.uint8, "r"))
            with contextlib.suppress(OSError):
                os.utime(entry.pack)  # used just now
        count = entry.planes * entry.frames + -(-entry.frames // BLOCK_SAMPLES)
        raw = self._maps[entry.pack][entry.offset : entry.offset + 4 * count]
        samples: Samples = raw.view("<f4")
        return samples

    def _new_packs(self) -> list[Path]:
        try:
            time_ns = self._folder.stat().st_mtime_ns
            if time_ns == self._folder_time:
                return []
            self._folder_time = time_ns
            return sorted(set(self._folder.glob(f"{self._digest}-*{_SUFFIX}")) - self._read)
        except OSError:
            return []

    def _make_room(self, size_bytes: int) -> None:
        """Delete abandoned parts, and the packs unused for longest until a new one fits in."""
        packs = []
        for path in self._folder.iterdir():
            with contextlib.suppress(OSError):
                status = path.stat()
                if path.suffix == _SUFFIX:
                    packs.append((status.st_mtime_ns, status.st_size, path))
                elif path.suffix == ".part" and status.st_mtime < time.time() - _ABANDONED_SECONDS:
                    path.unlink()
        packs.sort()
        total = sum(size for _, size, _ in packs) + size_bytes
        while packs and (total > MOST_BYTES or len(packs) >= _MOST_PACKS):
            _, size, path = packs.pop(0)
            total -= size
            with contextlib.suppress(OSError):
                path.unlink()


def _bytes(samples: Samples) -> Any:
    import numpy as np

    return np.ascontiguousarray(samples, "<f4").reshape(-1).view(np.uint8).data


def _digest(folder: Path, soundfont: Soundfont) -> str:
    """Of all that the samples of a note depend on."""
    content = _content_digest(folder, soundfont.path)
    parts = (content, str(soundfont.rate_hz), soundfont.synthesizer_version, str(_FORMAT))
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:24]


def _content_digest(folder: Path, path: Path) -> str:
    """SHA-256 of a file, remembered for as long as its path, size and time stay the same."""
    status = path.stat()
    # The last of these only the system sets: a file whose date was set back is another one.
    times = f"{status.st_mtime_ns}\n{status.st_ctime_ns}"
    mark = f"{path.resolve()}\n{status.st_size}\n{times}"
    note = folder / f"{hashlib.sha256(mark.encode()).hexdigest()[:24]}.sha256"
    with contextlib.suppress(OSError, ValueError):
        digest, check = note.read_text("ascii").split()
        if zlib.crc32(f"{digest}{mark}".encode()) == int(check):
            return digest
    with path.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    with contextlib.suppress(OSError):
        folder.mkdir(parents=True, exist_ok=True)
        temporary = folder / f".{os.getpid()}-{time.time_ns()}.part"
        temporary.write_text(f"{digest} {zlib.crc32(f'{digest}{mark}'.encode())}", "ascii")
        temporary.replace(note)
    return digest


def _read_header(pack: Path) -> tuple[dict[str, Any], int]:
    """The header of a pack and where its samples begin. Raises ValueError if it is damaged."""
    with pack.open("rb") as file:
        head = file.read(_HEAD.size)
        if len(head) < _HEAD.size:
            raise ValueError("cut short")
        magic, length, crc = _HEAD.unpack(head)
        text = file.read(length)
    if magic != _MAGIC or zlib.crc32(text) != crc:
        raise ValueError("damaged")
    header = json.loads(text)
    if not isinstance(header, dict):
        raise ValueError("foreign")
    return header, _start(length)


def _start(header_bytes: int) -> int:
    """Where the samples of a pack begin."""
    return _HEAD.size + header_bytes + -(_HEAD.size + header_bytes) % 4


def _entries(header: dict[str, Any], pack: Path, start: int) -> Iterator[tuple[Name, _Entry]]:
    for kit, program, key, velocity, blocks, envelope, offset, planes, frames, crc in header["notes"]:
        entry = _Entry(pack, start + offset, planes, frames, crc, blocks, _envelope(envelope))
        yield ((kit, program, key), velocity), entry


def _read_traits(header: dict[str, Any]) -> Iterator[tuple[Key, tuple[bool, bool, bool]]]:
    for kit, program, key, lengths, cuts, velocities in header["traits"]:
        yield (kit, program, key), (lengths, cuts, velocities)


def _read_gains(header: dict[str, Any]) -> Iterator[tuple[Name, tuple[float, float] | None]]:
    for kit, program, key, velocity, gains in header["gains"]:
        yield ((kit, program, key), velocity), (gains[0], gains[1]) if gains else None


def _plain(envelope: Envelope | None) -> tuple[Any, ...] | None:
    return astuple(envelope) if envelope else None


def _envelope(plain: Sequence[Any] | None) -> Envelope | None:
    return Envelope(*plain) if plain else None
