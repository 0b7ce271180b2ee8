"""How do a few bars sound, now, before anything is saved?

The bars are played by the lesson's band as the level is: at its tempo, in its feel and
those of its sections, with its kind of chords, its timing and its tuning. Count-in, intro
and ending belong to the route and are left out. Nothing is kept.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import groupby

from kit.form.sections import Form, Section
from kit.instruments.octave_apart import by_octaves
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.route.plan import Passage, plan_route
from kit.tracks.audio import PAGE_KBPS, AudioFile, takes_for
from kit.tracks.rendition import Rendition, rendition
from kit.tune.model import Tune

__all__ = ["bars_audio", "bars_rendition"]


def bars_audio(
    lesson: Lesson, level: str, head: Tune, *, first: int, last: int, mix: str = "demo"
) -> AudioFile:
    """Play some bars of a melody with its changes.

    Parameters
    ----------
    lesson : Lesson
        Whose soloist and SoundFont are used.
    level : str
        Whose tempo and band are used.
    head : Tune
        The melody, at concert pitch.
    first, last : int
        Indices of the first and last bar, both included.
    mix : str
        One of `kit.sound.mix_names`.

    Raises
    ------
    ValueError
        If there are no such bars, or there is only a pick-up among them.
    LessonError
        If the lesson has no such level.
    SetupError
        If SoundFont or synthesiser are missing.
    """
    # The numerical libraries are needed only where something is really rendered.
    from kit.sound.render import encode_mp3, render_mixes  # noqa: PLC0415

    performance = bars_rendition(lesson, level, head, first=first, last=last).perform()
    font = takes_for(lesson, level).font
    rendered = render_mixes(performance, (mix,), soundfont=font)[mix]
    return AudioFile.of(rendered, encode_mp3(rendered, bit_rate_kbps=PAGE_KBPS))


def bars_rendition(
    lesson: Lesson, level: str, head: Tune, *, first: int, last: int
) -> Rendition:
    """Plan how some bars are played; parameters and errors are those of `bars_audio`."""
    bars = _played_once(head, first, last)
    start = 1 if bars.bars[0].pickup else 0
    if start >= len(bars.bars):
        raise ValueError("a pick-up alone is not played; take a bar with it")
    labels = _labels(lesson.level(level))[first : last + 1]
    route = plan_route(
        [Passage("head")],
        form=_form_of(labels, start),
        head=bars,
        order=range(len(bars.bars)),
        count_in_bars=0,
    )
    part = lesson.part(level, lesson.settings.default_instrument)
    return replace(
        rendition(lesson, level),
        sheet=bars,
        solo_sheet=by_octaves(bars, part.octave_shift),
        route=route,
        # The last bar heard is hardly the tune's last: it rings instead of being cut off.
        stops=False,
    )


def _labels(level: Level) -> list[str]:
    """Give the section's label of each bar of the sheet, as first played."""
    labels = [""] * len(level.sheet.bars)
    for section in reversed(level.form.sections):
        for place in range(section.first, section.last + 1):
            labels[level.order[place]] = section.label
    return labels


def _form_of(labels: list[str], start: int) -> Form:
    """Make sections of bars in a row that bear the same label; a pick-up leads in."""
    runs = [
        (label, [index for index, _ in run])
        for label, run in groupby(list(enumerate(labels))[start:], key=lambda bar: bar[1])
    ]
    sections = [Section(label, run[0], run[-1]) for label, run in runs]
    if start:
        sections[0] = replace(sections[0], pickup=0)
    return Form(tuple(sections))


def _played_once(head: Tune, first: int, last: int) -> Tune:
    """Take the bars out, the chord in force with them, to be played straight through."""
    if not 0 <= first <= last < len(head.bars):
        raise ValueError(f"there are no bars {first} to {last}; there are {len(head.bars)}")
    bars = [
        replace(bar, repeat_start=False, repeat_times=0, endings=(), jumps=())
        for bar in head.bars[first : last + 1]
    ]
    bars[0] = replace(bars[0], chords=head.chords_in_force(first))
    return replace(head, bars=tuple(bars))
