"""What the page's engine plays, sample by sample, out of a real Chromium.

The engine runs in an OfflineAudioContext (Web Audio API, W3C), which renders into memory
what a student's loudspeakers would get.
"""

from __future__ import annotations

import numpy as np
import pytest

pytestmark = pytest.mark.browser

RATE = 48_000
ROUNDS = 20
MOST_OFF = RATE // 1000
"""A millisecond."""


def set_levels(page, **values: int) -> None:
    """Set the sliders; players who are not named are silent."""
    for name in ("melody", "bass", "chords", "drums", "click", "all"):
        page.fill(f"#loud-{name}", str(values.get(name, 100 if name == "all" else 0)))


def loop_bars(first: int, last: int, *, percent: int = 100, **levels: int):
    def prepare(page) -> None:
        set_levels(
            page, **(levels or {"melody": 60, "bass": 60, "chords": 60, "drums": 60})
        )
        page.fill("#tempo", str(percent))
        page.select_option("#loop", "bars")
        page.fill("#from", str(first))
        page.fill("#to", str(last))
        page.press("#to", "Tab")

    return prepare


def lag_of(sound: np.ndarray, like: np.ndarray, *, most: int) -> int:
    """Give by how many samples one sound comes later than another, at most so many."""
    size = 1 << (len(sound) + len(like) - 1).bit_length()
    spectrum = np.fft.rfft(sound, size) * np.conj(np.fft.rfft(like, size))
    found = np.fft.irfft(spectrum, size)
    lags = np.arange(-most, most + 1)
    return int(lags[np.argmax(found[lags])])


def envelope_of(sound: np.ndarray) -> np.ndarray:
    """Give how loud it is from moment to moment, over 5 ms, without its mean."""
    window = np.hanning(RATE // 200)
    loud = np.sqrt(np.convolve(sound**2, window / window.sum(), "same"))
    return loud - loud.mean()


def rounds_of(sound: np.ndarray, length: float, count: int) -> list[np.ndarray]:
    return [sound[round(n * length) : round((n + 1) * length)] for n in range(count)]


def bar_seconds(lesson) -> float:
    level = lesson.level("easy")
    starts = level.route.bar_starts(level.tempo_qpm)
    return starts[2] - starts[1]


def test_twenty_rounds_of_a_loop_are_the_same_to_the_sample(recorded, lesson):
    length = 2 * bar_seconds(lesson) * RATE
    sound = recorded(int(ROUNDS * length / RATE) + 3, loop_bars(3, 4))
    first, *others = rounds_of(sound, length, ROUNDS)
    assert np.abs(first).max() > 0.05
    assert [lag_of(other, first, most=RATE // 10) for other in others] == [0] * (ROUNDS - 1)
    # From the second round on a round begins in the same way too.
    apart = [np.abs(other - others[0]).max() for other in others]
    assert max(apart) < 1e-4


def test_rounds_with_a_count_in_are_the_same_to_the_sample(recorded, lesson):
    bar = bar_seconds(lesson)
    length = 3 * bar * RATE  # two bars of music after a bar of clicks

    def prepare(page) -> None:
        loop_bars(3, 4)(page)
        page.check("#counts-in")

    sound = recorded(int(6 * length / RATE) + 2, prepare)
    others = rounds_of(sound, length, 6)[1:]
    assert [lag_of(other, others[0], most=4800) for other in others] == [0] * 5
    # Each click of the count-in begins on its beat: two milliseconds before it are still.
    beat = bar / 4
    counted = others[0][: round(bar * RATE)]
    for place in range(1, 4):
        at = round(place * beat * RATE)
        assert (
            np.abs(counted[at - 96 : at]).max()
            < 1e-3
            < np.abs(counted[at : at + 480]).max()
        )


@pytest.mark.parametrize("percent", [75, 110])
def test_rounds_at_other_tempos_are_within_a_millisecond(recorded, lesson, percent):
    length = 2 * bar_seconds(lesson) * RATE * 100 / percent
    seconds = int(ROUNDS * length / RATE) + 3
    # A stretcher turns phases as it likes: what can be compared is when it is loud.
    sound = recorded(seconds, loop_bars(3, 4, percent=percent, drums=100))
    first, *others = map(envelope_of, rounds_of(sound, length, ROUNDS))
    lags = [lag_of(other, first, most=RATE // 10) for other in others]
    assert max(map(abs, lags)) <= MOST_OFF, lags


def test_clicks_fall_on_the_beats_of_every_round_at_any_tempo(recorded, lesson):
    """The metronome is never stretched: it is struck where the beat is heard."""
    beat = bar_seconds(lesson) / 4 * RATE * 100 / 75
    prepare = loop_bars(3, 4, percent=75, click=100)
    sound = np.abs(recorded(int(ROUNDS * 8 * beat / RATE) + 3, prepare))
    for number in range(ROUNDS * 8):
        at = round(number * beat)
        began = at - 480 + int(np.argmax(sound[max(0, at - 480) : at + 480] > 1e-3))
        began += max(0, 480 - at)
        assert abs(began - at) <= MOST_OFF, number


def test_players_stay_together_through_play_seek_and_loop(recorded):
    """Whatever is done, what all play is the sum of what each plays: sample by sample."""
    acts = [
        (128 * 300 / RATE, "clock.goTo(4.2)"),
        (128 * 900 / RATE, "clock.setLoop([2, 2])"),
        (128 * 2000 / RATE, "clock.setLoop(null); clock.goTo(2.9)"),
    ]
    players = ("melody", "bass", "chords", "drums")
    counted = recorded(8, set_levels, acts)  # the count-in is in all of them
    alone = [
        recorded(8, lambda page, name=name: set_levels(page, **{name: 50}), acts) - counted
        for name in players
    ]
    together = recorded(
        8, lambda page: set_levels(page, **dict.fromkeys(players, 50)), acts
    )
    assert all(np.abs(sound).max() > 0.005 for sound in alone)
    assert np.abs(together - counted - sum(alone)).max() < 1e-5


def test_the_page_plays_on_the_clock_of_the_finished_mix(recorded, opened, served):
    """Against the demo of the same level, encoded by itself and decoded by the browser."""
    levels = {"melody": 85, "bass": 85, "chords": 85, "drums": 85}
    sound = recorded(10, lambda page: set_levels(page, **levels))
    page = opened(address=served)
    demo = page.evaluate(
        """async () => {
          const answer = await fetch("audio/easy-demo.mp3");
          const room = new OfflineAudioContext(2, 1, 48000);
          const sound = await room.decodeAudioData(await answer.arrayBuffer());
          const left = sound.getChannelData(0), right = sound.getChannelData(1);
          return [...left.slice(0, 480000).map((sample, n) => (sample + right[n]) / 2)];
        }"""
    )
    assert abs(lag_of(sound, np.array(demo), most=RATE // 10)) <= MOST_OFF


def test_a_slider_is_heard_at_once_and_without_a_click(recorded):
    silence = (
        "const slider = document.querySelector('#loud-all');"
        "slider.value = 0; slider.dispatchEvent(new Event('input'))"
    )
    at = 128 * 1500
    sound = recorded(6, lambda page: set_levels(page, melody=80), [(at / RATE, silence)])
    assert np.abs(sound[at - 4800 : at]).max() > 0.01
    assert np.abs(sound[at + 2400 :]).max() < 1e-4
    steps = np.abs(np.diff(sound))
    assert steps[at : at + 2400].max() <= steps[:at].max()
