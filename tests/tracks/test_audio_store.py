"""What has to be rendered again after a change, and what the cache still has."""

from __future__ import annotations

import io
import textwrap
from pathlib import Path

import mido
import pytest

from kit.cache import Cache, default_cache
from kit.lesson.lesson import Lesson, open_lesson
from kit.sound import _takes as takes
from kit.sound.synth import Midirenderer, Take
from kit.tracks.audio import level_audio, level_midi
from kit.tracks.loops import Loop, loop_audio

BARS = ('"C"c d e c|', '"F"A2 A c|', '"G7"B d g f|', '"C"e4|',
        '"F"f a c\' a|', '"C"g e c2|', '"G7"d f B d|', '"C"c4|]')  # fmt: skip


class Passes:
    """The players of each pass of the synthesiser."""

    def __init__(self) -> None:
        self.seen: list[list[str]] = []

    def since(self) -> list[list[str]]:
        """Give the passes since the last question."""
        seen, self.seen = self.seen, []
        return seen


@pytest.fixture
def passes(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Passes:
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    monkeypatch.delenv("KIT_SOUNDFONT", raising=False)
    monkeypatch.delenv("KIT_SYNTH", raising=False)
    log = Passes()
    render = Midirenderer.render

    def counted(self: Midirenderer, midi: bytes) -> Take:
        song = mido.MidiFile(file=io.BytesIO(midi))
        log.seen.append([track.name for track in song.tracks[1:]])
        return render(self, midi)

    monkeypatch.setattr(Midirenderer, "render", counted)
    return log


def lesson_in(
    folder: Path, *, bar: int = 0, notes: str = "", more: str = "", tuning: str = "440"
) -> Lesson:
    """Make the lesson, one bar rewritten."""
    home = folder / "eight-bars"
    home.mkdir(exist_ok=True)
    bars = list(BARS)
    if bar:
        bars[bar - 1] = notes
    head = "X:1\nT:Eight bars\nM:4/4\nL:1/4\nK:C\n"
    music = "".join(("P:A\n", *bars[:4], "\nP:B\n", *bars[4:], "\n"))
    (home / "tune.abc").write_text(head + music, encoding="utf-8")
    text = f"""\
        title = "Eight bars"
        instruments = ["alto-sax", "clarinet"]
        {more}
        [audio]
        a4 = {tuning}
        [[levels]]
        name = "beginner"
        tempo = 240
        feel = "straight-eighths"
        count_in_bars = 1
        """
    (home / "lesson.toml").write_text(textwrap.dedent(text), encoding="utf-8")
    return open_lesson(home)


def test_a_changed_note_leaves_the_band_and_the_other_bars_loops(
    tmp_path: Path, passes: Passes
) -> None:
    before = lesson_in(tmp_path)
    mixes = ("demo", "backing", "melody")
    old = level_audio(before, "beginner", mixes)
    old_loops = [loop_audio(before, "beginner", Loop(*bars)) for bars in ((1, 4), (5, 8))]
    passes.since()
    after = lesson_in(tmp_path, bar=6, notes='"C"g e d2|')

    assert level_audio(after, "beginner", ["backing"])["backing"] == old["backing"]
    assert loop_audio(after, "beginner", Loop(1, 4)) == old_loops[0]
    assert passes.since() == [], "nothing that was heard before is rendered again"

    assert level_audio(after, "beginner", ["melody"])["melody"] != old["melody"]
    assert passes.since() == [["melody"]]
    assert level_audio(after, "beginner", ["demo"])["demo"] != old["demo"]
    assert passes.since() == [], "the band is kept, and the melody is the last"
    assert loop_audio(after, "beginner", Loop(5, 8)) != old_loops[1]
    assert passes.since() == [["melody", "bass", "chords"]]

    assert level_audio(after, "beginner", mixes)["backing"] == old["backing"]
    assert passes.since() == [], "the second time all of it is in the cache"


def test_changes_that_concern_the_band_are_heard_in_its_mix(
    tmp_path: Path, passes: Passes
) -> None:
    backing = level_audio(lesson_in(tmp_path), "beginner", ["backing"])["backing"]
    passes.since()
    other_chord = lesson_in(tmp_path, bar=2, notes='"Dm7"A2 A c|')
    assert level_audio(other_chord, "beginner", ["backing"])["backing"] != backing
    assert ["bass", "chords"] in passes.since()
    higher = lesson_in(tmp_path, tuning="442")
    assert level_audio(higher, "beginner", ["backing"])["backing"] != backing
    assert ["bass", "chords"] in passes.since()


def test_another_soloist_leaves_the_backing(tmp_path: Path, passes: Passes) -> None:
    mixes = ("backing", "melody")
    before = level_audio(lesson_in(tmp_path), "beginner", mixes)
    passes.since()
    clarinet = lesson_in(tmp_path, more='default_instrument = "clarinet"')
    after = level_audio(clarinet, "beginner", mixes)
    assert after["backing"] == before["backing"]
    assert after["melody"] != before["melody"]
    assert all(players == ["melody"] for players in passes.since())


def test_what_the_file_says_of_itself_is_part_of_it(tmp_path: Path, passes: Passes) -> None:
    one = level_audio(lesson_in(tmp_path), "beginner", ["click"])["click"]
    passes.since()
    told = 'school = "Another school"\nrights = { statement = "By us, 2026." }'
    other = level_audio(lesson_in(tmp_path, more=told), "beginner", ["click"])["click"]
    for words in ("Another school", "2026 By us, 2026."):
        assert words.encode("utf-16-le") in other.data
        assert words.encode("utf-16-le") not in one.data
    assert other.data.endswith(one.data[-100_000:]), "the sound is the same"
    assert passes.since() == [], "nothing was played for it"


def test_equal_bytes_are_kept_once(tmp_path: Path, passes: Passes) -> None:
    cache = Cache(tmp_path / "cache")
    first = level_audio(lesson_in(tmp_path), "beginner", ["backing"], cache=cache)
    size = sum(path.stat().st_size for path in (tmp_path / "cache").rglob("*"))
    changed = lesson_in(tmp_path, bar=6, notes='"C"g e d2|')
    assert level_audio(changed, "beginner", ["backing"], cache=cache) == first
    more = sum(path.stat().st_size for path in (tmp_path / "cache").rglob("*")) - size
    assert more < 0.1 * size, "only small entries that lead to the same audio"


def test_audio_that_has_gone_from_the_cache_is_made_anew(
    tmp_path: Path, passes: Passes
) -> None:
    lesson = lesson_in(tmp_path)
    audio = level_audio(lesson, "beginner", ["melody"])["melody"]
    for path in default_cache().folder.rglob("*"):
        if path.is_file() and path.stat().st_size > 10_000:
            path.unlink()
    takes._last.clear()
    passes.since()
    assert level_audio(lesson, "beginner", ["melody"])["melody"] == audio
    assert ["melody"] in passes.since()


def test_a_midi_file_is_written_once(tmp_path: Path, passes: Passes) -> None:
    lesson = lesson_in(tmp_path)
    midi = level_midi(lesson, "beginner")
    entries = sorted(default_cache().folder.rglob("*"))
    assert level_midi(lesson, "beginner") == midi
    assert sorted(default_cache().folder.rglob("*")) == entries
    assert level_midi(lesson_in(tmp_path, bar=6, notes='"C"g e d2|'), "beginner") != midi
