"""Modules that are executed at their first use."""

from __future__ import annotations

import subprocess
import sys


def test_a_lazy_module_is_executed_at_its_first_use_and_found_as_any_other() -> None:
    code = (
        "import sys\n"
        "from genex.lazy import lazy\n"
        "audio = lazy('genex.audio')\n"
        "assert 'numpy' not in sys.modules\n"
        "assert audio.Sound.__name__ == 'Sound'\n"
        "assert 'numpy' in sys.modules\n"
        "import genex.audio\n"
        "assert genex.audio is audio is lazy('genex.audio')\n"
    )
    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
