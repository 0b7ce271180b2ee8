"""How is a good file made a bad one that still parses? By changes to its tree.

JSON and TOML are trees of the same plain values here (`changed_tree`), XML of elements
(`changed_xml`); `toml_text` writes what no careful writer would.
"""

from __future__ import annotations

import copy
import datetime
import json
from random import Random
from typing import Any
from xml.etree import ElementTree as ET

from fuzz_bytes import text

__all__ = ["changed_tree", "changed_xml", "json_text", "toml_text", "value"]

NUMBERS: tuple[Any, ...] = (
    0, -1, 1, 2, 7, 99999, 2**31, 2**63, -(2**64), 10**300, 1e308, -1e308, float("inf"),
    float("nan"), 1e-320, 0.5, 3.3333333333, -0.0, True, False,
)  # fmt: skip


def value(chance: Random) -> Any:
    """Give a value that is wrong nearly everywhere."""
    kind = chance.randrange(10)
    if kind < 4:
        return text(chance)
    if kind < 7:
        return chance.choice(NUMBERS)
    if kind == 7:
        return chance.choice(([], {}, [[]], [{}], {"a": 1}, [1, "a", None], [None] * 5000))
    if kind == 8:
        return _nested(chance.choice((5, 60, 400)))
    return chance.choice((None, datetime.date(2026, 1, 1), [text(chance)]))


def _nested(deep: int) -> Any:
    tree: Any = 1
    for _ in range(deep):
        tree = [tree]
    return tree


def _places(tree: Any) -> list[tuple[Any, Any]]:
    """List every (container, key) of a tree."""
    found: list[tuple[Any, Any]] = []
    todo = [tree]
    while todo and len(found) < 5000:
        node = todo.pop()
        pairs = (
            list(node.items())
            if isinstance(node, dict)
            else list(enumerate(node))
            if isinstance(node, list)
            else []
        )
        for key, child in pairs:
            found.append((node, key))
            todo.append(child)
    return found


def changed_tree(chance: Random, tree: Any) -> Any:
    """Change a tree of dicts and lists at one to four places."""
    tree = copy.deepcopy(tree)
    for _ in range(chance.choice((1, 1, 1, 2, 4))):
        places = _places(tree)
        if not places:
            return value(chance)
        node, key = chance.choice(places)
        _change(chance, node, key, places)
    return tree


def _change(chance: Random, node: Any, key: Any, places: list[tuple[Any, Any]]) -> None:
    way = chance.randrange(8)
    if way <= 2:
        node[key] = value(chance)
    elif way == 3:
        del node[key]
    elif way == 4:
        other, its = chance.choice(places)
        if its in other if isinstance(other, dict) else its < len(other):
            node[key] = copy.deepcopy(other[its])
    elif way == 5 and isinstance(node, dict):
        node[chance.choice((text(chance)[:300], f"{key}s", str(key).upper()))] = node[key]
        del node[key]
    elif way == 6 and isinstance(node, list):
        node.extend([copy.deepcopy(node[key])] * chance.choice((1, 2, 300)))
    else:
        wrapped: Any = [node[key]] if chance.random() < 0.5 else {"x": node[key]}
        node[key] = wrapped


def json_text(chance: Random, tree: Any) -> bytes:
    """Write JSON, now and then with what JSON does not allow."""
    words = json.dumps(tree, ensure_ascii=chance.random() < 0.7, default=str)
    way = chance.randrange(12)
    if way == 0:
        words = words.replace("1", "9" * 5000, 1)
    elif way == 1:
        words = words.replace(":", ": " + "[" * 100_000, 1)
    elif way == 2:
        deep = chance.choice((200, 3000, 100_000))
        words = words[:-1] + ', "deep": ' + '{"a":' * deep + "1" + "}" * deep + "}"
    elif way == 3:
        words = words.replace("{", '{"cells": [], ', 1)
    return words.encode("utf-8", "surrogatepass")


def toml_text(tree: dict[str, Any]) -> bytes:
    """Write a tree as TOML; what TOML has no word for is written as it prints."""
    lines = [f"{_key(k)} = {_inline(v)}" for k, v in tree.items() if not _is_table(v)]
    for name, table in tree.items():
        if isinstance(table, dict):
            lines += [f"[{_key(name)}]", *_rows(table)]
        elif _is_table(table):
            for row in table:
                lines += [f"[[{_key(name)}]]", *_rows(row)]
    return ("\n".join(lines) + "\n").encode("utf-8", "surrogatepass")


def _is_table(tree: Any) -> bool:
    return isinstance(tree, dict) or (
        isinstance(tree, list) and bool(tree) and all(isinstance(row, dict) for row in tree)
    )


def _rows(table: dict[str, Any]) -> list[str]:
    return [f"{_key(k)} = {_inline(v)}" for k, v in table.items()]


def _key(name: Any) -> str:
    plain = str(name).replace("-", "").replace("_", "")
    return str(name) if plain.isascii() and plain.isalnum() else json.dumps(str(name))


def _inline(tree: Any) -> str:
    if isinstance(tree, list):
        return f"[{', '.join(map(_inline, tree))}]"
    if isinstance(tree, dict):
        return f"{{ {', '.join(f'{_key(k)} = {_inline(v)}' for k, v in tree.items())} }}"
    if isinstance(tree, datetime.date):
        return tree.isoformat()
    if isinstance(tree, float):
        return repr(tree)
    # JSON's texts, whole numbers and truth are TOML's too; null is no word of TOML.
    return json.dumps(tree, ensure_ascii=False)


def changed_xml(chance: Random, data: bytes) -> bytes:
    """Change the elements of an XML file at one to five places, or how it is written."""
    try:
        root = ET.fromstring(data)
    except ET.ParseError:
        return data
    for _ in range(chance.choice((1, 1, 2, 3, 5))):
        parents = {child: parent for parent in root.iter() for child in parent}
        if not parents:
            break
        element = chance.choice(list(parents))
        _change_element(chance, element, parents[element], list(parents))
    body = ET.tostring(root, encoding="utf-8", xml_declaration=False)
    return _written(chance, body) if chance.random() < 0.25 else body


def _change_element(
    chance: Random, element: ET.Element, parent: ET.Element, others: list[ET.Element]
) -> None:
    way = chance.randrange(10)
    if way <= 2:
        element.text = _xml_safe(chance, element.text or "")
    elif way == 3:
        parent.remove(element)
    elif way == 4:
        for _ in range(chance.choice((1, 3, 400))):
            parent.append(copy.deepcopy(element))
    elif way == 5:
        other = chance.choice(others)
        parent.append(copy.deepcopy(other))
    elif way == 6:
        element.tag = chance.choice(
            ("note", "measure", "chord", "backup", "part", "x", "direction")
        )
    elif way == 7:
        names = [*element.attrib, "number", "id", "type", "x"]
        element.set(chance.choice(names), _xml_safe(chance, ""))
    elif way == 8:
        children = list(parent)
        chance.shuffle(children)
        parent[:] = children
    else:
        node = element
        for _ in range(chance.choice((3, 70, 900))):
            node = ET.SubElement(node, chance.choice(("note", "time-modification", "x")))


STRANGE_NUMBERS = (
    "0", "-1", "1", "3", "7", "13", "99999", "2147483648", "9" * 5000, "1.5", "1e9", "nan",
    "٣", "",
)  # fmt: skip


def _xml_safe(chance: Random, old: str) -> str:
    if old.strip().lstrip("-").isdigit() and chance.random() < 0.7:
        near = (str(int(old) + 1), str(-int(old)))
        return chance.choice((*STRANGE_NUMBERS, *near))
    return "".join(sign for sign in text(chance) if _is_of_xml(sign))


def _is_of_xml(sign: str) -> bool:
    return sign >= " " and not "\ud800" <= sign <= "\udfff" and sign not in "\ufffe\uffff"


def _written(chance: Random, body: bytes) -> bytes:
    """Write XML as somebody would who means harm."""
    entities = "".join(
        f'<!ENTITY l{n} "{f"&l{n - 1};" * 10}">' if n else '<!ENTITY l0 "lol">'
        for n in range(9)
    )
    bomb = f"<?xml version='1.0'?><!DOCTYPE score-partwise [{entities}]>".encode()
    outside = b'<!DOCTYPE x [<!ENTITY e SYSTEM "file:///etc/passwd">]>'
    code = chance.choice(
        (b"klingon", b"utf-7", b"utf-16", b"base64", b"rot13", b"x" * 5000)
    )
    attributes = b"".join(b' a%d="1"' % n for n in range(20_000))
    return chance.choice(
        (
            bomb + body.replace(b"<step>", b"<step>&l8;", 1),
            outside + body.replace(b"<step>", b"<step>&e;", 1),
            b'<?xml version="1.0" encoding="' + code + b'"?>' + body,
            body.decode().encode("utf-16"),
            body.replace(b">", b">" + b"<x>" * 100_000, 1),
            body.replace(b"<note", b"<?pi " + b"x" * 300_000 + b"?><note", 1),
            body.replace(b"<note", b"<note" + attributes, 1),
            body.replace(b"<step>", b"<step><![CDATA[\x00]]>", 1),
            body + body,
        )
    )
