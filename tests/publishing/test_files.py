"""Single files on disk: whole or not at all; errors in plain words."""

import errno
import os

import pytest

from genex.errors import OutputError, UnwritableFolderError
from genex.publishing.files import write_error, write_file


def names(folder):
    return sorted(path.name for path in folder.iterdir())


@pytest.mark.parametrize(
    ("code", "kind", "exit_code", "message"),
    [
        (errno.ENOSPC, OutputError, 1, "disk is full"),
        (errno.EDQUOT, OutputError, 1, "quota"),
        (errno.EACCES, UnwritableFolderError, 2, "may not write"),
        (errno.EROFS, UnwritableFolderError, 2, "read-only"),
        (errno.ENAMETOOLONG, UnwritableFolderError, 2, "too long"),
    ],
)
def test_system_errors_in_plain_words(tmp_path, code, kind, exit_code, message):
    error = write_error(tmp_path, OSError(code, os.strerror(code)))
    assert type(error) is kind
    assert error.exit_code == exit_code
    assert message in error.message and error.hint


def test_a_single_file_is_written_whole(tmp_path):
    write_file(tmp_path / "new.yaml", b"chords: C")
    assert (tmp_path / "new.yaml").read_bytes() == b"chords: C"
    assert names(tmp_path) == ["new.yaml"]
    with pytest.raises(UnwritableFolderError):
        write_file(tmp_path / "new.yaml" / "inside", b"")
