"""Put an earlier output of a lesson back in place, whole or not at all."""

from __future__ import annotations

from pathlib import Path

from kit.build._staging import add_manifest, staged
from kit.build.earlier import EarlierBuild, alone, drop, earlier_builds, put_back
from kit.errors import LessonError
from kit.output.place import OutputPlace, restored_place

__all__ = ["choose_earlier", "restore_earlier"]


def choose_earlier(root: Path, slug: str, number: int = 1) -> EarlierBuild:
    """Give one of the earlier builds of a lesson.

    Parameters
    ----------
    root : Path
        The out folder.
    slug : str
        The lesson's name.
    number : int >= 1
        1 is the last one before what is in place.

    Raises
    ------
    LessonError
        If there is none of that number.
    """
    builds = earlier_builds(root, slug)
    if not builds:
        raise LessonError(
            f"no earlier build of this lesson is kept in {root}",
            file=slug,
            remedy="name the folder that it was built to with --out",
        )
    if number > len(builds):
        raise LessonError(
            f"there is no earlier build {number}",
            file=slug,
            remedy=f"choose one from 1 to {len(builds)}; kit restore --list shows them",
        )
    return builds[number - 1]


def restore_earlier(root: Path, build: EarlierBuild) -> tuple[OutputPlace, tuple[str, ...]]:
    """Put an earlier build in place; what is there now is kept as an earlier one.

    Parameters
    ----------
    root : Path
        The out folder.
    build : EarlierBuild
        Of `earlier_builds`.

    Returns
    -------
    place : OutputPlace
        Where it is now.
    notices : tuple of str
        What is to be said about files that the kit did not write.

    Raises
    ------
    LessonError
        If it is not whole any more, or something else stands in its place. Nothing has been
        touched then.
    """
    place, manifest = restored_place(root, build.slug), build.manifest
    lost = LessonError(
        f"the build of {build.replaced:%Y-%m-%d %H:%M} UTC is no longer whole",
        file=build.slug,
        remedy="choose another; kit restore --list shows them",
    )
    if not manifest:
        raise lost
    with staged(place) as stage:
        if not put_back(build, place, stage.folder):
            raise lost
        add_manifest(stage.folder, manifest)
    with alone(place):
        drop(build)
    return place, stage.notices
