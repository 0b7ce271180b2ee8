"""Is this lesson fit to build? Every problem at once, not the first one only.

The checks go from the source to the parts: settings, notation files, levels, parts. A room
whose input is broken is left out, so that one cause gives one finding; what a level shares
with the tune or with the level before it is told once. Each question is a module of its
own; here they are put to the right music and their findings in order.

Findings are kept until the lesson is read anew, because the notebook asks for them with
every excerpt it draws.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from weakref import WeakKeyDictionary

from kit.check._breath import long_phrases
from kit.check._calls import call_findings
from kit.check._changes import missing_changes, proposed_changes
from kit.check._crossing import awkward_crossings
from kit.check._edits import level_errors
from kit.check._groove import WayIdentity, chords_in_the_way, feel_findings, told_of
from kit.check._key import key_findings
from kit.check._leaf import Leaf, leaf_of, leaves
from kit.check._media import media_findings
from kit.check._notebook import cells_of, notebook_findings
from kit.check._printing import notation_signs, prose_signs, settings_signs
from kit.check._reach import outside_comfort, outside_range
from kit.check._rights import rights_unclear
from kit.check._settings import level_order, notebook_missing
from kit.check._signs import sign_findings
from kit.check.finding import Finding, from_error, in_order
from kit.check.melody import ClashIdentity, clash_findings, clashes, melody_clashes
from kit.check.names import name_findings
from kit.errors import KitError
from kit.form.find import form_disagreement
from kit.instruments.part import Part
from kit.lesson.lesson import Lesson, open_lesson
from kit.lesson.level import Level
from kit.lesson.notebook import read_notebook
from kit.lesson.settings import LessonSettings
from kit.tune.pitch import Key

__all__ = ["check_lesson", "findings_beside", "lesson_findings"]


@dataclass(slots=True)
class _Kept:
    """What has been found out about an open lesson as it was read.

    `settings` tells whether it has been read anew since.
    """

    settings: LessonSettings
    everything: tuple[Finding, ...] | None = None
    beside: dict[tuple[str, str, Key | None], tuple[Finding, ...]] = field(
        default_factory=dict
    )


_KEPT: WeakKeyDictionary[Lesson, _Kept] = WeakKeyDictionary()


def _kept(lesson: Lesson) -> _Kept:
    kept = _KEPT.get(lesson)
    if kept is None or kept.settings is not lesson.settings:
        kept = _KEPT[lesson] = _Kept(lesson.settings)
    return kept


def check_lesson(folder: Path) -> tuple[Finding, ...]:
    """Give every finding about a lesson folder, errors first."""
    try:
        lesson = open_lesson(folder)
    except KitError as error:
        return (from_error(error, code="settings"),)
    return lesson_findings(lesson)


def lesson_findings(lesson: Lesson) -> tuple[Finding, ...]:
    """Give every finding about an open lesson, errors first; found once, then kept."""
    kept = _kept(lesson)
    if kept.everything is None:
        kept.everything = in_order(_everything(lesson))
    return kept.everything


def findings_beside(
    lesson: Lesson, level: str, instrument: str, *, concert_key: Key | None = None
) -> tuple[Finding, ...]:
    """Give what is to be said about one part, each finding with its bars on the sheet.

    Parameters
    ----------
    lesson : Lesson
        An open lesson.
    level, instrument : str
        Whose part.
    concert_key : Key, optional
        The key it is played in, if not the tune's own.

    Raises
    ------
    LessonError
        If there is no such part or it cannot be written.
    """
    kept = _kept(lesson)
    asked = (level, instrument, concert_key)
    if asked not in kept.beside:
        found = lesson.level(level)
        part = lesson.part(level, instrument, concert_key=concert_key)
        ways = chords_in_the_way(found)
        findings = [
            finding
            for leaf in leaves(lesson, found)
            for finding in (
                *sign_findings(leaf),
                *missing_changes(leaf),
                *key_findings(leaf),
                *melody_clashes(leaf),
                *told_of(ways, leaf),
                *_part_findings(leaf, [part], found),
            )
        ]
        # What has no bars stands in the list of all problems, not beside some of them.
        kept.beside[asked] = in_order(finding for finding in findings if finding.bars)
    return kept.beside[asked]


def _everything(lesson: Lesson) -> Iterator[Finding]:
    yield from notebook_missing(lesson)
    # A term ends by the calendar on the teacher's wall.
    yield from rights_unclear(lesson, date.today())
    yield from proposed_changes(lesson)
    yield from name_findings(lesson)
    yield from media_findings(lesson)
    yield from settings_signs(lesson)
    broken = set(lesson.level_names)
    yield from _music(lesson, broken)
    yield from _notebook(lesson, broken)


def _music(lesson: Lesson, broken: set[str]) -> Iterator[Finding]:
    """Say what there is to say about the notes; leave the levels that cannot be made."""
    try:
        tune, form = lesson.tune, lesson.form
        leaf = leaf_of(tune)
    except KitError as error:
        yield from_error(error, code="notation")
        return
    printed: set[str] = set()
    yield from _source_findings(leaf, printed)
    disagreement = form_disagreement(lesson.played, form)
    if disagreement:
        yield Finding("hint", disagreement, tune.source, code="form")
    yield from melody_clashes(leaf)
    heard = {clash.identity for clash in clashes(tune)}
    in_the_way: set[WayIdentity] = set()
    intact = []
    broken.clear()
    for name in lesson.level_names:
        errors = list(level_errors(lesson, name, broken=broken))
        yield from errors
        try:
            level = lesson.level(name)
        except KitError:
            # Reported just above, by its own words or by those of the level it builds on.
            broken.add(name)
            continue
        intact.append(level)
        yield from _level_findings(lesson, level, heard, printed)
        yield from _in_the_way(lesson, level, in_the_way)
    yield from feel_findings(lesson, intact)
    if not broken:
        for name in lesson.level_names:
            yield from _parts_of(lesson, lesson.level(name))
        yield from level_order(lesson)


def _notebook(lesson: Lesson, broken: Collection[str]) -> Iterator[Finding]:
    """Say what there is to say about the notebook, which is written by hand too."""
    path, source = lesson.folder / "lesson.ipynb", lesson.name_of("lesson.ipynb")
    if not path.is_file():
        return
    try:
        cells = cells_of(read_notebook(path, source=source), lesson)
    except KitError as error:
        yield from_error(error, code="notebook")
        return
    yield from notebook_findings(cells)
    yield from prose_signs(cells)
    intact = [name for name in lesson.level_names if name not in broken]
    yield from call_findings(lesson, cells, intact=intact)


def _source_findings(leaf: Leaf, printed: set[str]) -> Iterator[Finding]:
    """Say what there is to say about one notation file as it was read."""
    for notice in leaf.tune.notices:
        yield Finding(
            "hint", notice.rstrip("."), leaf.file, code="notice", level=leaf.level
        )
    yield from sign_findings(leaf)
    yield from notation_signs(leaf, printed)
    yield from missing_changes(leaf)
    yield from key_findings(leaf)


def _level_findings(
    lesson: Lesson, level: Level, heard: set[ClashIdentity], printed: set[str]
) -> Iterator[Finding]:
    """Say what a level brings that was not on the sheet before."""
    own_file = bool(level.settings.notation)
    for place, leaf in enumerate(leaves(lesson, level)):
        if own_file and place == 0:
            yield from _source_findings(leaf, printed)
        elif place or level.settings.edits:
            yield from notation_signs(leaf, printed)
        new = [clash for clash in clashes(leaf.tune) if clash.identity not in heard]
        heard.update(clash.identity for clash in new)
        yield from clash_findings(leaf, new)


def _in_the_way(lesson: Lesson, level: Level, told: set[WayIdentity]) -> Iterator[Finding]:
    """Say which chords are in the melody's way that were not at the level before."""
    new = [way for way in chords_in_the_way(level) if way.identity not in told]
    told.update(way.identity for way in new)
    for leaf in leaves(lesson, level):
        yield from told_of(new, leaf)


def _parts_of(lesson: Lesson, level: Level) -> Iterator[Finding]:
    parts = []
    for instrument in lesson.settings.instruments:
        try:
            parts.append(lesson.part(level.name, instrument.slug))
        except KitError as error:
            # An octave asked for in which the instrument has no such notes.
            yield from_error(error, code="settings")
    for leaf in leaves(lesson, level):
        yield from _part_findings(leaf, parts, level)


def _part_findings(leaf: Leaf, parts: Sequence[Part], level: Level) -> Iterator[Finding]:
    yield from outside_range(leaf, parts)
    yield from outside_comfort(leaf, parts)
    yield from long_phrases(leaf, parts, tempo_qpm=level.tempo_qpm)
    yield from awkward_crossings(leaf, parts, tempo_qpm=level.tempo_qpm)
