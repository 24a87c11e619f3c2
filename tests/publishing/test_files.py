"""Files on disk: everything of a lesson, or nothing."""

import errno
import os
import signal
import tempfile
from pathlib import Path

import pytest

from genex.errors import OutputError, UnwritableFolderError
from genex.publishing.files import MANIFEST, Staging, write_error, write_file


def names(folder):
    return sorted(path.name for path in folder.iterdir())


def test_a_lesson_appears_with_its_manifest(tmp_path):
    with Staging(tmp_path / "out" / "rain") as staging:
        staging.stage.write("rain.mid", b"midi")
        assert not (tmp_path / "out" / "rain").exists()
        staging.publish(["rain.mid"], b"{}")
    assert names(tmp_path / "out" / "rain") == [MANIFEST, "rain.mid"]
    assert names(tmp_path / "out") == ["rain"]


def test_a_failed_build_leaves_the_earlier_files(tmp_path):
    folder = tmp_path / "rain"
    with Staging(folder) as staging:
        staging.stage.write("rain.mid", b"old")
        staging.publish(["rain.mid"], b"old manifest")
    with pytest.raises(RuntimeError), Staging(folder) as staging:
        staging.stage.write("rain.mid", b"new")
        raise RuntimeError
    assert (folder / "rain.mid").read_bytes() == b"old"
    assert (folder / MANIFEST).read_bytes() == b"old manifest"
    assert names(tmp_path) == ["rain"]


def test_ctrl_c_waits_until_the_files_are_in_place(tmp_path, monkeypatch):
    replace = Path.replace

    def interrupted(path, target):
        os.kill(os.getpid(), signal.SIGINT)
        return replace(path, target)

    with pytest.raises(KeyboardInterrupt), Staging(tmp_path / "rain") as staging:
        for name in ("rain.mid", "rain.wav"):
            staging.stage.write(name, b"new")
        monkeypatch.setattr(Path, "replace", interrupted)
        staging.publish(["rain.mid", "rain.wav"], b"{}")
    assert names(tmp_path / "rain") == [MANIFEST, "rain.mid", "rain.wav"]
    assert names(tmp_path) == ["rain"]


def test_files_of_an_earlier_build_that_are_no_longer_made_go_away_and_others_stay(tmp_path):
    folder = tmp_path / "rain"
    folder.mkdir()
    for name in ("rain.wav", "notes-to-self.txt"):
        (folder / name).write_bytes(b"")
    with Staging(folder) as staging:
        staging.stage.write("rain.mid", b"")
        staging.publish(["rain.mid"], b"{}", stale=frozenset({"rain.wav", "rain.mid"}))
    assert names(folder) == [MANIFEST, "notes-to-self.txt", "rain.mid"]


def test_what_a_killed_build_left_is_cleared_and_a_living_build_is_not(tmp_path):
    leftover = tmp_path / ".rain~abc.part"
    leftover.mkdir()
    (leftover / "rain.wav").write_bytes(b"half")
    with Staging(tmp_path / "rain") as first:
        first.stage.write("a", b"1")
        with Staging(tmp_path / "rain") as second:
            second.stage.write("a", b"2")
            second.publish(["a"], b"{}")
        first.publish(["a"], b"{}")
    assert names(tmp_path) == ["rain"]
    assert (tmp_path / "rain" / "a").read_bytes() == b"1"


def test_ctrl_c_while_the_staging_folder_is_made_leaves_none(tmp_path, monkeypatch):
    make = tempfile.mkdtemp

    def interrupted(**how):
        made = make(**how)
        signal.raise_signal(signal.SIGINT)
        return made

    monkeypatch.setattr(tempfile, "mkdtemp", interrupted)
    (tmp_path / "rain").mkdir()
    with pytest.raises(KeyboardInterrupt), Staging(tmp_path / "rain"):
        pass
    assert names(tmp_path) == ["rain"]


def test_the_leftovers_of_another_lesson_are_not_touched(tmp_path):
    (tmp_path / ".rain-in-may~abc.part").mkdir()
    with Staging(tmp_path / "rain") as staging:
        staging.publish([], b"{}")
    assert names(tmp_path) == [".rain-in-may~abc.part", "rain"]


def test_two_files_of_one_name_are_a_fault(tmp_path):
    with Staging(tmp_path / "rain") as staging:
        stage = staging.stage
        stage.write("a", b"1")
        with pytest.raises(ValueError, match="made twice"):
            stage.write("a", b"2")
        with pytest.raises(ValueError, match="made twice"):
            staging.publish(["a", "a"], b"{}")  # by two writers


def test_a_file_in_the_way_of_the_folder(tmp_path):
    (tmp_path / "rain").write_text("mine")
    with pytest.raises(UnwritableFolderError, match="in the way"), Staging(tmp_path / "rain"):
        pass
    assert (tmp_path / "rain").read_text() == "mine"


def test_a_folder_inside_a_file(tmp_path):
    (tmp_path / "out").write_text("mine")
    with pytest.raises(UnwritableFolderError, match="a file"), Staging(tmp_path / "out" / "rain"):
        pass


def test_the_output_folder_goes_away_under_the_build(tmp_path):
    out = tmp_path / "out"
    with pytest.raises(OutputError, match="removed meanwhile"), Staging(out / "rain") as staging:
        for path in out.iterdir():
            path.rmdir()
        out.rmdir()
        staging.stage.write("rain.mid", b"")


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
