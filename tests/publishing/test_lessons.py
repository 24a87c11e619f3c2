"""One lesson's files: names, captions, answers, stems, and whose folder it is."""

import json
import signal

import numpy as np
import pytest
import soundfile

from genex.errors import InputError
from genex.publishing.staging import Staging
from tests.publishing.builds import build_all


@pytest.fixture
def build(tmp_path):
    """Build a recipe's text under a name and return its folder."""

    def run(text, name="rain"):
        path = tmp_path / f"{name}.yaml"
        path.write_text(text)
        for _ in build_all([path], tmp_path / "out", report=lambda step: None):
            pass
        (folder,) = (tmp_path / "out").iterdir()
        return folder

    return run


def manifest(folder):
    return json.loads((folder / "manifest.json").read_text())


def test_every_key_and_tempo_has_files_of_its_own(build):
    folder = build("title: Rain\nchords: Dm7 | G7\nkeys: [C, F]\ntempos: [90, 100.5]\noutputs: midi")
    found = {entry["name"]: (entry["key"], entry["tempo"]) for entry in manifest(folder)["files"]}
    assert found["rain.F.100.5.mid"] == ("F major", 100.5)
    assert len(found) == 4


def test_a_folder_of_another_recipe_is_left_alone(build):
    folder = build("title: Rain\nchords: C\noutputs: midi", "one")
    with pytest.raises(InputError, match=r"another recipe, one\.yaml") as caught:
        build("title: Rain\nchords: C\noutputs: tab", "two")
    assert caught.value.hint and (folder / "rain.mid").exists()


def test_stems_add_up_to_the_mix_before_its_gain(build):
    folder = build(
        "title: Rain\nchords: Gm7 | C7\ntempo: 160\noutputs: loop stems\n"
        "audio: {format: wav32f, passes: 2}"
    )
    files = {entry["name"]: entry for entry in manifest(folder)["files"]}
    loop, _ = soundfile.read(folder / "rain.wav")
    stems = [soundfile.read(folder / name)[0] for name in files if ".stem-" in name]
    assert len(stems) == 4
    assert {len(stem) for stem in stems} == {len(loop)}
    gain = 10 ** (files["rain.wav"]["gain_db"] / 20)
    difference = np.abs(sum(stems) * gain - loop)
    # The limiter may touch a few peaks; everywhere else the sum is the mix.
    assert np.quantile(difference, 0.9) < 1e-5  # -100 dBFS


def test_captions_of_calls_never_compete_and_show_the_answer_after_the_silence(build):
    folder = build(
        "title: Echo\nkey: Bb\nchords: Bbmaj7 | Gm7\nexercise: {kind: calls, calls: 3, bars: 1}\n"
        "outputs: captions answers"
    )
    blocks = (folder / "echo.vtt").read_text().strip().split("\n\n")[1:]
    times = [block.splitlines()[0].split(" --> ") for block in blocks]
    ends = [end.split()[0] for _, end in times]
    assert all(start >= end for (start, _), end in zip(times[1:], ends, strict=False))
    texts = [block.splitlines()[1].lower() for block in blocks]
    assert texts[0].startswith("listen") and texts[1].startswith("play")
    assert "it was:" not in texts[0] and "it was:" in texts[2]
    assert "♭" in (folder / "echo.vtt").read_text()


def test_the_sheet_of_a_call_track_keeps_the_answers_to_itself(build):
    import pypdf

    text = "title: Echo\nchords: C7 | F7\nexercise: {kind: calls, calls: 2}\noutputs: handout"
    folder = build(text)
    pages = pypdf.PdfReader(folder / "echo.handout.pdf").pages
    assert "Exercise" not in " ".join(page.extract_text() for page in pages)


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("chords: N.C.\nparts: drums\noutputs: diagrams", "3:10"),
        ("chords: C\ntuning: [G4]\nfrets: 5\nparts: drums\noutputs: diagrams", "5:10"),
        ("chords: C\nkeys: [C, E]\nexercise: {kind: arpeggio, position: 24}", "3:11"),
    ],
)
def test_what_cannot_be_made_is_found_before_anything_is_written(build, tmp_path, text, place):
    with pytest.raises(InputError) as caught:
        build(f"{text}\n")
    assert not (tmp_path / "out").exists()
    assert str(caught.value.place).endswith(f":{place}")


def test_a_soundfont_of_ones_own_that_is_none_is_pointed_at(build, tmp_path):
    (tmp_path / "mine.sf2").write_bytes(b"no soundfont")
    with pytest.raises(InputError) as caught:
        build("chords: C\naudio:\n  soundfont: mine.sf2\n")
    assert str(caught.value.place).endswith(":3:14")


def test_equal_choruses_are_one_repeat_in_musicxml(build):
    folder = build("title: Rain\nchords: Gm7 | C7\nrepeats: 2\nexercise: arpeggio\noutputs: musicxml\n")
    text = (folder / "rain.musicxml").read_text()
    assert '<repeat direction="backward"' in text
    assert text.count("<measure ") == 4  # two bars of two parts


@pytest.mark.parametrize("word", ["false", "true"])
def test_with_the_same_level_the_band_is_as_loud_in_every_loop(build, word):
    folder = build(
        "title: Rain\nchords: C | F\nparts: drums bass exercise\noutputs: loop band\n"
        f"audio: {{minus: drums, same_level: {word}}}\n"
    )
    files = {entry["name"]: entry for entry in manifest(folder)["files"]}
    assert len(files) == 3
    others = [entry for name, entry in files.items() if name != "rain.wav"]
    assert all(entry["integrated_lufs"] != -14.0 for entry in others) is (word == "true")
    assert (len({entry["gain_db"] for entry in files.values()}) == 1) is (word == "true")


def test_width_scales_the_difference_of_the_sides(build):
    sides = []
    for width in (0, 1, 2):
        folder = build(
            f"title: Rain\nchords: C | F\noutputs: stems\naudio: {{width: {width}, format: wav32f}}"
        )
        left, right = soundfile.read(folder / "rain.stem-comping.wav")[0].T
        sides.append(left - right)
    assert not sides[0].any()
    assert np.allclose(sides[2], 2 * sides[1], atol=1e-6) and sides[1].any()


def test_ctrl_c_as_soon_as_the_staging_folder_is_there_leaves_none(build, tmp_path, monkeypatch):
    opened = Staging.open

    def interrupted(self):
        opened(self)
        assert list((tmp_path / "out").glob(".rain~*.part"))
        signal.raise_signal(signal.SIGINT)

    monkeypatch.setattr(Staging, "open", interrupted)
    with pytest.raises(KeyboardInterrupt):
        build("title: Rain\nchords: C\noutputs: midi")
    assert list((tmp_path / "out").iterdir()) == []
