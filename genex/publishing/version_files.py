"""The files of one version of a lesson: one key, one tempo."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from genex import __version__
from genex.compose import Composer, Composition, part_word
from genex.export.captions import Caption, captions_vtt, timeline_csv, timeline_json
from genex.export.midi import midi_bytes
from genex.export.tab import tab_text
from genex.export.typography import with_signs
from genex.lazy import lazy
from genex.lines.study_plan import CueSpan
from genex.publishing.files import Stage, writing
from genex.recipe import Recipe, Version
from genex.score import Score

if TYPE_CHECKING:
    from genex import audio
    from genex.audio import Measurement, Renderer, Sound
    from genex.publishing import printed_files
else:
    audio = lazy("genex.audio")
    printed_files = lazy("genex.publishing.printed_files")

AUDIO_OUTPUTS = frozenset({"loop", "band", "take", "stems"})
DRAWN_OUTPUTS = frozenset({"handout", "diagrams"})
PAPER_OUTPUTS = DRAWN_OUTPUTS | {"chart", "musicxml", "leadsheet"}
Report = Callable[[str], None]
"""Is told, in a few words, what is being done."""


@dataclass(frozen=True)
class BuiltFile:
    """A file of a lesson. ``facts`` are what the manifest says beside kind, size and checksum."""

    name: str
    kind: str
    size_bytes: int
    sha256: str
    facts: dict[str, Any] = field(default_factory=dict)


class VersionWriter:
    """Stages the files of one key and tempo and lists them in ``files``."""

    def __init__(
        self,
        recipe: Recipe,
        version: Version,
        piece: Composition,
        composer: Composer,
        stage: Stage,
        report: Report,
    ) -> None:
        self.recipe, self.version, self.piece, self._composer = recipe, version, piece, composer
        self.stage, self.report = stage, report
        self.wanted = set(recipe.outputs)
        self.prefix = f"{recipe.slug}{version.suffix}"
        self.facts = {"key": str(version.key), "tempo": float(version.tempo)} if version.suffix else {}
        self.files: list[BuiltFile] = []

    @cached_property
    def take(self) -> Score:
        """The piece as it is played once: with a count-in, and an ending that ends."""
        return self._composer.piece(self.version, ending=True).score

    def write_symbolic(self) -> None:
        """MIDI, tab, answers, captions and timeline."""
        score, passes = self.piece.score, self.recipe.fields.audio.passes
        self.report(f"{self.prefix}: MIDI and text")
        if "midi" in self.wanted:
            self._write(".mid", "midi", midi_bytes(score))
            if "take" in self.wanted:
                self._write(".take.mid", "midi take", midi_bytes(self.take, include_lead_in=True))
        if "tab" in self.wanted and score.lead_parts:
            self._write(".tab.txt", "tab", tab_text(score).encode())
        if "answers" in self.wanted and self.piece.answers:
            self._write(".answers.txt", "answer key", self._answers().encode())
        if "captions" in self.wanted:
            captions = self._captions()
            self._write(".vtt", "captions", captions_vtt(score, captions, passes=passes).encode())
            if "take" in self.wanted:
                text = captions_vtt(self.take, captions, include_lead_in=True)
                self._write(".take.vtt", "captions take", text.encode())
        if "timeline" in self.wanted:
            rate = self.recipe.fields.audio.rate
            for suffix, writer in ((".csv", timeline_csv), (".json", timeline_json)):
                text = writer(score, rate, passes=passes)
                self._write(f".timeline{suffix}", "timeline", text.encode())
                if "take" in self.wanted:
                    text = writer(self.take, rate, include_lead_in=True)
                    self._write(f".take.timeline{suffix}", "timeline take", text.encode())

    def write_printed(self) -> None:
        """Handout, diagrams and MusicXML."""
        if not PAPER_OUTPUTS & self.wanted:
            return
        self.report(f"{self.prefix}: the sheet")
        for suffix, kind, data in printed_files.printed_files(self.recipe, self.piece.score):
            self._write(suffix, kind, data)

    def write_audio(self, renderer: Renderer) -> None:
        """Loops, minus mixes, stems and the take."""
        score, passes = self.piece.score, self.recipe.fields.audio.passes
        band = score.only(*(part.name for part in score.parts if not part.role.is_lead))
        if "loop" in self.wanted:
            self.report(f"{self.prefix}: the loop")
            self._write_sound("", "loop", renderer.loop(score, passes), loops=True)
        gain_db = self._loop_gain_db(renderer)
        if "band" in self.wanted and band.parts and len(band.parts) < len(score.parts):
            self.report(f"{self.prefix}: the band")
            sound = renderer.loop(band, passes)
            self._write_sound(".band", "band loop", sound, loops=True, gain_db=gain_db)
        for role in self.recipe.fields.audio.minus:
            kept = [part.name for part in score.parts if part_word(part) != role]
            if kept and len(kept) < len(score.parts):
                self.report(f"{self.prefix}: without {role}")
                sound = renderer.loop(score.only(*kept), passes)
                kind = f"loop without {role}"
                self._write_sound(f".minus-{role}", kind, sound, loops=True, gain_db=gain_db)
        if "stems" in self.wanted:
            self.report(f"{self.prefix}: the stems")
            for name, once in renderer.stems(score).items():
                sound = once.repeated(passes)
                self._write_sound(f".stem-{name}", "stem", sound, loops=True, mastered=False)
        if "take" in self.wanted:
            self.report(f"{self.prefix}: the take")
            self._write_sound(".take", "take", renderer.take(self.take), loops=False)

    def _loop_gain_db(self, renderer: Renderer) -> float | None:
        """The gain of the full loop, if what goes with it is to have the same one."""
        wanted = self.recipe.fields.audio
        if not wanted.same_level or not ("band" in self.wanted or wanted.minus):
            return None
        for file in self.files:
            if file.kind == "loop":
                return float(file.facts["gain_db"])
        sound = renderer.loop(self.piece.score, wanted.passes)
        sound = sound.widened(wanted.width)
        return audio.master(sound, wanted.loudness, wanted.ceiling)[1].gain_db

    def _captions(self) -> list[Caption] | None:
        """The captions of calls and drills; None where chords and sections are to be shown.

        An answer that comes while the next call sounds stands in that call's caption: two captions
        at a time would compete.
        """
        cues = self.piece.cues
        if all(cue.kind == "section" for cue in cues):
            return None
        captions: list[Caption] = []
        waiting: CueSpan | None = None
        for cue in cues:
            if cue.kind == "answer" and any(_overlap(cue, other) for other in cues if other is not cue):
                waiting = cue
                continue
            text = cue.text
            if waiting is not None and cue.onset_beats >= waiting.onset_beats:
                text, waiting = f"{text} (it was: {waiting.text})", None
            captions.append(Caption(cue.onset_beats, cue.length_beats, with_signs(text)))
        if waiting is not None and captions:
            last = captions.pop()
            beats = last.length_beats
            shown = waiting.length_beats
            captions.append(replace(last, length_beats=beats - shown))
            captions.append(Caption(waiting.onset_beats, shown, with_signs(waiting.text)))
        return captions

    def _answers(self) -> str:
        """The answer key: each answer in words, then the lead part as tab."""
        score = self.piece.score
        lines = [f"{score.title}: answers", ""]
        for answer in self.piece.answers:
            bar = score.timeline.bar_at(answer.onset_beats).number
            level = f" (level {answer.level})" if answer.level else ""
            lines.append(f"{answer.number}. bar {bar}{level}: {answer.text}")
        text = "\n".join(lines) + "\n"
        return f"{text}\n\n{tab_text(score, show_degrees=True)}" if score.lead_parts else text

    def _write(self, suffix: str, kind: str, data: bytes) -> None:
        name = f"{self.prefix}{suffix}"
        self.stage.write(name, data)
        checksum = hashlib.sha256(data).hexdigest()
        self.files.append(BuiltFile(name, kind, len(data), checksum, self.facts))

    def _write_sound(
        self,
        suffix: str,
        kind: str,
        sound: Sound,
        *,
        loops: bool,
        mastered: bool = True,
        gain_db: float | None = None,
    ) -> None:
        wanted = self.recipe.fields.audio
        name = f"{self.prefix}{suffix}{audio.FORMATS[wanted.format].suffix}"
        sound = sound.widened(wanted.width)
        facts: dict[str, Any] = {
            "sample_rate_hz": sound.rate_hz,
            "length_samples": sound.length_samples,
            "loops": loops,
        }
        if mastered:
            sound, measured = audio.master(
                sound, wanted.loudness, wanted.ceiling, loop=loops, gain_db=gain_db
            )
        else:
            loudness = audio.integrated_lufs(sound, loop=loops)
            measured = audio.Measurement(loudness, audio.true_peak_dbtp(sound, loop=loops), 0.0, 0.0)
        rate_hz = sound.rate_hz
        if loops:
            markers = audio.loop_markers(self.piece.score, rate_hz, wanted.passes)
            chapters = audio.loop_chapters(self.piece.score, rate_hz, wanted.passes)
        else:
            markers = audio.take_markers(self.take, rate_hz)
            chapters = audio.take_chapters(self.take, rate_hz)
        path = self.stage.path(name)
        with writing(self.stage.folder / name):
            written = audio.write_audio(
                path,
                sound,
                wanted.format,
                self._tags(kind),
                markers,
                chapters=chapters,
                loop=loops,
                ceiling_dbtp=wanted.ceiling if mastered else None,
            )
            with path.open("rb") as file:
                checksum = hashlib.file_digest(file, "sha256").hexdigest()
            size = path.stat().st_size
        if written.true_peak_dbtp is not None:
            measured = replace(measured, true_peak_dbtp=written.true_peak_dbtp)
        facts |= _levels(measured)
        self.files.append(BuiltFile(name, kind, size, checksum, self.facts | facts))

    def _tags(self, kind: str) -> dict[str, str]:
        return {
            "title": self.recipe.title,
            "key": str(self.version.key),
            "tempo": f"{float(self.version.tempo):g}",
            "part": kind,
            "software": f"genex {__version__}",
        }


def _overlap(one: CueSpan, other: CueSpan) -> bool:
    return other.onset_beats < one.end_beats and one.onset_beats < other.end_beats


def _levels(measured: Measurement) -> dict[str, Any]:
    return {
        "gain_db": round(measured.gain_db, 4),  # so finely that stems add up to the mix by it
        "integrated_lufs": _rounded(measured.integrated_lufs),
        "true_peak_dbtp": _rounded(measured.true_peak_dbtp),
        "limited_db": _rounded(measured.limited_db),
    }


def _rounded(decibels: float | None) -> float | None:
    """Two decimals; silence has no level."""
    return None if decibels is None else round(decibels, 2)
