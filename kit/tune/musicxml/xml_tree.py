"""How is XML from a stranger read without harm?

Entities and external references are refused (defusedxml), and depth and number of the
elements are limited while the tree grows. A DOCTYPE that only names MusicXML's own DTD,
as most files have, is accepted; the DTD is not fetched.

Source: the attacks listed in the documentation of Python's defusedxml.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from xml.etree.ElementTree import ParseError, TreeBuilder

from kit.errors import NotationError

if TYPE_CHECKING:
    from xml.etree.ElementTree import Element

__all__ = ["parse_xml"]

MAX_DEPTH = 60
MAX_ELEMENTS = 1_000_000


class _TooMuchError(ValueError):
    """The tree outgrows its limits."""


class _LimitedBuilder(TreeBuilder):
    """Builds the tree and counts."""

    def __init__(self) -> None:
        super().__init__()
        self._depth = 0
        self._count = 0

    def start(self, tag: str, attrs: dict[str, str], /) -> Element:
        """Open an element, within limits."""
        self._depth += 1
        self._count += 1
        if self._depth > MAX_DEPTH:
            raise _TooMuchError(f"elements are nested more than {MAX_DEPTH} deep")
        if self._count > MAX_ELEMENTS:
            raise _TooMuchError(f"it has more than {MAX_ELEMENTS} elements")
        return super().start(tag, attrs)

    def end(self, tag: str, /) -> Element:
        """Close an element."""
        self._depth -= 1
        return super().end(tag)


def parse_xml(data: bytes, *, source: str) -> Element:
    """Parse untrusted XML.

    Raises
    ------
    NotationError
        If it is not well-formed, oversized, or declares entities.
    """
    from defusedxml.common import DefusedXmlException  # noqa: PLC0415
    from defusedxml.ElementTree import DefusedXMLParser  # noqa: PLC0415

    parser = DefusedXMLParser(target=_LimitedBuilder(), forbid_dtd=False)
    try:
        parser.feed(data)
        root: Element = parser.close()
    except DefusedXmlException as error:
        raise NotationError(
            "the XML declares entities or refers to other files, which is not safe to read",
            file=source,
            remedy="export it again from your notation program",
        ) from error
    except _TooMuchError as error:
        raise NotationError(f"the XML is not used: {error}", file=source) from error
    except ParseError as error:
        line, column = error.position
        raise NotationError(
            f"the XML is broken at line {line}, column {column}",
            file=source,
            remedy="export it again from your notation program",
        ) from error
    except (ValueError, LookupError) as error:
        raise NotationError(
            "the XML has an encoding that cannot be read",
            file=source,
            remedy="save it as UTF-8",
        ) from error
    return root
