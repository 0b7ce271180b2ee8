"""How fast is writing a lesson in JupyterLab?

Run it as ``python tests/benchmarks/lab.py``. It prints, for lesson 1:

* ``import kit`` in a fresh interpreter;
* a redraw of the excerpt in the kernel, with the ratio to a plain way of doing the same in
  the same run (see ``redraw.py``);
* first sound in the kernel with nothing in the cache, against rendering the whole level;
* the first run of the notebook, by ``nbclient``, with its audio in the cache;
* from a choice in a real JupyterLab (Chromium, driven by Playwright) to new notation on
  the screen, and from a press of play to sound.
"""

from __future__ import annotations

import os
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
import urllib.request
from pathlib import Path
from typing import Any

from redraw import SECTIONS, measured_ms, plain_redraw, report

ROOT = Path(__file__).resolve().parents[2]
LESSON = ROOT / "lessons" / "lamplighters-detour"
CHROMIUM_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
NEW_PIXELS = """
() => new Promise((done) => {
  const views = [...document.querySelectorAll('.lk-live')];
  const live = views.find((view) => view.querySelector('.lk-body svg'));
  const figure = live.querySelector('.lk-body');
  const select = live.querySelector('select[data-chooser="instrument"]');
  const others = [...select.options].filter((option) => !option.selected);
  select.value = others[Math.floor(Math.random() * others.length)].value;
  const start = performance.now();
  new MutationObserver((_, observer) => {
    observer.disconnect();
    const shown = () => done(performance.now() - start);
    requestAnimationFrame(() => requestAnimationFrame(shown));
  }).observe(figure, { childList: true });
  select.dispatchEvent(new Event('change', { bubbles: true }));
})
"""


def import_ms() -> list[float]:
    """Time ``import kit`` in fresh interpreters, less the start of the interpreter."""

    def run(code: str) -> float:
        return measured_ms(
            lambda: subprocess.run([sys.executable, "-c", code], check=True, cwd=ROOT), 1
        )[0]

    bare = statistics.median(run("pass") for _ in range(5))
    return sorted(run("import kit") - bare for _ in range(5))


def redraws() -> None:
    """Change the excerpt in the kernel, and do the same the plain way."""
    import kit

    view = kit.excerpt(kit.open_lesson(LESSON))
    chance = random.Random(1)
    horns = [horn.slug for horn in view.lesson.settings.instruments]
    pairs = [(horn, section) for horn in horns for section in SECTIONS]
    turns = iter(chance.sample(pairs, len(pairs)))

    def choose_new() -> None:
        horn, section = next(turns)
        view.choose(instrument=horn, section=section)

    new = report("excerpt, a choice never made", measured_ms(choose_new, len(pairs)))
    report(
        "excerpt, a choice made before",
        measured_ms(lambda: view.choose(instrument=chance.choice(horns)), 200),
    )
    intervals, stretches = ["M6", "M9", "M2", "M13"], list(SECTIONS.values())
    plain = report(
        "the plain way",
        measured_ms(
            lambda: plain_redraw(chance.choice(intervals), chance.choice(stretches)), 8
        ),
    )
    print(f"ratio of the plain way to a first choice {plain / new:.1f}")


def first_sounds() -> None:
    """Press play in the kernel with an empty cache, and render the level whole."""
    import kit
    from kit.tracks.hearing import opening_audio, warm_up, whole_audio

    with tempfile.TemporaryDirectory() as cache:
        os.environ["KIT_CACHE"] = cache
        lesson = kit.open_lesson(LESSON)
        start = time.perf_counter()
        warm_up(lesson, "beginner", "demo")
        print(f"warm-up when a player is drawn {time.perf_counter() - start:.2f} s")
        starts = iter(range(4, 44, 4))
        opening = report(
            "opening of 12 s, level never played",
            measured_ms(lambda: _opening(opening_audio, lesson, next(starts)), 8),
        )
        whole = report(
            "the whole level",
            measured_ms(lambda: whole_audio(lesson, "intermediate", "demo"), 1),
        )
        print(f"ratio of the whole to its opening {whole / opening:.1f}")


def _opening(make: Any, lesson: Any, start_s: float) -> None:
    make(lesson, "intermediate", "demo", start_s=start_s, end_s=start_s + 12)


def notebook_runs() -> None:
    """Run the lesson's notebook twice: the first fills the cache."""
    from kit.build.execute import executed_notebook

    for name in ("first run of the notebook", "second run"):
        start = time.perf_counter()
        executed_notebook(LESSON / "lesson.ipynb", source="lesson.ipynb")
        print(f"{name} {time.perf_counter() - start:.2f} s")


def in_jupyterlab() -> None:
    """Choose and play in a real JupyterLab."""
    from playwright.sync_api import sync_playwright

    chromium = os.environ.get("KIT_CHROMIUM") or next(
        filter(None, map(shutil.which, CHROMIUM_NAMES)), None
    )
    if chromium is None:
        print("no Chromium here: nothing measured in JupyterLab")
        return
    place = Path(tempfile.mkdtemp())
    shutil.copytree(LESSON, place / "lessons" / LESSON.name)
    port = 8931
    own = {"JUPYTER_CONFIG_DIR": place / "c", "JUPYTER_DATA_DIR": place / "d",
           "JUPYTER_RUNTIME_DIR": place / "r", "KIT_CACHE": place / "cache"}  # fmt: skip
    server = subprocess.Popen(
        [sys.executable, "-m", "kit", "lab", "--no-browser", "--allow-root",
         f"--port={port}", "--ip=127.0.0.1", "--IdentityProvider.token="],
        cwd=place, env={**os.environ, **{k: str(v) for k, v in own.items()},
                        "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
    )  # fmt: skip
    try:
        with sync_playwright() as playwright:
            browser = playwright.chromium.launch(
                executable_path=chromium,
                args=["--no-sandbox", "--disable-gpu",
                      "--autoplay-policy=no-user-gesture-required"],
            )  # fmt: skip
            page = browser.new_page(viewport={"width": 1280, "height": 1000})
            _measure(page, f"http://127.0.0.1:{port}")
            browser.close()
    finally:
        server.terminate()
        server.wait(timeout=30)
        shutil.rmtree(place, ignore_errors=True)


def _measure(page: Any, url: str) -> None:
    until = time.monotonic() + 90
    while time.monotonic() < until:
        try:
            urllib.request.urlopen(f"{url}/api", timeout=2).close()
            break
        except OSError:
            time.sleep(0.3)
    page.goto(f"{url}/lab/tree/{LESSON.name}/lesson.ipynb?reset")
    idle = '.jp-Notebook-ExecutionIndicator[data-status="idle"]'
    page.wait_for_selector(idle, timeout=90_000)
    page.wait_for_timeout(3000)
    page.locator(".lm-MenuBar-item", has_text="Run").first.click()
    start = time.perf_counter()
    page.locator(".lm-Menu-item", has_text="Run All Cells").first.click()
    page.locator(".lk-live .lk-body svg").first.wait_for(timeout=90_000)
    print(f"Run All Cells to the first notation {time.perf_counter() - start:.2f} s")
    page.wait_for_selector(idle, timeout=90_000)
    page.wait_for_timeout(3000)
    spent = sorted(page.evaluate(NEW_PIXELS) for _ in range(40))
    report("choice to new pixels", spent)
    start = time.perf_counter()
    # The figures that follow are drawn once nothing is chosen any more.
    page.wait_for_timeout(400)
    page.wait_for_selector(idle, timeout=90_000)
    spent_s = time.perf_counter() - start
    print(f"forty choices later, until the kernel is at rest {spent_s:.2f} s")
    page.wait_for_timeout(3000)
    # Cells far from the window are not drawn: the cell is scrolled to first.
    cell = page.locator(".jp-CodeCell", has_text="kit.player(").first
    cell.scroll_into_view_if_needed()
    live = cell.locator(".lk-live")
    live.scroll_into_view_if_needed()
    page.wait_for_timeout(3000)
    live.locator(".lk-play").click()
    for _ in range(600):
        heard = live.get_attribute("data-first-sound-ms")
        if heard:
            print(f"press of play to sound, nothing in the cache {heard} ms")
            return
        page.wait_for_timeout(50)
    print("no sound within 30 s")


def main() -> None:
    """Measure and print."""
    report("import kit", import_ms())
    redraws()
    notebook_runs()
    first_sounds()
    in_jupyterlab()


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    main()
