"""How is the name of a file or a lesson written in a link?

A lesson's folder may be called whatever the file system allows: ``50% off #1? yes``. In
an address ``%``, ``#``, ``?``, ``:`` and others have a meaning, so whatever the kit writes
into an ``href`` or a ``src`` goes through here. Escaping for HTML or XML comes after, where
the markup is written. (Addresses that somebody typed: `kit.lesson.address`.)

Source: RFC 3986 (URI), RFC 8089 (``file:``).
"""

from __future__ import annotations

import os
from urllib.parse import quote

__all__ = ["path_href"]


def path_href(path: str) -> str:
    """Write a path, of which ``/`` separates the names, as a relative address.

    A name that is not UTF-8 becomes the bytes that it is on disk.

    Examples
    --------
    >>> path_href("50% off #1? yes/index.html")
    '50%25%20off%20%231%3F%20yes/index.html'
    >>> path_href("a:b/ü")  # a colon would make "a" a scheme
    'a%3Ab/%C3%BC'
    """
    return "/".join(quote(os.fsencode(name), safe="") for name in path.split("/"))
