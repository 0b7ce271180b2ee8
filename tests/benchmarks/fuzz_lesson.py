"""What hostile lesson folders does a user give? Settings, edit lists, notebooks, names.

Each function makes a case from a generator of chance.
"""

from __future__ import annotations

import base64
import json
import os
import tomllib
from random import Random
from typing import Any

from fuzz_bytes import mutated, text
from fuzz_case import Case, Folder, Link
from fuzz_good import good, lesson_files, plain_notebook, plain_toml, small_lesson
from fuzz_media import picture
from fuzz_trees import changed_tree, json_text, toml_text, value
from fuzz_words import words

__all__ = ["edits", "names", "notebook", "settings"]


def _checked(
    family: str, lesson: dict[bytes, Any], more: dict[bytes, Any] | None = None
) -> Case:
    files = {**lesson_files(b"lesson", lesson), **(more or {})}
    return Case(family, files, [[b"check", b"lesson"]], sources=(b"lesson",))


def _deep_toml(chance: Random) -> bytes:
    deep = chance.choice((50, 900, 3000, 100_000))
    return chance.choice(
        (
            b"x = " + b"[" * deep + b"]" * deep + b"\n",
            b"x = " + b"{ a = " * deep + b"1" + b" }" * deep + b"\n",
            b"x" + b".x" * deep + b" = 1\n",
            b"[x" + b".x" * deep + b"]\n",
            b"x = " + b"9" * 5000 + b"\n",
            b"x = 0x" + b"f" * 5000 + b"\n",
            b"x = 1e" + b"9" * 400 + b"\n",
            b"x = 9999-99-99\n",
            b"x = " + b'"""' + b"\\" * deep + b"\n",
            b"".join(b"k%d = 1\n" % n for n in range(deep)),
            b'"\\u0000" = 1\n',
        )
    )


def settings(chance: Random) -> Case:
    """Give a lesson.toml whose tree or bytes were changed."""
    lesson = small_lesson(chance)
    data = lesson[b"lesson.toml"]
    way = chance.random()
    if way < 0.6:
        tree = changed_tree(chance, tomllib.loads(data.decode()))
        data = toml_text(tree if isinstance(tree, dict) else {"x": tree})
    elif way < 0.75:
        data = mutated(chance, data)
    elif way < 0.85:
        data = (
            _deep_toml(chance) + data
            if chance.random() < 0.6
            else data + _deep_toml(chance)
        )
    else:
        key = chance.choice(
            (
                "title",
                "composer",
                "school",
                "language",
                "summary",
                "address",
                "tune",
                "soundfont",
            )
        )
        line = f"{key} = {json.dumps(text(chance), ensure_ascii=chance.random() < 0.5)}\n"
        rest = b"\n".join(
            row for row in data.split(b"\n") if not row.startswith(key.encode())
        )
        data = line.encode("utf-8", "surrogatepass") + rest
    lesson[b"lesson.toml"] = data
    return _checked("lesson.toml", lesson)


def edits(chance: Random) -> Case:
    """Give an edit list whose tree or bytes were changed."""
    lesson = dict(chance.choice(good().demos))
    names = [
        name for name in lesson if name.startswith(b"levels/") and name.endswith(b".toml")
    ]
    name = chance.choice(names)
    data = chance.choice(good().edits)
    way = chance.random()
    if way < 0.7:
        tree = changed_tree(chance, tomllib.loads(data.decode()))
        if isinstance(tree, dict):
            row = (
                chance.choice(tree["edits"])
                if isinstance(tree.get("edits"), list) and tree["edits"]
                else None
            )
            if isinstance(row, dict) and row:
                row[chance.choice(list(row))] = value(chance)
            data = toml_text(_inline_rows(tree))
    elif way < 0.85:
        data = mutated(chance, data)
    else:
        data = _deep_toml(chance) + data
    lesson[name] = data
    return _checked("edit list", lesson)


def _inline_rows(tree: dict[str, Any]) -> dict[str, Any]:
    """Keep the rows of a list in the order of their keys."""
    return {
        k: tree[k] for k in sorted(tree, key=lambda k: isinstance(tree[k], (list, dict)))
    }


def notebook(chance: Random) -> Case:
    """Give a notebook that is broken, deep, of wrong types or full of strange things."""
    is_demo = chance.random() < 0.3
    lesson = (
        dict(chance.choice(good().demos)) if is_demo else small_lesson(chance, plain=True)
    )
    tree = json.loads(lesson[b"lesson.ipynb"])
    if not is_demo:
        tree["cells"] += [_cell(chance) for _ in range(chance.randint(1, 4))]
    way = chance.random()
    if way < 0.6:
        tree = changed_tree(chance, tree)
    if way < 0.75:
        data = json_text(chance, tree)
    elif way < 0.97:
        data = mutated(chance, json.dumps(tree).encode())
    else:
        data = chance.choice(NO_NOTEBOOKS)
    lesson[b"lesson.ipynb"] = data
    return _checked("notebook", lesson)


NO_NOTEBOOKS = (
    b"", b"[]", b"null", b"{}", b"1", b"\xff\xfe", b'{"cells": 1}', b"[" * 100_000,
)  # fmt: skip


def _cell(chance: Random) -> dict[str, Any]:
    tag = chance.choice((*words("tags"), *words("wrong_tags"), text(chance)[:3000]))
    said = text(chance)
    cell: dict[str, Any] = {
        "cell_type": "markdown", "id": f"x{chance.randrange(10**6)}",
        "metadata": {"tags": [tag]}, "source": said,
    }  # fmt: skip
    code = {"cell_type": "code", "outputs": [], "execution_count": None}
    kind = chance.randrange(6)
    if kind == 0:
        data = base64.b64encode(picture(chance)).decode()
        mime = chance.choice(("image/png", "image/jpeg", "image/svg+xml", "text/html", "x"))
        name = chance.choice(("a.png", "../a.png", "a b.png", "a\0.png", said[:80]))
        cell["attachments"] = {name: {mime: data if chance.random() < 0.8 else "%%%"}}
        cell["source"] = f"![picture](attachment:{name})"
    elif kind == 1:
        cell["source"] = chance.choice(words("wrong_prose"))
    elif kind == 2:
        cell |= {**code, "source": chance.choice(words("wrong_calls"))}
    elif kind == 3:
        printed = chance.choice((said, "x" * 3_000_000, ["x"] * 100_000))
        output = {"output_type": "stream", "name": "stdout", "text": printed}
        cell |= {**code, "outputs": [output] * chance.choice((1, 20)), "source": "1"}
    return cell


_NO_UTF8 = (b"\xff\xfe", b"caf\xe9", b"\xc2\x9b31m", b"\xed\xa0\x80", b"a\x80b")


def names(chance: Random) -> Case:
    """Give folders and files of names that are no names, links and folders for files."""
    name = chance.choice((*map(os.fsencode, words("names")), *_NO_UTF8))
    if chance.random() < 0.3:
        name = mutated(chance, name).replace(b"/", b"").replace(b"\0", b"")[:200]
        name = name if name.strip(b".") else b"x"
    ways = (_of_a_folder, _of_a_folder, _of_a_file, _for_a_file, _of_a_tune, _in_settings)
    return chance.choice(ways)(chance, name)


def _of_a_folder(chance: Random, name: bytes) -> Case:
    files = lesson_files(name, small_lesson(chance, plain=True))
    return Case("folder name", files, [[b"check", b"./" + name]], sources=(name,))


def _of_a_file(chance: Random, name: bytes) -> Case:
    given = name + b".abc"
    new = [b"new", b"./" + given, b"--lessons", b"made"]
    files: dict[bytes, Any] = {given: chance.choice(good().abc)}
    return Case("file name", files, [new, [b"check", b"{made}"]], sources=(given,))


_TARGETS = (
    b"nowhere", b"/etc/passwd", b"..", b"/dev/zero", b"/dev/null", b"/proc/self/mem",
    b"/dev/tty",
)  # fmt: skip


def _for_a_file(chance: Random, _: bytes) -> Case:
    """Put a folder, or a link to itself or to somewhere else, where a file has to be."""
    lesson: dict[bytes, Any] = dict(small_lesson(chance, plain=True))
    victim = chance.choice([*lesson, b"levels"])
    kept = {
        name: data
        for name, data in lesson.items()
        if name != victim and not name.startswith(victim + b"/")
    }
    target = chance.choice((victim.rpartition(b"/")[2], *_TARGETS))
    kept[victim] = chance.choice((Folder(), Link(target)))
    return _checked("folder or link for a file", kept)


def _of_a_tune(chance: Random, name: bytes) -> Case:
    tune = f"levels/{name.decode('utf-8', 'replace')}.abc"
    lesson = {
        b"lesson.toml": plain_toml(tune),
        b"lesson.ipynb": json.dumps(plain_notebook()).encode(),
        b"levels/" + name + b".abc": chance.choice(good().abc),
    }
    return _checked("file name in lesson.toml", lesson)


def _in_settings(chance: Random, _: bytes) -> Case:
    """Let lesson.toml name a file by a text that names none."""
    lesson = small_lesson(chance, plain=True)
    key = chance.choice(("tune", "soundfont", "cover", "edits", "notation", "solo"))
    said = json.dumps(text(chance), ensure_ascii=chance.random() < 0.5)
    line = f"{key} = {said}\n".encode("utf-8", "surrogatepass")
    data = plain_toml("tune.abc")
    if key in ("edits", "notation", "solo"):
        data += line
    elif key == "cover":
        data = data.replace(b"[audio]\n", b"[audio]\n" + line)
    elif key == "tune":
        data = data.replace(b'tune = "tune.abc"\n', line)
    else:
        data = line + data
    lesson[b"lesson.toml"] = data
    return _checked("path in lesson.toml", lesson)
