"""Written files against the W3C MusicXML 4.0 schema.

Source: musicxml.xsd 4.0 (W3C Community Group Final Report, 2021), as the registry package
``musicxml`` carries it. The two schemas that it imports for attributes of other namespaces
(``xml:lang``, ``xlink:href``) are written here in a few lines, because the package has
none that a validator takes.
"""

from __future__ import annotations

import importlib.util
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from lxml import etree

from kit.instruments.table import all_instruments, instrument
from kit.instruments.transposition import write_part
from kit.tune.musicxml.write import Layout, write_musicxml

HERE = Path(__file__).parent
SITE = "http://www.musicxml.org/xsd/"
XSD = (
    '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="{}">{}'
    "</xs:schema>"
)
XML_ATTRIBUTES = (
    '<xs:attribute name="lang" type="xs:language"/><xs:attribute name="space"/>'
)
XLINK_ATTRIBUTES = "".join(
    f'<xs:attribute name="{name}" type="xs:string"/>'
    for name in ("type", "href", "role", "title", "show", "actuate")
)


def module(path: Path):
    spec = importlib.util.spec_from_file_location(path.stem, path)
    loaded = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = loaded
    spec.loader.exec_module(loaded)
    return loaded


TUNES = module(HERE.parent / "tune" / "test_tune_round_trip.py").tunes
PARTS = module(HERE.parent / "benchmarks" / "corpus_parts.py")


@pytest.fixture(scope="module")
def schema(tmp_path_factory):
    """Give the schema with its imports beside it, so that nothing is fetched."""
    package = importlib.util.find_spec("musicxml")
    assert package is not None, "the package musicxml of the test extra is not installed"
    (root,) = package.submodule_search_locations
    (original,) = Path(root).rglob("musicxml_4_0.xsd")
    folder = tmp_path_factory.mktemp("schema")
    text = original.read_text(encoding="utf-8")
    assert text.count(SITE + "x") == 2
    (folder / "musicxml.xsd").write_text(text.replace(SITE, ""), encoding="utf-8")
    imports = {
        "xml.xsd": XSD.format("http://www.w3.org/XML/1998/namespace", XML_ATTRIBUTES),
        "xlink.xsd": XSD.format("http://www.w3.org/1999/xlink", XLINK_ATTRIBUTES),
    }
    for name, content in imports.items():
        (folder / name).write_text(content, encoding="utf-8")
    return etree.XMLSchema(etree.parse(folder / "musicxml.xsd"))


def complaints(schema, musicxml: str) -> list[str]:
    parser = etree.XMLParser(load_dtd=False, no_network=True, resolve_entities=False)
    schema.validate(etree.fromstring(musicxml.encode(), parser))
    return [f"line {error.line}: {error.message}" for error in schema.error_log]


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(tune=TUNES())
def test_any_tune_is_written_as_the_schema_wants_it(schema, tune) -> None:
    assert complaints(schema, write_musicxml(tune)) == []
    plain = Layout(bars_per_line=None, sections=False, tempo=False)
    assert complaints(schema, write_musicxml(tune, layout=plain)) == []


@pytest.mark.parametrize("slug", [row.slug for row in all_instruments()])
def test_the_part_of_every_instrument_is_valid(schema, slug) -> None:
    (sheet, *_) = PARTS.sheets(4000, 11)
    part = write_part(replace(sheet, feel="Medium swing", tempo_qpm=96.0), instrument(slug))
    text = write_musicxml(
        part.tune, clef=part.instrument.clef, transpose=part.sounding_interval
    )
    assert complaints(schema, text) == []


def test_tunes_of_the_corpus_are_written_valid(schema) -> None:
    found = {
        sheet.source: complaints(schema, write_musicxml(sheet))
        for sheet in PARTS.sheets(250, 3)
    }
    assert len(found) >= 45
    assert {name: wrong for name, wrong in found.items() if wrong} == {}


def test_the_schema_notices_a_mistake(schema) -> None:
    (sheet, *_) = PARTS.sheets(4000, 11)
    text = write_musicxml(sheet)
    assert complaints(schema, text.replace("<duration>", "<durations>", 1).replace(
        "</duration>", "</durations>", 1
    ))  # fmt: skip
