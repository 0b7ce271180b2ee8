"""Edits that change when notes come and how long they are.

early, late, lengthen, shorten, repeat, leave out, displace. A note that comes early takes
its time from the note or rest before it; one that comes late leaves a rest, or is waited
for on the note before (``gap = "hold"``). Source: common practice of jazz phrasing.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from kit.levels.edit import Operation, Option, Site
from kit.levels.rewrite import Sound
from kit.levels.values import value_words
from kit.tune.model import Tune

__all__ = ["OPERATIONS"]


def _early(site: Site) -> Tune:
    by = site.length()
    sounds = list(site.sounds)
    place = site.place
    start = site.at - by
    site.require_way_back(start)
    _make_room(site, sounds, place, start)
    sounds[place] = replace(
        sounds[place], start=start, duration=sounds[place].duration + by
    )
    return site.rewritten(sounds)


def _make_room(site: Site, sounds: list[Sound], place: int, start: Fraction) -> None:
    """Cut the sound before `place` so that the next can begin at `start`."""
    if place == 0:
        return
    before = sounds[place - 1]
    if before.start >= start:
        raise site.refuse(
            f"there is no room to come early by {value_words(site.at - start)}: the note "
            f"before is only {value_words(before.duration)} long",
            "use a smaller value or leave that note out first",
        )
    if before.end > start:
        sounds[place - 1] = replace(before, duration=start - before.start)


def _late(site: Site) -> Tune:
    by = site.length()
    sounds = list(site.sounds)
    place = site.place
    sound = sounds[place]
    if by >= sound.duration:
        raise site.refuse(
            f"the note is only {value_words(sound.duration)} long and cannot come "
            f"{value_words(by)} late",
            "use a smaller value",
        )
    sounds[place] = replace(sound, start=sound.start + by, duration=sound.duration - by)
    if site.text("gap") == "hold" and place > 0 and sounds[place - 1].end == sound.start:
        before = sounds[place - 1]
        sounds[place - 1] = replace(before, duration=before.duration + by)
    return site.rewritten(sounds)


def _lengthen(site: Site) -> Tune:
    by = site.length()
    sounds = list(site.sounds)
    place = site.place
    sound = sounds[place]
    end = sound.end + by
    if end > site.end or (place + 1 < len(sounds) and sounds[place + 1].start < end):
        raise site.refuse(
            f"there is no rest of {value_words(by)} after the note to lengthen it into",
            "make room first: let the next note come late or leave it out",
        )
    sounds[place] = replace(sound, duration=sound.duration + by)
    return site.rewritten(sounds)


def _shorten(site: Site) -> Tune:
    by = site.length()
    sounds = list(site.sounds)
    sound = sounds[site.place]
    if by >= sound.duration:
        raise site.refuse(
            f"the note is only {value_words(sound.duration)} long and cannot be shortened "
            f"by {value_words(by)}",
            "use a smaller value",
        )
    sounds[site.place] = replace(sound, duration=sound.duration - by)
    return site.rewritten(sounds)


def _repeat(site: Site) -> Tune:
    times = site.count("times")
    sounds = list(site.sounds)
    place = site.place
    sound = sounds[place]
    each = sound.duration / times
    # What is written at the note belongs to its first stroke, the slur's end to its last.
    again = [
        replace(
            sound,
            start=sound.start + k * each,
            duration=each,
            graces=sound.graces if k == 0 else (),
            marks=sound.marks if k == 0 else (),
            slurs_started=sound.slurs_started if k == 0 else 0,
            slurs_ended=sound.slurs_ended if k == times - 1 else 0,
            lyrics=sound.lyrics if k == 0 else (),
            held_on=sound.held_on and k == times - 1,
        )
        for k in range(times)
    ]
    if each < Fraction(1, 4):
        raise site.refuse(
            f"{value_words(sound.duration)} is too short to be struck {times} times",
            "strike it fewer times",
        )
    return site.rewritten(sounds[:place] + again + sounds[place + 1 :])


def _leave_out(site: Site) -> Tune:
    sounds = list(site.sounds)
    gone = sounds.pop(site.place)
    # Without this note the other end of its slur would hang in the air.
    if gone.slurs_started != gone.slurs_ended:
        raise site.refuse(
            "a slur starts or ends on the note", "leave out a note inside the slur"
        )
    if len(sounds) == 0:
        raise site.refuse("it is the only note there is")
    return site.rewritten(sounds)


def _displace(site: Site) -> Tune:
    by, later = site.length(), site.text("to") == "later"
    place, count = site.place, site.count("notes")
    group = list(site.sounds[place : place + count])
    if len(group) < count:
        raise site.refuse(f"there are only {len(group)} notes from here on")
    rest = list(site.sounds[:place]) + list(site.sounds[place + count :])
    if later:
        following = site.sounds[place + count] if place + count < len(site.sounds) else None
        limit = site.end if following is None else following.start
        last = group[-1]
        if last.start + by >= limit:
            raise site.refuse(
                f"the last of the {count} notes has no room to come {value_words(by)} late",
                "move fewer notes or by less",
            )
        group[-1] = replace(last, duration=min(last.duration, limit - by - last.start))
        return site.rewritten(
            rest + [replace(sound, start=sound.start + by) for sound in group]
        )
    site.require_way_back(site.at - by)
    earlier = list(site.sounds[:place])
    _make_room(site, [*earlier, group[0]], place, site.at - by)
    if earlier and earlier[-1].end > site.at - by:
        cut = site.at - by - earlier[-1].start
        earlier[-1] = replace(earlier[-1], duration=cut)
    moved = [replace(sound, start=sound.start - by) for sound in group]
    return site.rewritten(earlier + moved + list(site.sounds[place + count :]))


_BY_EIGHTH = {"by": Option("value", "eighth")}

OPERATIONS = (
    Operation("early", "the note comes early and keeps its end", _early, _BY_EIGHTH),
    Operation(
        "late",
        "the note comes late and keeps its end",
        _late,
        {**_BY_EIGHTH, "gap": Option("choice", "rest", ("rest", "hold"))},
    ),
    Operation("lengthen", "the note lasts on into a rest", _lengthen, _BY_EIGHTH),
    Operation("shorten", "the note stops sooner", _shorten, _BY_EIGHTH),
    Operation(
        "repeat",
        "the note is struck again within its own length",
        _repeat,
        {"times": Option("count", 2, bounds=(2, 8))},
    ),
    Operation("leave out", "the note becomes a rest", _leave_out),
    Operation(
        "displace",
        "several notes move together",
        _displace,
        {
            **_BY_EIGHTH,
            "to": Option("choice", "later", ("later", "earlier")),
            "notes": Option("count", 3),
        },
    ),
)
