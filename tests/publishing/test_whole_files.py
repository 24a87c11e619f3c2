"""A lesson of several exercises, built: one folder, one sheet, one take after another."""

import io
import json
import re
from dataclasses import replace

import pretty_midi
import pypdf
import pytest
import soundfile

from genex.api import compose_recipe, lesson_files, read_recipe
from genex.compose import Composer
from genex.errors import InputError
from genex.publishing import upkeep
from genex.publishing.maker import prepare
from genex.publishing.whole_files import PAUSE_SECONDS, version_for
from genex.recipe import parse_recipe

LESSON = """\
title: Evening
aim: Two steps.
remarks: Slowly.
key: F
tempo: 240
parts: drums exercise
chords: Gm7 | C7
count_in: 1
outputs: midi take captions handout spoken
handout: {blocks: chart lines care}
audio: {format: wav16, rate: 44100}
exercises:
  - {title: Shapes, exercise: shapes, chords: C7, outputs: tab}
  - {title: Changes, exercise: changes, aim: One line.}
  - {title: The Same Again, exercise: changes, remarks: Once more., outputs: tab}
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return tmp_path_factory.mktemp("lesson")


@pytest.fixture
def evening(folder, genex, monkeypatch):
    """The lesson, built at its first use; what comes of a build of it."""
    monkeypatch.setenv("XDG_CACHE_HOME", str(folder / "cache"))

    def built(text=LESSON, *words):
        (folder / "evening.yaml").write_text(text)
        answer = genex("build", folder / "evening.yaml", "--out", folder / "out", *words)
        assert answer.code == 0, answer.err
        return answer.out

    built()
    return built


def test_all_files_lie_in_one_folder_with_one_manifest(evening, folder):
    made = folder / "out" / "evening"
    names = [
        "01-shapes.tab.txt", "02-changes.mid", "02-changes.vtt", "03-the-same-again.tab.txt",
        "evening.handout.pdf", "evening.spoken.html", "evening.take.mid", "evening.take.vtt",
        "evening.take.wav", "manifest.json",
    ]  # fmt: skip
    assert sorted(path.name for path in made.iterdir()) == names
    manifest = json.loads((made / "manifest.json").read_text())
    assert [file["name"] for file in manifest["files"]] == names[:-1]
    assert [one["slug"] for one in manifest["exercises"]] == [
        "01-shapes", "02-changes", "03-the-same-again",
    ]  # fmt: skip
    assert upkeep.verify(made) == (10, [])


def test_one_sheet_has_them_one_after_the_other(evening, folder):
    document = (folder / "out" / "evening" / "evening.handout.pdf").read_bytes()
    text = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(document)).pages)
    squeezed = re.sub(r"\s+", "", text)
    order = [
        "Evening", "Twosteps.", "1.Shapes", "2.Changes", "Oneline.", "3.TheSameAgain",
        "Thechartisthatofexercise2.", "Oncemore.", "Slowly.", "Handsandears",
    ]  # fmt: skip
    places = [squeezed.index(part) for part in order]
    assert places == sorted(places)
    assert squeezed.count("Handsandears") == squeezed.count("Abovethestaff:") == 1
    assert squeezed.count("tuningEADGBE") == 1


def test_the_take_has_each_after_a_pause_and_the_captions_announce_it(evening, folder):
    made = folder / "out" / "evening"
    sound, rate = soundfile.read(made / "evening.take.wav")
    cues = re.findall(
        r"(\d\d):(\d\d):([\d.]+) --> (\d\d):(\d\d):([\d.]+)\n(\d\. .*)",
        (made / "evening.take.vtt").read_text(),
    )
    assert [cue[-1] for cue in cues] == ["1. Shapes", "2. Changes", "3. The Same Again"]
    for cue in cues:
        begin, end = (int(cue[n + 1]) * 60 + float(cue[n + 2]) for n in (0, 3))
        pause = sound[round(begin * rate) : round((begin + PAUSE_SECONDS) * rate) - 64]
        assert abs(pause).max() < 1e-4, "silence to read it in"
        assert abs(sound[round(end * rate) : round((end + 0.5) * rate)]).max() > 0.05
        # Up to the first bar: the pause and a bar of four at 240, a second.
        assert end - begin == pytest.approx(PAUSE_SECONDS + 1, abs=0.002)


def test_midi_of_the_take_begins_each_where_it_sounds(evening, folder):
    """[package: pretty_midi 0.2]"""
    made = folder / "out" / "evening"
    sound, rate = soundfile.read(made / "evening.take.wav")
    heard = pretty_midi.PrettyMIDI(str(made / "evening.take.mid"))
    starts = re.findall(r"--> 00:(\d\d):([\d.]+).*\n\d\. ", (made / "evening.take.vtt").read_text())
    onsets = [note.start for one in heard.instruments for note in one.notes]
    for minutes, seconds in starts:
        first_bar = int(minutes) * 60 + float(seconds)
        assert min(abs(onset - first_bar) for onset in onsets) < 0.02
    quiet = [n.start for one in heard.instruments for n in one.notes if n.velocity > 20]
    for onset in quiet:
        assert abs(sound[round((onset - 0.005) * rate) : round((onset + 0.1) * rate)]).max() > 0.01
    assert heard.get_end_time() <= len(sound) / rate


def test_a_second_build_makes_nothing_and_a_change_only_what_it_touches(evening, folder, genex):
    assert "(unchanged)" in evening()
    (folder / "evening.yaml").write_text(LESSON.replace("One line.", "One long line."))
    told = genex(
        "build", folder / "evening.yaml", "--out", folder / "out", "--dry-run", "--why"
    ).out  # fmt: skip
    assert "01-shapes.tab.txt: up to date" in told
    assert "03-the-same-again.tab.txt: up to date" in told
    assert "02-changes.mid: settings changed: aim" in told
    assert "evening.handout.pdf: settings changed: exercises" in told


def test_what_is_made_of_a_text_is_what_a_build_writes(evening, folder):
    recipe = read_recipe(folder / "evening.yaml")
    (folder / "evening.yaml").write_text(LESSON)
    files = lesson_files(parse_recipe(LESSON))
    made = folder / "out" / "evening"
    assert sorted(files) == sorted(p.name for p in made.iterdir() if p.name != "manifest.json")
    assert all((made / name).read_bytes() == data for name, data in files.items())
    with pytest.raises(InputError, match="several exercises"):
        compose_recipe(recipe)


def test_a_series_may_hold_such_a_lesson(folder, genex):
    (folder / "two.yaml").write_text(
        LESSON.replace("midi take captions handout", "midi").replace("handout: {b", "# {b")
    )
    (folder / "term.yaml").write_text("title: Term\nlessons: [two.yaml, two.yaml]\n")
    answer = genex("build", folder / "term.yaml", "--out", folder / "series")
    assert answer.code == 0, answer.err
    made = folder / "series" / "term"
    for name in ("01-evening", "02-evening"):
        assert (made / name / "02-changes.mid").is_file() and (made / name / "manifest.json").is_file()
    assert json.loads((made / "manifest.json").read_text())["lessons"] == ["01-evening", "02-evening"]
    assert "    Changes: F major, 4/4, 240\n" in (made / "contents.txt").read_text()
    assert "in order: Term, 2 lessons\n" in genex("check", folder / "term.yaml").out


def test_the_whole_in_a_key_has_each_exercise_in_it_as_far_as_it_has_it():
    text = LESSON.replace("key: F", "key: F\nkeys: [F, Bb]\ntempos: [200, 240]").replace(
        "tempo: 240\n", ""
    )
    recipe = parse_recipe(text.replace("title: Shapes,", "title: Shapes, tempo: 90,"))
    shapes, changes, _ = recipe.exercises
    found = {
        whole.suffix: (version_for(shapes, whole).suffix, version_for(changes, whole).suffix)
        for whole in recipe.versions
    }
    assert found == {
        ".F.200": (".F", ".F.200"), ".F.240": (".F", ".F.240"),
        ".Bb.200": (".Bb", ".Bb.200"), ".Bb.240": (".Bb", ".Bb.240"),
    }  # fmt: skip


def test_the_page_comes_with_the_first_key_though_another_alone_is_made_anew():
    text = LESSON.replace("key: F", "keys: [F, Bb]").replace("midi take", "page take")
    job = prepare(parse_recipe(text))
    anew = replace(job, recipe=replace(job.recipe, versions=job.recipe.versions[1:]), whole=job.recipe)
    for one, kinds in ((job, {"page", "take"}), (anew, {"take"})):
        writer = one.writer(one.recipe.versions[0], None, Composer(one.recipe), None, print)
        assert kinds == {file.kind for file in writer.outline()} & {"page", "take"}
