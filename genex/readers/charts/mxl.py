"""Compressed MusicXML: a zip with a container file that names the score [published: MusicXML 4.0]."""

from __future__ import annotations

import io
import zipfile
import zlib

from genex.errors import ChartFileError, Place
from genex.readers.charts.xml_tree import read_tree

_CONTAINER = "META-INF/container.xml"
_MOST_ENTRIES = 1000
_MOST_CONTAINER_BYTES = 64 << 10
_FAULTS = (
    zipfile.BadZipFile, zlib.error, RuntimeError, EOFError, OSError, ValueError,
    LookupError,
)  # fmt: skip
"""What zipfile raises for damaged or locked files."""


def score_of(data: bytes, file: str, most_bytes: int) -> bytes:
    """The score inside a .mxl file, unpacked no further than ``most_bytes``. Raises ChartFileError."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > _MOST_ENTRIES:
                raise _refusal(f"the archive holds {len(names)} files", file)
            container = _unpacked(archive, _CONTAINER, file, _MOST_CONTAINER_BYTES)
            for found in read_tree(container, f"{file}/{_CONTAINER}").walk("rootfile"):
                kind = found.attributes.get("media-type", "")
                if kind in ("", "application/vnd.recordare.musicxml+xml"):
                    return _unpacked(archive, found.attributes.get("full-path", ""), file, most_bytes)
    except _FAULTS:
        raise _refusal("the file is no compressed MusicXML, or it is damaged", file) from None
    raise _refusal("the archive names no score", file)


def _unpacked(archive: zipfile.ZipFile, name: str, file: str, most_bytes: int) -> bytes:
    with archive.open(name) as packed:
        data = packed.read(most_bytes + 1)
    if len(data) > most_bytes:
        raise _refusal(f"'{name}' in the archive unpacks to more than {most_bytes >> 10} kB", file)
    return data


def _refusal(message: str, file: str) -> ChartFileError:
    return ChartFileError(
        message, hint="export the chart again, as uncompressed MusicXML (.musicxml)", place=Place(file)
    )
