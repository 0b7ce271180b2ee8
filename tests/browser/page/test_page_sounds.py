"""Tempos, mixes and loops of the page, heard by the clock of a real Chromium."""

from __future__ import annotations

import json
from itertools import pairwise
from statistics import median

import pytest

pytestmark = pytest.mark.browser

SOUND = "document.querySelector('#sound')"


@pytest.fixture
def panel(opened):
    """The page with its sound panel open."""
    page = opened()
    page.click("#more")
    return page


def source(page) -> str:
    return page.evaluate(f"{SOUND}.src")


def rate(page) -> float:
    return page.evaluate(f"{SOUND}.playbackRate")


def test_a_tempo_the_band_has_played_is_taken_from_its_file(panel):
    buttons = panel.locator(".tempo-steps button")
    assert buttons.all_inner_texts() == ["70 %", "85 %", "100 %"]
    assert source(panel).startswith("blob:")
    panel.click('.tempo-steps [value="70"]')
    assert source(panel).endswith("/audio/easy-demo-70.mp3")
    assert rate(panel) == 1.0
    assert panel.inner_text("#tempo-words") == "70 %, 126 beats a minute"
    assert buttons.first.get_attribute("aria-pressed") == "true"


def test_a_tempo_between_takes_the_nearest_file_a_little_faster_or_slower(panel):
    panel.fill("#tempo", "75")
    assert source(panel).endswith("/audio/easy-demo-70.mp3")
    assert rate(panel) == pytest.approx(75 / 70)
    panel.fill("#tempo", "110")
    assert source(panel).startswith("blob:")
    assert rate(panel) == pytest.approx(1.1)
    assert panel.evaluate(f"{SOUND}.preservesPitch")


@pytest.mark.parametrize("percent", ["70", "75"])
def test_bars_light_within_50_ms_at_other_tempos_too(panel, lesson, heard_bars, percent):
    panel.fill("#tempo", percent)
    seen, slowest_frame = heard_bars(panel, 4)
    level = lesson.level("easy")
    slower = level.route.bar_starts(level.tempo_qpm * 0.7)  # both play the file at 70 %
    planned = dict(zip((bar.sheet_index for bar in level.route.bars), slower, strict=True))
    late = [(at - planned[bar]) / rate(panel) for bar, at in seen]
    assert len(late) >= 4
    assert min(late) >= -0.005
    assert median(late) <= 0.05
    assert max(late) <= max(0.05, slowest_frame + 0.02)


def test_the_music_goes_on_from_the_same_bar_at_another_tempo(panel, lesson):
    level = lesson.level("easy")
    start = level.route.bar_starts(level.tempo_qpm)[5]
    panel.evaluate(f"{SOUND}.currentTime = {start + 0.1}")
    panel.wait_for_selector("#bar:has-text('B, bar 5')")
    panel.click('.tempo-steps [value="70"]')
    panel.wait_for_function(f"{SOUND}.readyState > 0")
    now = panel.evaluate(f"{SOUND}.currentTime")
    assert now == pytest.approx((start + 0.1) / 0.7, abs=0.02)
    assert "bar 5" in panel.inner_text("#bar")


def test_a_file_that_is_missing_gives_way_to_the_next_best_and_says_so(opened):
    page = opened(may_complain=("ERR_FILE_NOT_FOUND",))
    page.click("#more")
    page.click(".play")
    page.click('.tempo-steps [value="85"]')
    page.wait_for_function(f"{SOUND}.src.startsWith('blob:') && !{SOUND}.paused")
    page.wait_for_function(f"{SOUND}.currentTime > 0.3")
    assert rate(page) == pytest.approx(0.85)
    assert "not beside the page" in page.inner_text(".trouble")
    page.click(".play")


def test_a_mix_without_a_part_is_offered_where_its_file_is(panel):
    shown = (
        "[...document.querySelectorAll('#mix option:not([hidden])')].map((o) => o.value)"
    )
    assert panel.evaluate(shown) == ["demo", "backing", "melody", "no-bass"]
    panel.select_option("#mix", "no-bass")
    assert source(panel).endswith("/audio/easy-no-bass.mp3")
    panel.click(".play")
    panel.wait_for_function(f"{SOUND}.currentTime > 0.2")
    panel.click(".play")
    panel.check('.levels input[value="hard"]', force=True)
    assert panel.evaluate(shown) == ["demo", "backing", "melody"]


def test_bars_by_number_are_repeated_and_a_wrong_number_is_explained(panel, lesson):
    panel.select_option("#loop", "bars")
    panel.fill("#from", "2")
    panel.fill("#to", "40")
    panel.press("#to", "Tab")
    assert "from 0 to 8" in panel.inner_text(".trouble")
    assert panel.get_attribute("#to", "aria-invalid") == "true"
    panel.fill("#to", "3")
    panel.press("#to", "Tab")
    assert panel.inner_text(".trouble").strip() == ""
    level = lesson.level("easy")
    starts = level.route.bar_starts(level.tempo_qpm)
    panel.click(".play")
    panel.evaluate(f"{SOUND}.currentTime = {starts[4] - 0.4}")
    panel.wait_for_function(f"{SOUND}.currentTime < {starts[3]}")
    assert panel.evaluate(f"{SOUND}.currentTime") >= starts[2] - 0.01
    assert panel.locator(".sheet .wide .bar-light.looped").count() == 2
    panel.click(".play")


def test_each_round_is_counted_in_on_the_beats(opened, lesson):
    """Clicks fall on the beats of one bar, the recording silent until the first note."""
    page = opened(
        script="""
          window.clicks = [];
          const start = OscillatorNode.prototype.start;
          OscillatorNode.prototype.start = function (when) {
            const sound = document.querySelector("#sound");
            window.clicks.push(sound.currentTime + when - this.context.currentTime);
            return start.call(this, when);
          };
        """
    )
    page.click("#more")
    page.select_option("#loop", "bars")
    page.fill("#from", "3")
    page.fill("#to", "4")
    page.press("#to", "Tab")
    page.check("#counts-in")
    page.evaluate(
        f"""() => {{
          const sound = {SOUND};
          window.silence = [];
          sound.addEventListener("volumechange", () =>
            window.silence.push([sound.muted, sound.currentTime]));
        }}"""
    )
    page.click(".play")
    page.wait_for_selector("#bar:has-text('Count-in')")
    page.wait_for_selector("#bar:has-text('bar 3')")
    page.click(".play")
    level = lesson.level("easy")
    starts = level.route.bar_starts(level.tempo_qpm)
    beat = (starts[3] - starts[2]) / 4
    clicks = page.evaluate("window.clicks")
    assert clicks == pytest.approx([starts[2] + k * beat for k in range(4)], abs=0.05)
    gaps = [after - before for before, after in pairwise(clicks[1:])]
    assert gaps == pytest.approx([beat, beat], abs=0.005)
    (quiet, _), (loud, at) = page.evaluate("window.silence")[:2]
    assert (quiet, loud) == (True, False)
    assert at == pytest.approx(starts[3], abs=0.04)


def test_pausing_in_a_count_in_ends_it(opened):
    page = opened()
    page.click("#more")
    page.select_option("#loop", "bars")
    page.fill("#from", "3")
    page.press("#from", "Tab")
    page.check("#counts-in")
    page.click(".play")
    page.wait_for_function(f"{SOUND}.muted")
    page.click(".play")
    page.wait_for_function(f"{SOUND}.paused && !{SOUND}.muted")
    assert "bar 3" in page.inner_text("#bar")


@pytest.fixture
def no_more_frames(panel):
    """A machine so busy that no frame is drawn any more; the page's events still come."""

    def stop() -> None:
        panel.evaluate(
            "() => new Promise((done) => {"
            " window.requestAnimationFrame = () => 0; setTimeout(done, 50); })"
        )

    return stop


def test_where_a_count_in_ends_is_said_without_waiting_for_a_frame(panel, no_more_frames):
    panel.select_option("#loop", "bars")
    panel.fill("#from", "3")
    panel.press("#from", "Tab")
    panel.check("#counts-in")
    panel.evaluate(
        f"""() => {SOUND}.addEventListener("pause", () => {{
          window.said = document.querySelector("#bar").textContent;
        }})"""
    )
    no_more_frames()
    panel.click(".play")
    panel.wait_for_function(f"{SOUND}.muted")
    assert panel.inner_text("#bar") == "Count-in"
    panel.click(".play")
    panel.wait_for_function("window.said !== undefined")
    assert panel.evaluate("window.said") == "Head A, bar 3"


def test_where_the_slider_goes_is_said_without_waiting_for_a_frame(panel, no_more_frames):
    no_more_frames()
    said = panel.evaluate(
        """() => {
          const seek = document.querySelector("#seek");
          seek.value = 5;
          seek.dispatchEvent(new Event("input"));
          return document.querySelector("#bar").textContent;
        }"""
    )
    assert said == "Head B, bar 5"


def test_another_level_chosen_in_a_count_in_is_heard(panel, wait_drawn):
    panel.select_option("#loop", "bars")
    panel.fill("#from", "3")
    panel.press("#from", "Tab")
    panel.check("#counts-in")
    panel.click(".play")
    panel.wait_for_function(f"{SOUND}.muted")
    before = source(panel)
    panel.check('.levels input[value="hard"]', force=True)
    wait_drawn(panel, "hard/alto-sax")
    panel.wait_for_function(f"!{SOUND}.muted")
    assert source(panel) != before


def test_a_hidden_page_still_repeats(panel, lesson):
    """No frames are drawn then; the sound's own reports keep the loop."""
    panel.evaluate("window.requestAnimationFrame = () => 0")
    panel.select_option("#loop", "0")
    level = lesson.level("easy")
    starts = level.route.bar_starts(level.tempo_qpm)
    panel.click(".play")
    panel.evaluate(f"{SOUND}.currentTime = {starts[5] - 0.5}")
    panel.wait_for_function(f"{SOUND}.currentTime < {json.dumps(starts[2])}")
    panel.click(".play")
