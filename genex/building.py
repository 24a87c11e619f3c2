"""What ``genex build`` tells: to people as text, to programs as events, one a line.

Events, each an object with ``event``: *started* (lessons and versions to make), *lesson* (one is made),
*built* (a recipe's folder is in place, or was up to date), *failed* (an error), *note*, *why* (of a
file), *opened* (in the browser), *watching* (all files that are), *finished*.
"""

from __future__ import annotations

import re
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex import terminal
from genex.errors import GenexError, InputError
from genex.lazy import lazy
from genex.publishing import up_to_date
from genex.publishing.following import Follower

if TYPE_CHECKING:
    from genex import opening
    from genex.publishing import jobs, lessons, reasons, staging, watching
else:
    opening = lazy("genex.opening")
    jobs = lazy("genex.publishing.jobs")
    reasons = lazy("genex.publishing.reasons")
    staging = lazy("genex.publishing.staging")
    watching = lazy("genex.publishing.watching")


_ADDRESS = re.compile(r"(?:(?:tcp|tls)://)?(?:\[[0-9A-Fa-f:.]+\]|[\w.-]+):(\d{1,5})")
_LAST_PORT = 65_535


@dataclass(frozen=True)
class Choices:
    """What the command's options ask for. Raises InputError for a scheduler's address that is none."""

    out: Path
    soundfont: Path | None = None
    rebuild: bool = False
    take_over: bool = False
    why: bool = False
    shows: bool = False
    processes: int | None = None
    cluster: str | None = None

    def __post_init__(self) -> None:
        if self.cluster is None:
            return
        found = _ADDRESS.fullmatch(self.cluster)
        if found is None or not 0 < int(found[1]) <= _LAST_PORT:
            raise InputError(
                f"'{self.cluster}' is not a scheduler's address",
                hint="write it as 'dask scheduler' prints it: machine and port, tcp://10.0.0.5:8786",
            )

    @property
    def wishes(self) -> jobs.Wishes:
        """As publishing takes them."""
        return jobs.Wishes(self.soundfont, self.rebuild, self.take_over, self.processes, self.cluster)

    def sort_out(self, recipes: Sequence[Path]) -> tuple[dict[Path, list[str]], Sequence[Path]]:
        """Recipes that nothing is asked of and that are up to date, and the others."""
        if self.rebuild or self.take_over or self.why:
            return {}, recipes
        return up_to_date.sort_out(recipes, self.out, self.soundfont)


class Words(Follower):
    """Tells people."""

    def __init__(self, *, quiet: bool) -> None:
        self.progress = terminal.Progress(quiet=quiet)

    def started(self, lessons: int, versions: int) -> None:
        """See ``Follower``."""
        self.progress.begin(lessons, versions)

    def version_made(self) -> None:
        """See ``Follower``."""
        self.progress.version_made()

    def lesson_made(self, title: str, folder: Path) -> None:
        """See ``Follower``."""
        self.progress.lesson_made(title)

    def doing(self, text: str) -> None:
        """Something is begun."""
        self.progress.step(text)

    def note(self, text: str) -> None:
        """Something should be known besides."""
        self.progress.note(text)

    def unchanged(self, recipe: Path, printed: Sequence[str]) -> None:
        """A recipe whose files are up to date."""
        self.progress.done("\n".join([*printed, "  (unchanged)"]))

    def built(self, unit: Any) -> None:
        """A unit is in place."""
        self.progress.done(built_text(unit))

    def why(self, found: list[reasons.Reason]) -> None:
        """Reasons for files."""
        self.progress.done(reasons.reasons_text(found))

    def failed(self, error: GenexError, recipe: Path | None = None) -> None:
        """A build that cannot be."""
        self.progress.clear()
        terminal.note(str(error))

    def opened(self, address: str, *, is_open: bool) -> None:
        """The browser was asked to show something; ``is_open`` tells whether there is one."""
        if not is_open:
            self.note(f"no browser could be started here; open this yourself: {address}")

    def round(self, one: watching.Round[Any]) -> None:
        """A build of a watch has ended: at first all is told, then what is new in a line."""
        if one.error is not None:
            self.failed(one.error, one.recipe)
            self.progress.note("the last good files stay as they are")
        elif one.built is not None and not one.saved:
            self.built(one.built)
        elif one.built is not None:
            saved = ", ".join(path.name for path in one.saved)
            said = f"made in {one.seconds:.2f} s" if one.built.changed else "unchanged"
            self.progress.done(f"{one.built.unit.source.title}: {said} ({saved} was saved)")

    def watching(self, files: Sequence[Path]) -> None:
        """All is made; now it waits."""
        self.progress.clear()
        there = sum(path.exists() for path in files)  # those that may yet come are watched too
        count = f"{there} file{'s' if there != 1 else ''}"
        self.progress.step(f"watching {count}; Ctrl-C ends it")

    def ended(self) -> None:
        """Nothing more will be made."""
        self.progress.clear()


class Events(Words):
    """Tells programs."""

    def __init__(self) -> None:
        super().__init__(quiet=True)
        self._begun = time.monotonic()
        self._lessons = self._made = self._recipes = self._changed = self._failed = 0

    def _tell(self, event: str, **facts: Any) -> None:
        terminal.say_event({"event": event, **facts})

    def started(self, lessons: int, versions: int) -> None:
        """See ``Follower``."""
        self._lessons, self._made = lessons, 0
        self._tell("started", lessons=lessons, versions=versions)

    def lesson_made(self, title: str, folder: Path) -> None:
        """See ``Follower``."""
        self._made += 1
        left = self._lessons - self._made
        self._tell("lesson", title=title, folder=str(folder), done=self._made, left=left)

    def note(self, text: str) -> None:
        """See ``Words``."""
        self._tell("note", text=text)

    def unchanged(self, recipe: Path, printed: Sequence[str]) -> None:
        """See ``Words``."""
        self._recipes += 1
        self._tell("built", recipe=str(recipe), changed=False, printed=list(printed))

    def built(self, unit: Any) -> None:
        """See ``Words``."""
        self._recipes += 1
        self._changed += unit.changed
        self._tell("built", **built_json(unit))

    def why(self, found: list[reasons.Reason]) -> None:
        """See ``Words``."""
        for reason in found:
            self._tell("why", **reason.as_json())

    def failed(self, error: GenexError, recipe: Path | None = None) -> None:
        """See ``Words``."""
        self._failed += 1
        of = {} if recipe is None else {"recipe": str(recipe)}
        self._tell("failed", **of, **terminal.error_json(error))

    def opened(self, address: str, *, is_open: bool) -> None:
        """See ``Words``."""
        self._tell("opened", address=address, opened=is_open)

    def round(self, one: watching.Round[Any]) -> None:
        """See ``Words``."""
        if one.error is not None:
            self.failed(one.error, one.recipe)
        elif one.built is not None:
            self.built(one.built)

    def watching(self, files: Sequence[Path]) -> None:
        """See ``Words``."""
        self._tell("watching", files=[str(path) for path in files])

    def ended(self) -> None:
        """See ``Words``."""
        self._tell(
            "finished",
            recipes=self._recipes,
            changed=self._changed,
            failed=self._failed,
            seconds=round(time.monotonic() - self._begun, 3),
        )


def built_text(built: lessons.Built) -> str:
    """What was built, for reading."""
    return "\n".join([*built.printed, *(() if built.changed else ("  (unchanged)",))])


def built_json(built: lessons.Built) -> dict[str, Any]:
    """What was built, as data."""
    return {
        "recipe": str(built.unit.request.recipe),
        "folder": str(built.unit.folder),
        "changed": built.changed,
        "printed": built.printed,
    }


def build(recipes: Sequence[Path], choices: Choices, teller: Words) -> None:
    """Build what is not up to date, and tell. Raises GenexError."""
    out = choices.out
    unchanged, stale = choices.sort_out(recipes)
    made: dict[Path, Sequence[Path]] = {}
    for path, printed in unchanged.items():
        teller.unchanged(path, printed)
        if choices.shows:
            made[path] = up_to_date.files_of(up_to_date.Request(path, out, choices.soundfont))
    if stale:
        built = jobs.build(
            stale,
            out,
            wishes=choices.wishes,
            report=teller.doing,
            unchanged=tuple(unchanged),
            note=teller.note,
            follower=teller,
            why=teller.why if choices.why else None,
        )
        try:
            for unit in built:
                teller.built(unit)
                made[unit.unit.request.recipe] = unit.paths
        finally:
            teller.progress.clear()
    elif up_to_date.has_parts(out):
        staging.clear_leftovers(out)
    if choices.shows:
        _open(made.get(recipes[0]) or next(iter(made.values()), ()), teller)
    teller.ended()


def _open(files: Sequence[Path], teller: Words) -> None:
    """Show what was made of the first recipe: a window for each of many would help nobody."""
    shown = opening.shown_of(files)
    if shown is not None:
        address = shown.resolve().as_uri()
        teller.opened(address, is_open=opening.open_in_browser(address))


def _follow(files: Sequence[Path], teller: Words) -> opening.Live | None:
    """Show what was made; a page such that it follows what is saved."""
    shown = opening.shown_of(files)
    if shown is None or not shown.name.endswith(opening.PAGE):
        _open(files, teller)
        return None
    try:
        live = opening.Live(shown)
    except OSError:
        _open(files, teller)
        return None
    teller.opened(live.address, is_open=opening.open_in_browser(live.address))
    return live


def foresee(recipes: Sequence[Path], choices: Choices, teller: Words, *, as_json: bool) -> None:
    """Tell what a build would do, or with ``why`` for what reason, and touch no file.

    Raises GenexError.
    """
    unchanged, stale = choices.sort_out(recipes)
    answer: list[dict[str, Any]] = [
        {"recipe": str(path), "changed": False, "printed": printed}
        for path, printed in unchanged.items()
    ]
    if not as_json:
        for path, printed in unchanged.items():
            teller.unchanged(path, printed)
    foreseen = []
    if stale:
        wishes, kept = choices.wishes, tuple(unchanged)
        foreseen = jobs.foresee(stale, choices.out, wishes=wishes, unchanged=kept, why=choices.why)
    if as_json:
        terminal.say_json([*answer, *foreseen])
        return
    for one in foreseen:
        teller.progress.done(jobs.foreseen_text(one))


def watch(recipes: Sequence[Path], choices: Choices, teller: Words) -> None:
    """Build, and build again what is saved, until Ctrl-C."""
    live: opening.Live | None = None
    rounds = watching.Watch(
        recipes,
        choices.out,
        wishes=choices.wishes,
        report=teller.doing,
        note=teller.note,
        follower=teller,
        waiting=teller.watching,
        why=teller.why if choices.why else None,
    ).run()
    try:
        shows = choices.shows
        for one in rounds:
            teller.round(one)
            if shows and one.built is not None:
                live = _follow(one.built.paths, teller)
                shows = False
    finally:
        if live is not None:
            live.close()
        teller.progress.clear()
    teller.ended()
