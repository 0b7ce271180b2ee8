"""The catalogue of a school's lessons: pages to search and filter, course paths, feeds.

What is written beside the lessons' folders:

``index.html``, ``feed.xml``
    The members' catalogue and feed.
``public/index.html``
    The public catalogue, to look at here.
``free-site.zip``
    The same for the root of a public site, with its feed: each lesson's ``free.zip`` goes
    into a folder of the lesson's name beside it.

A file whose bytes would be the same is left untouched, and one that the kit did not write,
or that somebody has changed, is refused before anything is written
(`kit.output.own_files`). Lessons that were withdrawn are left out
(`kit.publish.catalogue.withdrawn`).
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from markupsafe import Markup

from kit.cache import default_cache
from kit.figures.written import length_words
from kit.output.href import path_href
from kit.output.own_files import replace_own_files
from kit.output.seal import GENERATOR, ownership, sealed
from kit.publish._html_files import asset, script, template
from kit.publish._wording import feel_words
from kit.publish.bundles import zip_bytes
from kit.publish.catalogue._entries import (
    Course,
    Entry,
    EntryLevel,
    courses,
    manifest_paths,
    public_view,
    read_entries,
)
from kit.publish.catalogue._feed import atom_feed
from kit.publish.catalogue.withdrawn import withdrawn_lessons

__all__ = ["FILES", "catalogue_html", "write_catalogue"]

LONG_PAGE = 20
"""From more lessons than this on, a list of the paths stands above them."""
FILES = ("index.html", "public/index.html", "feed.xml", "free-site.zip")
"""What is written, below the output folder."""
GIVEN = ("public/index.html", "free-site.zip")
"""What of it anybody may see."""
_MOST_TRIES = 20
_FLAT_AND_SHARP = str.maketrans({"♭": "b", "♯": "#"})


def write_catalogue(out_root: Path) -> tuple[str, ...]:
    """Write the catalogue of what lies in an output folder.

    Parameters
    ----------
    out_root : Path
        Where ``kit build`` puts its folders.

    Returns
    -------
    tuple of str
        Lessons left out because their manifest is of another version or damaged.

    Raises
    ------
    LessonError
        If the place of one of its files holds something else, or a public file would hold
        words of a lesson's members; nothing is touched then.
    """
    # Another build may put a lesson in place meanwhile, and write its catalogue before this
    # one: whoever writes last has to have seen everything.
    for _ in range(_MOST_TRIES):
        before = _read_state(out_root)
        left_out = _write_once(out_root)
        if _read_state(out_root) == before:
            break
    return left_out


def _read_state(out_root: Path) -> set[tuple[str, int, int]]:
    """Tell the manifests of an output folder from others."""
    found = set()
    for path in manifest_paths(out_root):
        with suppress(FileNotFoundError):  # its folder is being replaced
            stat = path.stat()
            found.add((path.parent.name, stat.st_mtime_ns, stat.st_size))
    return found


def _write_once(out_root: Path) -> tuple[str, ...]:
    gone = withdrawn_lessons(out_root)
    read, damaged = read_entries(out_root)
    entries = [entry for entry in read if entry.slug not in gone]
    left_out = tuple(name for name in damaged if name not in gone)
    # Without a lesson there is a catalogue only if there was one, which must not go on
    # listing what was withdrawn; and damaged manifests are no reason to empty it.
    if entries or (not left_out and any(_is_ours(out_root / name) for name in FILES)):
        contents = _contents(entries)
        _prove(out_root, {name: contents[name] for name in GIVEN})
        replace_own_files(out_root, contents)
    return left_out


def _is_ours(path: Path) -> bool:
    return ownership(path) in ("own", "earlier")


def _contents(entries: Sequence[Entry]) -> dict[str, bytes | None]:
    """Make the files, by their paths below the output folder; None for no file."""
    public = public_view(entries)
    school = _school(entries)
    feed = atom_feed(entries, school=school, audience="members")
    public_feed = atom_feed(public, school=school, audience="public")
    texts = {
        "index.html": catalogue_html(
            entries, link="{}/index.html", has_feed=feed is not None
        ),
        "public/index.html": catalogue_html(
            public, link="../{}/public/index.html", has_feed=False
        ),
        "feed.xml": feed,
    }
    site = {
        "index.html": catalogue_html(
            public, link="{}/index.html", has_feed=public_feed is not None
        ),
        "feed.xml": public_feed,
    }
    return {
        **{name: sealed(text) if text else None for name, text in texts.items()},
        "free-site.zip": zip_bytes({name: sealed(t) for name, t in site.items() if t}),
    }


def _school(entries: Iterable[Entry]) -> str:
    """Give the school most lessons are by."""
    names = Counter(entry.school for entry in entries if entry.school)
    return names.most_common(1)[0][0] if names else ""


def _prove(out_root: Path, given: Mapping[str, bytes | None]) -> None:
    """Make sure that public files hold no words of a lesson's members."""
    changed = {
        name: data
        for name, data in given.items()
        if data is not None and _would_change(out_root / name, data)
    }
    if changed:
        # Where nothing changes this large room is not needed.
        from kit.publish.leaks.proof import prove_catalogue  # noqa: PLC0415

        prove_catalogue(out_root, changed, default_cache())


def _would_change(path: Path, data: bytes) -> bool:
    return not path.is_file() or path.read_bytes() != data


def catalogue_html(entries: Sequence[Entry], *, link: str, has_feed: bool) -> str:
    """Write a catalogue page that needs nothing beside it but the lessons.

    Parameters
    ----------
    entries : sequence of Entry
        As the audience may see them.
    link : str
        How a lesson's page is reached from here; ``{}`` stands for its slug, as an
        address has it.
    has_feed : bool
        Whether ``feed.xml`` lies beside the page.
    """
    school = _school(entries)
    languages = Counter(entry.language for entry in entries)
    paths = courses(entries)
    others = [entry for entry in entries if not entry.course]
    others_title = "More lessons" if paths else "All lessons"
    return template("catalogue.html.j2").render(
        generator=GENERATOR,
        language=languages.most_common(1)[0][0] if languages else "en",
        school=school,
        css=Markup(asset("page.css", "catalogue.css")),  # noqa: S704 - our own files
        script=Markup(script("store.js", "catalogue.js")),  # noqa: S704 - our own files
        has_feed=has_feed,
        total=len(entries),
        choices=_choices(entries),
        paths=[
            {
                "title": path.title,
                "rows": [_row(entry, link) | {"adds": adds} for entry, adds in path.steps],
            }
            for path in paths
        ],
        others=[_row(entry, link) | {"adds": ""} for entry in others],
        others_title=others_title,
        ways=_ways(paths, (others_title, len(others))) if len(entries) > LONG_PAGE else [],
    )


def _ways(paths: Iterable[Course], others: tuple[str, int]) -> list[dict[str, Any]]:
    """List the paths of a long page, to go to; none where there is but one."""
    ways = [
        {"id": f"path-{number}", "title": path.title, "count": len(path.steps)}
        for number, path in enumerate(paths, start=1)
    ]
    title, count = others
    if count:
        ways.append({"id": "others", "title": title, "count": count})
    return ways if len(ways) > 1 else []


def _choices(entries: Sequence[Entry]) -> dict[str, Any]:
    """List what the filters offer: what at least one lesson has."""
    levels: dict[str, str] = {}
    players: dict[str, str] = {}
    for entry in entries:
        levels |= {level.name: level.title for level in entry.levels}
        players |= {instrument.slug: instrument.name for instrument in entry.instruments}
    every = [level for entry in entries for level in entry.levels]
    return {
        "level": list(levels.items()),
        "instrument": list(players.items()),
        "key": _sorted(entry.key for entry in entries),
        "form": _sorted(entry.form for entry in entries),
        "feel": [(feel, feel_words(feel)) for feel, _ in _sorted(x.feel for x in every)],
        "slowest": min((level.tempo for level in every), default=0),
        "fastest": max((level.tempo for level in every), default=0),
    }


def _sorted(values: Iterable[str]) -> list[tuple[str, str]]:
    return [(value, value) for value in sorted(set(values))]


def _row(entry: Entry, link: str) -> dict[str, Any]:
    facts = {
        "slug": entry.slug,
        "key": entry.key,
        "form": entry.form,
        "keys": {instrument.slug: instrument.key for instrument in entry.instruments},
        "levels": [
            {
                "level": level.name,
                "feel": level.feel,
                "tempo": level.tempo,
                "difficulty": level.difficulty,
            }
            for level in entry.levels
        ],
        "words": _searched(entry),
    }
    return {
        "title": entry.title,
        "composer": entry.composer,
        "summary": entry.summary,
        "href": link.format(path_href(entry.slug)),
        "about": f"{entry.key}, {entry.form_name}, {entry.meter}",
        "levels": [_level_words(level) for level in entry.levels],
        "locked": entry.locked,
        "facts": json.dumps(facts, ensure_ascii=False, separators=(",", ":")),
    }


def _level_words(level: EntryLevel) -> dict[str, str]:
    return {
        "name": level.name,
        "title": level.title,
        "words": f"{level.tempo:g} beats a minute, {feel_words(level.feel)}, "
        f"{length_words(level.seconds)}, difficulty {level.difficulty:.1f} of 10",
    }


def _searched(entry: Entry) -> str:
    """Join the words a search looks through; keys also as they are typed (``Eb``)."""
    parts = [
        entry.title,
        entry.composer,
        entry.summary,
        entry.key,
        entry.form,
        entry.form_name,
        entry.course,
        *(f"{level.title} {feel_words(level.feel)}" for level in entry.levels),
        *(level.summary for level in entry.levels),
    ]
    text = " ".join(parts)
    keys = f"{entry.key.translate(_FLAT_AND_SHARP)}"
    return f"{text} {keys}".lower()
