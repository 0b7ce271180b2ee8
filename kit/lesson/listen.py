"""How do a few bars sound, now, before anything is saved?

The bars are played by the lesson's band at the level's tempo, without a count-in, and
encoded for the notebook. Nothing is kept.
"""

from __future__ import annotations

from dataclasses import replace

from kit.form.sections import Form, Section
from kit.lesson.audio import PAGE_KBPS, AudioFile, melody_program
from kit.lesson.lesson import Lesson
from kit.route.plan import Passage, plan_route
from kit.sound import find_soundfont
from kit.tune.model import Tune

__all__ = ["bars_audio"]


def bars_audio(
    lesson: Lesson, level: str, head: Tune, *, first: int, last: int, mix: str = "demo"
) -> AudioFile:
    """Play some bars of a melody with its changes.

    Parameters
    ----------
    lesson : Lesson
        Whose soloist and SoundFont are used.
    level : str
        Whose tempo and feel are used.
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
    from kit.band import perform  # noqa: PLC0415
    from kit.sound import encode_mp3, render_mixes  # noqa: PLC0415

    bars = _played_once(head, first, last)
    settings = lesson.level(level).settings
    pickup = 0 if bars.bars[0].pickup else None
    start = 0 if pickup is None else 1
    if start >= len(bars.bars):
        raise ValueError("a pick-up alone is not played; take a bar with it")
    form = Form((Section("", start, len(bars.bars) - 1, pickup),))
    route = plan_route(
        [Passage("head")],
        form=form,
        head=bars,
        order=range(len(bars.bars)),
        count_in_bars=0,
    )
    performance = perform(
        bars,
        route,
        feel=settings.feel,
        tempo_qpm=settings.tempo * float(bars.meter.pulse),
        melody_program=melody_program(lesson),
    )
    name = lesson.settings.soundfont
    font = find_soundfont(str(lesson.file(name)) if name else None)
    rendered = render_mixes(performance, (mix,), soundfont=font)[mix]
    return AudioFile(
        encode_mp3(rendered, bit_rate_kbps=PAGE_KBPS),
        rendered.seconds,
        rendered.lufs,
        rendered.true_peak_dbtp,
        rendered.soundfont,
    )


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
