"""What does a build find that is there from before? Caches and outputs nobody would write.

Each function makes a case from a generator of chance, and from what the program has built
once: a small lesson, its output and its cache, below one folder.
"""

from __future__ import annotations

import hashlib
import json
from functools import lru_cache
from pathlib import Path
from random import Random
from typing import Any

from edits_at_random import first_draft
from fuzz_bytes import mutated, text
from fuzz_case import Case, Folder, Link
from fuzz_trees import changed_tree, json_text, value

__all__ = ["cache_entry", "earlier_output", "out_place", "small_lesson_files"]


@lru_cache
def prepared(base: str) -> dict[bytes, bytes]:
    """Read what the program has built once: lesson, output and cache, below one folder."""
    root = Path(base)
    return {
        path.relative_to(root).as_posix().encode(): path.read_bytes()
        for path in sorted(root.rglob("*"))
        if path.is_file()
    }


def small_lesson_files() -> dict[bytes, bytes]:
    """Give the lesson that is built once."""
    draft = first_draft(Random(5), "small")
    draft.top["title"] = "Small Tune"
    draft.cells = draft.cells[:2]
    return {b"lessons/small/" + name.encode(): data for name, data in draft.files().items()}


_BUILD = [b"build", b"lessons/small", b"--out", b"out", b"--jobs", b"1"]


def earlier_output(chance: Random, base: str) -> Case:
    """Build where an earlier output, its manifest or its records are hostile."""
    files: dict[bytes, Any] = {
        k: v for k, v in prepared(base).items() if not k.startswith(b"cache/")
    }
    manifest = json.loads(files[b"out/small/manifest.json"])
    way = chance.randrange(8)
    target = chance.choice(
        (b"out/small/manifest.json", b"out/other/manifest.json", b"out/other/manifest.json")
    )
    if way < 4:
        files[target] = json_text(chance, changed_tree(chance, manifest))
    elif way == 4:
        files[target] = mutated(chance, json.dumps(manifest).encode())
    elif way == 5:
        records = json.loads(files[b"out/.recipes/small.json"])
        tree = chance.choice((changed_tree(chance, records), value(chance)))
        files[b"out/.recipes/small.json"] = json_text(chance, tree)
        # Something has to be made anew, or nobody reads them.
        files[b"lessons/small/lesson.toml"] += b"\n# note\n"
    elif way == 6:
        entry = chance.choice(manifest["files"])
        entry["path"] = chance.choice(
            (
                "../../lessons/small/tune.abc",
                "/etc/passwd",
                "a\0b",
                "",
                ".",
                "x" * 5000,
                text(chance),
            )
        )
        files[target] = json_text(chance, manifest)
    else:
        for name in [name for name in files if name.startswith(target)]:
            del files[name]
        files[target] = chance.choice(
            (Folder(), Link(b"/dev/zero"), Link(b"manifest.json"), b"")
        )
    return Case(
        "earlier output",
        files,
        [_BUILD],
        sources=(b"lessons",),
        env={"KIT_CACHE": f"{base}/cache"},
    )


def cache_entry(chance: Random, base: str) -> Case:
    """Build with a cache that holds other bytes, folders or nothing to be read."""
    files: dict[bytes, Any] = {
        k: v for k, v in prepared(base).items() if not k.startswith(b"out/")
    }
    entries = [name for name in files if name.startswith(b"cache/")]
    many = min(len(entries), chance.choice((1, 3, 10_000)))
    for name in chance.sample(entries, many):
        body = chance.choice(
            (files[chance.choice(entries)] if chance.random() < 0.5 else b"", None)
        )
        way = chance.randrange(5)
        if way == 0:
            files[name] = (
                mutated(chance, files[name]) if isinstance(files[name], bytes) else b""
            )
        elif way == 1:
            # Valid by its own first line, but other bytes than its name stands for.
            other = chance.choice(
                (
                    b"{}",
                    b"null",
                    b"[]",
                    b"[1]",
                    b'{"a": 1}',
                    b"",
                    b"\xff",
                    b"[" * 50_000,
                    text(chance).encode("utf-8", "replace"),
                )
            )
            files[name] = hashlib.sha256(other).hexdigest().encode() + b"\n" + other
        elif way == 2 and body is not None:
            files[name] = body
        elif way == 3:
            files[name] = Folder()
        else:
            files[name] = Link(
                chance.choice(
                    (b"nowhere", name.rpartition(b"/")[2], b"/dev/null", b"/etc/passwd")
                )
            )
    return Case(
        "cache entry", files, [_BUILD], sources=(b"lessons",), env={"KIT_CACHE": "cache"}
    )


_THEIRS = b"the teacher's own, in no other place"
_PLACES = (
    b"lessons", b"lessons/small", b"lessons/small/levels", b"Lessons",
    b"lessons/../lessons", b"lessons/small/..",
)  # fmt: skip
_FOREIGN = (
    b"out/index.html", b"out/feed.xml", b"out/public/index.html", b"out/free-site.zip",
    b"out/public/notes.txt", b"out/small/my notes.txt", b"out/small/handouts/mine.pdf",
    b"out/.small.abcdefgh/mine", b"out/.small.abcdefgh.old/mine",
    b"out/.small.abcdefgh.gone/mine", b"out/.recipes/mine", b"out/other/mine",
)  # fmt: skip


def out_place(chance: Random, base: str) -> Case:
    """Build into a place where the lesson or other things of the teacher's are."""
    built = chance.random() < 0.5
    tops = (b"lessons/", b"out/") if built else (b"lessons/",)
    files: dict[bytes, Any] = {
        name: data for name, data in prepared(base).items() if name.startswith(tops)
    }
    way, out, sources = chance.randrange(4), b"out", [b"lessons/small"]
    if way == 0:
        out = chance.choice(_PLACES)
    elif way == 1:
        target = chance.choice((b"lessons", b"lessons/small", b".", b"elsewhere", b"no"))
        files[b"elsewhere"] = Link(target)
        out = chance.choice((b"elsewhere", b"elsewhere/small", b"elsewhere/lessons"))
    elif way == 2:
        foreign = chance.sample(_FOREIGN, chance.choice((1, 1, 3)))
        files |= dict.fromkeys(foreign, _THEIRS)
        sources += foreign
        if chance.random() < 0.5:
            files.pop(b"out/small/manifest.json", None)
    else:
        for name in [name for name in files if name.startswith(b"out/small/")]:
            del files[name]
        targets = (b"../lessons/small", b"../theirs", b"small")
        things = (_THEIRS, Folder(), *map(Link, targets))
        files[b"out/small"] = chance.choice(things)
        files[b"theirs/mine"] = _THEIRS
        sources += [b"theirs", *[b"out/small"] * (files[b"out/small"] == _THEIRS)]
    build = [b"build", b"lessons/small", b"--out", out, b"--jobs", b"1"]
    env = {"KIT_CACHE": f"{base}/cache"}
    return Case("place of the output", files, [build], tuple(sources), env)
