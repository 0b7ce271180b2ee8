"""The editors in a real JupyterLab: choose a note, edit it, see it, undo it, read the file.

The notebook is one of the test's own, beside a copy of the first demo lesson.
"""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from waiting import run_all_cells, until

pytestmark = pytest.mark.browser

SLUG = "bench-lesson"
CALLS = (
    "import kit\nlesson = kit.open_lesson()",
    "kit.bench(lesson)",
    'kit.excerpt(lesson, level="intermediate", section="A")',
    "kit.changes_editor(lesson)",
    'kit.route_editor(lesson, level="intermediate")',
    "kit.form_editor(lesson)",
    "kit.form_chart(lesson)",
    'kit.excerpt(lesson, size="normal")',
    "kit.problems(lesson)",
)
FREE = "kit.excerpt(lesson, size"
"""The excerpt that shows whatever section is chosen elsewhere."""


def notebook(calls: tuple[str, ...]) -> str:
    cells = [
        {"cell_type": "code", "id": f"cell-{number}", "metadata": {}, "source": call,
         "execution_count": None, "outputs": []}
        for number, call in enumerate(calls)
    ]  # fmt: skip
    kernel = {"name": "python3", "display_name": "Python 3", "language": "python"}
    return json.dumps(
        {
            "cells": cells,
            "metadata": {"kernelspec": kernel},
            "nbformat": 4,
            "nbformat_minor": 5,
        }
    )


def run_all(page, url: str, path: str) -> None:
    page.goto(f"{url}/lab/tree/{path}?reset")
    run_all_cells(page)


def live(page, call: str):
    """Give the live view of a call, scrolled into view."""
    cell = page.locator(".jp-CodeCell", has_text=call).first
    until(cell.count, why=f"a cell with {call}")
    cell.scroll_into_view_if_needed()
    view = cell.locator(".lk-live")
    view.wait_for()
    return view


@pytest.fixture(scope="module")
def lesson_folder(lab_folder: Path) -> Path:
    folder = lab_folder / SLUG
    shutil.copytree(
        lab_folder / "lamplighters-detour",
        folder,
        ignore=shutil.ignore_patterns("*.ipynb", ".kit-history"),
    )
    (folder / "bench.ipynb").write_text(notebook(CALLS), encoding="utf-8")
    return folder


@pytest.fixture(scope="module")
def lab(browser, lab_url, lesson_folder):
    context = browser.new_context(
        viewport={"width": 1280, "height": 1000},
        permissions=["clipboard-read", "clipboard-write"],
    )
    page = context.new_page()
    run_all(page, lab_url, f"{SLUG}/bench.ipynb")
    yield page
    context.close()


def level_text(folder: Path) -> str:
    return (folder / "levels" / "intermediate.toml").read_text(encoding="utf-8")


def choose_by_keys(page, bench, words: str) -> None:
    """Go from note to note with the right arrow until one with these words is chosen."""
    bench.locator(".lk-staves").focus()
    page.keyboard.press("Home")
    chosen = bench.locator(".lk-chosen-words")
    for _ in range(60):
        if words in chosen.text_content():
            return
        page.keyboard.press("ArrowRight")
    pytest.fail(f"no note {words}")


def test_an_early_note_is_applied_seen_saved_and_undone(lab, lesson_folder):
    before = level_text(lesson_folder)
    bench = live(lab, "kit.bench(lesson)")
    choose_by_keys(lab, bench, "bar 6, beat 1: A")
    edits = bench.locator(".lk-operation")
    until(
        lambda: "early" in edits.locator("option").all_text_contents(),
        why="what is possible is listed",
    )
    drawing = bench.locator(".lk-staves svg.music")
    notes = drawing.locator(".note").count()
    edits.select_option("early")
    until(
        lambda: "early" in bench.locator(".lk-preview").text_content(),
        why="it is previewed",
    )
    assert bench.locator(".lk-mark.lk-fresh").count() > 0
    assert level_text(lesson_folder) == before
    bench.get_by_role("button", name="Apply", exact=True).click()
    until(
        lambda: 'bar = 6, beat = 1, do = "early"' in level_text(lesson_folder),
        why="the file has the edit",
    )
    assert level_text(lesson_folder).count("\n") == before.count("\n") + 1
    until(
        lambda: (
            "Bar 6: the first note comes an eighth early"
            in bench.locator(".lk-facts-below").text_content()
        ),
        why="the comparison says it",
    )
    assert drawing.locator(".note").count() >= notes
    bench.get_by_role("button", name="Undo").click()
    until(lambda: level_text(lesson_folder) == before, why="the file is as it was")


def test_a_click_chooses_the_note_and_the_excerpt_follows_an_applied_edit(
    lab, lesson_folder
):
    excerpt = live(lab, "kit.excerpt(lesson")
    turns = excerpt.locator(".lk-notation").first.inner_html()
    bench = live(lab, "kit.bench(lesson)")
    note = bench.locator('.lk-staves [data-id="b5n0"]')
    box = note.bounding_box()
    lab.mouse.click(box["x"] + box["width"] / 2, box["y"] + box["height"] - 3)
    until(
        lambda: "bar 6, beat 1: A" in bench.locator(".lk-chosen-words").text_content(),
        why="the note is chosen",
    )
    edits = bench.locator(".lk-operation")
    until(
        lambda: "octave down" in edits.locator("option").all_text_contents(),
        why="what is possible is listed",
    )
    edits.select_option("octave down")
    bench.get_by_role("button", name="Apply", exact=True).click()
    excerpt = live(lab, "kit.excerpt(lesson")
    until(
        lambda: excerpt.locator(".lk-notation").first.inner_html() != turns,
        why="the excerpt is drawn anew",
    )
    bench = live(lab, "kit.bench(lesson)")
    bench.locator(".lk-staves").focus()
    lab.keyboard.press("Control+z")
    until(lambda: "octave down" not in level_text(lesson_folder), why="undone by key")


def test_a_chord_is_typed_in_the_players_key_and_stored_at_concert_pitch(
    lab, lesson_folder
):
    changes = live(lab, "kit.changes_editor(lesson)")
    changes.locator('[data-chord="3 1"]').click()
    until(
        lambda: "bar 4, beat 1: E7" in changes.locator(".lk-chosen-words").text_content(),
        why="the chord is chosen",
    )
    changes.get_by_role("textbox", name="Chord").fill("Bb7")
    changes.get_by_role("button", name="Set chord").click()
    until(lambda: 'to = "D♭7"' in level_text(lesson_folder), why="concert pitch is stored")
    until(
        lambda: changes.locator('[data-chord="3 1"]').text_content() == "B♭7",
        why="the grid shows the written chord",
    )
    changes.get_by_role("button", name="Undo").click()
    until(lambda: "D♭7" not in level_text(lesson_folder), why="undone")


def test_a_route_is_changed_by_keyboard_and_saved_into_lesson_toml(lab, lesson_folder):
    toml = lesson_folder / "lesson.toml"
    before = toml.read_text(encoding="utf-8")
    route = live(lab, "kit.route_editor(lesson")
    times = route.locator('tr[data-row="2"] [data-field="tag_times"]')
    times.fill("2")
    times.press("Tab")
    until(
        lambda: "tag = { bars = 2, times = 2 }" in toml.read_text(encoding="utf-8"),
        why="the tag is saved",
    )
    assert "# One lesson." in toml.read_text(encoding="utf-8")
    until(
        lambda: "twice in all" in route.locator(".lk-body").text_content(),
        why="the words follow",
    )
    route.get_by_role("button", name="Undo").click()
    until(lambda: toml.read_text(encoding="utf-8") == before, why="undone")


def test_a_second_writer_is_told_and_chooses(lab, lesson_folder):
    path = lesson_folder / "levels" / "intermediate.toml"
    bench = live(lab, "kit.bench(lesson)")
    path.write_text(
        level_text(lesson_folder).replace(
            "edits = [", 'edits = [\n  { bar = 1, beat = 2, do = "accent" },'
        ),
        encoding="utf-8",
    )
    theirs = level_text(lesson_folder)
    choose_by_keys(lab, bench, "bar 5, beat 3")
    edits = bench.locator(".lk-operation")
    until(lambda: "staccato" in edits.locator("option").all_text_contents(), why="listed")
    edits.select_option("staccato")
    bench.get_by_role("button", name="Apply", exact=True).click()
    conflict = bench.locator(".lk-conflict")
    until(lambda: "has changed on disk" in conflict.text_content(), why="the message")
    assert level_text(lesson_folder) == theirs
    conflict.get_by_role("button", name="Keep mine").click()
    until(lambda: "staccato" in level_text(lesson_folder), why="mine is written")
    until(conflict.is_hidden, why="the conflict is settled")
    assert "accent" not in level_text(lesson_folder)
    kept = [p.read_text() for p in (lesson_folder / ".kit-history").rglob("2*Z-*")]
    assert theirs in kept


def test_the_form_editor_draws_the_sections_and_refuses_a_gap(lab, lesson_folder):
    form = live(lab, "kit.form_editor(lesson)")
    bars = form.locator('tr[data-row="2"] [data-field="bars"]')
    bars.fill("18-24")
    bars.press("Tab")
    until(
        lambda: form.locator(".lk-problem").text_content() != "", why="the gap is refused"
    )
    assert "sections = [" not in (lesson_folder / "lesson.toml").read_text(encoding="utf-8")
    form.get_by_role("button", name="Undo").click()
    until(lambda: bars.input_value() == "17-24", why="the last good range is back")
    assert form.locator(".lk-problem").is_hidden()
    assert form.locator(".lk-body svg").count() == 1


def test_of_many_choices_in_quick_succession_only_few_are_drawn_and_the_last_stays(lab):
    excerpt = live(lab, FREE)
    drawn = excerpt.evaluate(
        """async (view) => {
          const select = view.querySelector('select[data-chooser="instrument"]');
          const body = view.querySelector(".lk-body");
          let count = 0;
          new MutationObserver(() => (count += 1)).observe(body, { childList: true });
          const values = [...select.options].map((one) => one.value);
          for (let turn = 0; turn < 40; turn += 1) {
            select.value = turn === 39 ? "trombone" : values[turn % values.length];
            select.dispatchEvent(new Event("change"));
            // Quicker than any kernel: with a pause a fast one may draw each choice.
            await new Promise((done) => setTimeout(done, 0));
          }
          const shown = () => view.querySelector(".lk-caption").textContent;
          for (let wait = 0; wait < 2400 && !shown().includes("trombone"); wait += 1) {
            await new Promise((done) => setTimeout(done, 100));
          }
          return { count, shown: shown(), value: select.value };
        }"""
    )
    assert "trombone" in drawn["shown"]
    assert drawn["value"] == "trombone"
    assert 1 <= drawn["count"] < 20
    lab.wait_for_timeout(1500)
    assert excerpt.locator('select[data-chooser="instrument"]').input_value() == "trombone"
    excerpt.locator('select[data-chooser="instrument"]').select_option("alto-sax")
    until(
        lambda: "alto" in excerpt.locator(".lk-caption").text_content(),
        why="the alto again",
    )


def test_a_refused_choice_goes_back_to_what_is_shown(lab):
    excerpt = live(lab, FREE)
    key = excerpt.locator('select[data-chooser="section"]')
    key.select_option("bars")
    excerpt.get_by_label("Section: first bar").fill("90")
    excerpt.get_by_label("Section: last bar").fill("99")
    excerpt.get_by_label("Section: last bar").press("Tab")
    until(
        lambda: "no section" in excerpt.locator(".lk-problem").text_content(),
        why="there are no such bars",
    )
    until(lambda: key.input_value() == "", why="the box says what is shown")


def test_a_section_is_chosen_in_the_chart_by_click_and_by_keyboard(lab):
    chart = live(lab, "kit.form_chart(lesson)")
    strip = chart.locator('[data-section="2"]')
    strip.locator("[data-bar]").first.click()
    until(lambda: strip.get_attribute("aria-pressed") == "true", why="it is framed")
    assert chart.locator(".lk-picked-frame").count() == 1
    excerpt = live(lab, FREE)
    until(
        lambda: "bars 17–24" in excerpt.locator(".lk-title").text_content(),
        why="the excerpt shows the bridge",
    )
    chart = live(lab, "kit.form_chart(lesson)")
    chart.locator('[data-section="3"]').focus()
    lab.keyboard.press("Enter")
    excerpt = live(lab, FREE)
    until(
        lambda: "bars 25–32" in excerpt.locator(".lk-title").text_content(),
        why="the excerpt shows the last section",
    )
    chart = live(lab, "kit.form_chart(lesson)")
    chart.locator('[data-section="3"]').focus()
    lab.keyboard.press("Space")
    until(lambda: chart.locator(".lk-picked-frame").count() == 0, why="the whole tune")


def test_an_excerpt_is_copied_as_notation_and_as_pictures(lab):
    excerpt = live(lab, FREE)
    status = excerpt.locator(".lk-status")
    for words in ("MusicXML", "SVG"):
        excerpt.get_by_role("button", name=f"Copy as {words}").click()
        until(lambda w=words: status.text_content() == f"Copied as {w}.", why="copied")
        text = lab.evaluate("() => navigator.clipboard.readText()")
        assert "<score-partwise" in text if words == "MusicXML" else "<svg" in text
        assert "lk-ring" not in text
    excerpt.get_by_role("button", name="Copy as PNG").click()
    until(lambda: status.text_content() == "Copied as PNG.", why="copied")
    ink = lab.evaluate(
        """async () => {
          const [item] = await navigator.clipboard.read();
          const picture = await createImageBitmap(await item.getType("image/png"));
          const canvas = new OffscreenCanvas(picture.width, picture.height);
          const pen = canvas.getContext("2d");
          pen.drawImage(picture, 0, 0);
          const dots = pen.getImageData(0, 0, picture.width, picture.height).data;
          let dark = 0;
          for (let i = 0; i < dots.length; i += 4) dark += dots[i] < 100;
          return { width: picture.width, share: dark / (dots.length / 4) };
        }"""
    )
    assert ink["width"] > 1500
    assert 0.005 < ink["share"] < 0.2


def test_where_copying_is_not_allowed_a_file_is_saved(lab):
    excerpt = live(lab, FREE)
    lab.evaluate(
        "() => { navigator.clipboard.write = () => Promise.reject(new Error('no')); }"
    )
    with lab.expect_download() as saved:
        excerpt.get_by_role("button", name="Copy as PNG").click()
    assert saved.value.suggested_filename.endswith(".png")
    assert saved.value.suggested_filename.startswith(SLUG)
    until(
        lambda: (
            "does not let the page copy" in excerpt.locator(".lk-status").text_content()
        ),
        why="it is told",
    )
    with lab.expect_download() as saved:
        excerpt.get_by_role("button", name="Save as MusicXML").click()
    assert "<score-partwise" in Path(saved.value.path()).read_text(encoding="utf-8")


def test_a_problem_goes_to_its_bar(lab):
    problems = live(lab, "kit.problems(lesson)")
    go = problems.locator(".lk-go").first
    first = problems.locator(".lk-finding[data-first]").first.get_attribute("data-first")
    go.click()
    excerpt = live(lab, FREE)
    until(
        lambda: f" {first}" in excerpt.locator(".lk-title").text_content(),
        why="the excerpt shows the bar",
    )
    assert excerpt.locator(".lk-strip, [data-id].measure").count() >= 1
