"""A folder on its way to disk: everything of it, or nothing; and nothing of anybody else is lost."""

import builtins
import errno
import hashlib
import json
import os
import shutil
import signal
import sys
import tempfile
import time
from pathlib import Path

import pytest

from genex.errors import InputError, OutputError, Place, UnwritableFolderError
from genex.publishing import locks, swap
from genex.publishing import staging as staging_module
from genex.publishing.files import writing
from genex.publishing.manifest import MANIFEST, owner_of
from genex.publishing.plan import Claim
from genex.publishing.staging import Staging, clear_leftovers


def names(folder):
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if not path.is_dir())


def contents(folder):
    return {name: (folder / name).read_bytes() for name in names(folder)}


def digest(data):
    return hashlib.sha256(data).hexdigest()


def claim(folder, recipe="rain.yaml"):
    place = folder.parent / recipe
    return Claim(folder, owner_of(place, folder.parent), place, Place(recipe))


def publish(folder, files, recipe="rain.yaml", archive=None, meanwhile=lambda staging: None):
    """Publish files of these contents with a manifest that lists them."""
    whose = claim(folder, recipe)
    with Staging(folder, archive and folder.with_name(f"{folder.name}.zip")) as staging:
        stage = staging.stage()
        for name, data in files.items():
            stage.write(name, data)
        listed = [{"name": name, "sha256": digest(data)} for name, data in files.items()]
        manifest = {"genex": "1", "recipe": recipe, "owner": whose.owner, "files": listed}
        if archive:
            with writing(staging.archive):
                staging.archive_path.write_bytes(archive)
            manifest["archive"] = {"name": staging.archive.name, "sha256": digest(archive)}
        stage.write(MANIFEST, json.dumps(manifest).encode())
        made = {**files, MANIFEST: json.dumps(manifest).encode()}
        meanwhile(staging)
        return staging.publish(
            {name: digest(data) for name, data in made.items()},
            lambda wanted: whose.plan(wanted, {}),
            whose.earlier,
        )


@pytest.fixture(params=["exchange", "renames"])
def folder(request, tmp_path, monkeypatch):
    """A folder's place, on systems that can exchange two names and on those that cannot."""
    if request.param == "renames":
        monkeypatch.setattr(swap, "exchange", lambda one, other: False)
    return tmp_path / "out" / "rain"


def test_a_lesson_appears_with_its_manifest(folder):
    def nothing_yet(staging):
        assert not folder.exists()

    publish(folder, {"rain.mid": b"midi"}, meanwhile=nothing_yet)
    assert names(folder) == [MANIFEST, "rain.mid"]
    assert [path.name for path in folder.parent.iterdir()] == ["rain"]


def test_a_failed_build_leaves_the_earlier_files(folder):
    publish(folder, {"rain.mid": b"old"})
    before = contents(folder)
    with pytest.raises(RuntimeError), Staging(folder) as staging:
        staging.stage().write("rain.mid", b"new")
        raise RuntimeError
    assert contents(folder) == before
    assert [path.name for path in folder.parent.iterdir()] == ["rain"]


def test_what_is_made_no_longer_goes_and_what_is_not_ours_stays(folder):
    publish(folder, {"rain.mid": b"1", "rain.wav": b"1"})
    (folder / "notes-to-self.txt").write_bytes(b"mine")
    (folder / "scans" / "deep").mkdir(parents=True)
    (folder / "scans" / "deep" / "page.png").write_bytes(b"mine too")
    (folder / "empty").mkdir()
    (folder / "elsewhere").symlink_to("/nowhere")
    inode = (folder / "notes-to-self.txt").stat().st_ino
    publish(folder, {"rain.mid": b"2"})
    assert names(folder) == [
        "elsewhere", MANIFEST, "notes-to-self.txt", "rain.mid", "scans/deep/page.png",
    ]  # fmt: skip
    assert (folder / "empty").is_dir()
    assert (folder / "notes-to-self.txt").stat().st_ino == inode
    assert (folder / "rain.mid").read_bytes() == b"2"


def test_an_edited_file_is_kept_under_a_dated_name(folder):
    today = time.strftime("%Y-%m-%d")
    publish(folder, {"rain.tab.txt": b"1", "rain.mid": b"1"})
    (folder / "rain.tab.txt").write_bytes(b"with a remark")
    plan = publish(folder, {"rain.tab.txt": b"2", "rain.mid": b"1"})
    assert (folder / f"rain.tab.kept-{today}.txt").read_bytes() == b"with a remark"
    assert (folder / "rain.tab.txt").read_bytes() == b"2"
    assert plan.notes() == [
        f"note: {folder}/rain.tab.txt was not as genex wrote it: kept as rain.tab.kept-{today}.txt"
    ]
    (folder / "rain.tab.txt").write_bytes(b"with another")
    publish(folder, {"rain.tab.txt": b"3"})
    assert (folder / f"rain.tab.kept-{today}.txt").read_bytes() == b"with a remark"
    assert (folder / f"rain.tab.kept-{today}-2.txt").read_bytes() == b"with another"


def test_an_edited_file_that_is_made_no_longer_stays_under_its_name(folder):
    publish(folder, {"rain.tab.txt": b"1", "rain.mid": b"1"})
    (folder / "rain.tab.txt").write_bytes(b"with a remark")
    plan = publish(folder, {"rain.mid": b"1"})
    assert (folder / "rain.tab.txt").read_bytes() == b"with a remark"
    assert plan.notes() == [f"note: {folder}/rain.tab.txt is made no longer; it was edited and stays"]


def test_what_genex_did_not_write_is_never_overwritten(folder):
    today = time.strftime("%Y-%m-%d")
    folder.mkdir(parents=True)
    (folder / "rain.mid").write_bytes(b"mine")
    (folder / MANIFEST).write_bytes(b'{"name": "of another program"}')
    (folder / "rain.wav").mkdir()
    (folder / "rain.wav" / "mine.txt").write_bytes(b"inside")
    publish(folder, {"rain.mid": b"1", "rain.wav": b"1"})
    assert (folder / f"rain.kept-{today}.mid").read_bytes() == b"mine"
    assert (folder / f"rain.kept-{today}.wav" / "mine.txt").read_bytes() == b"inside"
    assert b"another program" in (folder / f"manifest.kept-{today}.json").read_bytes()
    assert (folder / "rain.wav").read_bytes() == b"1"


def test_an_equal_file_is_nothing_to_keep(folder):
    folder.mkdir(parents=True)
    (folder / "rain.mid").write_bytes(b"1")
    publish(folder, {"rain.mid": b"1"})
    assert names(folder) == [MANIFEST, "rain.mid"]


def test_what_is_saved_between_planning_and_the_swap_is_brought_back(folder, monkeypatch):
    publish(folder, {"rain.mid": b"1", "rain.tab.txt": b"1", "rain.wav": b"1"})
    today = time.strftime("%Y-%m-%d")
    carry = swap.carry

    def carried(plan, new):
        carry(plan, new)
        (folder / "new.txt").write_bytes(b"just saved")
        (folder / "rain.tab.txt").write_bytes(b"just edited")
        (folder / "rain.wav").write_bytes(b"just edited, and made no longer")

    monkeypatch.setattr(staging_module, "carry", carried)
    publish(folder, {"rain.mid": b"2", "rain.tab.txt": b"2"})
    assert contents(folder) == contents(folder) | {
        "rain.mid": b"2",
        "rain.tab.txt": b"2",
        "new.txt": b"just saved",
        f"rain.tab.kept-{today}.txt": b"just edited",
        "rain.wav": b"just edited, and made no longer",
    }
    assert [path.name for path in folder.parent.iterdir()] == ["rain"]


def test_drives_without_links_keep_everything_too(folder, monkeypatch):
    def refused(*_, **__):
        raise OSError(errno.EPERM, os.strerror(errno.EPERM))

    publish(folder, {"rain.mid": b"1"})
    (folder / "scans").mkdir()
    (folder / "scans" / "page.png").write_bytes(b"mine")
    (folder / "rain.mid").write_bytes(b"edited")
    monkeypatch.setattr(os, "link", refused)
    publish(folder, {"rain.mid": b"2"})
    kept = f"rain.kept-{time.strftime('%Y-%m-%d')}.mid"
    assert names(folder) == [MANIFEST, kept, "rain.mid", "scans/page.png"]
    assert (folder / kept).read_bytes() == b"edited"


def test_a_folder_whose_name_is_a_link_stays_where_it_is(folder, tmp_path):
    real = tmp_path / "disk" / "rain"
    real.mkdir(parents=True)
    folder.parent.mkdir()
    folder.symlink_to(real)
    for data in (b"1", b"2"):
        publish(folder, {"rain.mid": data})
        assert folder.is_symlink() and (real / "rain.mid").read_bytes() == data
    assert [path.name for path in real.parent.iterdir()] == ["rain"]


def test_a_zip_comes_with_its_folder_and_a_foreign_one_is_kept(folder):
    zip_path = folder.with_name("rain.zip")
    folder.parent.mkdir()
    zip_path.write_bytes(b"mine")
    publish(folder, {"a": b"1"}, archive=b"zip 1")
    kept = folder.with_name(f"rain.kept-{time.strftime('%Y-%m-%d')}.zip")
    assert (zip_path.read_bytes(), kept.read_bytes()) == (b"zip 1", b"mine")
    publish(folder, {"a": b"2"}, archive=b"zip 2")
    assert zip_path.read_bytes() == b"zip 2"
    assert sorted(path.name for path in folder.parent.iterdir()) == ["rain", kept.name, "rain.zip"]


def test_a_folder_of_another_recipe_is_refused_at_the_last_moment_too(folder):
    def other_build(staging):
        publish(folder, {"a": b"other"}, recipe="other.yaml")

    with pytest.raises(InputError, match=r"another recipe, other\.yaml") as caught:
        publish(folder, {"a": b"1"}, meanwhile=other_build)
    assert "--take-over" in caught.value.hint
    assert (folder / "a").read_bytes() == b"other"


def test_ctrl_c_waits_until_the_files_are_in_place(folder, monkeypatch):
    swapped = swap.swap

    def interrupted(part, journal):
        os.kill(os.getpid(), signal.SIGINT)
        swapped(part, journal)

    monkeypatch.setattr(staging_module, "swap", interrupted)
    with pytest.raises(KeyboardInterrupt):
        publish(folder, {"rain.mid": b"1", "rain.wav": b"1"})
    assert names(folder) == [MANIFEST, "rain.mid", "rain.wav"]
    assert [path.name for path in folder.parent.iterdir()] == ["rain"]


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
    assert [path.name for path in tmp_path.iterdir()] == ["rain"]


def test_what_a_killed_build_left_is_cleared_and_a_living_build_is_not(tmp_path):
    leftover = tmp_path / ".rain~abcd1234.part"
    (leftover / "new").mkdir(parents=True)
    (leftover / "new" / "rain.wav").write_bytes(b"half")
    (tmp_path / ".rain.zip-abcd1234.part").write_bytes(b"half, by an earlier version")
    (tmp_path / ".mine.part").write_bytes(b"not a name of ours")
    with Staging(tmp_path / "rain") as living:
        living.stage().write("a", b"1")
        assert clear_leftovers(tmp_path) == 2
        assert living.staged_path("a").read_bytes() == b"1"
    assert [path.name for path in tmp_path.iterdir()] == [".mine.part"]


@pytest.mark.parametrize("code", [errno.ENOLCK, errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP])
def test_drives_without_locks(tmp_path, monkeypatch, code):
    def refused(handle, flags):
        raise OSError(code, os.strerror(code))

    monkeypatch.setattr(locks, "_flock", refused)
    folder = tmp_path / "rain"
    publish(folder, {"a": b"1"})
    assert (folder / "a").read_bytes() == b"1"
    with Staging(folder) as staging:
        assert not staging.has_locks
    young, old = (tmp_path / f".rain~{name}.part" for name in ("young123", "old12345"))
    for leftover in (young, old):
        leftover.mkdir()
    os.utime(old, (time.time() - 100_000,) * 2)
    assert clear_leftovers(tmp_path) == 1
    assert young.exists() and not old.exists()


def test_two_files_of_one_name_are_a_fault(tmp_path):
    with Staging(tmp_path / "rain") as staging:
        stage = staging.stage()
        stage.write("a", b"1")
        with pytest.raises(ValueError, match="made twice"):
            stage.write("a", b"2")


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
        stage = staging.stage()
        shutil.rmtree(out)
        stage.write("rain.mid", b"")


# Every call of publishing fails once, or from some call on for good; or the build is killed there.

CALLS = [
    (os, name)
    for name in (
        "open", "mkdir", "rename", "replace", "link", "unlink", "rmdir", "scandir", "stat", "lstat",
        "chmod", "fstat", "close",
    )
] + [(locks, "_flock")]  # fmt: skip


class Killed(BaseException):
    """The process is gone: nothing after it happens."""


def at_call(monkeypatch, number, act, *, once):
    """Have the calls of publishing counted, and one of them (or all from it on) do something else."""
    count, os_close = 0, os.close

    def wrapped(call):
        def counted(*words, **how):
            nonlocal count
            count += 1
            hit = number is not None and (count == number or (count > number and not once))
            if hit and call is os_close:
                call(*words, **how)  # a file is shut even if shutting it fails
            if hit:
                act()
            return call(*words, **how)

        return counted

    for module, name in CALLS:
        monkeypatch.setattr(module, name, wrapped(getattr(module, name)))
    exchange = swap.exchange
    if exchange.__name__ == "exchange":
        monkeypatch.setattr(swap, "exchange", wrapped(exchange))
    return lambda: count


OLD = {"rain.mid": b"old", "rain.tab.txt": b"old", "rain.wav": b"old"}
FRESH = {"rain.mid": b"new", "rain.tab.txt": b"new", "rain.pdf": b"new"}


def prepared(folder):
    """A folder with earlier files, one of them edited, and a file of its owner; and a zip."""
    publish(folder, OLD, archive=b"zip old")
    (folder / "mine.txt").write_bytes(b"mine")
    (folder / "scans").mkdir()
    (folder / "scans" / "page.png").write_bytes(b"page")
    (folder / "rain.tab.txt").write_bytes(b"edited")


def state(folder):
    """Whether folder and zip are old or new; everything of the owner's must be there."""
    found = contents(folder)
    assert found.pop("mine.txt") == b"mine" and found.pop("scans/page.png") == b"page"
    zip_data = folder.with_name("rain.zip").read_bytes()
    kept = f"rain.tab.kept-{time.strftime('%Y-%m-%d')}.txt"
    if found["rain.mid"] == b"old":
        assert found.pop("rain.tab.txt") == b"edited" and zip_data == b"zip old"
        assert found.keys() == {"rain.mid", "rain.wav", MANIFEST}
        return "old"
    assert found.pop(kept) == b"edited" and zip_data == b"zip new"
    assert {name: found[name] for name in FRESH} == FRESH and found.keys() == {*FRESH, MANIFEST}
    return "new"


def frozen(self):
    """What a killed process does to clear up: nothing; only its locks go."""
    self._lock.release()
    self._part = None


def every_call(folder, monkeypatch, act, *, once, dies=False):
    """Publish with something done at each call in turn; yields the number and what was raised."""
    number = 0
    while True:
        number += 1
        shutil.rmtree(folder.parent, ignore_errors=True)
        prepared(folder)
        raised = None
        with monkeypatch.context() as patch:
            if dies:
                patch.setattr(Staging, "close", frozen)
            counted = at_call(patch, number, act, once=once)
            try:
                publish(folder, FRESH, archive=b"zip new")
            except (OutputError, UnwritableFolderError, Killed) as error:
                raised = error
            total = counted()
        yield number, raised
        if total < number:
            assert raised is None and state(folder) == "new"
            return


def broken():
    raise OSError(errno.EIO, os.strerror(errno.EIO))


def test_a_call_that_fails_leaves_old_or_new(folder, monkeypatch):
    points = 0
    for number, error in every_call(folder, monkeypatch, broken, once=True):
        points = number
        found = state(folder)
        if error is not None:
            told = str(error)
            assert ("is new, but" in told) == (found == "new"), (number, told)
            assert "could not be put in place whole" not in told, (number, told)
        clear_leftovers(folder.parent)
        assert state(folder) == found
        assert {path.name for path in folder.parent.iterdir()} == {"rain", "rain.zip"}
    assert points > 80


def test_a_disk_that_fails_for_good_leaves_old_or_new_once_it_is_back(folder, monkeypatch):
    for number, error in every_call(folder, monkeypatch, broken, once=False):
        torn = error is not None and "could not be put in place whole" in str(error)
        if not torn:
            assert state(folder) in ("old", "new"), number
        clear_leftovers(folder.parent)
        assert state(folder) in ("old", "new"), number
        assert {path.name for path in folder.parent.iterdir()} == {"rain", "rain.zip"}


def test_a_build_killed_at_any_call_is_settled_by_the_next(folder, monkeypatch):
    def killed():
        raise Killed

    for number, _ in every_call(folder, monkeypatch, killed, once=False, dies=True):
        clear_leftovers(folder.parent)
        assert state(folder) in ("old", "new"), number
        assert {path.name for path in folder.parent.iterdir()} == {"rain", "rain.zip"}


def test_no_module_is_loaded_any_more_while_publishing(tmp_path, monkeypatch):
    """Where no more file can be opened, an import fails with other errors than a file does."""
    folder = tmp_path / "out" / "rain"
    prepared(folder)
    swapped, load = swap.swap, builtins.__import__

    def refused(name, *words):
        assert name in sys.modules, name
        return load(name, *words)

    def nothing_loads(part, journal):
        with monkeypatch.context() as patch:
            patch.delitem(sys.modules, "ctypes", raising=False)
            patch.setattr(builtins, "__import__", refused)
            swapped(part, journal)

    monkeypatch.setattr(staging_module, "swap", nothing_loads)
    publish(folder, FRESH, archive=b"zip new")
    assert state(folder) == "new"
    assert {path.name for path in folder.parent.iterdir()} == {"rain", "rain.zip"}


def test_a_system_whose_library_cannot_be_called_exchanges_in_two_steps(tmp_path, monkeypatch):
    folder = tmp_path / "out" / "rain"
    prepared(folder)
    monkeypatch.setattr(swap, "_LIBRARY", None)
    publish(folder, FRESH, archive=b"zip new")
    assert state(folder) == "new"
    assert {path.name for path in folder.parent.iterdir()} == {"rain", "rain.zip"}


def test_an_immutable_target_is_left_alone(folder, monkeypatch):
    """As where a file system refuses to rename over one file, whatever is tried."""
    prepared(folder)
    zip_path = folder.with_name("rain.zip")
    refused = PermissionError(errno.EPERM, os.strerror(errno.EPERM))
    for name in ("rename", "replace"):
        call = getattr(os, name)

        def guarded(source, target, *more, call=call, **how):
            if Path(source) == zip_path or Path(target) == zip_path:
                raise refused
            return call(source, target, *more, **how)

        monkeypatch.setattr(os, name, guarded)
    exchange = swap.exchange

    def exchanged(one, other):
        if zip_path in (one, other):
            raise refused
        return exchange(one, other)

    monkeypatch.setattr(swap, "exchange", exchanged)
    with pytest.raises(UnwritableFolderError, match="may not write"):
        publish(folder, FRESH, archive=b"zip new")
    assert state(folder) == "old"


@pytest.fixture
def steps(monkeypatch):
    """What publishing has brought to the disk, exchanged and removed, in order."""
    found = []
    sync, rename, exchange, rmtree = os.fsync, Path.rename, swap.exchange, shutil.rmtree

    def synced(handle):
        found.append(("on disk", Path(f"/proc/self/fd/{handle}").readlink().name))
        sync(handle)

    def exchanged(one, other):
        found.append(("exchanged", other.name))
        return exchange(one, other)

    def renamed(path, target):
        found.append(("renamed", Path(target).name))
        return rename(path, target)

    def removed(path, **how):
        found.append(("removed", "part"))
        rmtree(path, **how)

    monkeypatch.setattr(os, "fsync", synced)
    monkeypatch.setattr(swap, "exchange", exchanged)
    monkeypatch.setattr(Path, "rename", renamed)
    monkeypatch.setattr(shutil, "rmtree", removed)
    return found


def test_manifest_and_journal_are_on_the_disk_before_the_swap_and_it_before_the_old_goes(
    tmp_path, steps
):
    folder = tmp_path / "out" / "rain"
    for data, step in ((b"1", "renamed"), (b"2", "exchanged")):
        del steps[:]
        publish(folder, {"rain.mid": data})
        assert [what for what, _ in steps] == ["on disk"] * 4 + [step, "on disk", "removed"]
        on_disk = [name for what, name in steps if what == "on disk"]
        assert on_disk[:3] == [MANIFEST, "new", "journal.json.half"]
        assert on_disk[3].endswith(".part") and on_disk[4] == "out"


@pytest.mark.parametrize("number", [errno.EINVAL, errno.ENOSYS])
def test_a_drive_that_cannot_tell_what_is_on_it_is_no_fault(folder, monkeypatch, number):
    def refused(handle):
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, "fsync", refused)
    publish(folder, {"rain.mid": b"1"})
    assert names(folder) == [MANIFEST, "rain.mid"]


def test_a_manifest_that_does_not_reach_the_disk_changes_nothing(folder, monkeypatch):
    publish(folder, {"rain.mid": b"1"})
    before = contents(folder)

    def failing(handle):
        raise OSError(errno.EIO, "Input/output error")

    monkeypatch.setattr(os, "fsync", failing)
    with pytest.raises(OutputError, match="the disk reported an error"):
        publish(folder, {"rain.mid": b"2"})
    assert contents(folder) == before
    assert [path.name for path in folder.parent.iterdir()] == ["rain"]
