"""Start a lesson: from a notation file to a complete folder that the teacher goes on with.

What the music says is computed (form, key, drafted levels); what only the teacher knows
(rights, what is given away, the words) is left open and marked so.
"""

from __future__ import annotations

import hashlib
import json
import re
import shutil
import tempfile
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import jinja2

from kit.errors import LessonError
from kit.form import Form, find_form, form_facts
from kit.levels import LevelFile, draft_edits, write_level_file
from kit.tune import read_tune
from kit.tune.model import Tune
from kit.tune.unfold import unfolded

__all__ = ["slug_of", "start_lesson"]


def _one_line(value: object) -> object:
    """Keep a text from a notation file on its line: it may not start a cell or a table."""
    return " ".join(_CONTROLS.sub(" ", value).split()) if isinstance(value, str) else value


_CELLS = re.compile(r"^%% ", re.MULTILINE)
_CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f]")
_TEMPLATES = jinja2.Environment(
    loader=jinja2.PackageLoader("kit.lesson", "templates"),
    autoescape=False,  # noqa: S701 - TOML and Markdown, escaped by the filters below
    undefined=jinja2.StrictUndefined,
    finalize=_one_line,
)
_TEMPLATES.filters["toml"] = lambda text: json.dumps(_one_line(text), ensure_ascii=False)

# Words on the page that say how the tune is played, and the feel that does it.
_FEEL_WORDS = (
    ("bossa", "bossa-nova"),
    ("shuffle", "shuffle-blues"),
    ("ballad", "ballad"),
    ("swing", "medium-swing"),
)
_DRAFTED: tuple[tuple[str, Literal["intermediate", "advanced"]], ...] = (
    ("beginner", "intermediate"),
    ("intermediate", "advanced"),
)
_DEFAULT_TEMPO = 100
_TEMPO_RISE = {"beginner": 1.0, "intermediate": 1.1, "advanced": 1.4}


@dataclass(frozen=True, slots=True)
class _LevelDraft:
    name: str
    title: str
    tempo: int
    text: str
    route: tuple[str, ...]
    below: str = ""
    edits: str = ""


def start_lesson(file: Path, lessons: Path) -> Path:
    """Make a lesson folder for a notation file.

    Parameters
    ----------
    file : Path
        MusicXML, ABC or MIDI.
    lessons : Path
        The folder that holds the lessons; made if need be.

    Returns
    -------
    Path
        The new folder.

    Raises
    ------
    NotationError
        If the file cannot be read.
    LessonError
        If there is a lesson of that name already.
    """
    tune = read_tune(file, name=file.name)
    title = tune.title or file.stem.replace("-", " ").replace("_", " ").title()
    slug = slug_of(title)
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
        _write(stage, file, tune, title)
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
    slug = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
    # A title without any Latin letter still needs a name that is its own.
    return slug or f"lesson-{hashlib.sha256(title.encode()).hexdigest()[:8]}"


def _write(folder: Path, file: Path, tune: Tune, title: str) -> None:
    played = unfolded(tune)
    form = find_form(played)
    tune_name = f"tune{file.suffix.lower()}"
    shutil.copyfile(file, folder / tune_name)
    levels = tuple(_levels(folder, tune, form))
    settings = _TEMPLATES.get_template("lesson.toml.j2").render(
        title=title,
        composer=tune.composer,
        tune=tune_name,
        rights=tune.rights,
        sections=() if form.source == "marks" else tuple(_ranges(played, form)),
        feel=_feel(tune),
        levels=levels,
    )
    (folder / "lesson.toml").write_text(settings, encoding="utf-8")
    notebook = json.dumps(
        _notebook(title, played, form, levels), indent=1, ensure_ascii=False
    )
    (folder / "lesson.ipynb").write_text(notebook + "\n", encoding="utf-8")


def _levels(folder: Path, tune: Tune, form: Form) -> Iterator[_LevelDraft]:
    """Draft the levels, each over the one below, and write their edit lists."""
    beats = (tune.tempo_qpm or _DEFAULT_TEMPO) / float(tune.meter.pulse)
    whole = ('{ play = "head" }',)
    solo = (*whole, '{ play = "solo" }', '{ play = "head", tag = { bars = 2, times = 3 } }')
    yield _LevelDraft(
        "beginner", "Beginner", round(beats), "The plain melody. Learn it by heart.", whole
    )
    (folder / "levels").mkdir()
    for below, name in _DRAFTED:
        edits = draft_edits(tune, form, level=name)
        text = write_level_file(LevelFile("beginner", edits))
        (folder / f"levels/{name}.toml").write_text(text, encoding="utf-8")
        yield _LevelDraft(
            name,
            name.capitalize(),
            round(beats * _TEMPO_RISE[name]),
            "What changes from the level below is listed under the notes.",
            solo,
            below,
            f"levels/{name}.toml",
        )


def _ranges(played: Tune, form: Form) -> Iterator[tuple[str, str]]:
    for section in form.sections:
        first, last = played.bars[section.first].number, played.bars[section.last].number
        yield section.label, f"{first}-{last}"


def _feel(tune: Tune) -> str:
    words = tune.feel.lower()
    for word, feel in _FEEL_WORDS:
        if word in words:
            return feel
    if tune.meter.is_compound:
        return "six-eight"
    if _mostly_sevenths(tune):
        return "jazz-waltz" if tune.meter.beats == 3 else "medium-swing"
    return "straight-eighths"


def _mostly_sevenths(tune: Tune) -> bool:
    """Say whether most chords carry a seventh or more: the tune is likely to be swung."""
    sizes = [len(event.symbol.notes) for bar in tune.bars for event in bar.chords]
    return 2 * sum(size > 3 for size in sizes) > len(sizes) > 0


def _notebook(
    title: str, played: Tune, form: Form, levels: tuple[_LevelDraft, ...]
) -> dict[str, Any]:
    facts = form_facts(played, form)
    text = _TEMPLATES.get_template("starter.md.j2").render(
        title=title,
        key=str(played.key),
        form_sentence=facts.sentences[0],
        form_sentences=facts.sentences[1:],
        levels=levels,
    )
    return {
        "cells": [
            _cell(number, block) for number, block in enumerate(_CELLS.split(text)[1:])
        ],
        "metadata": {
            "kernelspec": {
                "display_name": "Python 3",
                "language": "python",
                "name": "python3",
            },
            "language_info": {"name": "python"},
        },
        "nbformat": 4,
        "nbformat_minor": 5,
    }


def _cell(number: int, block: str) -> dict[str, Any]:
    head, _, body = block.partition("\n")
    kind, *tags = head.split()
    cell: dict[str, Any] = {
        "cell_type": kind,
        "id": f"cell-{number:02}",
        "metadata": {"tags": tags} if tags else {},
        "source": body.strip().splitlines(keepends=True),
    }
    return cell | ({"execution_count": None, "outputs": []} if kind == "code" else {})
