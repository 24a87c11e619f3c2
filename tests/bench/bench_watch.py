"""From a save to what is built of it: ``genex build --watch`` on lessons of 32 bars, each save another.

python -m tests.bench.bench_watch [SAVES]

The time runs from before the file is saved to the event that the folder is in place, in the first
process's eyes. *noticed and composed* ends when all is checked and the first version composed, *made*
when the files are staged, *published* when they are in place and noted. Beside each, what one change
of a start from nothing costs (``genex build`` anew), and the time on the processors that the watch took
for a save: on a busy machine that is what can be compared.
"""

from __future__ import annotations

import json
import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

SAVES = 20
STARTS = 3
CHORDS = ("Cmaj7", "C6", "Am7", "Em7", "Dm7", "Fmaj7")
CHART = "Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Cmaj7 | Cmaj7 |"
OUTPUTS = {  # and within how many seconds of nineteen saves in twenty
    "text": ("[midi, tab]", 0.2),
    "and one sound": ("[midi, tab, loop]", 0.5),
    "and two sounds": ("[midi, tab, loop, band]", 0.5),
}
GENEX = [sys.executable, "-m", "genex", "build", "long-evening.yaml"]


def recipe(outputs: str, number: int) -> str:
    """Another chord in the last bar each time."""
    last = CHORDS[number % len(CHORDS)]
    chart = " ".join([CHART] * 3 + [CHART.replace("Cmaj7 | Cmaj7", f"Cmaj7 | {last}")])
    return (
        f"title: Long Evening\nkey: C\ntempo: {120 + number % 3}\nfeel: swing\nchords: '{chart}'\n"
        f"exercise: arpeggio\noutputs: {outputs}\n"
    )


def processor_seconds(process: int) -> float:
    """Time on the processors of a process, in hundredths; 0 where the system does not tell."""
    try:
        fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    except OSError:
        return 0.0
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def follow(folder: Path, outputs: str, saves: int) -> tuple[list[dict[str, float]], float]:
    """Times of events after each save, in seconds, and processor time a save."""
    path = folder / "long-evening.yaml"
    path.write_text(recipe(outputs, 0))
    words = [*GENEX, "--watch", "--json"]
    found = []
    with subprocess.Popen(words, cwd=folder, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdout is not None

        def until_it_waits() -> dict[str, float]:
            times: dict[str, float] = {}
            for line in process.stdout or ():
                event = json.loads(line)["event"]
                times[event] = time.perf_counter()
                if event == "watching":
                    break
            return times

        until_it_waits()
        for number in range(1, saves + 2):
            time.sleep(0.1)
            part = path.with_name(".part")
            part.write_text(recipe(outputs, number))
            if number == 2:  # the first save fills what is kept
                before = processor_seconds(process.pid)
            start = time.perf_counter()
            part.replace(path)
            times = until_it_waits()
            found.append({event: when - start for event, when in times.items()})
        used = (processor_seconds(process.pid) - before) / saves
        process.terminate()
    return found[1:], used


SILENT_DEVICE = """
import threading, time, numpy as np
class PortAudioError(Exception):
    pass
class OutputStream:
    def __init__(self, samplerate, channels, dtype, callback):
        self.callback = callback
    def start(self):
        threading.Thread(target=self.turn, daemon=True).start()
    def turn(self):
        block = np.empty((480, 2), np.float32)
        while True:
            self.callback(block, 480, None, None)
            time.sleep(0.01)
    def close(self):
        pass
"""


def heard(folder: Path, saves: int) -> list[float]:
    """Seconds from each save of another chord until ``genex play`` has it in what sounds."""
    (folder / "device").mkdir()
    (folder / "device" / "sounddevice.py").write_text(SILENT_DEVICE)
    path = folder / "long-evening.yaml"
    path.write_text(recipe("[midi]", 0))
    places = [str(folder / "device"), os.environ.get("PYTHONPATH", "")]
    words = [sys.executable, "-m", "genex", "play", path.name]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, places))}
    found = []
    with subprocess.Popen(
        words, cwd=folder, stdout=subprocess.PIPE, text=True, env=environment
    ) as process:
        assert process.stdout is not None
        for _ in range(2):
            process.stdout.readline()
        for number in range(1, saves + 1):
            time.sleep(0.3)
            part = path.with_name(".part")
            part.write_text(recipe("[midi]", 3 * number).replace(CHORDS[0], CHORDS[number % 5 + 1], 1))
            start = time.perf_counter()
            part.replace(path)
            process.stdout.readline()
            found.append(time.perf_counter() - start)
        process.terminate()
    return sorted(found[1:])


def start_seconds(folder: Path, outputs: str) -> float:
    """Wall time of a build by a process that starts anew, median."""
    times = []
    for number in range(STARTS):
        (folder / "long-evening.yaml").write_text(recipe(outputs, number))
        start = time.perf_counter()
        subprocess.run(GENEX, cwd=folder, check=True, capture_output=True)
        times.append(time.perf_counter() - start)
    return statistics.median(times)


def main() -> None:
    """Print the table."""
    saves = int(sys.argv[1]) if len(sys.argv) > 1 else SAVES
    print(f"{saves} saves of a lesson of 32 bars, seconds; load {os.getloadavg()[0]:.1f}")
    print(f"{'':<16}{'median':>8}{'95 %':>8}{'wanted':>8}{'composed':>10}{'made':>8}{'published':>11}"
          f"{'processor':>11}{'anew':>8}{'ratio':>7}")  # fmt: skip
    for name, (outputs, wanted) in OUTPUTS.items():
        with tempfile.TemporaryDirectory() as place:
            times, used = follow(Path(place), outputs, saves)
            anew = start_seconds(Path(place), outputs)
        totals = sorted(one["built"] for one in times)
        middle = statistics.median(totals)
        high = totals[min(len(totals) - 1, round(0.95 * (len(totals) - 1)))]
        composed = statistics.median(one["started"] for one in times)
        made = statistics.median(one["lesson"] - one["started"] for one in times)
        published = statistics.median(one["built"] - one["lesson"] for one in times)
        print(f"{name:<16}{middle:>8.3f}{high:>8.3f}{wanted:>8.1f}{composed:>10.3f}{made:>8.3f}{published:>11.3f}"
              f"{used:>11.2f}{anew:>8.3f}{anew / middle:>7.1f}")  # fmt: skip
    with tempfile.TemporaryDirectory() as place:
        times_heard = heard(Path(place), saves)
    print(f"play, another chord heard: median {statistics.median(times_heard):.2f} s, "
          f"worst {times_heard[-1]:.2f} s")  # fmt: skip


if __name__ == "__main__":
    main()
