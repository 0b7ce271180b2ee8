"""Does the browser's decoder keep the MP3's clock? (Web Audio API, HTML media element)"""

from __future__ import annotations

import base64

import numpy as np
import pytest

from kit.sound._id3 import id3_tag
from kit.sound._mp3 import encode

pytestmark = pytest.mark.browser

PLACES = (0, 48_000, 96_000)
DECODE = """async ([file, places]) => {
    const raw = Uint8Array.from(atob(file), (c) => c.charCodeAt(0));
    const context = new OfflineAudioContext(2, 48000, 48000);
    const audio = await context.decodeAudioData(raw.buffer);
    const left = audio.getChannelData(0);
    const peaks = places.map((place) => {
        let best = Math.max(0, place - 3000);
        for (let i = best; i < place + 3000; i++)
            if (Math.abs(left[i]) > Math.abs(left[best])) best = i;
        return best;
    });
    const player = new Audio('data:audio/mpeg;base64,' + file);
    await new Promise((done) => { player.onloadedmetadata = done; });
    return {length: audio.length, peaks, duration: player.duration};
}"""


def test_chromium_hears_every_click_on_its_sample(page) -> None:
    audio = np.zeros((48_000 * 3 + 777, 2), np.float32)
    audio[list(PLACES)] = 0.7
    file = base64.b64encode(id3_tag({"title": "Klick ♭"}) + encode(audio)).decode()
    found = page.evaluate(DECODE, [file, list(PLACES)])
    assert found["length"] == len(audio)
    assert found["peaks"] == pytest.approx(PLACES, abs=1)
    assert found["duration"] == pytest.approx(len(audio) / 48_000, abs=0.001)
