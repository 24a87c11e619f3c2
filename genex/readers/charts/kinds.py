"""What kind of file it is, and the reader of it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from genex.errors import ChartFileError, Place
from genex.inputs import read_file
from genex.lazy import lazy
from genex.readers.charts.abc import read_abc
from genex.readers.charts.foreign_chart import ForeignChart
from genex.readers.charts.over_lyrics import read_over_lyrics

if TYPE_CHECKING:
    from genex.readers.charts import chord_markers, musicxml, mxl
else:
    chord_markers = lazy("genex.readers.charts.chord_markers")
    musicxml = lazy("genex.readers.charts.musicxml")
    mxl = lazy("genex.readers.charts.mxl")

MAX_BYTES = 4 << 20
_FORMATS = ".abc, .musicxml, .xml, .mxl, .mid or .txt"


def read_chart(path: Path, number: int | None = None) -> ForeignChart:
    """The chart of a file, by its ending. ``number`` chooses among the tunes of an ABC file.

    Raises ChartFileError and MidiFileError, with line and column where there are lines.
    """
    file, ending = str(path), path.suffix.lower()
    data = file_bytes(path)
    if number is not None and ending != ".abc":
        raise ChartFileError(
            "only a file in ABC has tunes with numbers", hint="leave --tune away", place=Place(file)
        )
    if ending == ".mxl":
        return musicxml.read_musicxml(mxl.score_of(data, file, MAX_BYTES), file)
    if ending in (".musicxml", ".xml"):
        return musicxml.read_musicxml(data, file)
    if ending in (".mid", ".midi"):
        return chord_markers.read_chord_markers(path, data)
    text = file_text(data, file)
    if ending == ".abc":
        return read_abc(text, file, number)
    if ending in (".txt", ".text", ".md", ""):
        return read_over_lyrics(text, file)
    raise ChartFileError(
        f"'{ending}' is not a format that is read", hint=f"import a file that ends in {_FORMATS}",
        place=Place(file),
    )  # fmt: skip


def file_bytes(path: Path, what: str = "chart") -> bytes:
    """The bytes of a file with a chart or a line. Raises ChartFileError."""
    try:
        data = read_file(path, MAX_BYTES)
    except (FileNotFoundError, ValueError):
        raise ChartFileError(f"there is no file '{path}'", hint="check the name") from None
    except IsADirectoryError:
        raise ChartFileError(f"'{path}' is a folder", hint="name a file inside it") from None
    except OSError as error:
        raise ChartFileError(f"'{path}' cannot be read: {error.strerror}") from None
    if len(data) > MAX_BYTES:
        raise ChartFileError(
            f"the file is larger than {MAX_BYTES >> 20} MB",
            hint=f"take a piece at a time: a {what} is a short file", place=Place(str(path)),
        )  # fmt: skip
    if not data.strip():
        raise ChartFileError("the file is empty", hint="check the name", place=Place(str(path)))
    return data


def file_text(data: bytes, file: str) -> str:
    """Text in UTF-8, or else in Latin-1, as older collections are. Raises ChartFileError."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("latin-1")
    strange = next((at for at, sign in enumerate(text) if sign < " " and sign not in "\t\n\r\f"), None)
    if strange is not None:
        raise ChartFileError(
            "the file holds no text",
            hint=f"import a file that is what its name says: {_FORMATS}",
            place=Place(file, text.count("\n", 0, strange) + 1, 1),
        )
    return text
