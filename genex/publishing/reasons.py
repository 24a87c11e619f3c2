"""Why a build makes a file, or leaves it as it is: what ``genex build --why`` tells."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from genex.compose import Composer
from genex.plain_text import clean
from genex.publishing.manifest import MANIFEST
from genex.publishing.outlook import names_of, wanted_of
from genex.publishing.plan import Verdict
from genex.publishing.stamps import key_of, sha256_of
from genex.publishing.units import LessonWork, Unit
from genex.publishing.up_to_date import Note, versions

UP_TO_DATE = "up to date"


@dataclass(frozen=True)
class Reason:
    """What happens to a file, and why. ``made`` is false for one that is left as it is."""

    recipe: str
    file: str
    made: bool
    why: str

    def as_json(self) -> dict[str, Any]:
        """As data."""
        return asdict(self)


def reasons_of(unit: Unit, *, rebuild: bool = False) -> list[Reason]:
    """The reason for each file of a prepared unit that is made, left or removed, but for manifests.

    Raises InputError where the folder is another recipe's.
    """
    recipe = clean(str(unit.request.recipe))
    found = []
    for work in unit.lessons:
        below = f"{work.below}/" if work.below else ""
        made: dict[int, str] = {}
        heard = _heard_as_before(work, unit)
        for number, name in names_of(work, unit):
            why = made.setdefault(number, _why(work, number, unit, rebuild))
            also = "; its sound is kept" if name in heard else ""
            found.append(Reason(recipe, below + name, True, why + also))
        for kept in work.kept.values():
            found += [Reason(recipe, below + one.file.name, False, UP_TO_DATE) for one in kept]
    plan = unit.claim.plan(wanted_of(unit), unit.known)
    for entry in plan.entries:
        if entry.verdict is Verdict.REMOVE and Path(entry.path).name != MANIFEST:
            found.append(Reason(recipe, entry.path, True, "removed: the recipe asks for it no longer"))
    return sorted(found, key=lambda reason: (reason.file, reason.made))


def _heard_as_before(work: LessonWork, unit: Unit) -> set[str]:
    """Names of the sounds that are written anew and not rendered."""
    job = work.to_make
    if job is None or not job.kept.files:
        return set()
    composer, found = Composer(job.recipe), set()
    with unit.inputs.active():
        for number, version in enumerate(job.recipe.versions):
            writer = job.writer(version, None if number else job.piece, composer, None, print)
            found |= set(writer.kept_sounds())
    return found


def reasons_text(reasons: list[Reason]) -> str:
    """Reasons for reading: files that have one reason stand together."""
    lines = []
    recipe = ""
    for reason in reasons:
        if reason.recipe != recipe:
            recipe = reason.recipe
            lines.append(f"{recipe}:")
        lines.append(f"  {'make' if reason.made else 'leave'}  {reason.file}: {reason.why}")
    return "\n".join(line.replace("  make  ", "  make   ") for line in lines)


def _why(work: LessonWork, number: int, unit: Unit, rebuild: bool) -> str:
    """Why a version of a lesson has to be made."""
    note = unit.note
    if rebuild:
        return "all is made anew, as asked for"
    if note is None:
        return "new: no earlier build is known"
    if note.versions != versions():
        return _other_versions(note)
    mark = work.fingerprints[number]
    if mark in note.made:
        return _gone(mark, unit, note)
    return _changed(work, unit, note)


def _other_versions(note: Note) -> str:
    now = versions()
    changed = [name for name in now if note.versions.get(name) != now[name]]
    if changed == ["code"]:
        return "the code of genex changed"
    said = [
        f"{name} {note.versions.get(name) or '(none)'} to {now[name] or '(none)'}"
        for name in changed
        if name != "code"
    ]
    return f"other versions: {', '.join(said)}"


def _gone(mark: str, unit: Unit, note: Note) -> str:
    """Files that were made from the same are not there as they were made."""
    below, files = note.made[mark]
    missing, edited = [], []
    for file in files:
        path = unit.request.out / below / file["name"]
        try:
            if sha256_of(path) != file["sha256"] or path.is_symlink():
                edited.append(file["name"])
        except OSError:
            missing.append(file["name"])
    said = [f"{', '.join(names)} {what}" for names, what in ((missing, "missing"), (edited, "edited"))
            if names]  # fmt: skip
    return f"output gone: {'; '.join(said)}"


def _name_before(slug: str, unit: Unit, note: Note) -> str:
    """What a lesson was called at the last build: of one lesson that came and one that went, it is the
    same one under another title."""
    now = {work.job.recipe.slug for work in unit.lessons}
    came, gone = now - note.settings.keys(), note.settings.keys() - now
    return gone.pop() if came == {slug} and len(gone) == 1 else slug


def _changed(work: LessonWork, unit: Unit, note: Note) -> str:
    """What is not as it was at the last build: fields of the recipe, files that it names."""
    recipe = work.job.recipe
    before, now = note.settings.get(_name_before(recipe.slug, unit, note)), work.settings
    if before is None:
        return "new: a lesson that was not built before"
    fields = [name for name in (*now, *(name for name in before if name not in now))
              if before.get(name) != now.get(name)]  # fmt: skip
    read = {file.path: file.sha256 for file in note.read}
    own = {key_of(unit.request.recipe), key_of(recipe.source.file)}
    now_read = dict(work.used) | {file.path: file.sha256 for file in (*unit.fonts, *unit.sources)}
    files = [clean(Path(path).name) for path, digest in sorted(now_read.items())
             if path not in own and path in read and read[path] != digest]  # fmt: skip
    said = []
    if fields:
        said.append(f"settings changed: {', '.join(clean(name) for name in fields)}")
    if files:
        said.append(f"input changed: {', '.join(files)}")
    return "; ".join(said) or "new: this version was not built before"
