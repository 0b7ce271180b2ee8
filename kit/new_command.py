"""The command ``kit new``: from a file to a lesson folder.

What the file leaves open is said on standard error; the folder's place goes to standard
output, so that a script can take it.
"""

from __future__ import annotations

from pathlib import Path

import click

from kit.command import PathArgument, sentences
from kit.errors import UnevenBarError
from kit.terminal import echo

__all__ = ["LESSONS", "new"]

LESSONS = Path("lessons")


@click.command()
@click.argument("file", type=PathArgument(exists=True, dir_okay=False))
@click.option(
    "--lessons",
    "lessons_dir",
    type=PathArgument(file_okay=False),
    default=LESSONS,
    show_default=True,
    help="Where the lesson folder is made.",
)
@click.option("--title", default="", help="The lesson's title [default: the file's own].")
@click.option("--part", help="The melody part of a score with several.")
@click.option(
    "--tune",
    "tune_number",
    type=click.IntRange(0),
    metavar="NUMBER",
    help="Which tune of an ABC book of several, by its number (X:).",
)
@click.option(
    "--keep-uneven",
    is_flag=True,
    help="Give a bar that does not add up the meter it fills, instead of refusing it.",
)
@click.option(
    "--propose-chords",
    is_flag=True,
    help="Propose changes for a melody that has none; the lesson says they are proposed.",
)
@click.option(
    "--file-letters",
    is_flag=True,
    help="Take the file's letters for the form, even where they only count.",
)
@click.option(
    "--feel", default="", metavar="NAME", help="How the band plays [default: by the file]."
)
@sentences
def new(  # noqa: PLR0913 - one for each option
    *,
    file: Path,
    lessons_dir: Path,
    title: str,
    part: str | None,
    tune_number: int | None,
    keep_uneven: bool,
    propose_chords: bool,
    file_letters: bool,
    feel: str,
) -> None:
    """Start a lesson folder from a notation FILE and print where it is."""
    from kit.authoring.first_look import (  # noqa: PLC0415
        TuneChoice,
        can_keep_uneven,
        first_look,
    )
    from kit.authoring.start import start_lesson  # noqa: PLC0415
    from kit.build.progress import shown_steps  # noqa: PLC0415

    choice = TuneChoice(
        part=part,
        number=tune_number,
        keep_uneven=keep_uneven,
        propose_changes=propose_chords,
        file_letters=file_letters,
        feel=feel,
    )
    with shown_steps() as say:
        say("Reading the tune and finding its form")
        try:
            look = first_look(file, title=title, choice=choice)
        except UnevenBarError as error:
            if can_keep_uneven(file, choice):
                keep = "keep uneven bars as they are with --keep-uneven"
                error.remedy = f"{error.remedy}, or {keep}"
            raise
        folder = start_lesson(file, lessons_dir, look=look, say=say)
    for doubt in look.doubts:
        echo(f"kit: worth a look: {doubt}", err=True)
    if not look.chord_count:
        echo("kit: changes can be proposed with --propose-chords", err=True)
    if len(look.proposals) > 1 and not file_letters:
        echo("kit: --file-letters takes the letters as they are", err=True)
    echo(str(folder))
