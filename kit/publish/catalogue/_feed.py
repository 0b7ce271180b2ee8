"""Which lessons are new? An Atom feed of those that have a date of publication.

A feed needs a time for every entry, and a time that the build invents would make old
lessons new again; so the date is the teacher's, and lessons without one are left out.

Source: RFC 4287 (The Atom Syndication Format).
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from collections.abc import Iterable
from datetime import date
from uuid import NAMESPACE_URL, uuid5

from kit.output.href import path_href
from kit.output.seal import GENERATOR
from kit.publish.catalogue._entries import Entry

__all__ = ["atom_feed"]

ATOM = "http://www.w3.org/2005/Atom"
MOST_ENTRIES = 50
_NOT_XML = re.compile("[^\t\n\r\x20-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def atom_feed(entries: Iterable[Entry], *, school: str, audience: str) -> str | None:
    """Write the feed.

    Parameters
    ----------
    entries : iterable of Entry
        All lessons, as the audience may see them.
    school : str
        Whose feed it is.
    audience : "members" or "public"
        Tells the two feeds of a school apart.

    Returns
    -------
    str or None
        XML, the newest lesson first; None where no lesson has a date.
    """
    dated = [(entry.published, entry) for entry in entries if entry.published is not None]
    if not dated:
        return None
    newest_first = sorted(dated, key=lambda pair: (pair[0], pair[1].slug), reverse=True)
    ET.register_namespace("", ATOM)
    feed = ET.Element(f"{{{ATOM}}}feed")
    name = school or "Lessons"
    _add(feed, "id", _urn(f"{name}/{audience}"))
    _add(feed, "title", f"{name}: new lessons" if school else "New lessons")
    _add(feed, "updated", _time(newest_first[0][0]))
    _add(feed, "generator", GENERATOR)
    ET.SubElement(feed, f"{{{ATOM}}}link", {"rel": "self", "href": "feed.xml"})
    ET.SubElement(feed, f"{{{ATOM}}}link", {"rel": "alternate", "href": "index.html"})
    _add(ET.SubElement(feed, f"{{{ATOM}}}author"), "name", name)
    for day, lesson in newest_first[:MOST_ENTRIES]:
        entry = ET.SubElement(feed, f"{{{ATOM}}}entry")
        _add(entry, "id", _urn(f"{name}/{audience}/{lesson.slug}"))
        _add(entry, "title", lesson.title)
        _add(entry, "updated", _time(day))
        _add(entry, "published", _time(day))
        link = {"rel": "alternate", "href": path_href(f"{lesson.slug}/index.html")}
        ET.SubElement(entry, f"{{{ATOM}}}link", link)
        levels = ", ".join(level.title for level in lesson.levels)
        facts = f"{lesson.key}, {lesson.form}. Levels: {levels}."
        _add(entry, "summary", f"{lesson.summary} {facts}".strip())
    ET.indent(feed, " ")
    text = ET.tostring(feed, encoding="unicode")
    return f'<?xml version="1.0" encoding="utf-8"?>\n{text}\n'


def _add(parent: ET.Element, tag: str, text: str) -> None:
    child = ET.SubElement(parent, f"{{{ATOM}}}{tag}")
    child.text = _NOT_XML.sub(" ", text)


def _urn(name: str) -> str:
    return f"urn:uuid:{uuid5(NAMESPACE_URL, name)}"


def _time(day: date) -> str:
    return f"{day.isoformat()}T00:00:00Z"
