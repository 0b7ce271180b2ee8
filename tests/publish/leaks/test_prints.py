"""What makes two contents the same, and what does not."""

from __future__ import annotations

import base64
import io
import unicodedata
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from kit.cache import Cache
from kit.lesson.lesson import open_lesson
from kit.publish.leaks._given import computed_prints, given_prints
from kit.publish.leaks._melody import melody_of, melody_runs, number_runs
from kit.publish.leaks._pictures import alike, look
from kit.publish.leaks._piece import Piece, Plain
from kit.publish.leaks._prints import Prints, prints_of, prints_of_pieces
from kit.publish.leaks._read_media import mp3
from kit.publish.leaks._read_music import midi
from kit.publish.leaks._reading import pieces
from kit.publish.leaks._rules import Cell, Rules
from kit.publish.leaks._secrets import times_of
from kit.publish.leaks._sentences import Prose, html_sentences
from kit.publish.leaks._sound import frame_hashes, marked_runs
from kit.publish.leaks._words import run_hashes, telling_hashes, word_stream
from kit.sound.midi_file import to_midi
from kit.tracks.rendition import rendition

SENTENCE = "Let the half-finished phrase hang until somebody on the far shore answers it."


@pytest.mark.parametrize(
    "dressed",
    [
        SENTENCE.upper(),
        SENTENCE.replace("half-", "half-\n").replace("answers", "ans\x02\r\nwers"),
        SENTENCE.replace("phrase", "phra\u00adse").replace("fi", "ﬁ"),
        SENTENCE.replace("far", "&#102;ar").replace(" ", "&nbsp;"),
        SENTENCE.replace(" ", "%20").replace("f", "%66"),
        SENTENCE.replace("s", "\\u0073").replace(" ", "\\n"),
        f"Before it. {SENTENCE} After it.",
    ],
)  # fmt: skip
def test_a_sentence_is_the_same_in_any_dress(dressed: str):
    assert np.isin(telling_hashes(SENTENCE), run_hashes(dressed)).all()


def test_numbers_chord_symbols_and_notes_are_nobodys_sentence():
    assert not len(telling_hashes("1 2 3 4 5 6 7 8 9 10 11 12"))
    assert not len(telling_hashes("Cm7 F7 Bbmaj7 Ebmaj7 Am7b5 D7 Gm6 Gm6 Cm7 F7"))


def test_a_script_without_spaces_is_read_letter_by_letter():
    sentence = "海辺の町で小さな笛を吹く人がいました"
    assert len(telling_hashes(sentence))
    assert np.isin(telling_hashes(sentence), run_hashes(f"昔、{sentence}。")).all()


def test_a_word_more_or_less_is_another_sentence():
    found = run_hashes("Tie up the boat before you go ashore.")
    assert not np.isin(telling_hashes("Tie the boat before supper."), found).any()


@given(st.text())
def test_any_text_gives_words_without_signs(text: str):
    # A vowel sign of Thai that stands alone is a mark (M) and still part of a word.
    parts_of_words = {"L", "N", "M"}
    assert all(
        any(unicodedata.category(c)[0] in parts_of_words for c in word)
        for word in word_stream(text)
    )


steps = st.lists(
    st.tuples(st.integers(48, 84), st.sampled_from([0.5, 1.0, 1.5, 2.0])), min_size=11
)


@given(steps, st.integers(-24, 24), st.integers(0, 7))
def test_a_melody_is_the_same_in_any_key_at_any_time(notes, shift, later):
    """Octaves are folded note by note, as an instrument's range may have it."""
    onset, one, other = 0.0, [], []
    for place, (pitch, wait) in enumerate(notes):
        one.append((pitch, onset))
        other.append((pitch + shift + 12 * (place % 3 - 1), onset + later))
        onset += wait
    assert np.array_equal(melody_runs(one)[0], melody_runs(other)[0])


def test_a_swung_line_is_the_same_line():
    pitches = [60, 62, 64, 67, 65, 64, 62, 60, 59, 62, 65, 69, 67]
    straight = [(p, float(Fraction(n, 2))) for n, p in enumerate(pitches)]
    swung = [(p, n // 2 + (2 / 3 if n % 2 else 0.0)) for n, p in enumerate(pitches)]
    assert len(melody_runs(straight)[0])
    assert np.array_equal(melody_runs(straight)[0], melody_runs(swung)[0])


def test_a_free_cell_gives_its_words_with_their_markup_and_without(built):
    """The teacher may have the same words in a cell that stays at home."""
    text = '## Fish & "<b>Chips</b>" and more\n\nWords.'
    cell = Cell(5, "free", text, is_prose=True, outputs=(), attachments={})
    free = given_prints(built.lesson, (cell,), Rules.of(built.lesson)).words
    assert np.isin(telling_hashes(text), free).all()


def test_bars_of_one_plain_rhythm_tell_nothing():
    quarters = [0, 0.0, 0.25, 1, 0.25, 0.5, 2, 0.5, 0.75, 3, 0.75, 1.0]
    waltz = [0, 0.0, 0.333, 1, 0.333, 0.667, 2, 0.667, 1.0]
    early = [0, 0.0, 0.125, 1, 0.125, 0.375, 2, 0.375, 0.5, 3, 0.5, 0.75, 4, 0.75, 1.0]
    assert not len(number_runs(quarters * 4))
    assert not len(number_runs(waltz * 4))
    assert len(number_runs(quarters + early + quarters))


def test_tables_of_a_free_level_may_stand_one_behind_the_other(built):
    lesson, rules = built.lesson, Rules.of(built.lesson)
    assert rules.free_levels
    tables = [t for name in rules.free_levels for t in times_of(lesson.level(name), lesson)]
    free = given_prints(lesson, (), rules).numbers
    assert np.isin(
        number_runs([n for table in reversed(tables) for n in table]), free
    ).all()


ORNAMENTED = {
    "tune.abc": """X:1
T:Pier
M:4/4
L:1/8
K:Eb
EFGB AGFE | DFAc B2BA | GEFD CB,CD | E2G2 E4 |]
""",
    "lesson.toml": """
title = "Pier"
instruments = ["flute"]
[rights]
basis = "own work"
[tiers]
free_levels = ["turned"]
[[levels]]
name = "turned"
tempo = 124
feel = "straight-eighths"
edits = "turned.toml"
[[levels]]
name = "struck"
tempo = 144
feel = "straight-eighths"
edits = "struck.toml"
""",
    "turned.toml": 'edits = [{ bar = 2, beat = 3, do = "mordent", to = "above" }]',
    "struck.toml": 'edits = [{ bar = 2, beat = 3, do = "repeat", times = 2 }]',
}


def test_what_an_ornament_sounds_like_is_given_with_its_level(tmp_path):
    """A mordent ends on the note that another level strikes twice."""
    for name, text in ORNAMENTED.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    lesson = open_lesson(tmp_path)
    rules = Rules.of(lesson)
    struck = [attack for attack, _ in melody_of(lesson.level("struck").sheet.bars)]
    secret, _ = melody_runs(struck)
    secret = np.setdiff1d(secret, given_prints(lesson, [], rules).melody)
    data = to_midi(rendition(lesson, "turned").perform())
    heard = prints_of_pieces([one for one in midi(data, "") if isinstance(one, Piece)])
    assert np.isin(secret, heard.melody).any()
    given = computed_prints(lesson, rules, []).melody
    assert not np.isin(np.setdiff1d(secret, given), heard.melody).any()


def test_the_readings_of_a_tag_do_not_stand_one_behind_the_other():
    body = b"\x03The Gull over the Pier\x00"
    tag = b"TALB" + len(body).to_bytes(4, "big") + b"\0\0" + body
    head = b"ID3\x04\0\0" + bytes((0, 0, 0, len(tag)))
    found = [one for one in mp3(head + tag, "a.mp3") if isinstance(one, Plain)]
    assert found
    assert all(word_stream(one.text).count("pier") == 1 for one in found)


def test_what_many_tunes_have_tells_nothing():
    one_note = [(60, float(n)) for n in range(40)]
    figure = [(60 + (0, 7, 4, 7)[n % 4], float(n)) for n in range(40)]
    assert not len(melody_runs(one_note)[0])
    assert not len(melody_runs(figure)[0])


def diagram(title: str, size: tuple[int, int] = (640, 400)) -> Image.Image:
    picture = Image.new("RGB", size, "white")
    pen = ImageDraw.Draw(picture)
    pen.text((20, 10), title, fill="black")
    pen.line([(20 + n * 9, 200 + 90 * (n % 7 - 3) // 3) for n in range(60)], "navy", 2)
    return picture


def packed(picture: Image.Image, kind: str, **options: int) -> bytes:
    kept = io.BytesIO()
    picture.save(kept, kind, **options)
    return kept.getvalue()


@pytest.mark.parametrize("quality", [50, 75, 95])
def test_a_picture_is_the_same_as_jpeg_and_another_title_is_another_picture(quality: int):
    seen = look(packed(diagram("Level one"), "PNG"))
    again = look(packed(diagram("Level one"), "JPEG", quality=quality))
    other = look(packed(diagram("Level two"), "PNG"))
    assert seen is not None
    assert again is not None
    assert other is not None
    assert alike(seen, again).all()
    assert not alike(seen, other).any()


def test_a_plain_surface_shows_nothing():
    assert look(packed(Image.new("RGB", (300, 300), "white"), "PNG")) is None
    assert look(b"\x89PNG\r\n\x1a\n and no more") is None


def frames(count: int, seed: int) -> bytes:
    noise = np.random.default_rng(seed).integers(0, 255, (count, 480), np.uint8)
    noise[:, :4] = (0xFF, 0xFB, 0xA4, 0x64)
    return noise.tobytes()


@given(st.integers(0, 90), st.integers(0, 200))
def test_any_second_and_a_half_of_a_sound_is_known(start: int, before: int):
    members, free = frames(160, 1), frames(200, 2)
    piece = members[start * 480 : (start + 62) * 480]
    mixed = prints_of_pieces(pieces(free[: before * 480] + piece + free[before * 480 :]))
    hashes, _ = marked_runs(members)
    assert np.isin(hashes, mixed.frames).any()


def test_silence_is_everybodys():
    silence = frames(1, 3) * 100
    assert len(frame_hashes(silence)) == 100
    assert not len(marked_runs(silence)[0])


def test_prints_are_kept_and_come_back_whole(tmp_path):
    cache = Cache(tmp_path)
    data = f"<p>{SENTENCE}</p>{base64.b64encode(frames(40, 4)).decode()}".encode()
    first, again = prints_of(data, cache), prints_of(data, cache)
    for one, other in ((first.words, again.words), (first.frames, again.frames)):
        assert len(one)
        assert np.array_equal(one, other)
    assert Prints.unpacked(first.packed()).packed() == first.packed()


@pytest.mark.parametrize(
    ("tags", "standing"),
    [
        ([], "free"),
        (["page-only"], "free"),
        (["level:easy"], "free"),
        (["level:hard"], "members"),
        (["level:easy", "level:hard"], "members"),
        (["members"], "members"),
        (["hide"], "members"),
        (["Members"], "members"),
        ([" members "], "members"),
        (["Level:easy"], "members"),
        (["level:none"], "members"),
        ([3], "members"),
        ("members", "members"),
    ],
)
def test_what_is_in_doubt_is_the_members(tags, standing):
    rules = Rules(("easy", "hard"), ("easy",), frozenset({"handout"}))
    assert rules.standing(tags) == standing
    assert Rules(("easy",), (), frozenset()).standing([]) == "members"


@pytest.mark.parametrize(
    ("path", "kind", "level", "gives"),
    [
        ("handouts/easy-alto-sax.pdf", "handout", "easy", True),
        ("handouts/easy-2-alto-sax.pdf", "handout", "easy-2", False),
        ("handouts/easy-2-alto-sax.pdf", "handout", "easy", False),
        ("audio/easy-demo.mp3", "audio", "easy", False),
        ("public/index.html", "page", None, True),
        ("index.html", "page", None, False),
        ("free.zip", "bundle", None, True),
        ("members.zip", "bundle", None, False),
    ],
)
def test_a_file_is_given_by_kind_level_and_name(path, kind, level, gives):
    rules = Rules(("easy", "easy-2"), ("easy",), frozenset({"handout"}))
    assert rules.gives_file({"path": path, "kind": kind, "level": level}) is gives


def test_a_sentence_is_somebodys_if_they_wrote_it_whole():
    prose = Prose(["## The form\n\nThe form of this tune is short. Let it be."])
    assert prose.holds("The form of this tune is short.")
    assert prose.holds("Let it be.")
    assert not prose.holds("this tune")
    assert html_sentences("<h2>The form</h2><p>One. Two <b>thr</b>ee.</p>") == [
        "The form", "One.", "Two three.",
    ]  # fmt: skip
