"""Does everything build that ``kit check`` finds nothing wrong with? Lessons at random.

Each case is one lesson of a few bars or two: of the edits that endurance makes, of a
traditional tune or of one made by rule, with prose, tags, pictures and names as teachers
write them, and in half of the lessons with up to three things that may be wrong. It is
checked, then built with the real command. Counted is, besides what `fuzz_case` counts,

* a lesson that check passed and build refused, or build refused for a reason that check
  did not give, or check refused and build made;
* an output that is not whole, or a second build that is not up to date;
* a members' sentence in what a stranger gets (`fuzz_leaks`).

The members' sentences are made by chance, so that nothing else can hold them.
"""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random
from typing import Any

from build_promises import BrokenPromiseError, require_whole
from edits_at_random import edit, first_draft, take_level
from fuzz_bytes import mutated, text
from fuzz_case import Broken, Case, Outcome
from fuzz_good import abc_by_rule, good
from fuzz_leaks import free_parts
from fuzz_media import picture, png_dot, small_soundfont
from fuzz_words import words
from PIL import Image

__all__ = ["lessons"]

Files = dict[bytes, Any]
FREE_TAGS = frozenset({"level:easy", "page-only", "handout-only"})
OTHER_TOOLS = frozenset({"parameters", "raises-exception", "remove-input"})
"""Tags of other programs, which say nothing of who may read a cell."""


def lessons(chance: Random) -> Case:
    """Make a case of one or two lessons that are checked and built."""
    wrong = words("wrong_slugs") if chance.random() < 0.2 else ()
    names = [chance.choice((*words("slugs"), *wrong))]
    if chance.random() < 0.15:
        names.append(chance.choice((names[0].upper(), f"{names[0]} 2", "evening-tune")))
    folders = [b"lessons/" + name.encode() for name in dict.fromkeys(names)]
    files: Files = {}
    secrets: list[str] = []
    for folder in folders:
        lesson = _lesson(chance, secrets)
        files |= {folder + b"/" + path: data for path, data in lesson.items()}
    build = [b"build", *folders, b"--out", b"out", b"--jobs", b"1"]
    commands = [[b"check", *folders], build, *[build] * (chance.random() < 0.25)]
    return Case(
        "lesson to build", files, commands, sources=(b"lessons",),
        after=lambda work, outcomes: _afterwards(tuple(secrets), work, outcomes),
    )  # fmt: skip


def _lesson(chance: Random, secrets: list[str]) -> Files:
    draft = first_draft(chance, "lesson")
    while len(draft.levels) > 2:
        take_level(chance, draft)
    for _ in range(chance.randint(0, 4)):
        edit(chance, draft)
    hazards = chance.choice((0, 0, 0, 1, 2, 3))
    if chance.random() < 0.4:
        draft.top["title"] = chance.choice(words("wrong_titles" if hazards else "titles"))
    other_tune = chance.random() < 0.3
    if other_tune:
        # Levels and figures of the draft would not fit it.
        draft.levels = [{"name": "easy", "tempo": 200}]
        draft.cells, draft.tables = [], {}
        draft.top.pop("default_instrument", None)
    files: Files = {name.encode(): data for name, data in draft.files().items()}
    if other_tune:
        tunes = (chance.choice(good().abc), abc_by_rule(chance))
        files[b"tune.abc"] = chance.choice(tunes)
        files[b"lesson.toml"] = _without(files[b"lesson.toml"], b"sections")
    levels = [level["name"] for level in draft.levels]
    free = draft.tables.get("tiers", {}).get("free_levels", levels[:1])
    cells = [_cell(chance, secrets, hazards > 0) for _ in range(chance.randint(1, 5))]
    cells += [
        _prose(f"For this level: {_secret(chance, secrets)}.", [f"level:{name}"])
        for name in levels
        if name not in free
    ]
    tree = json.loads(files[b"lesson.ipynb"])
    tree["cells"] += cells
    for place, cell in enumerate(tree["cells"]):
        cell["id"] = f"cell-{place}"
    files[b"lesson.ipynb"] = json.dumps(tree).encode()
    chosen = [chance.choice(HAZARDS) for _ in range(hazards)]
    # What is taken away last cannot be missed by the others.
    for spoil in sorted(chosen, key=lambda one: one is _missing):
        spoil(chance, files)
    return files


def _secret(chance: Random, secrets: list[str]) -> str:
    # Letters only, in words, as prose is: every font has them, and none is a real word.
    def syllable() -> str:
        return chance.choice("bcdfghjklmnpqrstvwxz") + chance.choice("aeiou")

    made = ["".join(syllable() for _ in range(4)) for _ in range(3)]
    secrets.extend(made)
    return " ".join(made)


def _prose(source: str, tags: list[str]) -> dict[str, Any]:
    return {"cell_type": "markdown", "metadata": {"tags": tags}, "source": source}


def _cell(chance: Random, secrets: list[str], may_be_wrong: bool) -> dict[str, Any]:
    def some(name: str, share: float) -> str:
        wrong = may_be_wrong and chance.random() < share
        return chance.choice(words(f"wrong_{name}" if wrong else name))

    tags = [some("tags", 0.3)] if chance.random() < 0.6 else []
    # What is not known to be free must not be free: an unknown tag keeps a cell back too.
    is_secret = not set(tags) <= FREE_TAGS | OTHER_TOOLS
    if chance.random() < 0.4:
        call = some("calls", 0.3)
        source = f"# {_secret(chance, secrets)}\n{call}" if is_secret else call
        return _prose(source, tags) | {
            "cell_type": "code", "outputs": [], "execution_count": None,
        }  # fmt: skip
    source = some("prose", 0.4)
    if is_secret:
        source += f"\n\nOnly here: {_secret(chance, secrets)}."
    cell = _prose(source, tags)
    if chance.random() < 0.2:
        is_good = not may_be_wrong or chance.random() < 0.6
        data = _good_picture() if is_good else picture(chance)
        name = chance.choice(("a.png", "a b.png", "Bild-ä.png", "a#1.png"))
        cell["attachments"] = {name: {"image/png": base64.b64encode(data).decode()}}
        cell["source"] += f"\n\n![a picture](attachment:{name.replace(' ', '%20')})"
    return cell


def _good_picture() -> bytes:
    buffer = io.BytesIO()
    Image.new("RGB", (24, 16), (20, 90, 200)).save(buffer, "PNG")
    return buffer.getvalue()


def _without(toml: bytes, key: bytes) -> bytes:
    return b"\n".join(row for row in toml.split(b"\n") if not row.startswith(key))


def _wrong_lyrics(chance: Random, files: Files) -> None:
    line = f"\nw: {chance.choice(words('lyrics'))}\n"
    files[b"tune.abc"] = files[b"tune.abc"].rstrip() + line.encode()


def _wrong_setting(chance: Random, files: Files) -> None:
    key = chance.choice(("composer", "school", "language", "summary", "address"))
    said = chance.choice((text(chance)[:400], *words("wrong_titles")))
    line = f"{key} = {json.dumps(said, ensure_ascii=False)}\n"
    rest = _without(files[b"lesson.toml"], key.encode())
    files[b"lesson.toml"] = line.encode("utf-8", "replace") + rest


def _wrong_cover(chance: Random, files: Files) -> None:
    name = chance.choice(("cover.png", "cover.jpg", "pictures/front 1.png"))
    toml = _without(files[b"lesson.toml"], b"cover")
    line = f'[audio]\ncover = "{name}"\n'.encode()
    files[b"lesson.toml"] = toml.replace(b"[audio]\n", line, 1)
    if chance.random() < 0.9:
        files[name.encode()] = chance.choice((png_dot(), _good_picture(), picture(chance)))


def _wrong_soundfont(chance: Random, files: Files) -> None:
    files[b"lesson.toml"] = b'soundfont = "font.sf2"\n' + files[b"lesson.toml"]
    whole = small_soundfont()
    broken = (whole[:-40], whole[:200], whole[:12], b"RIFF\x04\0\0\0sfbk")
    files[b"font.sf2"] = chance.choice((whole, *broken))


def _wrong_bytes(chance: Random, files: Files) -> None:
    name = chance.choice(sorted(files))
    files[name] = mutated(chance, files[name])


def _missing(chance: Random, files: Files) -> None:
    del files[chance.choice(sorted(files))]


def _nothing_wrong(chance: Random, files: Files) -> None:
    """Leave it at what its prose, calls and title have that may be wrong."""


HAZARDS: tuple[Callable[[Random, Files], None], ...] = (
    _wrong_lyrics, _wrong_setting, _wrong_setting, _wrong_cover, _wrong_soundfont,
    _wrong_bytes, _missing, _nothing_wrong, _nothing_wrong,
)  # fmt: skip


def _afterwards(
    secrets: tuple[str, ...], work: Path, outcomes: list[Outcome]
) -> Iterator[Broken]:
    """Give what is not as it has to be when a case has been checked and built."""
    check, build, *again = outcomes
    if build.code in (0, 1) and check.code in (0, 1):
        yield from _agreeing(check, build)
    if again and build.code == 0 and b"is up to date" not in again[0].out:
        yield Broken("not up to date", again[0].out[-200:].decode("utf-8", "replace"))
    out = work / "out"
    for path in sorted(out.glob("*/manifest.json")):
        try:
            require_whole(path.parent)
        except BrokenPromiseError as error:
            yield Broken("not whole", str(error))
    for place, said in free_parts(out):
        for secret in secrets:
            if secret in said:
                yield Broken("leak", f"{place}: {secret}")
                break


def _agreeing(check: Outcome, build: Outcome) -> Iterator[Broken]:
    if b"Traceback (" in check.err + build.err:
        # That is counted as what it is.
        return
    told, refused = set(_sentences(check)), set(_sentences(build))
    if check.code == 0 and build.code == 1:
        yield Broken("check passed what build refused", min(refused, default="?"))
    elif check.code == 1 and build.code == 0:
        yield Broken("check refused what was built", min(told, default="?"))
    elif not refused <= told:
        yield Broken("check did not tell", min(refused - told))


def _sentences(outcome: Outcome) -> Iterator[str]:
    for line in outcome.err.decode("utf-8", "replace").split("\n"):
        if line.startswith(("kit: ", "error: ")):
            yield line.partition(": ")[2]
