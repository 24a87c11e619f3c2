"""Pages of lessons put together into one, with the sounds that they share stored once.

A built page holds everything as data, so nothing is composed or rendered again. Of a recording that
several lessons have the longest stays. Lessons with another soundfont keep sounds of their own.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from typing import Any

from genex.page.document import document, words

_DATA = re.compile(r'<script type="application/json" id="lesson">(.*?)</script>', re.DOTALL)


def page_data(page: bytes) -> dict[str, Any]:
    """What a built page holds. Raises ValueError for a file that is none."""
    found = _DATA.search(page.decode("utf-8"))
    if found is None:
        raise ValueError("the file is no practice page")
    data: dict[str, Any] = json.loads(found[1])
    return data


def merged_page(title: str, pages: Sequence[bytes]) -> bytes:
    """One page of several, their lessons in order. Raises ValueError for a file that is none."""
    read = [page_data(page) for page in pages]
    language = read[0]["language"]
    sounds: dict[str, Any] | None = None
    fonts: list[str] = []
    for data in read:
        own = data["sounds"]
        if own is None:
            continue
        if own["font"] not in fonts:
            fonts.append(own["font"])
        place = fonts.index(own["font"])
        own = _named_apart(data, place) if place else own
        sounds = own if sounds is None else _joined(sounds, own)
    lessons = [lesson for data in read for lesson in data["lessons"]]
    merged = {
        **read[0],
        "title": title,
        "words": words(language),
        "lessons": lessons,
        "sounds": sounds,
    }
    return document(title, merged, language).encode()


def _joined(one: dict[str, Any], other: dict[str, Any]) -> dict[str, Any]:
    recordings = dict(one["recordings"])
    for name, recording in other["recordings"].items():
        if name not in recordings or recordings[name]["frames"] < recording["frames"]:
            recordings[name] = recording
    presets = dict(one["presets"])
    for name, preset in other["presets"].items():
        known = presets.get(name, {**preset, "voices": []})
        more = [voice for voice in preset["voices"] if voice not in known["voices"]]
        presets[name] = {**known, "voices": [*known["voices"], *more]}
    return {
        **one,
        "pilots": one["pilots"] | other["pilots"],
        "recordings": recordings,
        "presets": presets,
    }


def _named_apart(data: dict[str, Any], place: int) -> dict[str, Any]:
    """The sounds of another soundfont under names of their own, in the lessons too."""
    own = data["sounds"]
    for lesson in data["lessons"]:
        for setting in lesson["settings"]:
            named = [*setting["parts"], *([setting["tick"]] if setting["tick"] else [])]
            for one in named:
                one["preset"] = f"{place}: {one['preset']}"
    presets = {
        f"{place}: {name}": {
            **preset,
            "voices": [
                {**voice, "recording": f"{place}: {voice['recording']}"} for voice in preset["voices"]
            ],
        }
        for name, preset in own["presets"].items()
    }
    recordings = {f"{place}: {name}": one for name, one in own["recordings"].items()}
    return {**own, "presets": presets, "recordings": recordings}
