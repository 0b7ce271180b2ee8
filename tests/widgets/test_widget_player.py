import json
import shutil
import threading

import pytest
from waiting import PATIENCE_S

import kit
from kit.widgets._state import state_of
from kit.widgets.figures._player import PlayerView


class ListeningPlayer(PlayerView):
    """Keeps what it sends instead of sending it to a browser."""

    def __init__(self, *args, **kwargs):
        self.sent = []
        self.arrived = threading.Semaphore(0)
        super().__init__(*args, **kwargs)

    def send(self, content, buffers=None):
        if "audio" in content:
            self.sent.append((content["audio"], buffers[0]))
            self.arrived.release()

    def hear(self, count):
        """Wait until so many files have been sent, and give the last."""
        for _ in range(count):
            assert self.arrived.acquire(timeout=PATIENCE_S)
        return self.sent[-1]


@pytest.fixture
def player(small, tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path))
    return ListeningPlayer("player", small, {"level": "intermediate", "mix": None})


def press_play(player, from_s=0.0):
    player._handle_custom_msg({"play": {"from": from_s}}, [])


def test_bars_are_those_of_the_route_on_the_audio_clock(player, small):
    level = small.level("intermediate")
    assert len(player.bars) == len(level.route.bars) == 28
    # A moment, and two bars of count-in, four beats each, at 150 beats a minute.
    assert player.bars[0] == {
        "id": "b0",
        "number": 1,
        "words": "bar 1, head A",
        "start": pytest.approx(3.45),
        "end": pytest.approx(5.05),
    }
    assert player.bars[-1]["words"] == "bar 8, tag A"
    assert player.bars[-1]["end"] == pytest.approx(player.seconds)


def test_every_bar_that_sounds_stands_in_the_notation(player):
    for bar in player.bars:
        assert f'data-id="{bar["id"]}"' in player.strip


def test_the_opening_comes_first_and_the_whole_behind_it(player):
    assert player.sent == []
    press_play(player, 8.0)
    opening, data = player.sent[0]
    assert (opening["kind"], opening["start"], opening["lead"]) == ("opening", 8.0, 0.0)
    assert 20_000 < len(data) < 200_000
    whole, rest = player.hear(2)
    assert (whole["kind"], whole["start"]) == ("whole", 0.0)
    assert len(rest) > 3 * len(data)
    assert opening["key"] == whole["key"] == player.key


def test_what_was_rendered_before_is_sent_whole_at_once(player):
    press_play(player)
    player.hear(2)
    press_play(player)
    assert player.hear(1)[0]["kind"] == "whole"
    assert len(player.sent) == 3


def test_audio_is_never_part_of_the_state(player):
    press_play(player)
    player.hear(2)
    assert len(json.dumps(player.get_state(), default=str)) < 400_000


def test_another_tempo_is_another_clock_with_the_same_bars(player):
    before = player.bars
    player.choose(tempo="80")
    assert [bar["id"] for bar in player.bars] == [bar["id"] for bar in before]
    for slow, bar in zip(player.bars, before, strict=True):
        assert slow["start"] == pytest.approx(bar["start"] / 0.8)
    assert "/80/" in player.key


def copy_of(lesson, folder):
    shutil.copytree(lesson.folder, folder)
    return kit.open_lesson(folder)


def test_an_edit_on_the_bench_is_heard_at_the_next_press(small, tmp_path, monkeypatch):
    monkeypatch.setenv("KIT_CACHE", str(tmp_path / "cache"))
    lesson = copy_of(small, tmp_path / "small")
    player = ListeningPlayer("player", lesson, {"level": "intermediate", "mix": None})
    press_play(player)
    _, before = player.hear(2)
    old = player.key
    bench = kit.bench(lesson, level="intermediate", section="B")
    bench._handle_custom_msg({"apply": {"do": "octave down", "options": {}}}, [])
    assert bench.problem == ""
    assert player.key != old
    player.sent.clear()
    press_play(player)
    about, after = player.hear(2)
    assert about["key"] == player.key
    assert after != before
    bench.undo()
    assert player.key == old


@pytest.mark.parametrize(
    "line",
    [
        "steady = true",
        'chords = "four-to-the-bar"',
        'section_feels = { B = "bossa-nova" }',
        'ending = "ritardando"',
    ],
)
def test_another_way_of_playing_is_another_sound(small, tmp_path, line):
    lesson = copy_of(small, tmp_path / "small")
    player, key = kit.player(lesson), kit.player(lesson).key
    toml = lesson.folder / "lesson.toml"
    text = toml.read_text(encoding="utf-8")
    toml.write_text(text.replace("tempo = 120", f"tempo = 120\n{line}"), encoding="utf-8")
    lesson.reread()
    state_of(lesson).edition += 1
    assert player.problem == ""
    assert player.key != key


def test_a_loop_begins_with_a_bar_of_sticks(player):
    player.choose(loop="3-4")
    press_play(player)
    loop, data = player.hear(1)
    third = next(bar for bar in player.bars if bar["number"] == 3)
    assert loop["kind"] == "loop"
    assert loop["start"] == pytest.approx(third["start"])
    assert loop["lead"] == pytest.approx(1.6)
    # Three bars of 1.6 s at 64 kbit/s, with tags.
    assert len(data) == pytest.approx(3 * 1.6 * 8000, rel=0.25)


def test_sections_and_hard_bars_are_offered_as_loops(player):
    loops = next(c for c in player.choosers if c["name"] == "loop")
    names = [value for value, _ in loops["options"]]
    assert names[0] == ""
    assert "1-4" in names
    assert names[-1] == "bars"


@pytest.mark.parametrize("loop", ["7-5", "90-99", "x", "1-8; drop"])
def test_bars_that_are_not_there_are_no_loop(player, loop):
    player.choose(loop=loop)
    assert "no bars" in player.problem
    assert player.chosen["loop"] == ""


def test_a_loop_that_another_level_lacks_is_let_go(player):
    player.choose(loop="17-20")
    assert player.chosen["loop"] == "17-20"
    player.choose(level="beginner")
    assert player.chosen["loop"] == ""


def test_drawing_the_player_loads_what_rendering_needs_and_sends_nothing(player):
    before = set(threading.enumerate())
    player._handle_custom_msg({"ready": True}, [])
    for thread in set(threading.enumerate()) - before:
        thread.join(PATIENCE_S)
        assert not thread.is_alive()
    assert player.sent == []
    assert player.problem == ""


def test_another_level_has_other_bars(player):
    player.choose(level="beginner")
    assert len(player.bars) == 16
    assert player.seconds == pytest.approx(0.25 + 18 * 4 * 60 / 120)


def test_another_instrument_changes_the_notation_and_not_the_bars(player):
    bars, strip, key = player.bars, player.strip, player.key
    player.choose(instrument="tenor-sax")
    assert player.bars == bars
    assert player.key == key
    assert player.strip != strip


def test_an_unknown_mix_is_a_programmer_error(small):
    with pytest.raises(ValueError, match="is no mix"):
        kit.player(small, mix="karaoke")
