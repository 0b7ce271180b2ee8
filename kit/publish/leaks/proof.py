"""Is nothing of the members' in what is given away? The proof, with every build.

`Proof` goes through the finished free tree before anything is put in place: every file of
tier free, the public page, and free.zip opened. `prove_catalogue` does the same for the
public files of the catalogue, by the words that each lesson's build has left for it. Either
says nothing, or raises one sentence with where and what.
"""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

import numpy as np

from kit.cache import Cache
from kit.errors import LessonError
from kit.lesson.lesson import Lesson
from kit.publish.leaks._given import computed_prints, given_prints, kit_words
from kit.publish.leaks._kept import arrays_of
from kit.publish.leaks._pictures import LOOK_SIZE
from kit.publish.leaks._piece import Piece
from kit.publish.leaks._prints import (
    KINDS,
    Prints,
    prints_of,
    prints_of_pieces,
)
from kit.publish.leaks._reading import pieces
from kit.publish.leaks._rules import Cell, Rules, notebook_cells
from kit.publish.leaks._search import Leak, Search
from kit.publish.leaks._secrets import Secret, recording_pictures, secrets_of
from kit.publish.leaks._sounds import sound_secrets
from kit.publish.leaks._stranger import PAGE, stranger_page
from kit.publish.leaks._words import Hashes
from kit.publish.manifest import BuiltFile
from kit.reading import UnusableError, read_bytes

__all__ = ["Proof", "prove_catalogue", "proven"]

Entry = Mapping[str, Any]
WORDS_FILE = "teacher/members-words.npz"
"""What a build leaves for the catalogue: hashes of words, none of them readable."""
_MOST_TOLD = 8
_MOST_WORDS_BYTES = 20_000_000
"""Eight bytes a word: a lesson of a whole book."""
_PUBLIC = ("index.html", "page/")
"""What lies in the bundle where the build's folder has it in ``public``."""
_REMEDY = (
    "nothing was put in place; look at the tags of the cell and at [tiers], and where they "
    "are right tell the makers of the kit"
)


class Proof:
    """The proof for one lesson's build.

    Parameters
    ----------
    lesson : Lesson
        The open lesson.
    notebook : mapping
        Its notebook as it was run.
    entries : sequence of mapping
        The files of the build, as the manifest describes them, bundles among them.
    stage : Path
        The folder in which they lie.
    cache : Cache
        Keeps what was read.
    """

    def __init__(
        self,
        lesson: Lesson,
        notebook: Mapping[str, Any],
        entries: Sequence[Entry],
        stage: Path,
        cache: Cache,
    ) -> None:
        self.lesson = lesson
        self.entries = entries
        self.stage = stage
        self.cache = cache
        self.rules = Rules.of(lesson)
        self.cells: tuple[Cell, ...] = tuple(notebook_cells(notebook, self.rules))
        self.given = given_prints(lesson, self.cells, self.rules)
        secrets = [
            *secrets_of(lesson, self.cells, self.rules, entries),
            *recording_pictures(stage, entries),
        ]
        sounds = sound_secrets(lesson, self.rules, entries, stage, cache)
        self.search = Search(secrets, sounds, self.given, self._widenings())

    def _widenings(self) -> list[Any]:
        settings = self.lesson.settings
        first = (settings.default_instrument,)
        others = tuple(h.slug for h in settings.instruments if h.slug not in first)
        computed = partial(computed_prints, self.lesson, self.rules)
        return [
            partial(_words_only, partial(kit_words, self.cache)),
            partial(computed, first),
            partial(computed, others),
        ]

    def require_nothing_found(self) -> None:
        """Look through all that is given away.

        Raises
        ------
        LessonError
            If something of the members' is in it; says where and what, and lists more.
        """
        found = list(islice(self.leaks(), _MOST_TOLD))
        if found:
            slug = self.lesson.slug
            first, *more = [_sentence(leak, f"{slug}/") for leak in found]
            raise first.with_more(tuple(str(error) for error in more))

    def leaks(self) -> Iterator[Leak]:
        """Find all leaks, as files come."""
        yield from self._wrong_files()
        for path, data in self._files():
            yield from self.search.leaks(path, data, prints_of(data(), self.cache))
        for path, data in self._bundled():
            yield from self.search.leaks(path, data, prints_of(data(), self.cache))
        yield from self._around_the_zip()

    def _wrong_files(self) -> Iterator[Leak]:
        """Compare what is called free with what the specification calls free."""
        known = {entry["path"] for entry in self.entries}
        for entry in self.entries:
            if entry["tier"] == "free" and not self.rules.gives_file(entry):
                yield Leak(entry["path"], "", "a file that lesson.toml does not give away")
        for path in sorted((self.stage / "public").rglob("*")):
            name = path.relative_to(self.stage).as_posix()
            if path.is_file() and name not in known:
                yield Leak(name, "", "a file that the build does not know")

    def _given_paths(self) -> list[str]:
        paths = {e["path"] for e in self.entries if e["tier"] == "free"}
        paths |= {e["path"] for e in self.entries if self.rules.gives_file(e)}
        return sorted(paths - {"free.zip"})

    def _files(self) -> Iterator[tuple[str, Any]]:
        for path in self._given_paths():
            yield path, (self.stage / path).read_bytes

    def _bundled(self) -> Iterator[tuple[str, Any]]:
        given = set(self._given_paths())
        with zipfile.ZipFile(self.stage / "free.zip") as archive:
            for name in sorted(archive.namelist()):
                source = _source(name)
                same = self.stage / source
                if (
                    source in given
                    and archive.getinfo(name).file_size == same.stat().st_size
                ):
                    data = archive.read(name)
                    if data == same.read_bytes():
                        continue
                yield f"free.zip, {name}", partial(_member, self.stage / "free.zip", name)

    def _around_the_zip(self) -> Iterator[Leak]:
        """Look at what a zip says beside its files: names and comments."""
        given = set(self._given_paths())
        with zipfile.ZipFile(self.stage / "free.zip") as archive:
            said = [Piece("comment", "text", archive.comment.decode("utf-8", "replace"))]
            for entry in archive.infolist():
                said.append(Piece("file names", "text", entry.filename))
                words = entry.comment + b" " + entry.extra
                said.append(
                    Piece("comment of a file", "text", words.decode("utf-8", "replace"))
                )
                if _source(entry.filename) not in given:
                    what = (
                        f"the file {entry.filename}, which lesson.toml does not give away"
                    )
                    yield Leak("free.zip", "", what)
        content = prints_of_pieces(said)
        yield from self.search.leaks("free.zip", partial(_joined, said), content)

    def words_for_the_catalogue(self) -> bytes:
        """Give the hashes that `prove_catalogue` needs, as a file."""
        kept = io.BytesIO()
        np.savez(kept, members=self.search.words(), given=self.given.words)
        return kept.getvalue()


def _source(name: str) -> str:
    """Give the path in the build's folder of what the bundle holds."""
    return f"public/{name}" if name.startswith(_PUBLIC) else name


def _member(archive: Path, name: str) -> bytes:
    with zipfile.ZipFile(archive) as opened:
        return opened.read(name)


def _joined(said: Sequence[Piece]) -> bytes:
    return "\n".join(piece.value for piece in said).encode()


def _words_only(words: Any) -> Prints:
    empty = np.zeros(0, np.uint64)
    hashes: dict[str, Hashes] = dict.fromkeys(KINDS, empty) | {"words": words()}
    return Prints(**hashes, looks=np.zeros((0, LOOK_SIZE), np.uint16))


def _sentence(leak: Leak, folder: str = "") -> LessonError:
    where = f"{leak.place} holds " if leak.place else "here is "
    found = f"{where}{leak.what}, which strangers may not have"
    if len(found) > 300:
        found = f"{found[:300]}…"
    return LessonError(found, file=f"{folder}{leak.file}", remedy=_REMEDY)


def prove_catalogue(out_root: Path, files: Mapping[str, bytes], cache: Cache) -> None:
    """Look for members' words in the public files of a catalogue.

    Parameters
    ----------
    out_root : Path
        Where the lessons' output folders lie, each with the words of its members.
    files : mapping of str to bytes
        The files, by the names that messages use.
    cache : Cache
        Keeps what was read.

    Raises
    ------
    LessonError
        If one of them holds members' words.
    """
    kept = sorted(out_root.glob(f"*/{WORDS_FILE}"))
    given = [np.zeros(0, np.uint64)]
    secrets = []
    for path in kept:
        slug = path.parent.parent.name
        try:
            data = read_bytes(path, limit_bytes=_MOST_WORDS_BYTES)
            words: Any = arrays_of(
                data, dict.fromkeys(("given", "members"), (np.uint64, 1))
            )
        except (UnusableError, ValueError, OSError) as error:
            raise LessonError(
                "the record of the members' words is damaged",
                file=f"{slug}/{WORDS_FILE}",
                remedy="build that lesson again, or remove its output with kit prune",
            ) from error
        given.append(words["given"])
        secrets.append(Secret(f"the members' part of {slug}", "words", words["members"]))
    known = _words_only(lambda: np.unique(np.concatenate(given)))
    widening = partial(_words_only, partial(kit_words, cache))
    search = Search(secrets, (), known, [widening])
    for name, data in files.items():
        content = prints_of_pieces(pieces(data))
        for leak in search.leaks(name, partial(_same, data), content):
            raise _sentence(leak)


def _same(data: bytes) -> bytes:
    return data


def proven(
    lesson: Lesson,
    notebook: Mapping[str, Any],
    entries: Sequence[Entry],
    stage: Path,
    cache: Cache,
) -> list[BuiltFile]:
    """Prove that nothing of the members' is given away, and write down what is.

    Parameters are those of `Proof`.

    Returns
    -------
    list of BuiltFile
        What goes into the stage with the rest: for the teacher and for the catalogue.

    Raises
    ------
    LessonError
        If something of the members' is in what is given away.
    """
    proof = Proof(lesson, notebook, entries, stage, cache)
    proof.require_nothing_found()
    page = stranger_page(lesson, proof.rules, proof.cells, entries, stage, cache)
    return [
        BuiltFile(PAGE, "what-a-stranger-sees", "members", page),
        BuiltFile(WORDS_FILE, "members-words", "members", proof.words_for_the_catalogue()),
    ]
