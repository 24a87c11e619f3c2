"""The notes of a score as samples, at the least cost that changes nothing.

A note that differs from another only in its length, or in a velocity that only sets its level,
needs no synthesis of its own: it is the held note with a release (``envelope``), or the same at
another gain. Neither is assumed. For each key of each preset both are tried against the
synthesizer itself, with fixed strikes, and used where the difference stays ``_PROOF_DB`` below
the note: for notes of any length, or, where only very short ones differ, for those of at least
``_LONG_BLOCKS``. What cannot be derived is synthesised as it is.

The outcome depends on the soundfont alone, never on which notes were asked for before, so a score
sounds the same bit for bit in whatever company it is rendered.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import astuple
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from genex.audio.envelope import Envelope
from genex.audio.held import UNITY, Held, Note
from genex.audio.proven import Key, Trait
from genex.audio.sound import BLOCK_SAMPLES, Samples
from genex.audio.store import NoteStore, Record, RecordName
from genex.audio.synth import REFERENCE_VELOCITY, Soundfont
from genex.audio.timing import Strike

_PROOF_DB = 70.0
_PROOF_VELOCITY = 60
_LONG_BLOCKS = 100
_PROOFS = (  # velocity, hold and choke in blocks
    (REFERENCE_VELOCITY, 1, 0),
    (REFERENCE_VELOCITY, _LONG_BLOCKS, 0),
    (_PROOF_VELOCITY, 30, 0),
    (REFERENCE_VELOCITY, 20, 60),
    (REFERENCE_VELOCITY, 100, 40),
)
_LONG_PROOFS = ((_PROOF_VELOCITY, _LONG_BLOCKS, 0),)
"""What is tried of keys besides, of which only what is short has failed."""
_PROOF_TAIL_BLOCKS = 150
_PROOF_BLOCKS = 100 + _PROOF_TAIL_BLOCKS
_PROBE_BLOCKS = 24
_SHORTEST_NOTE_SECONDS = 0.01  # the synthesizer holds every note at least so long
_LONGEST_SECONDS = 20
_KEPT_BYTES = 128 << 20

Name = tuple[Key, int]  # and velocity
NameT = TypeVar("NameT", Key, Name)


class NoteBank:
    """Notes of one soundfont, kept for the scores that follow up to a limit in memory.

    With a store, held notes and what is proven of them are also kept for the builds that follow.
    ``proven`` are traits of keys that are known already.
    """

    def __init__(
        self,
        soundfont: Soundfont,
        store: NoteStore | None = None,
        proven: Mapping[Key, Trait] | None = None,
    ) -> None:
        self._soundfont = soundfont
        self._store = store
        self._traits: dict[Key, Trait] = dict(proven or {})
        self._held: dict[Name, Held] = {}
        self._gains: dict[Name, tuple[float, float] | None] = {}
        self._notes: dict[Strike, Note] = {}
        self._shortest = -(-int(_SHORTEST_NOTE_SECONDS * soundfont.rate_hz) // BLOCK_SAMPLES)
        self._longest = _LONGEST_SECONDS * soundfont.rate_hz // BLOCK_SAMPLES
        self._unsaved: dict[RecordName, Record] = {}

    def take_unsaved(self) -> dict[RecordName, Record]:
        """What the store does not have yet, once."""
        unsaved, self._unsaved = self._unsaved, {}
        return unsaved

    def notes(self, strikes: Iterable[Strike]) -> dict[Strike, Note]:
        """All the strikes as notes. Raises SoundfontError if a preset is missing."""
        wanted = set(strikes)
        missing = {strike for strike in wanted if strike not in self._notes}
        if missing:
            straight = {strike for strike in missing if strike.keeps_pitch}
            traits = self.traits(_key(strike) for strike in straight)
            self._derive({s for s in straight if _may_derive(s, traits[_key(s)])})
            rest = (strike for strike in missing if strike not in self._notes)
            for strike, planes in self._soundfont.render(rest):
                self._notes[strike] = Note.whole(planes)
        return {strike: self._notes[strike] for strike in wanted}

    def traits(self, keys: Iterable[Key]) -> dict[Key, Trait]:
        """What may be derived of some keys."""
        wanted = set(keys)
        self._learn(wanted)
        return {key: self._traits[key] for key in wanted}

    def forget(self) -> None:
        """Give memory back between scores: held notes beyond the limit.

        The ones unused for longest go first. Notes handed out stay valid.
        """
        self._notes.clear()
        size = sum(held.size_bytes for held in self._held.values())
        for name in list(self._held):
            if size <= _KEPT_BYTES:
                break
            size -= self._held.pop(name).size_bytes

    def _recall(self, kind: str, names: Iterable[NameT]) -> dict[NameT, Record]:
        """What the store has under some names."""
        wanted = {(kind, name): name for name in names}
        found = self._store.read(wanted) if self._store else {}
        return {wanted[name]: record for name, record in found.items()}

    def _save(self, kind: str, name: Key | Name, record: Record) -> None:
        """Have the store keep something with what is written next."""
        if self._store:
            self._unsaved[kind, name] = record

    def _learn(self, keys: set[Key]) -> None:
        """Find out, for keys not yet known, what may be derived."""
        recalled = self._recall("trait", keys - self._traits.keys())
        self._traits.update({key: Trait(*record.facts) for key, record in recalled.items()})
        new = sorted(keys - self._traits.keys())
        names = [(key, velocity) for key in new for velocity in (REFERENCE_VELOCITY, _PROOF_VELOCITY)]
        self._hold(dict.fromkeys(names, _PROOF_BLOCKS))
        held = {name: self._held[name] for name in names if self._held[name].envelope}
        failed = self._failed(new, held, _PROOFS)
        only_short = [
            key
            for key in new
            if any((key, velocity, hold, 0) in failed for velocity, hold, _ in _PROOFS)
            and (key, REFERENCE_VELOCITY, _LONG_BLOCKS, 0) not in failed
        ]
        failed |= self._failed(only_short, held, _LONG_PROOFS)
        for key in new:
            reference, softer = (held.get((key, v)) for v in (REFERENCE_VELOCITY, _PROOF_VELOCITY))
            trait = Trait()
            if reference and softer:
                misses = [(hold, choke) for one, _, hold, choke in failed if one == key]
                lengths = all(choke for _, choke in misses)
                is_long = not lengths and all(hold < _LONG_BLOCKS for hold, choke in misses if not choke)
                cuts = lengths and not misses and self._is_exclusive(key)
                is_gain = (
                    not self._soundfont.velocity_acts_late and _gains(reference, softer) is not None
                )
                trait = Trait(lengths, cuts, is_gain, is_long)
            self._traits[key] = trait
            self._save("trait", key, Record(trait))

    def _failed(
        self, keys: Iterable[Key], held: Mapping[Name, Held], proofs: Iterable[tuple[int, int, int]]
    ) -> set[tuple[Key, int, int, int]]:
        """The proofs of some keys, by key, velocity, hold and choke, that do not hold."""
        tried = {
            _strike(key, velocity, hold, choke): (key, velocity, hold, choke)
            for velocity, hold, choke in proofs
            for key in keys
            if (key, velocity) in held and (not choke or self._is_exclusive(key))
        }
        failed: set[tuple[Key, int, int, int]] = set()
        for strike, played in self._soundfont.render(tried, _PROOF_TAIL_BLOCKS):
            found = held[_key(strike), strike.velocity]
            derived = self._released(found, strike.hold_blocks, strike.choke_blocks).sounding()
            frames = (strike.hold_blocks + _PROOF_TAIL_BLOCKS) * BLOCK_SAMPLES
            if not _equal(played, derived, frames):
                failed.add(tried[strike])
        return failed

    def _is_exclusive(self, key: Key) -> bool:
        return key[0] and self._soundfont.exclusive_class(key[1], key[2]) > 0

    def _derive(self, strikes: set[Strike]) -> None:
        """Make notes from held ones."""
        self._measure_gains({(_key(strike), strike.velocity) for strike in strikes})
        sources: dict[Strike, Name] = {}
        for strike in strikes:
            is_gain = self._gains.get((_key(strike), strike.velocity)) is not None
            sources[strike] = (_key(strike), REFERENCE_VELOCITY if is_gain else strike.velocity)
        self._hold(dict.fromkeys(sources.values(), 1 + self._shortest))
        # Only now are the envelopes known, and with them how long the held notes have to be.
        needed: dict[Name, int] = {}
        for strike, source in sources.items():
            envelope = self._held[source].envelope
            if envelope:
                blocks = self._blocks_needed(envelope, strike.hold_blocks, strike.choke_blocks)
                needed[source] = max(blocks, needed.get(source, 0))
        self._hold(needed)
        made: dict[tuple[Name, int, int], Note] = {}
        for strike, source in sources.items():
            if source in needed:
                how = (source, strike.hold_blocks, strike.choke_blocks)
                if how not in made:
                    made[how] = self._released(self._held[source], *how[1:])
                gains = self._gains.get((source[0], strike.velocity)) or UNITY
                self._notes[strike] = made[how]._replace(gains=gains)

    def _measure_gains(self, wanted: set[Name]) -> None:
        """Gains of velocities over the reference, for keys where velocity is nothing else."""
        new = {w for w in wanted - self._gains.keys() if self._traits[w[0]].velocities}
        recalled = self._recall("gains", new)
        self._gains.update(
            {name: record.facts and tuple(record.facts) for name, record in recalled.items()}
        )
        new -= recalled.keys()
        probes = self._probe([*new, *((key, REFERENCE_VELOCITY) for key, _ in new)])
        for key, velocity in new:
            gains = _gains(probes[key, REFERENCE_VELOCITY], probes[key, velocity])
            self._gains[key, velocity] = gains
            self._save("gains", (key, velocity), Record(gains))

    def _probe(self, wanted: Iterable[Name]) -> dict[Name, Held]:
        """The first moments of held notes."""
        strikes = {_strike(*want): want for want in wanted}
        found = self._soundfont.held((strike, _PROBE_BLOCKS) for strike in strikes)
        return {strikes[strike]: held for strike, held in found}

    def _hold(self, wanted: Mapping[Name, int]) -> None:
        """Have held notes of at least so many blocks."""
        missing: list[Name] = []
        for name, blocks in wanted.items():
            known = self._held.pop(name, None)
            if known and known.blocks >= blocks:
                self._held[name] = known  # now the latest
            else:
                missing.append(name)
        recalled = self._recall("held", missing)
        strikes: dict[Strike, Name] = {}
        for name in missing:
            if name in recalled and recalled[name].blocks >= wanted[name]:
                self._held[name] = _from_record(recalled[name])
            else:
                strikes[_strike(*name)] = name
        for strike, held in self._soundfont.held((s, wanted[name]) for s, name in strikes.items()):
            self._held[strikes[strike]] = held
            self._save("held", strikes[strike], _as_record(held))

    def _blocks_needed(self, envelope: Envelope, hold_blocks: int, choke_blocks: int = 0) -> int:
        """How long a held note must be for a release to die away within it."""
        return min(self._longest, 1 + envelope.end(max(hold_blocks, self._shortest), choke_blocks))

    def _released(self, held: Held, hold_blocks: int, choke_blocks: int) -> Note:
        """A held note, let go or cut off after so many blocks."""
        return held.released(max(hold_blocks, self._shortest), choke_blocks, UNITY)


def _may_derive(strike: Strike, trait: Trait) -> bool:
    """Whether a note of a key is to be derived."""
    if strike.choke_blocks:
        return trait.cuts
    return trait.lengths or (trait.long_lengths and strike.hold_blocks >= _LONG_BLOCKS)


def _key(strike: Strike) -> Key:
    return strike.kit, strike.program, strike.key


def _strike(key: Key, velocity: int, hold_blocks: int = 0, choke_blocks: int = 0) -> Strike:
    return Strike(*key, velocity, hold_blocks, choke_blocks)


def _as_record(held: Held) -> Record:
    facts = len(held.planes), held.planes.shape[1], held.envelope and astuple(held.envelope)
    return Record(facts, np.concatenate((held.planes.reshape(-1), held.peaks)), held.blocks)


def _from_record(record: Record) -> Held:
    planes, frames, envelope = record.facts
    count = planes * frames
    samples = record.samples[:count].reshape(planes, frames)
    return Held(samples, record.samples[count:], record.blocks, envelope and Envelope(*envelope))


def _equal(one: Samples, other: Samples, frames: int) -> bool:
    """Whether two notes differ by no more than ``_PROOF_DB`` below them within some frames."""
    a, b = (np.pad(x[:, :frames], ((0, 0), (0, max(0, frames - x.shape[1])))) for x in (one, other))
    return bool(((a - b) ** 2).sum() <= (a**2).sum() * 10 ** (-_PROOF_DB / 10))


def _gains(reference: Held, other: Held) -> tuple[float, float] | None:
    """The gain of each channel over the reference if that is all that differs, else None.

    Compared over the first moments, and by their envelopes.
    """
    if reference.envelope != other.envelope:
        return None
    a, b = (_beginning(held) for held in (reference, other))
    energy = (a * a).sum(axis=1)
    gains = (a * b).sum(axis=1) / np.where(energy > 0, energy, 1)
    difference = ((b - gains[:, None] * a) ** 2).sum()
    if not (b * b).sum() or difference > (b * b).sum() * 10 ** (-_PROOF_DB / 10):
        return None
    return float(gains[0]), float(gains[1])


def _beginning(held: Held) -> NDArray[np.float64]:
    """Both planes of a note's first moments, shape (2, n_frames)."""
    frames = _PROBE_BLOCKS * BLOCK_SAMPLES
    planes = held.planes[:, :frames].astype(np.float64)
    padded = np.pad(planes, ((0, 0), (0, frames - planes.shape[1])))
    return padded if len(padded) == 2 else np.concatenate((padded, padded))
