"""Start a lesson: from a notation file to a complete folder that the teacher goes on with.

What the music says is computed (form, key, drafted levels, the first words); what only the
teacher knows (rights, what is given away) is left open and marked so. Nothing here ever
writes into a lesson that exists: whatever the teacher has edited is theirs.

A tune that is read as it stands keeps its file, byte for byte; of a book of tunes the
lesson gets the text of the one that was chosen. Where the teacher chose another part than
the reader would, the chosen part alone is written as MusicXML. So is a tune whose uneven
bars are kept, each under the meter it fills: from then on the lesson is read as strictly as
any, and a new slip in it is told. A tune in a notation that music21 reads for us is written
as MusicXML too, so that the lesson can be opened at once. And so is one for which changes
are proposed; the file as it was given stays beside it, and ``lesson.toml`` says that they
are proposed.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import tempfile
import unicodedata
from collections.abc import Callable
from pathlib import Path

from kit.authoring._start_levels import start_levels
from kit.authoring._start_notebook import start_notebook, template
from kit.authoring.first_look import PLAIN_CHOICE, FirstLook, TuneChoice, first_look
from kit.errors import LessonError
from kit.lesson.settings import DEFAULT_INSTRUMENTS
from kit.levels.file import LevelFile, write_level_file
from kit.solo.sample import draft_solo
from kit.tune.musicxml.write import Layout, write_musicxml
from kit.tune.read import bytes_of, is_foreign
from kit.tune.tune_book import tune_alone
from kit.tune.unfold import unfolded

__all__ = ["slug_of", "start_lesson"]

_SLUG_CHARS = 60
_AS_GIVEN = "as-given"
"""What the file is called that a tune with proposed changes was made from."""


def _quietly(words: str) -> None:
    """Say nothing of what is being done."""


def start_lesson(
    file: Path,
    lessons: Path,
    *,
    title: str = "",
    choice: TuneChoice = PLAIN_CHOICE,
    look: FirstLook | None = None,
    say: Callable[[str], None] = _quietly,
) -> Path:
    """Make a lesson folder for a notation file.

    Parameters
    ----------
    file : Path
        Of any notation that `kit.tune.read` reads.
    lessons : Path
        The folder that holds the lessons; made if need be.
    title : str
        The lesson's title; the file's own if empty.
    choice : TuneChoice
        The part, the tune of a book, and whether uneven bars are kept.
    look : FirstLook, optional
        What `first_look` has found in the file, if that is at hand; title and choice are
        then those it was made with.
    say : callable
        Told what is being done, in words: a long tune takes some seconds.

    Returns
    -------
    Path
        The new folder.

    Raises
    ------
    NotationError
        If the file cannot be read, or is a book and no tune of it is chosen.
    LessonError
        If there is a lesson of that name already.
    """
    look = look or first_look(file, title=title, choice=choice)
    slug = slug_of(look.title)
    folder = lessons / slug
    if folder.exists():
        raise LessonError(
            f'there is a lesson "{slug}" already',
            file=str(folder),
            remedy="give the tune another title or move the old lesson away",
        )
    lessons.mkdir(parents=True, exist_ok=True)
    stage = Path(tempfile.mkdtemp(prefix=f".{slug}.", dir=lessons))
    try:
        name, notation = _notation(file, look)
        (stage / name).write_bytes(notation)
        if look.choice.propose_changes:
            given, notation = _copied(file, look, _AS_GIVEN)
            (stage / given).write_bytes(notation)
        _write(stage, look, tune_name=name, say=say)
        stage.chmod(0o755)
        stage.replace(folder)
    finally:
        shutil.rmtree(stage, ignore_errors=True)
    return folder


def slug_of(title: str) -> str:
    """Make a folder name of small ASCII letters, digits and hyphens from a title.

    Examples
    --------
    >>> slug_of("Café d'Été, No. 2")
    'cafe-dete-no-2'
    """
    words = title.replace("'", "").replace("’", "")
    plain = unicodedata.normalize("NFKD", words).encode("ascii", "ignore").decode().lower()
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:_SLUG_CHARS].strip("-")
    # A title without any Latin letter still needs a name that is its own.
    return slug or f"lesson-{hashlib.sha256(title.encode()).hexdigest()[:8]}"


def _notation(file: Path, look: FirstLook) -> tuple[str, bytes]:
    """Give the name and the content of the lesson's notation file."""
    choice = look.choice
    rewritten = choice.part is not None or choice.keep_uneven or choice.propose_changes
    if rewritten or is_foreign(file):
        # With the line breaks of the file and no others: the lesson's tune is this tune.
        kept = write_musicxml(look.tune, layout=Layout(bars_per_line=None))
        return "tune.musicxml", kept.encode()
    return _copied(file, look, "tune")


def _copied(file: Path, look: FirstLook, stem: str) -> tuple[str, bytes]:
    """Give the name and the content of the file as it is."""
    if look.choice.number is not None:
        return f"{stem}.abc", tune_alone(file, look.choice.number).encode()
    return f"{stem}{file.suffix.lower()}", bytes_of(file, file.name)


def _write(
    folder: Path, look: FirstLook, *, tune_name: str, say: Callable[[str], None]
) -> None:
    levels = start_levels(look.tune, look.form, say=say, feel=look.feel)
    (folder / "levels").mkdir()
    for level in levels:
        if level.file:
            text = write_level_file(LevelFile(level.below, level.edits))
            (folder / level.file).write_text(text, encoding="utf-8")
        if level.solo_file:
            say(f"Writing a sample solo, {level.name}")
            solo = draft_solo(
                unfolded(level.head),
                look.form,
                level=level.name,
                tempo_qpm=level.tempo * float(level.head.meter.pulse),
            )
            path = folder / level.solo_file
            path.write_text(write_musicxml(solo), encoding="utf-8")
    settings = template("lesson.toml.j2").render(
        title=look.title,
        composer=look.tune.composer,
        tune=tune_name,
        proposed=look.choice.propose_changes,
        instruments=DEFAULT_INSTRUMENTS,
        rights=look.tune.rights,
        sections=_ranges(look),
        sections_note=_sections_note(look),
        feel=look.feel,
        levels=levels,
    )
    (folder / "lesson.toml").write_text(settings, encoding="utf-8")
    say("Writing the notebook")
    notebook = start_notebook(look, levels)
    text = json.dumps(notebook, indent=1, ensure_ascii=False) + "\n"
    (folder / "lesson.ipynb").write_text(text, encoding="utf-8")


def _ranges(look: FirstLook) -> tuple[tuple[str, str], ...]:
    """Give the sections to be listed; none where the notation says them as they are."""
    if look.form.source == "marks" and len(look.proposals) == 1:
        return ()
    numbers = [bar.number for bar in look.played.bars]
    sections = look.form.sections
    return tuple((s.label, f"{numbers[s.first]}-{numbers[s.last]}") for s in sections)


def _sections_note(look: FirstLook) -> str:
    if look.form.source == "marks":
        return "As the letters of the notation say, which may only count."
    if len(look.proposals) > 1:
        return "The letters of the notation only count; these were found from the music."
    return "The notation marks no sections; these were found from the music."
