"""Cover, SoundFont, address, language: what the build would refuse, check refuses first."""

from __future__ import annotations

import struct

import pytest

from kit.check.lesson import check_lesson
from kit.sound.soundfont import find_soundfont

AUDIO = '[audio]\ncover = "cover.png"\n'


def errors(lesson):
    return [str(f) for f in check_lesson(lesson.folder) if f.severity == "error"]


def with_settings(lesson, line):
    settings = lesson.folder / "lesson.toml"
    settings.write_text(f"{line}\n{settings.read_text('utf-8')}", "utf-8")
    return lesson


def chunk(name, data):
    return name + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2)


def soundfont(samples=b"\0\0" * 50, parts=(b"sdta", b"pdta")):
    lists = {
        b"sdta": chunk(b"LIST", b"sdta" + chunk(b"smpl", samples)),
        b"pdta": chunk(b"LIST", b"pdta" + chunk(b"phdr", b"\0" * 38)),
    }
    return chunk(b"RIFF", b"sfbk" + b"".join(lists[part] for part in parts))


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (None, "cover.png: there is no such file"),
        (b"GIF89a", "cover.png: the picture is GIF, not PNG"),
        (
            b"\x89PNG\r\n\x1a\n" + bytes(2_000_000),
            "cover.png: the picture is larger than 1 MB",
        ),
    ],
)
def test_a_cover_that_cannot_be_used_is_told(make_lesson, data, said):
    lesson = make_lesson(more=AUDIO)
    if data is not None:
        (lesson.folder / "cover.png").write_bytes(data)
    (error,) = errors(lesson)
    assert said in error


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (None, "font.sf2: there is no such file"),
        (b"not a font", "font.sf2 is not a SoundFont"),
        (soundfont()[:-20], "font.sf2 is not whole"),
        (soundfont(parts=[b"sdta"]), "font.sf2 has no samples or no sounds"),
        (soundfont(samples=b"OggS" + bytes(60)), "font.sf2 holds packed samples (.sf3)"),
        (soundfont(), "the SoundFont font.sf2 is damaged: a table of it is not whole"),
    ],
)
def test_a_soundfont_that_cannot_be_used_is_one_sentence(make_lesson, data, said):
    lesson = with_settings(make_lesson(), 'soundfont = "font.sf2"')
    if data is not None:
        (lesson.folder / "font.sf2").write_bytes(data)
    (error,) = errors(lesson)
    assert said in error
    assert "test-lesson/font.sf2: " in error


def test_a_soundfont_of_the_lessons_own_that_sounds_is_fine(make_lesson):
    lesson = with_settings(make_lesson(), 'soundfont = "font.sf2"')
    (lesson.folder / "font.sf2").write_bytes(find_soundfont(environ={}).content)
    assert errors(lesson) == []


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ('address = "Rain & Sun"', '"Rain & Sun" is not the address of a web page'),
        (f'address = "https://example.org/{"x" * 120}"', "too many for a QR code"),
        ('language = "english"', 'language = "english" is no language'),
        ('language = "en-GBR"', 'language = "en-GBR" is no language'),
        ('language = ""', 'language = "" is no language'),
    ],
)
def test_settings_that_only_paper_minds_are_told(make_lesson, line, said):
    (error,) = errors(with_settings(make_lesson(), line))
    assert said in error
    assert error.startswith("error: test-lesson/lesson.toml: ")


@pytest.mark.parametrize(
    "line", ['language = "de-AT"', 'address = "https://example.org/ü?a=1#b"']
)
def test_settings_that_paper_can_print_are_fine(make_lesson, line):
    assert errors(with_settings(make_lesson(), line)) == []
