"""``genex import``: bad files are refused with a place and nothing is written."""

import zipfile

import pytest

TUNE = 'X:1\nT:Ferry Steps\nM:4/4\nL:1/4\nK:G\nD|"G"G4|"Qx"A4|"D7"A4|"G"G3|]\n'
CONTAINER = '<container><rootfiles><rootfile full-path="a.xml"/></rootfiles></container>'
MEASURE = "<measure><note><rest/><duration>4</duration></note></measure>"


def test_a_recipe_is_written_once_and_passes_the_check(genex, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "t.abc").write_text(TUNE)
    answer = genex("import", "t.abc")
    assert answer.code == 0
    assert "ferry-steps.yaml: Ferry Steps, 4 bars of 4/4 in G major, from ABC" in answer.out
    assert "note: line 6: 'Qx' is not a chord that can be read" in answer.err
    assert genex("check", "ferry-steps.yaml").code == 0
    again = genex("import", "t.abc")
    assert again.code == 2
    assert "exists already" in again.err


@pytest.mark.parametrize(
    ("name", "data", "said"),
    [
        ("a.abc", b"\x00\x01MThd", "a.abc:1:1: the file holds no text"),
        ("a.musicxml", b"%PDF-1.5", "a.musicxml:1:"),
        ("a.musicxml", b'<!DOCTYPE a [\n<!ENTITY b "c">]>\n<a>&b;</a>', "a.musicxml:2:"),
        ("a.musicxml", b"<a>" * 1000, "too large"),
        (
            "a.musicxml",
            f"<score-partwise><part>{MEASURE * 10000}</part></score-partwise>".encode(),
            "1024",
        ),
        ("a.mxl", b"PK\x03\x04", "no compressed MusicXML"),
        ("a.mid", b"MThdxx", "not a Standard MIDI File"),
        ("a.txt", b"la la la", "no line of the file"),
        ("a.gif", b"GIF", "not a format"),
        # Too many bars in one bar of ABC; signs that nothing closes; a tune that no line is as long as.
        ("a.abc", TUNE.encode() + b"!a" * 20000, "1024 bars"),
        ("a.abc", TUNE.encode() + b"[" * 20000 + b"c", "more than 2000 signs"),
        ("a.abc", TUNE.encode() + b"{" * 20000 + b"c", "more than 2000 signs"),
        ("a.abc", b"X:1\nM:4/4\nL:1/4\nK:C\n" + b"cdef|" * 600, "longer than 512 bars"),
        ("a.abc", b"X:1\nM:4/4\nL:1/4\nK:C\n[CEGBdfac']4|", "cannot be held together"),
        ("a.abc", b"", "empty"),
    ],
)
def test_what_is_not_what_it_claims(genex, tmp_path, name, data, said):
    (tmp_path / name).write_bytes(data)
    answer = genex("import", tmp_path / name, "--out", tmp_path / "x.yaml")
    assert answer.code == 2
    assert said in answer.err
    assert not (tmp_path / "x.yaml").exists()


def test_a_zip_bomb_is_not_unpacked(genex, tmp_path):
    with zipfile.ZipFile(tmp_path / "a.mxl", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("META-INF/container.xml", CONTAINER)
        archive.writestr("a.xml", b" " * (20 << 20))
    answer = genex("import", tmp_path / "a.mxl", "--out", tmp_path / "x.yaml")
    assert answer.code == 2
    assert "unpacks to more than 4096 kB" in answer.err
