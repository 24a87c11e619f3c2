"""What a build tells: a bar on a terminal, a line a lesson in a pipe, events for programs."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path

import pytest

from genex import terminal

LESSON = "title: {title}\nchords: Gm7 | C7 |\nexercise: arpeggio\noutputs: [midi, tab]\n"


@pytest.fixture
def three(tmp_path: Path) -> list[Path]:
    paths = []
    for title in ("Rain", "Snow", "Hail"):
        path = tmp_path / f"{title.lower()}.yaml"
        path.write_text(LESSON.format(title=title))
        paths.append(path)
    return paths


def events_of(text: str) -> list[dict]:
    return [json.loads(line) for line in text.splitlines()]


def test_events_one_a_line(genex, three, tmp_path):
    answer = genex("build", *three, "--out", tmp_path / "out", "--json")
    assert (answer.code, answer.err) == (0, "")
    events = events_of(answer.out)
    assert events[0] == {"event": "started", "lessons": 3, "versions": 3}
    made = [one for one in events if one["event"] == "lesson"]
    assert [(one["title"], one["done"], one["left"]) for one in made] == [
        ("Rain", 1, 2), ("Snow", 2, 1), ("Hail", 3, 0),
    ]  # fmt: skip
    assert [one["folder"] for one in events if one["event"] == "built"] == [
        str(tmp_path / "out" / name) for name in ("rain", "snow", "hail")
    ]
    last = events[-1]
    assert (last["event"], last["recipes"], last["changed"], last["failed"]) == ("finished", 3, 3, 0)

    three[1].write_text(LESSON.format(title="Snow") + "tempo: 99\n")
    events = events_of(genex("build", *three, "--out", tmp_path / "out", "--json").out)
    assert [one["changed"] for one in events if one["event"] == "built"] == [False, False, True]
    assert (events[-1]["recipes"], events[-1]["changed"]) == (3, 1)


def test_a_fault_is_an_event_and_an_exit_code(genex, three, tmp_path):
    three[2].write_text("chords: Hm")
    answer = genex("build", *three, "--out", tmp_path / "out", "--json")
    (failed,) = events_of(answer.out)
    assert (answer.code, answer.err, failed["event"], failed["line"]) == (2, "", "failed", 1)


def test_a_line_a_lesson_in_a_pipe_and_none_if_quiet(genex, three, tmp_path):
    answer = genex("build", *three, "--out", tmp_path / "out")
    assert answer.err.splitlines() == ["1 of 3 made: Rain", "2 of 3 made: Snow", "3 of 3 made: Hail"]
    answer = genex("build", *three, "--out", tmp_path / "out", "--rebuild", "--quiet")
    assert (answer.out, answer.err) == ("", "")


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


def test_a_bar_with_lessons_and_time_left_on_a_terminal(monkeypatch, capsys):
    shown = Terminal()
    monkeypatch.setenv("COLUMNS", "100")
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(sys, "stderr", shown)
    progress = terminal.Progress()
    progress.begin(2, 4)
    progress.step("rain: the loop [bold]\x1b[2J")
    assert "0 of 2 lessons" in shown.getvalue() and "left" in shown.getvalue()
    assert "rain: the loop [bold]" in shown.getvalue() and "\x1b[2J" not in shown.getvalue()
    progress.version_made()
    progress.version_made()
    progress.lesson_made("Rain")
    assert "1 of 2 lessons" in shown.getvalue()
    progress.done("Rain: lessons/rain")
    assert capsys.readouterr().out == "Rain: lessons/rain\n"
    progress.version_made()
    progress.clear()
    end = len(shown.getvalue())
    progress.step("snow: the zip")  # a plain line again
    assert shown.getvalue()[end:] == "\rsnow: the zip"


def test_one_lesson_in_many_versions_counts_versions(monkeypatch):
    shown = Terminal()
    monkeypatch.setattr(sys, "stderr", shown)
    monkeypatch.setenv("TERM", "xterm")
    progress = terminal.Progress()
    progress.begin(1, 12)
    progress.version_made()
    assert "1 of 12 versions" in shown.getvalue()
    progress.clear()
    assert shown.getvalue().count("\n") == shown.getvalue().count("\x1b[1A")  # nothing stays
