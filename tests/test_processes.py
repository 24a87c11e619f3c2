"""Processes that may be copied, and those that may not."""

import subprocess
import sys

CODE = """
import sys
from pathlib import Path
from genex import write_lesson
from genex.processes import may_be_copied

if __name__ == "__main__":
    recipe = Path(sys.argv[1]) / "rain.yaml"
    recipe.write_text("title: Rain\\nchords: Dm7 | G7\\ntempos: [100, 120]\\noutputs: midi handout\\n")
    print(may_be_copied())
    write_lesson(recipe, Path(sys.argv[1]) / "one")
    print(may_be_copied())
    write_lesson(recipe, Path(sys.argv[1]) / "two", processes=2)
    print("done")
"""


def test_a_process_that_has_set_a_page_starts_new_ones_instead_of_copies(tmp_path):
    """The typesetter's threads are not there in a copy: it would wait for them for ever."""
    script = tmp_path / "two_lessons.py"
    script.write_text(CODE)
    run = subprocess.run(
        [sys.executable, str(script), str(tmp_path)], capture_output=True, text=True, timeout=120
    )
    assert run.stdout.split() == [str(sys.platform == "linux"), "False", "done"], run.stderr
    one, two = (sorted((tmp_path / name / "rain").iterdir()) for name in ("one", "two"))
    assert [path.name for path in one] == [path.name for path in two]
