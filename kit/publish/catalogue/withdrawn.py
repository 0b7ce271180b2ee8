"""Which outputs have no lesson any more, and what is the teacher told of them?

A lesson is withdrawn by removing or renaming its folder. Its output then leaves catalogue,
feeds and ``free-site.zip``, and ``kit prune`` removes it (`kit.build.prune`). Where it is
not sure that the lesson is gone (`kit.output.origins`), the output stays where it is, and
the teacher is told why.
"""

from __future__ import annotations

import os
import shlex
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from pathlib import Path

from kit.form.wording import listed
from kit.output.origins import Standing, standings
from kit.publish.catalogue._entries import manifest_paths

__all__ = [
    "kept_sentences",
    "named_outputs",
    "output_names",
    "withdrawn_lessons",
    "withdrawn_sentences",
]

_MOST_NAMES = 3
_MOST_CHARS = 40
DEFAULT_OUT = Path("build")


def output_names(out_root: Path) -> tuple[str, ...]:
    """List the lessons' outputs in an output folder."""
    return tuple(path.parent.name for path in manifest_paths(out_root))


def withdrawn_lessons(out_root: Path) -> frozenset[str]:
    """Name the outputs whose lesson was withdrawn."""
    return frozenset(
        standing.slug
        for standing in standings(out_root, output_names(out_root))
        if standing.kind == "withdrawn"
    )


def withdrawn_sentences(
    out_root: Path, *, built: Collection[str] | None = None
) -> Iterator[str]:
    """Say which outputs have no lesson, or none that can be found, and what to do.

    Parameters
    ----------
    out_root : Path
        Where ``kit build`` puts its folders.
    built : collection of str, optional
        The lessons there are, if all of them have just been built: then outputs of which
        nobody knows where they came from are told as well.
    """
    found = standings(out_root, output_names(out_root))
    gone = [standing.slug for standing in found if standing.kind == "withdrawn"]
    if gone:
        leaves, them, they = (
            ("has", "it", "it stands") if len(gone) == 1 else ("have", "them", "they stand")
        )
        yield (
            f"{out_root}: {named_outputs(gone)} {leaves} no lesson any more, so {they} "
            f"neither in the catalogue nor in feed.xml and free-site.zip; "
            f"{_prune(out_root)} removes {them}."
        )
    yield from kept_sentences(out_root, found)
    unknown = [
        standing.slug
        for standing in found
        if standing.kind == "unknown" and built is not None and standing.slug not in built
    ]
    if unknown:
        was, them = ("was", "it is") if len(unknown) == 1 else ("were", "they are")
        yield (
            f"{out_root}: the kit does not know from which folder {named_outputs(unknown)} "
            f"{was} built, so the catalogue keeps what is there; build from that folder "
            f"once, or remove the output if {them} withdrawn."
        )


def kept_sentences(out_root: Path, found: Iterable[Standing]) -> Iterator[str]:
    """Say why outputs stay although their lesson cannot be seen, once a folder."""
    why = {
        "out-of-reach": "is gone or cannot be read",
        "emptied": "holds no lesson any more, as where a drive is missing",
    }
    waiting: dict[tuple[str, Path], list[str]] = defaultdict(list)
    for standing in found:
        if standing.origin is None:
            continue
        if standing.kind in why:
            waiting[standing.kind, standing.origin.folder.parent].append(standing.slug)
        elif standing.kind == "unfinished":
            yield (
                f"{out_root}: {named_outputs([standing.slug])} stays in the catalogue, "
                f"because {_shown(standing.origin.folder)} still has files, but no "
                "lesson.toml; bring that back, or remove the folder to withdraw the lesson."
            )
    for (kind, parent), slugs in waiting.items():
        stays = "stays" if len(slugs) == 1 else "stay"
        extra = (
            f"; if they were withdrawn, {_prune(out_root)} --lessons "
            f"{shlex.quote(_shown(parent))} removes them"
            if kind == "emptied"
            else "; connect its drive, or remove what was withdrawn yourself"
        )
        yield (
            f"{out_root}: {named_outputs(slugs)} {stays} in the catalogue, because "
            f"{_shown(parent)}, where the lessons were, {why[kind]}{extra}."
        )


def named_outputs(slugs: Sequence[str]) -> str:
    """Name a few of some outputs, and say how many more there are."""
    names = [_short(slug) for slug in slugs[:_MOST_NAMES]]
    more = len(slugs) - len(names)
    return listed([*names, *([f"{more} more"] if more else [])])


def _short(name: str) -> str:
    return name if len(name) <= _MOST_CHARS else f"{name[: _MOST_CHARS - 1]}…"


def _shown(path: Path) -> str:
    """Write a path as seen from here, if that is shorter."""
    try:
        near = os.path.relpath(path)
    except ValueError:
        return str(path)  # another drive of Windows
    return min(near, str(path), key=len)


def _prune(out_root: Path) -> str:
    if out_root == DEFAULT_OUT:
        return "kit prune"
    return f"kit prune --out {shlex.quote(str(out_root))}"
