"""What is a case of the fuzzing, and what may the kit not do with it?

A `Case` is a small tree of files and the commands that a teacher would give on it. Names
are bytes, because a name from an old archive need not be UTF-8. `judged` reads what a
command left behind and gives the promises it broke; it knows nothing of the kit's code.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path

__all__ = [
    "USUAL",
    "Broken",
    "Case",
    "Folder",
    "Limits",
    "Link",
    "Outcome",
    "cause",
    "judged",
    "leftovers",
    "printed_hashes",
]

_MARKS = ("kit: ", "error: ", "warning: ", "hint: ")
_USAGE = ("Usage: ", "Try ", "Error: ")
_RAISED = re.compile(r"[\s|]*[\w.]+(Error|Exception|Interrupt|Warning)\b")
_WAYS = ("replace", "ignore")
_NEWS = re.compile(r".*(: \d+ steps$|: \d+/\d+ |: \d+ hints? besides; kit check tells\.$)")
"""What a build tells of how far it is: no messages."""
_FILE = re.compile(
    r"[^\s/]\.(toml|ipynb|abc|musicxml|xml|mxl|midi?|png|jpe?g|sf[23]|json)\b"
)


@dataclass(frozen=True, slots=True)
class Limits:
    """What a command may use (`slow_s`, `large_bytes`), and where it is stopped.

    A message has at most `longest` signs.
    """

    slow_s: float = 20.0
    large_bytes: int = 1_000_000_000
    longest: int = 500
    stop_s: int = 60
    stop_wall_s: float = 400.0
    stop_bytes: int = 4 << 30


USUAL = Limits()


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder where a file is expected."""


@dataclass(frozen=True, slots=True)
class Link:
    """A symbolic link, to anything."""

    target: bytes


@dataclass
class Case:
    """A tree of files and what is done with it.

    Parameters
    ----------
    family : str
        What is hostile about it, in a word.
    files : dict of bytes to bytes, Folder or Link
        By path below the case's own folder.
    commands : list of list of bytes
        Arguments of ``kit``, one command after the other; ``{made}`` stands for the first
        lesson folder that ``kit new`` made in ``made/``.
    sources : tuple of bytes
        Paths that no command may change.
    env : dict
        Of the commands, besides a cache of the program's own.
    """

    family: str
    files: dict[bytes, bytes | Folder | Link]
    commands: list[list[bytes]]
    sources: tuple[bytes, ...] = ()
    env: dict[str, str] = field(default_factory=dict)
    note: str = ""
    after: Callable[[Path, list[Outcome]], Iterator[Broken]] | None = None

    def write(self, place: Path) -> None:
        """Put the tree into an empty folder; what the disk does not take is left out."""
        for name, content in self.files.items():
            path = place / os.fsdecode(name)
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
                if isinstance(content, Folder):
                    path.mkdir(exist_ok=True)
                elif isinstance(content, Link):
                    path.symlink_to(os.fsdecode(content.target))
                else:
                    path.write_bytes(content)
            except (OSError, ValueError) as error:
                self.note += f" [not written: {error}]"


@dataclass(frozen=True, slots=True)
class Outcome:
    """What a command did: exit code, or minus the signal that ended it."""

    code: int
    processor_s: float
    wall_s: float
    peak_bytes: int
    out: bytes
    err: bytes
    timed_out: bool = False


@dataclass(frozen=True, slots=True)
class Broken:
    """A promise that was broken, and how."""

    kind: str
    what: str


def judged(case: Case, outcome: Outcome, limits: Limits = USUAL) -> Iterator[Broken]:
    """Give every promise that a command on a case has broken."""
    err = outcome.err.decode("utf-8", "surrogateescape")
    out = outcome.out.decode("utf-8", "surrogateescape")
    if outcome.timed_out or outcome.processor_s > limits.slow_s:
        yield Broken("slow", f"{outcome.processor_s:.0f} s of processor")
    elif outcome.code not in (0, 1, 2) or "Traceback (" in err:
        yield Broken("traceback", cause(err) or f"ended with {outcome.code}")
    if outcome.peak_bytes > limits.large_bytes:
        yield Broken("large", f"{outcome.peak_bytes / 1e6:.0f} MB")
    yield from _signs(out + err)
    if "Traceback (" in err or outcome.code not in (0, 1, 2):
        return
    lines = [line for line in err.split("\n") if line]
    marks = (*_MARKS, *_USAGE) if outcome.code == 2 else _MARKS
    errors = [line for line in lines if line.startswith(("kit: ", "error: ", "Error: "))]
    for line in lines:
        if not line.startswith(marks) and not _NEWS.match(line):
            yield Broken("no sentence", line[:200])
    yield from _lengths([*lines, *out.split("\n")], limits.longest)
    if outcome.code == 1 and not errors:
        yield Broken("refused without a word", err[:200])
    if outcome.code == 1:
        known = _skeletons(case)
        for line in errors:
            if not _names_a_file(line, known):
                yield Broken("no file named", line[:300])


def _lengths(lines: list[str], longest: int) -> Iterator[Broken]:
    for line in lines:
        if len(line) > longest:
            kind = line.partition(":")[0]
            what = "long hint" if kind == "hint" else "long message"
            yield Broken(what, f"{len(line)} signs: {line[:150]} … {line[-150:]}")


def _signs(text: str) -> Iterator[Broken]:
    found = sorted(
        {sign for sign in text if unicodedata.category(sign) == "Cc" and sign != "\n"}
    )
    if found:
        yield Broken("raw control sign", f"{found[:8]!r} in {_around(text, found[0])!r}")
    bytes_ = sorted({sign for sign in text if "\udc80" <= sign <= "\udcff"})
    if bytes_:
        yield Broken("bytes that are no UTF-8", repr(_around(text, bytes_[0])))
    turned = sorted(
        {sign for sign in text if sign in "\u202a\u202b\u202d\u202e\u2066\u2067"}
    )
    if turned:
        yield Broken("raw direction sign", repr(_around(text, turned[0])))


def _around(text: str, sign: str) -> str:
    place = text.index(sign)
    return text[max(0, place - 60) : place + 60]


def _skeletons(case: Case) -> set[str]:
    """Give the letters and digits of every name: signs may be printed in other ways."""
    parts = {part for path in case.files for part in path.split(b"/")}
    names = {_skeleton(part.decode("utf-8", way)) for part in parts for way in _WAYS}
    return {name[:12] for name in names if len(name) > 1}


def _skeleton(text: str) -> str:
    return "".join(sign for sign in text.lower() if sign.isalnum())


def _names_a_file(line: str, known: set[str]) -> bool:
    """Say whether a message has a place before what it says, or names a file in it."""
    place, colon, _ = line.partition(": ")[2].partition(": ")
    # A sign that a terminal would obey is told by its code.
    bones = _skeleton(re.sub(r"\\(?:x[0-9a-f]{2}|u[0-9a-f]{4})", "", place))
    return bool(_FILE.search(line)) or (
        bool(colon) and ("/" in place or any(name in bones for name in known))
    )


def cause(err: str) -> str:
    """Give where in the kit a traceback came from, and what it was."""
    if "Traceback (" not in err:
        return ""
    frames = re.findall(r'File "[^"]*?/(kit/[^"]+)", line \d+, in (\S+)', err)
    last = [line for line in err.strip().split("\n") if _RAISED.match(line)]
    kind = (
        last[-1].strip("| ").partition(":")[0] if last else err.strip().split("\n")[-1][:80]
    )
    where = f"{frames[-1][0]}:{frames[-1][1]}" if frames else "outside the kit"
    return f"{kind} in {where}"


def printed_hashes(place: Path, sources: tuple[bytes, ...]) -> Mapping[str, str]:
    """Hash everything below some paths, names included."""
    found: dict[str, str] = {}
    for source in sources:
        found |= dict(_hashed(place / os.fsdecode(source)))
    return found


def _hashed(path: Path) -> Iterator[tuple[str, str]]:
    if path.is_symlink():
        yield str(path), f"link to {path.readlink()!r}"
    elif path.is_dir():
        yield str(path), "folder"
        for inner in sorted(path.iterdir()):
            yield from _hashed(inner)
    elif path.exists():
        yield str(path), hashlib.sha256(path.read_bytes()).hexdigest()


def leftovers(place: Path) -> None:
    """Remove a case's folder."""
    shutil.rmtree(place, ignore_errors=True)
