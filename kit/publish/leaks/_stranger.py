"""What does a stranger see? One page for the teacher that lists all that is given away.

Every file with its size, every sentence of the public page and the free handouts, every
second of sound, every picture; and what stays with the members, in a line a level. It is
made from the finished files, not from what was meant to be in them.
"""

from __future__ import annotations

import base64
import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from html import escape
from pathlib import Path
from typing import Any

from markupsafe import Markup

from kit.cache import Cache, code_fingerprint, fingerprint
from kit.figures.written import length_words
from kit.form.wording import bars_words, counted, listed
from kit.lesson.lesson import Lesson
from kit.lesson.level import Level
from kit.publish._html_files import asset, page_css, template
from kit.publish.leaks._given import announced_texts
from kit.publish.leaks._kept import kept_through
from kit.publish.leaks._piece import Piece
from kit.publish.leaks._prints import prints_of
from kit.publish.leaks._reading import pieces
from kit.publish.leaks._rules import Cell, Rules
from kit.publish.leaks._sentences import Prose, html_sentences, is_words, pdf_sentences
from kit.publish.leaks._sound import sound_seconds
from kit.publish.page.sound import MIXES

__all__ = ["PAGE", "stranger_page"]

PAGE = "teacher/what-a-stranger-sees.html"
_KINDS = {
    "page": "the public page", "handout": "handout", "audio": "sound", "loop": "loop",
    "part": "part (MusicXML)", "midi": "all parts (MIDI)", "timing": "bars and seconds",
    "chapters": "chapters", "captions": "captions", "video": "video",
    "bundle": "all of these", "stems": "sound for the page",
    "notation": "notes for the page", "program": "program of the page",
}  # fmt: skip
_PLURALS = {
    "handout": "handouts", "part": "parts", "audio": "sound", "midi": "MIDI files",
    "loop": "loops", "timing": "timing files", "chapters": "chapters",
    "captions": "captions", "video": "videos",
}  # fmt: skip
_LARGEST_SHOWN = 300_000
Entry = Mapping[str, Any]
Group = dict[str, Any]


def stranger_page(
    lesson: Lesson,
    rules: Rules,
    cells: Sequence[Cell],
    entries: Iterable[Entry],
    stage: Path,
    cache: Cache,
) -> bytes:
    """Write the page, or take it from the cache if nothing that it tells of has changed.

    Parameters
    ----------
    lesson, rules, cells
        The lesson, what is given away of it, and its notebook.
    entries : iterable of mapping
        The files of the build, as the manifest describes them.
    stage : Path
        Where they lie.
    cache : Cache
        Keeps the page.
    """
    given = sorted((e for e in entries if e["tier"] == "free"), key=lambda e: e["path"])
    told = [(cell.number, cell.standing, cell.source) for cell in cells]
    routes = [(level.name, level.route, level.tempo_qpm) for level in lesson.levels]
    key = fingerprint(
        "what a stranger sees", code_fingerprint(), given, told, lesson.settings, routes
    )
    return kept_through(
        cache,
        key,
        lambda: _page(lesson, rules, cells, given, stage, cache).encode(),
        _page_of,
    )


def _page_of(entry: bytes) -> bytes:
    if not entry.lstrip()[:9].lower() == b"<!doctype":
        raise ValueError("this is no page")
    return entry


def _page(
    lesson: Lesson,
    rules: Rules,
    cells: Sequence[Cell],
    given: Sequence[Entry],
    stage: Path,
    cache: Cache,
) -> str:
    page = (stage / "public/index.html").read_bytes()
    inside = [p for p in pieces(page) if p.kind in ("mp3", "picture", "blob")]
    sounds = list(_sounds(lesson, given, inside))
    pictures = list(_pictures(given, stage, inside, cache))
    texts = [cell.source for cell in cells if cell.standing == "free"]
    prose = Prose([*texts, *announced_texts(lesson)])
    groups = [
        *_page_words(lesson, page, given, stage, prose),
        *_handout_words(given, stage, prose),
    ]
    settings = lesson.settings
    files = [
        {
            "path": e["path"],
            "kind": _KINDS.get(e["kind"], e["kind"]),
            "size": _size(e["bytes"]),
        }
        for e in given
    ]
    total = sum(sound["seconds"] for sound in sounds)
    every = [*groups, *(one for group in groups for one in group["single"])]
    own = len({text for group in every for text in group["own"]})
    computed = len({text for group in every for text in group["computed"]})
    counts = [
        ("Files", str(len(files))),
        ("Sentences", f"{own + computed}: {own} of yours, {computed} computed"),
        (
            "Sound",
            f"{length_words(total)} in {counted(len(sounds), 'sound')}"
            if sounds
            else "none",
        ),
        ("Pictures", str(len(pictures)) if pictures else "none"),
    ]
    return template("stranger.html.j2").render(
        language=settings.language,
        title=lesson.title,
        school=settings.school,
        css=Markup(f"{page_css()}\n{asset('stranger.css')}"),  # noqa: S704 - our own files
        counts=counts,
        kept=list(_kept(lesson, rules, cells)),
        files=files,
        sounds=sounds,
        total=length_words(total),
        played=[_played(lesson.level(name)) for name in _heard(sounds, rules)],
        pictures=pictures,
        groups=groups,
    )


def _size(count: int) -> str:
    if count < 1000:
        return f"{count} bytes"
    return f"{count / 1000:.0f} kB" if count < 1_000_000 else f"{count / 1e6:.1f} MB"


def _kept(lesson: Lesson, rules: Rules, cells: Sequence[Cell]) -> Iterator[str]:
    """Say what is not public, a line for each level and one for cells."""
    for row in lesson.settings.levels:
        if row.name not in rules.free_levels:
            yield (
                f"{row.title}: its notes, chords, words, sound and files. "
                "Only its title and its summary are public."
            )
            continue
        missing = [words for kind, words in _PLURALS.items() if not rules.gives(kind)]
        yield (
            f"{row.title}: its {listed(missing)}. All else is public."
            if missing
            else f"{row.title}: nothing. All of it is public."
        )
    held = [cell.number for cell in cells if cell.standing != "free"]
    if held:
        words = bars_words(held).replace("bars", "Cells").replace("bar", "Cell")
        yield f"{words} of the notebook."


def _sounds(
    lesson: Lesson, given: Iterable[Entry], inside: Iterable[Piece]
) -> Iterator[dict[str, Any]]:
    titles = {row.name: row.title for row in lesson.settings.levels}
    names = {row.slug: row.name for row in lesson.settings.instruments}
    for piece in inside:
        if piece.kind == "mp3":
            # The click by which the page measures the browser's decoder; no music.
            yield _sound(
                "public/index.html", "in the page itself", "", "", "a click", 100,
                sound_seconds(piece.value),
            )  # fmt: skip
    for entry in given:
        if "seconds" in entry:
            beside = f"bars {entry['bars']}" if entry.get("bars") else ""
            beside = names.get(entry.get("instrument", ""), beside)
            yield _sound(
                entry["path"], beside, titles.get(entry["level"], ""), entry["level"],
                entry["mix"], entry["tempo_percent"], entry["seconds"],
            )  # fmt: skip


def _sound(  # noqa: PLR0917 - a row of the table
    path: str, beside: str, title: str, level: str, mix: str, percent: int, seconds: float
) -> dict[str, Any]:
    words = MIXES.get(mix, mix)
    return {
        "path": path,
        "beside": beside,
        "level": title,
        "name": level,
        "what": words if percent == 100 else f"{words}, {percent} %",
        "from": _moment(0),
        "to": _moment(seconds),
        "length": f"{seconds:.1f} s",
        "seconds": seconds,
    }


def _moment(seconds: float) -> str:
    minutes, rest = divmod(round(seconds * 10), 600)
    return f"{minutes}:{rest / 10:04.1f}"


def _heard(sounds: Iterable[Mapping[str, Any]], rules: Rules) -> list[str]:
    heard = {sound["name"] for sound in sounds}
    return [name for name in rules.levels if name in heard]


def _played(level: Level) -> dict[str, Any]:
    """Say what is heard of a level, second by second, at its own tempo."""
    tempo = level.tempo_qpm
    rows = [("Count-in", "", 0.0, level.count_in_s)] if level.route.count_in else []
    for bar in level.route.bars:
        start, end = (level.route.second_at(at, tempo) for at in (bar.start, bar.end))
        name = f"{bar.kind.capitalize()} {bar.section}".strip()
        # A pick-up sounds with the count-in or the bar before it.
        if rows and rows[-1][0] == name and not bar.starts_section:
            rows[-1] = (name, f"{rows[-1][1]} {bar.number}", rows[-1][2], end)
        else:
            rows.append((name, str(bar.number), start, end))
    return {
        "title": level.settings.title,
        "rows": [
            {
                "what": what,
                "bars": bars_words([int(n) for n in bars.split()]) if bars else "",
                "from": _moment(start),
                "to": _moment(end),
            }
            for what, bars, start, end in rows
        ],
    }


def _pictures(
    given: Iterable[Entry], stage: Path, inside: Iterable[Piece], cache: Cache
) -> Iterator[dict[str, str]]:
    seen: dict[bytes, str] = {}
    found = [("public/index.html", piece) for piece in inside]
    for entry in given:
        path = entry["path"]
        if path.endswith((".pdf", ".mp3", ".flac")):
            data = (stage / path).read_bytes()
            if len(prints_of(data, cache).pictures):
                found += [(path, p) for p in pieces(data) if p.kind == "picture"]
    for path, piece in found:
        if piece.kind == "picture" and piece.value not in seen:
            seen[piece.value] = path
            yield {
                "where": f"{path}, {piece.place}",
                "size": _size(len(piece.value)),
                "source": _source(piece.value),
            }


def _source(data: bytes) -> str:
    if len(data) > _LARGEST_SHOWN:
        return ""
    mime = "jpeg" if data[:2] == b"\xff\xd8" else "gif" if data[:3] == b"GIF" else "png"
    return f"data:image/{mime};base64,{base64.b64encode(data).decode('ascii')}"


def _page_words(
    lesson: Lesson, page: bytes, given: Iterable[Entry], stage: Path, prose: Prose
) -> Iterator[Group]:
    """Group what the public page says: at once, and when an instrument is chosen."""
    shown = html_sentences(page.decode())
    yield _group("On the public page as it opens", shown, prose)
    packs: dict[str, list[str]] = {}
    titles = {row.name: row.title for row in lesson.settings.levels}
    for entry in given:
        if entry["kind"] != "notation":
            continue
        name = f"{lesson.instrument(entry['instrument']).name}, {titles[entry['level']]}"
        for piece in pieces((stage / entry["path"]).read_bytes()):
            if piece.kind == "blob" and piece.value.startswith(b"{"):
                pack = json.loads(piece.value)
                drawn = "".join(pack["figures"].values())
                words = "<br>".join(map(escape, pack["words"]))
                packs[name] = html_sentences(words + drawn)
    known = set(shown)
    yield from _shared(
        "On the public page, when an instrument is chosen", packs, prose, known
    )


def _handout_words(given: Iterable[Entry], stage: Path, prose: Prose) -> Iterator[Group]:
    texts = {
        entry["path"]: pdf_sentences((stage / entry["path"]).read_bytes())
        for entry in given
        if entry["kind"] == "handout"
    }
    yield from _shared("In the handouts", texts, prose, set())


def _shared(
    title: str, texts: Mapping[str, Sequence[str]], prose: Prose, known: set[str]
) -> Iterator[Group]:
    """Give what all of some texts say once, and then what only some of them say."""
    if not texts:
        return
    first = next(iter(texts.values()))
    everywhere = [
        t for t in dict.fromkeys(first) if all(t in other for other in texts.values())
    ]
    if len(texts) == 1:
        everywhere = list(dict.fromkeys(first))
    shared = [text for text in everywhere if text not in known]
    group = _group(title, shared, prose)
    left = known | set(everywhere)
    group["single"] = []
    for name, said in texts.items():
        own = [text for text in dict.fromkeys(said) if text not in left]
        if own:
            group["single"].append(_group(name, own, prose))
    group["of"] = len(texts)
    yield group


def _group(title: str, sentences: Iterable[str], prose: Prose) -> Group:
    own, computed, signs = list[str](), list[str](), list[str]()
    for sentence in sentences:
        if not is_words(sentence):
            signs.append(sentence)
        else:
            (own if prose.holds(sentence) else computed).append(sentence)
    return {
        "title": title,
        "own": own,
        "computed": computed,
        "signs": signs,
        "single": [],
        "of": 0,
    }
