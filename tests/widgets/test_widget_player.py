import json

import pytest

import kit
from kit.widgets.player_view import PlayerView


class ListeningPlayer(PlayerView):
    """Keeps what it sends instead of sending it to a browser."""

    def __init__(self, *args, **kwargs):
        self.sent = []
        super().__init__(*args, **kwargs)

    def send(self, content, buffers=None):
        self.sent.append((content, buffers or []))


@pytest.fixture
def player(small):
    return ListeningPlayer(small, {"level": "intermediate", "mix": None})


def test_bars_are_those_of_the_route_on_the_audio_clock(player, small):
    level = small.level("intermediate")
    assert len(player.bars) == len(level.route.bars) == 28
    # Two bars of count-in, four beats each, at 150 beats a minute.
    assert player.bars[0] == {
        "id": "b0",
        "words": "bar 1, head A",
        "start": pytest.approx(3.2),
        "end": pytest.approx(4.8),
    }
    assert player.bars[-1]["words"] == "bar 8, tag A"
    assert player.bars[-1]["end"] == pytest.approx(player.seconds)


def test_every_bar_that_sounds_stands_in_the_notation(player):
    for bar in player.bars:
        assert f'data-id="{bar["id"]}"' in player.strip


def test_audio_is_sent_when_asked_for_and_never_part_of_the_state(player):
    assert player.sent == []
    player._handle_custom_msg({"render": True}, [])
    ((content, (audio,)),) = player.sent
    assert content == {
        "audio": {"level": "intermediate", "mix": "demo", "mime": "audio/mpeg"}
    }
    assert len(audio) > 100_000
    assert audio[:3] == b"ID3" or audio[0] == 0xFF
    assert len(json.dumps(player.get_state(), default=str)) < 400_000


def test_another_level_has_other_bars(player):
    player.choose(level="beginner")
    assert len(player.bars) == 16
    assert player.seconds == pytest.approx(18 * 4 * 60 / 120)


def test_another_instrument_changes_the_notation_and_not_the_bars(player):
    bars, strip = player.bars, player.strip
    player.choose(instrument="tenor-sax")
    assert player.bars == bars
    assert player.strip != strip


def test_an_unknown_mix_is_a_programmer_error(small):
    with pytest.raises(ValueError, match="is no mix"):
        kit.player(small, mix="karaoke")
