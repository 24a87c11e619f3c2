"""Make ``genex-gm.sf2``, genex's default General MIDI subset, from FluidR3 GM.

The source is the file ``FluidR3_GM.sf2`` of Debian's package
``fluid-soundfont-gm`` (MIT licence, see ``LICENSE-FluidR3.txt``). This script
needs numpy only and writes the same bytes on every run. What it changes, and
why, is told in ``README.md``; the tuning and level corrections it applies are
data (``corrections.json``), made by ``measure_soundfont.py``.

Format: SoundFont Technical Specification 2.04 (E-mu/Creative, 2006), called
"the specification" below: section 4 (RIFF structure), 5 (INFO), 6 (sdta),
7 (pdta, the "hydra") and 8 (generators and modulators).

Usage::

    python make_soundfont.py --source FluidR3_GM.sf2 [--out genex-gm.sf2]
"""

from __future__ import annotations

import argparse
import hashlib
import json
import math
import struct
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

HERE = Path(__file__).resolve().parent
DEFAULT_OUT = HERE / "genex-gm.sf2"
CORRECTIONS = HERE / "corrections.json"
SOURCE_SHA256 = "74594e8f4250680adf590507a306655a299935343583256f3b722c48a1bc1cb0"
"""sha256 of FluidR3_GM.sf2 in fluid-soundfont-gm 3.1-5.3 [package: fluid-soundfont-gm 3.1-5.3]."""

# Records of the hydra, specification 7.2 to 7.10: little endian, no padding.
PHDR = np.dtype(
    [
        ("name", "S20"),
        ("preset", "<u2"),
        ("bank", "<u2"),
        ("bag", "<u2"),
        ("library", "<u4"),
        ("genre", "<u4"),
        ("morphology", "<u4"),
    ]
)
BAG = np.dtype([("gen", "<u2"), ("mod", "<u2")])
MOD = np.dtype(
    [("src", "<u2"), ("dest", "<u2"), ("amount", "<i2"), ("amt_src", "<u2"), ("trans", "<u2")]
)
GEN = np.dtype([("oper", "<u2"), ("amount", "<u2")])
INST = np.dtype([("name", "S20"), ("bag", "<u2")])
SHDR = np.dtype(
    [
        ("name", "S20"),
        ("start", "<u4"),
        ("end", "<u4"),
        ("startloop", "<u4"),
        ("endloop", "<u4"),
        ("rate", "<u4"),
        ("key", "u1"),
        ("correction", "i1"),
        ("link", "<u2"),
        ("type", "<u2"),
    ]
)

# Generator numbers used here, specification 8.1.2.
PAN, INSTRUMENT, KEY_RANGE, VEL_RANGE = 17, 41, 43, 44
ATTENUATION, COARSE_TUNE, FINE_TUNE, SAMPLE_ID, SAMPLE_MODES, ROOT_KEY = 48, 51, 52, 53, 54, 58
MONO, RIGHT, LEFT = 1, 2, 4  # sfSampleType, specification 7.10
GUARD_FRAMES = 46  # zero frames after each sample, specification 6.1
LOOP_MARGIN = 8  # valid frames wanted either side of a loop, specification 7.10
MIN_LOOP = 32  # shortest loop, specification 7.10

ATTENUATION_PER_DB = 25.0
"""initialAttenuation units for one decibel of loudness.

By the specification 10 units (centibels) are 1 dB. FluidR3 was made on and
for hardware that applies 0.4 of the written value, and libfluidsynth does the
same [published: FluidSynth source, EMU_ATTENUATION_FACTOR], so 25 units are 1 dB.
"""

MELODIC: dict[int, str] = {
    0: "Ac. Grand Piano",
    4: "Electric Piano 1",
    11: "Vibraphone",
    16: "Drawbar Organ",
    24: "Ac. Guitar (nylon)",
    25: "Ac. Guitar (steel)",
    26: "El. Guitar (jazz)",
    27: "El. Guitar (clean)",
    29: "Overdriven Guitar",
    32: "Acoustic Bass",
    33: "El. Bass (finger)",
    35: "Fretless Bass",
    48: "String Ensemble 1",
    65: "Alto Sax",
    66: "Tenor Sax",
    71: "Clarinet",
    73: "Flute",
    89: "Pad 2 (warm)",
}
"""General MIDI level 1 programs kept (0-based), with names cut to 19 characters (specification 7.2)."""

KITS: dict[int, str] = {0: "Standard Kit", 8: "Room Kit", 32: "Jazz Kit", 40: "Brush Kit"}
"""Drum kits kept (bank 128)."""

HIGHEST_DRUM_KEY = 82
"""Sounds above General MIDI's percussion map and its shaker (bell tree, taiko, ...) are left out."""

STRING_ROOTS = frozenset({34, 40, 47, 52, 58, 61, 67, 70, 73, 79, 83})
"""Of the strings' 17 pairs of recordings these 11 are kept; keys 31 to 86 lie within 3 semitones."""

FOLD_CORRELATION = 0.92
"""Stereo pairs whose two sides correlate at least this well are one recording: one side is kept."""

ATTACK, SUSTAIN, RELEASE = 34, 37, 38  # of the volume envelope, specification 8.1.2
SWEEP_INSTRUMENT, SWEEP_KEY = "Brush Snares", 40
SWEEP_SPAN = (0.06, 0.46)
"""Seconds of the brush swirl that go on evenly, between its attack and its end."""

SWEEP_LOOP_SECONDS, SWEEP_GRAIN_SECONDS = 3.2, 0.2
SWEEP_LEVEL = 1.5
"""Beside that span: over a bar a sweep is about as loud as the recorded strokes that died away."""

SWEEP_ATTACK, SWEEP_RELEASE = -3671, -1586
"""Timecents: 0.12 s up and 0.4 s down, so that one stroke grows out of the one before."""

FOLD_ALWAYS = frozenset({"Yamaha Grand Piano"})
FOLD_NEVER = frozenset({"Vibraphone"})

INFO_FIXED: tuple[tuple[bytes, str], ...] = (
    (b"isng", "E-mu 10K1"),
    (b"INAM", "genex GM subset (from Fluid R3 GM)"),
    (b"ICRD", "Feb 24, 2008"),
    (b"IENG", "Frank Wen; subset by genex"),
    (b"IPRD", "SBAWE32"),
    (b"ICOP", "Frank Wen 2000-2002, 2008; Toby Smithe 2008. MIT License"),
    (
        b"ICMT",
        "This is NOT the original Fluid R3 GM soundfont: it is a subset of it with retuned samples, "
        "made by genex's make_soundfont.py. Fewer presets, drums and string zones; near-mono "
        "stereo pairs and the piano folded to one channel; zone tuning and preset levels corrected. "
        "ICRD is the source's date. Licensed under the MIT License, see LICENSE-FluidR3.txt.",
    ),
    (b"ISFT", "SFEDT v1.28:SWAMI v0.9.4:genex make_soundfont"),
)

Samples16 = NDArray[np.int16]


@dataclass
class Zone:
    """One zone: its generators in order and its modulators (specification 7.3 to 7.5, 7.7 to 7.9)."""

    gens: list[tuple[int, int]]
    mods: list[tuple[int, int, int, int, int]] = field(default_factory=list)

    def get(self, oper: int, default: int = 0) -> int:
        """Unsigned amount of a generator, or the default."""
        return next((amount for op, amount in self.gens if op == oper), default)

    def get_signed(self, oper: int, default: int = 0) -> int:
        """Signed amount of a generator, or the default."""
        amount = self.get(oper, default & 0xFFFF)
        return amount - 0x10000 if amount >= 0x8000 else amount

    def has(self, oper: int) -> bool:
        """Whether the generator is set in this zone."""
        return any(op == oper for op, _ in self.gens)

    def set(self, oper: int, value: int) -> None:
        """Set a generator, keeping the terminal generator (instrument or sampleID) last."""
        amount = value & 0xFFFF
        for index, (op, _) in enumerate(self.gens):
            if op == oper:
                self.gens[index] = (oper, amount)
                return
        if oper == KEY_RANGE:
            self.gens.insert(0, (oper, amount))
        elif self.gens and self.gens[-1][0] in (INSTRUMENT, SAMPLE_ID):
            self.gens.insert(len(self.gens) - 1, (oper, amount))
        else:
            self.gens.append((oper, amount))

    def keys(self) -> tuple[int, int]:
        """Lowest and highest key (specification 8.1.2, keyRange)."""
        amount = self.get(KEY_RANGE, 0x7F00)
        return amount & 0xFF, amount >> 8

    def copy(self) -> Zone:
        """An independent copy."""
        return Zone(list(self.gens), list(self.mods))


@dataclass
class Instrument:
    """An instrument and its zones (specification 7.6)."""

    name: str
    zones: list[Zone]


@dataclass
class Preset:
    """A preset and its zones (specification 7.2)."""

    name: str
    bank: int
    program: int
    zones: list[Zone]


@dataclass(frozen=True)
class Sample:
    """A sample header with its frames; loop points count from its start (specification 7.10)."""

    name: str
    data: Samples16
    loop_start: int
    loop_end: int
    rate: int
    key: int
    correction: int
    link: int
    type: int


@dataclass
class SoundFont:
    """A soundfont in memory: INFO strings, presets, instruments and samples."""

    info: dict[bytes, bytes]
    presets: list[Preset]
    instruments: list[Instrument]
    samples: list[Sample]


# ---------------------------------------------------------------- reading


def _chunks(blob: bytes, start: int, end: int) -> Iterator[tuple[bytes, int, int]]:
    """Walk RIFF chunks as (id, data offset, data size); sizes are padded to even (specification 3.1)."""
    while start + 8 <= end:
        size = struct.unpack_from("<I", blob, start + 4)[0]
        yield blob[start : start + 4], start + 8, size
        start += 8 + size + (size & 1)


def _text(raw: bytes) -> str:
    return raw.split(b"\0", 1)[0].decode("latin-1")


def _zones(
    first: int, last: int, bags: NDArray[np.void], gens: NDArray[np.void], mods: NDArray[np.void]
) -> list[Zone]:
    zones = []
    for index in range(first, last):
        here, after = bags[index], bags[index + 1]
        zones.append(
            Zone(
                [(int(g["oper"]), int(g["amount"])) for g in gens[here["gen"] : after["gen"]]],
                [
                    (int(m["src"]), int(m["dest"]), int(m["amount"]), int(m["amt_src"]), int(m["trans"]))
                    for m in mods[here["mod"] : after["mod"]]
                ],
            )
        )
    return zones


def read_soundfont(path: Path) -> SoundFont:
    """Read an SF2 file (specification 4: RIFF 'sfbk' with the lists INFO, sdta and pdta)."""
    blob = path.read_bytes()
    if blob[:4] != b"RIFF" or blob[8:12] != b"sfbk":
        raise ValueError(f"{path} is not a SoundFont 2 file")
    found: dict[bytes, tuple[int, int]] = {}
    info: dict[bytes, bytes] = {}
    for name, start, size in _chunks(blob, 12, len(blob)):
        if name != b"LIST":
            continue
        kind = blob[start : start + 4]
        for sub, sub_start, sub_size in _chunks(blob, start + 4, start + size):
            if kind == b"INFO":
                info[sub] = blob[sub_start : sub_start + sub_size]
            else:
                found[sub] = (sub_start, sub_size)

    def table(name: bytes, dtype: np.dtype[np.void]) -> NDArray[np.void]:
        start, size = found[name]
        return np.frombuffer(blob, dtype, size // dtype.itemsize, start)

    start, size = found[b"smpl"]
    frames = np.frombuffer(blob, "<i2", size // 2, start)
    phdr, pbag, pmod, pgen = (
        table(b"phdr", PHDR),
        table(b"pbag", BAG),
        table(b"pmod", MOD),
        table(b"pgen", GEN),
    )
    inst, ibag, imod, igen = (
        table(b"inst", INST),
        table(b"ibag", BAG),
        table(b"imod", MOD),
        table(b"igen", GEN),
    )
    shdr = table(b"shdr", SHDR)
    presets = [
        Preset(
            _text(bytes(p["name"])),
            int(p["bank"]),
            int(p["preset"]),
            _zones(int(p["bag"]), int(phdr[i + 1]["bag"]), pbag, pgen, pmod),
        )
        for i, p in enumerate(phdr[:-1])
    ]
    instruments = [
        Instrument(
            _text(bytes(p["name"])), _zones(int(p["bag"]), int(inst[i + 1]["bag"]), ibag, igen, imod)
        )
        for i, p in enumerate(inst[:-1])
    ]
    samples = [
        Sample(
            _text(bytes(s["name"])),
            frames[int(s["start"]) : int(s["end"])],
            int(s["startloop"]) - int(s["start"]),
            int(s["endloop"]) - int(s["start"]),
            int(s["rate"]),
            int(s["key"]),
            int(s["correction"]),
            int(s["link"]),
            int(s["type"]),
        )
        for s in shdr[:-1]
    ]
    return SoundFont(info, presets, instruments, samples)


# ---------------------------------------------------------------- writing


def _riff(name: bytes, body: bytes) -> bytes:
    return name + struct.pack("<I", len(body)) + body + b"\0" * (len(body) & 1)


def _info_string(text: str) -> bytes:
    """A zero-terminated string of even length (specification 5)."""
    raw = text.encode("ascii") + b"\0"
    return raw + b"\0" * (len(raw) & 1)


def _name(text: str) -> bytes:
    raw = text.encode("latin-1")
    if len(raw) > 19:
        raise ValueError(f"name too long for a 20-byte field: {text!r}")
    return raw


def _pack_zones(
    groups: Iterable[list[Zone]],
) -> tuple[list[int], NDArray[np.void], NDArray[np.void], NDArray[np.void]]:
    """Bags, generators, modulators and their terminal records (specification 7.3 to 7.5, 7.7 to 7.9)."""
    firsts: list[int] = []
    bags: list[tuple[int, int]] = []
    gens: list[tuple[int, int]] = []
    mods: list[tuple[int, int, int, int, int]] = []
    for zones in groups:
        firsts.append(len(bags))
        for zone in zones:
            bags.append((len(gens), len(mods)))
            gens.extend(zone.gens)
            mods.extend(zone.mods)
    firsts.append(len(bags))
    bags.append((len(gens), len(mods)))
    gens.append((0, 0))
    mods.append((0, 0, 0, 0, 0))
    return firsts, np.array(bags, BAG), np.array(gens, GEN), np.array(mods, MOD)


def soundfont_bytes(font: SoundFont) -> bytes:
    """The whole file (specification 4.2: INFO, then sdta, then pdta)."""
    info = _riff(b"ifil", struct.pack("<HH", 2, 1))
    info += b"".join(_riff(name, _info_string(text)) for name, text in INFO_FIXED)

    guard = np.zeros(GUARD_FRAMES, "<i2").tobytes()
    frames: list[bytes] = []
    headers: list[tuple[bytes, int, int, int, int, int, int, int, int, int]] = []
    position = 0
    for s in font.samples:
        frames += [s.data.astype("<i2").tobytes(), guard]
        headers.append(
            (
                _name(s.name),
                position,
                position + len(s.data),
                position + s.loop_start,
                position + s.loop_end,
                s.rate,
                s.key,
                s.correction,
                s.link,
                s.type,
            )
        )
        position += len(s.data) + GUARD_FRAMES
    headers.append((b"EOS", 0, 0, 0, 0, 0, 0, 0, 0, 0))

    first, pbag, pgen, pmod = _pack_zones(p.zones for p in font.presets)
    phdr = [(_name(p.name), p.program, p.bank, first[i], 0, 0, 0) for i, p in enumerate(font.presets)]
    phdr.append((b"EOP", 0, 0, first[-1], 0, 0, 0))
    first, ibag, igen, imod = _pack_zones(i.zones for i in font.instruments)
    inst = [(_name(x.name), first[i]) for i, x in enumerate(font.instruments)]
    inst.append((b"EOI", first[-1]))

    tables = (
        (b"phdr", np.array(phdr, PHDR)),
        (b"pbag", pbag),
        (b"pmod", pmod),
        (b"pgen", pgen),
        (b"inst", np.array(inst, INST)),
        (b"ibag", ibag),
        (b"imod", imod),
        (b"igen", igen),
        (b"shdr", np.array(headers, SHDR)),
    )
    pdta = b"".join(_riff(name, records.tobytes()) for name, records in tables)
    body = b"sfbk" + b"".join(
        _riff(b"LIST", kind + data)
        for kind, data in ((b"INFO", info), (b"sdta", _riff(b"smpl", b"".join(frames))), (b"pdta", pdta))
    )
    return _riff(b"RIFF", body)


# ---------------------------------------------------------------- choosing


def zone_label(instrument: str, zone: Zone, samples: list[Sample]) -> str:
    """Name of a tuning entry: instrument, root key, and the recording without its side."""
    sample = samples[zone.get(SAMPLE_ID)]
    root = zone.get(ROOT_KEY, sample.key)
    return f"{instrument} / {root} / {_side_stem(sample.name)[0]}"


def _side_stem(name: str) -> tuple[str, str]:
    """Split a sample name into the recording and its side, 'L', 'R' or ''."""
    trimmed = name.rstrip()
    for side in "LR":
        if trimmed.endswith(f"({side})"):
            return trimmed[:-3].rstrip(), side
        if trimmed.startswith("Strings ") and trimmed.endswith(side):
            return trimmed[:-1].rstrip(), side
    return trimmed, ""


def _stereo_pairs(samples: list[Sample], used: Iterable[int]) -> dict[int, int]:
    """Left sample to right sample, by name and equal length (the source's links are all empty)."""
    sides: dict[tuple[str, str], int] = {}
    for index in sorted(used):
        stem, side = _side_stem(samples[index].name)
        if side:
            sides[stem, side] = index
    pairs = {}
    for (stem, side), index in sides.items():
        other = sides.get((stem, "R"))
        if side == "L" and other is not None and len(samples[index].data) == len(samples[other].data):
            pairs[index] = other
    return pairs


def _power(a: Samples16, b: Samples16) -> int:
    """Exact integer sum of products, so that every machine takes the same decisions."""
    return int(np.sum(a.astype(np.int64) * b.astype(np.int64)))


def _correlation(a: Samples16, b: Samples16) -> float:
    n = len(a)
    sum_a, sum_b = int(np.sum(a, dtype=np.int64)), int(np.sum(b, dtype=np.int64))
    cov = n * _power(a, b) - sum_a * sum_b
    return cov / math.sqrt((n * _power(a, a) - sum_a**2) * (n * _power(b, b) - sum_b**2))


def _thin_strings(instrument: Instrument, samples: list[Sample]) -> None:
    """Keep the zones in STRING_ROOTS and give every key to the nearest of them."""
    roots = sorted(STRING_ROOTS)
    zones = [instrument.zones[0]]
    top = max(z.keys()[1] for z in instrument.zones[1:])
    for zone in instrument.zones[1:]:
        root = zone.get(ROOT_KEY, samples[zone.get(SAMPLE_ID)].key)
        if root not in STRING_ROOTS:
            continue
        at = roots.index(root)
        low = 0 if at == 0 else (roots[at - 1] + root) // 2 + 1
        high = top if at == len(roots) - 1 else (root + roots[at + 1]) // 2
        zone.set(KEY_RANGE, low | high << 8)
        zones.append(zone)
    instrument.zones = zones


def _fold_pairs(instruments: list[Instrument], samples: list[Sample]) -> None:
    """Let both sides of a near-mono pair play one recording, the quieter side turned down."""
    used = {z.get(SAMPLE_ID) for i in instruments for z in i.zones if z.has(SAMPLE_ID)}
    pairs = _stereo_pairs(samples, used)
    either = {side: pair for pair in pairs.items() for side in pair}
    decided: dict[tuple[int, int], bool] = {}
    for instrument in instruments:
        if instrument.name in FOLD_NEVER:
            continue
        for zone in instrument.zones:
            pair = either.get(zone.get(SAMPLE_ID)) if zone.has(SAMPLE_ID) else None
            if pair is None:
                continue
            left, right = (samples[k].data for k in pair)
            if pair not in decided:
                alike = _correlation(left, right) >= FOLD_CORRELATION
                decided[pair] = alike or instrument.name in FOLD_ALWAYS
            if not decided[pair]:
                continue
            power = {pair[0]: _power(left, left), pair[1]: _power(right, right)}
            louder = max(pair, key=lambda k: (power[k], -k))
            drop_db = 10 * math.log10(power[louder] / power[zone.get(SAMPLE_ID)])
            zone.set(SAMPLE_ID, louder)
            units = round(drop_db * ATTENUATION_PER_DB)
            if units:
                common = instrument.zones[0]
                base = 0 if common.has(SAMPLE_ID) else common.get_signed(ATTENUATION)
                zone.set(ATTENUATION, zone.get_signed(ATTENUATION, base) + units)


def sweep_loop(data: Samples16, rate: int) -> Samples16:
    """A brush that sweeps on and on, to be looped whole: grains of a stroke, laid over each other.

    The stroke's rise and fall are evened out first. Grains begin at places that a fixed sequence
    chooses, each fading into the next at equal power, the last into the first. Sums, products and
    square roots only, which every machine rounds alike.
    """
    start, stop = (round(seconds * rate) for seconds in SWEEP_SPAN)
    span = data[start:stop].astype(np.int64)
    width = rate // 20
    sums = np.concatenate([[0], np.cumsum(span**2)])
    edges = np.arange(len(span))
    low, high = np.maximum(edges - width, 0), np.minimum(edges + width, len(span))
    local = np.sqrt((sums[high] - sums[low]) / (high - low))
    whole = math.sqrt(int(sums[-1]) / len(span))
    even = span / np.maximum(local, 1.0) * whole * SWEEP_LEVEL
    grain = round(SWEEP_GRAIN_SECONDS * rate) // 2 * 2
    hop = grain // 2
    count = round(SWEEP_LOOP_SECONDS * rate) // hop
    ramp = (np.arange(hop) + 0.5) / hop
    window = np.sqrt(np.concatenate([ramp, ramp[::-1]]))
    loop = np.zeros(count * hop)
    state = 1
    for index in range(count):
        state = (1103515245 * state + 12345) % 2**31
        at = (state >> 8) % (len(even) - grain)
        places = (index * hop + np.arange(grain)) % len(loop)
        loop[places] += window * even[at : at + grain]
    return np.clip(np.rint(loop), -32767, 32767).astype(np.int16)


def _let_sweep(instruments: list[Instrument], samples: list[Sample]) -> None:
    """The brush swirl as a sound that lasts as long as its note."""
    made: dict[int, int] = {}
    for instrument in instruments:
        if instrument.name != SWEEP_INSTRUMENT:
            continue
        for zone in instrument.zones:
            if not zone.has(SAMPLE_ID) or zone.keys() != (SWEEP_KEY, SWEEP_KEY):
                continue
            old = zone.get(SAMPLE_ID)
            if old not in made:
                source = samples[old]
                loop = sweep_loop(source.data, source.rate)
                data = np.concatenate([loop[-LOOP_MARGIN:], loop, loop[:LOOP_MARGIN]])
                span = {"loop_start": LOOP_MARGIN, "loop_end": LOOP_MARGIN + len(loop)}
                made[old] = len(samples)
                samples.append(replace(source, name="Brush Sweep", data=data, **span))
            zone.set(SAMPLE_ID, made[old])
            for oper, amount in (
                (SAMPLE_MODES, 1), (ATTACK, SWEEP_ATTACK), (SUSTAIN, 0), (RELEASE, SWEEP_RELEASE)
            ):  # fmt: skip
                zone.set(oper, amount)


def retune(zone: Zone, cents: int) -> None:
    """Add cents to a zone's tuning; fineTune holds -99 to 99 (specification 8.1.2)."""
    total = zone.get_signed(COARSE_TUNE) * 100 + zone.get_signed(FINE_TUNE) + cents
    coarse = int(total / 100)
    if coarse or zone.has(COARSE_TUNE):
        zone.set(COARSE_TUNE, coarse)
    zone.set(FINE_TUNE, total - coarse * 100)


def _tidy_loop(sample: Sample, looped: bool) -> Sample:
    """Give every sample the loop margins and loop length of specification 7.10.

    Frames added after a loop's end repeat the loop's beginning, so a held note
    plays the very same frames as before. Samples never looped get a nominal loop.
    """
    data, start, end = sample.data, sample.loop_start, sample.loop_end
    if not looped:
        return replace(sample, loop_start=LOOP_MARGIN, loop_end=len(data) - LOOP_MARGIN)
    period = data[start:end]
    if len(period) < MIN_LOOP:
        times = -(-MIN_LOOP // len(period))
        data = np.concatenate([data[:start], np.tile(period, times)])
        end = start + times * len(period)
        period = data[start:end]
    missing = LOOP_MARGIN - (len(data) - end)
    if missing > 0:
        data = np.concatenate([data[:end], np.resize(period, LOOP_MARGIN)])
    return replace(sample, data=data, loop_start=start, loop_end=end)


def _renumber(
    font: SoundFont, samples: list[Sample], instruments: list[Instrument], looped: set[int]
) -> None:
    """Keep only what the presets use, renumber it and link the stereo pairs (specification 7.10)."""
    order = sorted({z.get(SAMPLE_ID) for i in instruments for z in i.zones if z.has(SAMPLE_ID)})
    place = {old: new for new, old in enumerate(order)}
    pairs = _stereo_pairs(samples, order)
    partner = {**pairs, **{right: left for left, right in pairs.items()}}
    font.samples = []
    for old in order:
        kept = _tidy_loop(samples[old], old in looped)
        stem, side = _side_stem(kept.name)
        if old in partner:
            kind, link = (LEFT if side == "L" else RIGHT), place[partner[old]]
            font.samples.append(replace(kept, type=kind, link=link))
        else:
            # a folded pair loses its side; the strings' sides are recordings of unequal length,
            # so they stay two single samples, as in the source
            alone = not any(_side_stem(samples[k].name)[0] == stem for k in order if k != old)
            name = stem if side and alone else kept.name.rstrip()
            font.samples.append(replace(kept, name=name, type=MONO, link=0))
    for instrument in instruments:
        for zone in instrument.zones:
            if zone.has(SAMPLE_ID):
                zone.set(SAMPLE_ID, place[zone.get(SAMPLE_ID)])


def subset(source: SoundFont, tuning: dict[str, int], levels: dict[str, int]) -> SoundFont:
    """The genex font: chosen presets, shared and thinned samples, corrected tuning and levels.

    ``tuning`` gives cents to add per zone label, ``levels`` initialAttenuation
    units to add per preset, written "bank:program".
    """
    wanted = [(0, p, n) for p, n in MELODIC.items()] + [(128, p, n) for p, n in KITS.items()]
    by_number = {(p.bank, p.program): p for p in source.presets}
    numbers: dict[int, int] = {}
    instruments: list[Instrument] = []
    presets: list[Preset] = []
    unused = set(tuning)
    for bank, program, name in sorted(wanted):
        zones = [z.copy() for z in by_number[bank, program].zones]
        for zone in zones:
            if not zone.has(INSTRUMENT):
                continue
            old = zone.get(INSTRUMENT)
            if old not in numbers:
                numbers[old] = len(instruments)
                origin = source.instruments[old]
                kept = [z.copy() for z in origin.zones if bank == 0 or z.keys()[0] <= HIGHEST_DRUM_KEY]
                instruments.append(Instrument(origin.name, kept))
            zone.set(INSTRUMENT, numbers[old])
        level = levels.get(f"{bank}:{program}", 0)
        if level:
            _add_level(zones, level)
        presets.append(Preset(name, bank, program, zones))
    for instrument in instruments:
        if instrument.name == "Strings":
            _thin_strings(instrument, source.samples)
        for zone in instrument.zones:
            if zone.has(SAMPLE_ID):
                label = zone_label(instrument.name, zone, source.samples)
                unused.discard(label)
                if tuning.get(label):
                    retune(zone, tuning[label])
    if unused:
        raise ValueError(f"corrections for zones that are not there: {sorted(unused)}")
    _fold_pairs(instruments, source.samples)
    _let_sweep(instruments, source.samples)
    looped = {
        z.get(SAMPLE_ID)
        for i in instruments
        for z in i.zones
        if z.has(SAMPLE_ID) and (z.get(SAMPLE_MODES) or i.zones[0].get(SAMPLE_MODES)) & 1
    }
    font = SoundFont({}, presets, instruments, [])
    _renumber(font, source.samples, instruments, looped)
    return font


def _add_level(zones: list[Zone], units: int) -> None:
    """Add attenuation to all of a preset; its generators add to the instruments' (specification 9.4)."""
    common = zones[0] if not zones[0].has(INSTRUMENT) else None
    base = common.get_signed(ATTENUATION) if common else 0
    for zone in zones:
        if zone is common or zone.has(ATTENUATION) or common is None:
            zone.set(ATTENUATION, zone.get_signed(ATTENUATION, base if zone is common else 0) + units)


def main() -> None:
    """Command line."""
    parser = argparse.ArgumentParser(description="Make genex's default soundfont from FluidR3 GM.")
    parser.add_argument("--source", type=Path, required=True, help="FluidR3_GM.sf2")
    parser.add_argument("--out", type=Path, default=DEFAULT_OUT)
    parser.add_argument("--corrections", type=Path, default=CORRECTIONS)
    args = parser.parse_args()
    digest = hashlib.sha256(args.source.read_bytes()).hexdigest()
    if digest != SOURCE_SHA256:
        parser.error(f"the source has sha256 {digest}, expected {SOURCE_SHA256}")
    corrections = json.loads(args.corrections.read_text(encoding="utf-8"))
    font = subset(read_soundfont(args.source), corrections["tuning_cents"], corrections["attenuation"])
    blob = soundfont_bytes(font)
    args.out.write_bytes(blob)
    digest = hashlib.sha256(blob).hexdigest()
    checksum = args.out.with_name(args.out.name + ".sha256")
    checksum.write_text(f"{digest}  {args.out.name}\n", encoding="ascii")
    print(
        f"{len(blob)} bytes, {len(font.presets)} presets, {len(font.samples)} samples, sha256 {digest}"
    )


if __name__ == "__main__":
    main()
