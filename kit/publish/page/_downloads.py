"""Which files does the page offer to download, and what are they called there?

For each instrument its handouts and parts, one row a level; then each level's audio. Only
paths that the build says lie beside the page are offered, each written as an address.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from kit.lesson.settings import LessonSettings
from kit.output.href import path_href
from kit.publish.page.sound import MIXES, sound_files

__all__ = ["downloads"]

Link = dict[str, str]
_VARIANT_WORDS = {"a4": "A4", "letter": "US Letter", "large": "large print"}


def downloads(settings: LessonSettings, links: Sequence[str]) -> dict[str, Any]:
    """Group the files for the page's list.

    Parameters
    ----------
    settings : LessonSettings
        The lesson's instruments and levels.
    links : sequence of str
        Paths beside the page.

    Returns
    -------
    dict
        ``sheets``: for each instrument its levels with their links; ``sounds``: for each
        level its audio. Either may be empty.
    """
    titles = {row.name: row.title for row in settings.levels}
    sheets = []
    for instrument in settings.instruments:
        rows = [
            {"title": title, "links": found}
            for level, title in titles.items()
            if (found := list(_sheets(level, instrument.slug, links)))
        ]
        if rows:
            sheets.append(
                {"title": instrument.name, "instrument": instrument.slug, "rows": rows}
            )
    sounds = [
        {"title": title, "links": found}
        for level, title in titles.items()
        if (found := list(_sounds(level, links)))
    ]
    return {"sheets": sheets, "sounds": sounds} if sheets or sounds else {}


def _sheets(level: str, instrument: str, links: Iterable[str]) -> Iterator[Link]:
    handout = re.compile(
        rf"handouts/{re.escape(level)}-{re.escape(instrument)}"
        rf"(?P<variant>(?:-(?:{'|'.join(_VARIANT_WORDS)}))*)\.pdf"
    )
    for path in sorted(links, key=len):
        if match := handout.fullmatch(path):
            words = [_VARIANT_WORDS[word] for word in match["variant"].split("-") if word]
            text = ", ".join(["Handout", *words])
            yield _link(path, f"{text} (PDF)")
    part = f"parts/{level}-{instrument}.musicxml"
    if part in links:
        yield _link(part, "Part (MusicXML)")
    video = f"video/{level}-{instrument}.mp4"
    if video in links:
        yield _link(video, "Video (MP4)")


def _sounds(level: str, links: Sequence[str]) -> Iterator[Link]:
    for sound in sound_files(links, [level]):
        words = MIXES[sound.mix]
        if sound.tempo_percent != 100:
            words = f"{words}, {sound.tempo_percent} %"
        yield _link(sound.path, words)
    loop = re.compile(rf"audio/{re.escape(level)}-loop-(?P<name>[\w-]+)\.mp3")
    for path in sorted(links):
        if match := loop.fullmatch(path):
            yield _link(path, f"loop: {match['name'].replace('-', ' ')}")
    midi = f"midi/{level}.mid"
    if midi in links:
        yield _link(midi, "all parts (MIDI)")


def _link(path: str, text: str) -> Link:
    return {"href": path_href(path), "text": text}
