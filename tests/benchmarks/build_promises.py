"""What must every build keep to, whatever went wrong? The promises that endurance checks.

A `WatchedSchool` is three tiny lessons (`edits_at_random`) that are built in this process;
each build goes through `WatchedSchool.attempt`, which compares what it left behind with
what was there before, what its manifest says, and what the same files gave earlier or give
with an empty cache.
"""

from __future__ import annotations

import hashlib
import json
import os
import shutil
from collections import Counter
from collections.abc import Callable
from concurrent.futures import Future
from copy import deepcopy
from pathlib import Path
from random import Random
from typing import Any

from edits_at_random import Draft, edit, first_draft

from kit.build.lesson import build_lesson
from kit.errors import KitError, LessonError, SetupError

__all__ = [
    "SLUGS",
    "BrokenPromiseError",
    "Here",
    "WatchedSchool",
    "require_whole",
    "tree",
]

SLUGS = ("small-tune", "Ωδή a\u0300 夕べ", "שיר 🎷")
COMPARED_EACH = 8


class BrokenPromiseError(Exception):
    """Something a build must never do."""


class Here:
    """Workers of one: each call at once, in this process; `before` is called first."""

    breakdowns: tuple[type[BaseException], ...] = ()
    count = 1

    def __init__(self, before: Callable[[], None] = lambda: None) -> None:
        self.before = before

    def prepare(self) -> None:
        return

    def loss(self, title: str) -> SetupError:
        return SetupError(f"lost while {title} was made")

    def submit(self, call: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.before()
        future: Future[Any] = Future()
        try:
            future.set_result(call(*args, **kwargs))
        except (KitError, OSError) as error:
            future.set_exception(error)
        return future

    def __enter__(self) -> Here:
        return self

    def __exit__(self, *_: object) -> None:
        return


class Silent:
    """Progress that nobody sees."""

    def start(self, title: str, steps: int) -> None:
        return

    def step(self, title: str, left_s: float | None = None) -> None:
        return


def tree(folder: Path) -> dict[str, str]:
    """Hash every file below a folder."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in folder.rglob("*")
        if path.is_file()
    }


def require_whole(out: Path) -> dict[str, str]:
    """Make sure that an output folder is what its manifest says; give its hashes."""
    found = tree(out)
    try:
        manifest = json.loads((out / "manifest.json").read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise BrokenPromiseError(f"{out.name} has no usable manifest") from error
    described = {file["path"]: file["sha256"] for file in manifest["files"]}
    rest = {name: mark for name, mark in found.items() if name != "manifest.json"}
    if rest != described:
        wrong = sorted(set(rest.items()) ^ set(described.items()))
        raise BrokenPromiseError(f"{out.name} is not whole: {wrong[:4]}")
    return found


def require_sentence(text: str) -> None:
    """Make sure that an error is one sentence, and says something."""
    empty = not text.strip() or "NoneType" in text
    if "\n" in text or "Traceback" in text or empty:
        raise BrokenPromiseError(f"not one sentence: {text[:300]!r}")


class WatchedSchool:
    """A school, its lessons as they are and were, and what happened so far."""

    def __init__(self, place: Path, seed: int) -> None:
        self.place, self.chance = place, Random(seed)
        self.lessons, self.out, self.cache = (
            place / name for name in ("lessons", "out", "cache")
        )
        for folder in (self.lessons, self.out, self.cache):
            folder.mkdir(parents=True)
        os.environ["KIT_CACHE"] = str(self.cache)
        self.drafts = {slug: first_draft(self.chance, slug) for slug in SLUGS}
        self.past: dict[str, list[Draft]] = {slug: [] for slug in SLUGS}
        self.made: dict[str, dict[str, str]] = {}
        self.counts: Counter[str] = Counter()
        self.slug = SLUGS[0]

    @property
    def folder(self) -> Path:
        return self.lessons / self.slug

    @property
    def output(self) -> Path:
        return self.out / self.slug

    def begin(self) -> None:
        """Build everything once."""
        for slug, draft in self.drafts.items():
            self.slug = slug
            while not self.attempt():
                edit(self.chance, draft)

    def read(self, code: int, said: str) -> None:
        """Check what the command said."""
        if "Traceback" in said:
            raise BrokenPromiseError(f"a traceback:\n{said[-3000:]}")
        if code not in (0, 1):
            raise BrokenPromiseError(f"exit code {code}: {said[-1000:]}")
        if code == 1:
            errors = [line for line in said.splitlines() if line.startswith("kit: ")]
            if not errors:
                raise BrokenPromiseError(f"failed without a word: {said[-1000:]}")
            require_sentence(errors[-1])
            self.counts[f"said: {errors[-1][:110]}"] += 1

    def attempt(
        self,
        workers: Any = None,
        *,
        may_fail: bool = False,
        knows: bool = True,
        writes: bool = True,
    ) -> bool:
        """Build the lesson as it is now; say whether that went well.

        A lesson that is wrong goes back to what it was when it was last right.
        """
        draft = self.drafts[self.slug]
        if writes:
            draft.write(self.folder)
        was = tree(self.output) if self.output.is_dir() else {}
        self.counts["rebuilds"] += 1
        try:
            result = build_lesson(
                self.folder, self.out, progress=Silent(), workers=workers or Here()
            )
        except (KitError, OSError) as error:
            self.failed(error, was, may_fail=may_fail)
            return False
        self.counts["built" if not result.was_current else "found up to date"] += 1
        now = require_whole(self.output)
        if knows:
            self.remember(draft, now)
        return True

    def failed(
        self, error: KitError | OSError, was: dict[str, str], *, may_fail: bool
    ) -> None:
        require_sentence(str(error))
        if self.output.is_dir() and tree(self.output) != was:
            raise BrokenPromiseError(f"a failed build changed the output: {error}")
        kind = type(error).__name__
        reason = error.strerror if isinstance(error, OSError) else _kind(error)
        self.counts[f"failed: {kind}, {reason}"] += 1
        if isinstance(error, OSError) and not error.filename:
            raise BrokenPromiseError(f"an error without a place: {error!r}")
        # A sign that no font has is the lesson's fault too, wherever it is met.
        is_lesson = isinstance(error, LessonError) or "could not be displayed" in str(error)
        if not may_fail and not is_lesson:
            raise BrokenPromiseError(f"failed without a cause: {error}") from error
        if self.past[self.slug] and is_lesson:
            self.drafts[self.slug] = deepcopy(self.past[self.slug][-1])

    def heal(self) -> None:
        """Build without any fault: that has to work, and to be right."""
        if self.attempt():
            self.counts["healed"] += 1
        elif not self.attempt():
            raise BrokenPromiseError("a lesson that was right before cannot be built")

    def remember(self, draft: Draft, now: dict[str, str]) -> None:
        """Compare with what these very files gave before, or with an empty cache."""
        state = hashlib.sha256(repr((self.slug, sorted(draft.files().items()))).encode())
        known = self.made.setdefault(state.hexdigest(), now)
        if known is not now:
            self.counts["compared: the same files as before"] += 1
            self.same(now, known, "what the same files gave before")
        self.past[self.slug] = [*self.past[self.slug][-30:], deepcopy(draft)]
        if self.counts["rebuilds"] % COMPARED_EACH == 0:
            self.counts["compared: an empty cache"] += 1
            self.same(now, self.afresh(), "a build with an empty cache")

    def afresh(self) -> dict[str, str]:
        """Build the lesson with an empty cache, elsewhere; it stays until next time."""
        place = self.place / "afresh"
        shutil.rmtree(place, ignore_errors=True)
        os.environ["KIT_CACHE"] = str(place / "cache")
        try:
            build_lesson(self.folder, place / "out", progress=Silent(), workers=Here())
        finally:
            os.environ["KIT_CACHE"] = str(self.cache)
        return tree(place / "out" / self.slug)

    def same(self, now: dict[str, str], then: dict[str, str], what: str) -> None:
        """Make sure that two outputs have the same bytes."""
        if now != then:
            names = sorted({name for name, _ in set(now.items()) ^ set(then.items())})
            raise BrokenPromiseError(f"other bytes than {what}: {', '.join(names[:12])}")


def _kind(error: KitError) -> str:
    for words in ("was changed while", "was lost while", "a process of the build"):
        if words in error.found:
            return words
    return f"the lesson is wrong: {error.found[:60]}"
