"""Who follows a build: is told how far it has come. Standard library only."""

from __future__ import annotations

from pathlib import Path


class Follower:
    """Is told how far a build has come. This one does nothing with it; others say what they do."""

    def started(self, lessons: int, versions: int) -> None:
        """So many lessons have to be made, in so many versions (keys and tempos) together."""

    def version_made(self) -> None:
        """One version more is made."""

    def lesson_made(self, title: str, folder: Path) -> None:
        """All versions of a lesson are made. A series' lesson is in place when all of it is made."""


NOBODY = Follower()
