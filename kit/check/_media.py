"""Can the files and programs be used that a lesson's sound and pictures need?"""

from __future__ import annotations

import importlib.util
import os
import re
from collections.abc import Callable, Iterator

from kit.check.finding import Finding, from_error
from kit.errors import KitError
from kit.lesson.address import require_address
from kit.lesson.lesson import Lesson
from kit.lesson.publish_tables import require_video
from kit.tracks.audio import lesson_soundfont, read_cover

__all__ = ["media_findings"]

_LANGUAGE = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z]{2})?")


def media_findings(lesson: Lesson) -> Iterator[Finding]:
    """Yield an error for each thing that a build would not find, or could not use."""
    settings = lesson.settings
    yield from _refused("cover", lambda: read_cover(lesson))
    yield from _refused("soundfont", lambda: _sound(lesson))
    if settings.recording.videos:
        yield from _refused("video", require_video)
    if settings.address:
        yield from _refused(
            "settings", lambda: require_address(settings.address, source=settings.source)
        )
    if not _LANGUAGE.fullmatch(settings.language):
        yield Finding(
            "error",
            f'language = "{settings.language[:40]}" is no language of two or three letters',
            settings.source,
            remedy='write it as in "en" or "en-GB"',
            code="settings",
        )
    if not settings.title.strip():
        yield Finding(
            "error",
            "the title is empty",
            settings.source,
            remedy="give the lesson a title",
            code="settings",
        )


def _sound(lesson: Lesson) -> None:
    font = lesson_soundfont(lesson)
    ready = importlib.util.find_spec("midirenderer") and not os.environ.get("KIT_SYNTH")
    if font.packed and ready:
        return
    # Loads numpy, and only what is not our own font needs to be tried.
    from kit.sound.synth import require_sound  # noqa: PLC0415

    try:
        require_sound(font)
    except KitError as error:
        name = lesson.settings.soundfont
        raise error.within(file=lesson.name_of(name) if name else None) from error


def _refused(code: str, ask: Callable[[], object]) -> Iterator[Finding]:
    try:
        ask()
    except KitError as error:
        yield from_error(error, code=code)
