"""How soon is a page usable on a slow line and telephone, and how exact are its loops?

    python tests/benchmarks/page_network.py build/<lesson> [another build of it]

Serves each folder on a site of its own and opens the members' page in Chromium as a student
does who was there before and plays another instrument than the lesson's default: 1.6 Mbit/s
down, 0.75 Mbit/s up, 150 ms, a processor slowed four times (slow 4G of Lighthouse, the open
audit of Chromium), a telephone's screen. Five times, the median:

* usable: the notes of that instrument are drawn, the chooser and the player answer;
* bytes on the line by then, and by the first sound;
* first sound after the play button is pressed;
* layout shift (CLS) and the longest interaction (Event Timing, INP without its percentile)
  over choosing instrument, level, mix and tempo, opening the panel and starting.

Then twenty rounds of a loop of two bars, without any slowing, from recorded sound: how far
each begins from where it should, by cross-correlation with the first round. A page with an
engine of its own is rendered into memory, one with an audio element recorded as it plays.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import statistics
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import numpy as np
from machine import describe
from playwright.sync_api import Page, sync_playwright

TIMES = 5
ROUNDS = 20
RATE = 48_000
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
SLOW = {
    "offline": False, "latency": 150,
    "downloadThroughput": 1.6e6 / 8, "uploadThroughput": 0.75e6 / 8,
}  # fmt: skip
WATCH = """
  localStorage.setItem("lesson-kit.instrument", JSON.stringify(%s));
  window.shift = 0; window.longest = 0;
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) if (!one.hadRecentInput) window.shift += one.value;
  }).observe({ type: "layout-shift", buffered: true });
  new PerformanceObserver((list) => {
    for (const one of list.getEntries()) {
      if (one.interactionId) window.longest = Math.max(window.longest, one.duration);
    }
  }).observe({ type: "event", durationThreshold: 16, buffered: true });
  new MutationObserver(() => {
    const title = document.querySelector(".stage-title")?.textContent ?? "";
    const player = document.querySelector(".play");
    if (title.toLowerCase().startsWith(%s) && player?.offsetParent !== null) {
      window.usable ??= performance.now();
    }
  }).observe(document, { childList: true, characterData: true, subtree: true });
"""
HEARD = """() => {
  const element = document.querySelector("#sound");
  if (element) return element.currentTime > 0.05;
  const { clock } = document.querySelector(".player");
  return clock.playing && !clock.sound.waits && clock.place > 0.05;
}"""
INTO_MEMORY = """
  const Offline = OfflineAudioContext;
  if (%d) window.AudioContext = function () {
    const room = new Offline(2, %d * 48000, 48000);
    room.resume = async () => {};
    window.room = room;
    return room;
  };
"""
RENDER = """async () => {
  const sound = await room.startRendering();
  const left = sound.getChannelData(0), right = sound.getChannelData(1);
  return text_of(left.map((sample, n) => (sample + right[n]) / 2));
}"""
RECORD = """async (seconds) => {
  const context = new AudioContext({ sampleRate: 48000 });
  await context.resume();
  const code = `registerProcessor("tape", class extends AudioWorkletProcessor {
    process([[left, right]]) {
      if (left) this.port.postMessage(left.map((one, n) => (one + (right ?? left)[n]) / 2));
      return true;
    } });`;
  await context.audioWorklet.addModule(`data:text/javascript,${encodeURIComponent(code)}`);
  const tape = new AudioWorkletNode(context, "tape");
  const blocks = [];
  tape.port.onmessage = ({ data }) => blocks.push(data);
  const stream = document.querySelector("#sound").captureStream();
  context.createMediaStreamSource(stream).connect(tape);
  await new Promise((done) => setTimeout(done, 1000 * seconds));
  const all = new Float32Array(blocks.length * 128);
  blocks.forEach((block, n) => all.set(block, 128 * n));
  return text_of(all);
}"""
TEXT_OF = """
  window.text_of = (samples) => {
    const bytes = new Uint8Array(samples.buffer);
    let text = "";
    for (let n = 0; n < bytes.length; n += 32768) {
      text += String.fromCharCode(...bytes.subarray(n, n + 32768));
    }
    return btoa(text);
  };
"""


class _Quiet(SimpleHTTPRequestHandler):
    protocol_version = "HTTP/1.1"

    def log_message(self, *_: object) -> None:
        """Say nothing of what is asked for."""


@contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serve a folder; give its address."""
    server = ThreadingHTTPServer(("127.0.0.1", 0), partial(_Quiet, directory=str(folder)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield f"http://127.0.0.1:{server.server_port}/index.html"
    server.shutdown()


def visit(browser: Any, address: str, instrument: str, level: str) -> dict[str, float]:
    """Open the page once as a student with a slow telephone."""
    context = browser.new_context(
        viewport={"width": 360, "height": 640}, device_scale_factor=2, is_mobile=True,
        has_touch=True,
    )  # fmt: skip
    context.add_init_script(WATCH % (json.dumps(instrument), json.dumps(instrument)))
    page = context.new_page()
    session = context.new_cdp_session(page)
    received = {"bytes": 0}
    session.on(
        "Network.dataReceived",
        lambda event: received.update(bytes=received["bytes"] + event["dataLength"]),
    )
    session.send("Network.enable")
    session.send("Network.emulateNetworkConditions", SLOW)
    session.send("Emulation.setCPUThrottlingRate", {"rate": 4})
    page.goto(address, wait_until="commit")
    page.wait_for_function("window.usable !== undefined", timeout=180_000)
    found = {"usable_s": page.evaluate("window.usable") / 1000}
    found["usable_kb"] = received["bytes"] / 1000
    begun = page.evaluate("performance.now()")
    page.click(".play")
    page.wait_for_function(HEARD, timeout=180_000)
    found["sound_after_s"] = (page.evaluate("performance.now()") - begun) / 1000
    found["sound_kb"] = received["bytes"] / 1000
    _act(page, level)
    found["shift"] = page.evaluate("window.shift")
    found["longest_ms"] = page.evaluate("window.longest")
    context.close()
    return found


def _act(page: Page, level: str) -> None:
    """Do what students do."""
    page.click("#more")
    page.select_option("#mix", "backing")
    page.click('.tempo-steps [value="70"]')
    page.wait_for_timeout(1500)
    page.click(".play")
    page.select_option("#instrument", "flute")
    page.wait_for_function("document.documentElement.dataset.drawn?.endsWith('/flute')")
    page.tap(f'.levels label:has(input[value="{level}"])')
    page.wait_for_function(
        f"document.documentElement.dataset.drawn === '{level}/flute'", timeout=180_000
    )
    page.wait_for_timeout(1500)


def rounds(
    browser: Any, address: str, bars: tuple[int, int], seconds: float
) -> list[float]:
    """Give how far each round after the first is off, in milliseconds."""
    length = seconds * RATE
    whole = int(ROUNDS * seconds) + 3
    context = browser.new_context()
    has_engine = "loud-melody" in _text(context, address)
    context.add_init_script(TEXT_OF + INTO_MEMORY % (has_engine, whole))
    page = context.new_page()
    page.goto(address)
    page.wait_for_function("document.documentElement.dataset.drawn !== undefined")
    page.click("#more")
    page.select_option("#loop", "bars")
    page.fill("#from", str(bars[0]))
    page.fill("#to", str(bars[1]))
    page.press("#to", "Tab")
    page.click(".play")
    if has_engine:
        page.wait_for_function(
            "document.querySelector('.player').clock.music.progress === 1"
        )
        page.wait_for_timeout(500)
        text = page.evaluate(RENDER)
    else:
        text = page.evaluate(RECORD, whole)
    context.close()
    sound = np.frombuffer(base64.b64decode(text), "<f4").astype(float)
    sound = sound[int(np.argmax(np.abs(sound) > 1e-3)) :] if not has_engine else sound
    cut = [sound[round(n * length) : round((n + 1) * length)] for n in range(ROUNDS)]
    return [_lag(one, cut[0]) / RATE * 1000 for one in cut[1:]]


def _text(context: Any, address: str) -> str:
    return context.request.get(address).text()


def _lag(sound: np.ndarray, like: np.ndarray) -> int:
    size = 1 << (len(sound) + len(like) - 1).bit_length()
    spectrum = np.fft.rfft(sound, size) * np.conj(np.fft.rfft(like, size))
    found = np.fft.irfft(spectrum, size)
    return int((np.argmax(found) + size // 2) % size - size // 2)


def report(browser: Any, folder: Path) -> None:
    """Print the figures of one built lesson."""
    manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
    level = manifest["levels"][0]["name"]
    timing = json.loads((folder / f"timing/{level}.json").read_text(encoding="utf-8"))
    bars = {bar["number"]: bar for bar in reversed(timing["bars"])}
    seconds = bars[6]["end"] - bars[5]["start"]
    with served(folder) as address:
        last = manifest["levels"][-1]["name"]
        found = [visit(browser, address, "trombone", last) for _ in range(TIMES)]
        middle = {name: statistics.median(row[name] for row in found) for name in found[0]}
        print(folder)
        print("  usable after {usable_s:.2f} s, {usable_kb:.0f} kB".format(**middle))
        print(
            "  first sound {sound_after_s:.2f} s after play, {sound_kb:.0f} kB "
            "on the line by then".format(**middle)
        )
        print(
            "  layout shift {shift:.3f}, longest interaction {longest_ms:.0f} ms".format(
                **middle
            )
        )
        off = [abs(value) for value in rounds(browser, address, (5, 6), seconds)]
        print(
            f"  {ROUNDS} rounds of {seconds:.2f} s: median {statistics.median(off):.2f} ms"
            f" off, at most {max(off):.2f} ms"
        )


def main(folders: list[Path]) -> None:
    """Measure one build after the other."""
    chromium = os.environ.get("KIT_CHROMIUM") or next(
        filter(None, map(shutil.which, NAMES))
    )
    print(describe(("playwright",)))
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(
            executable_path=chromium,
            args=[
                "--no-sandbox",
                "--disable-gpu",
                "--autoplay-policy=no-user-gesture-required",
            ],
        )
        for folder in folders:
            report(browser, folder)
        browser.close()


if __name__ == "__main__":
    main([Path(name) for name in sys.argv[1:]])
