"""The lesson's page in a real Chromium, opened from disk, sound and all."""

from __future__ import annotations

from statistics import median

import pytest

pytestmark = pytest.mark.browser

CLOCK = "document.querySelector('.player').clock"


def test_the_lit_bar_is_the_one_the_clock_says(opened, lesson, heard_bars):
    seen, slowest_frame = heard_bars(opened(), 5)
    route = lesson.level("easy").route
    starts = route.bar_starts(lesson.level("easy").tempo_qpm)
    assert [bar for bar, _ in seen[:5]] == [bar.sheet_index for bar in route.bars[:5]]
    late = [heard - start for (_, heard), start in zip(seen[:5], starts, strict=False)]
    assert min(late) >= -0.005
    assert median(late) <= 0.05
    assert max(late) <= max(0.05, slowest_frame + 0.02)


def test_choosing_an_instrument_changes_the_key_and_is_remembered(opened, wait_drawn):
    page = opened()
    assert "in A minor" in page.inner_text("#stage-title")
    page.select_option("#instrument", "tenor-sax")
    wait_drawn(page, "easy/tenor-sax")
    assert "Tenor saxophone, easy, in D minor" in page.inner_text("#stage-title")
    assert "Dm7" in page.inner_html(".sheet .wide")
    assert page.is_visible('[data-handout="tenor-sax"] a')
    assert not page.is_visible('[data-handout="alto-sax"] a')
    page.reload()
    wait_drawn(page, "easy/tenor-sax")
    assert page.input_value("#instrument") == "tenor-sax"


def test_choosing_a_level_changes_music_words_and_passages(opened, wait_drawn):
    page = opened()
    assert not page.is_visible("text=Only when hard.")
    page.check('.levels input[value="hard"]', force=True)
    wait_drawn(page, "hard/alto-sax")
    assert page.is_visible("text=Only when hard.")
    kinds = page.locator(".strip-kind").all_inner_texts()
    assert [kind.lower() for kind in kinds] == ["head", "solo", "head", "tag"]


def test_clicking_a_bar_plays_from_it(opened, lesson):
    page = opened()
    light = page.locator('.sheet .wide .bar-light[data-bar="6"]')
    light.scroll_into_view_if_needed()
    box = light.bounding_box()
    # A look from outside comes late on a busy machine, so the page notes where it began.
    page.evaluate(
        """() => {
          const { clock } = document.querySelector(".player");
          clock.listeners.push((bar, now) => { if (clock.playing) window.began ??= now; });
        }"""
    )
    # In the middle of a bar lies a staff line, which must not swallow the click.
    page.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.wait_for_function("window.began !== undefined")
    start = lesson.level("easy").route.bar_starts(lesson.level("easy").tempo_qpm)[6]
    assert start - 0.01 <= page.evaluate("window.began") <= start + 1.0
    page.click(".play")


def test_a_passage_is_looped(opened, lesson):
    page = opened()
    page.click("#more")
    page.select_option("#loop", "1")
    level = lesson.level("easy")
    starts = level.route.bar_starts(level.tempo_qpm)
    page.evaluate(f"{CLOCK}.goTo({starts[8] + 0.9})")
    page.click(".play")
    page.wait_for_function(f"{CLOCK}.sound.rounds === 1 && {CLOCK}.place < {starts[6]}")
    assert page.evaluate(f"{CLOCK}.place") >= starts[5] - 0.01
    page.click(".play")


def test_tempo_changes_the_speed_and_says_the_beats(opened, wait_drawn):
    page = opened()
    page.click("#more")
    page.fill("#tempo", "51")
    assert page.inner_text("#tempo-words") == "51 %, 92 beats a minute"
    page.check('.levels input[value="hard"]', force=True)
    wait_drawn(page, "hard/alto-sax")
    assert page.inner_text("#tempo-words") == "51 %, 122 beats a minute"
    page.click(".play")
    page.wait_for_function(f"{CLOCK}.place > 0.2")
    assert page.evaluate(f"{CLOCK}.sound.speed") == 0.51
    page.click(".play")


def test_a_player_in_the_text_starts_its_own_mix(opened, wait_drawn):
    page = opened()
    page.click("text=Play this")
    wait_drawn(page, "hard/alto-sax")
    page.wait_for_function(f"{CLOCK}.playing")
    assert page.evaluate("document.querySelector('#mix').value") == "melody"
    page.click(".play")


def test_ticked_steps_stay_ticked(opened, wait_drawn):
    page = opened()
    page.locator('[data-kind="practice-plan"] input[type="checkbox"]').first.check()
    page.reload()
    wait_drawn(page, "easy/alto-sax")
    assert page.locator(
        '[data-kind="practice-plan"] input[type="checkbox"]'
    ).first.is_checked()


def test_the_keyboard_starts_and_stops_the_sound(opened):
    page = opened()
    page.focus(".play")
    page.keyboard.press("Enter")
    page.wait_for_function(f"{CLOCK}.playing")
    page.wait_for_selector('.play[aria-label="Pause"]')
    page.keyboard.press("Enter")
    page.wait_for_function(f"!{CLOCK}.playing")


@pytest.mark.parametrize("level", ["easy", "hard"])
def test_nothing_runs_over_the_edge_of_a_small_telephone(opened, level, wait_drawn):
    page = opened(viewport={"width": 360, "height": 740}, is_mobile=True)
    page.check(f'.levels input[value="{level}"]', force=True)
    wait_drawn(page, f"{level}/alto-sax")
    page.click("#more")
    assert page.evaluate("document.documentElement.scrollWidth") == 360
    assert page.is_visible(".sheet .narrow svg")
    assert not page.is_visible(".sheet .wide svg")


def test_without_script_the_music_can_be_read_and_no_dead_control_shows(opened):
    page = opened(java_script_enabled=False)
    assert page.is_visible(".sheet .wide svg")
    assert page.is_visible("text=The form")
    for control in (".play", "#instrument", "#seek"):
        assert not page.is_visible(control)


def test_paper_shows_music_and_words_without_controls(opened):
    page = opened()
    page.emulate_media(media="print")
    assert page.is_visible(".sheet .wide svg")
    for control in (".player", ".choices", ".strip"):
        assert not page.is_visible(control)
