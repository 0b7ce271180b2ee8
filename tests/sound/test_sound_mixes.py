from __future__ import annotations

import numpy as np
import pytest

from kit.band.events import NoteEvent, Performance
from kit.sound._loudness import integrated_lufs
from kit.sound._patch import measure_patch
from kit.sound._stems import render_stem, sum_stems
from kit.sound._strokes import place_strokes
from kit.sound.mix_names import mix_names, mix_table
from kit.sound.render import each_mix, render_mixes, render_stretch
from kit.sound.soundfont import find_soundfont
from kit.sound.synth import Midirenderer, Synth, Take


class Tones(Synth):
    """What the fixture `tones` offers: a synthesiser that counts its renderings."""

    rendered: int


class NamedSynth:
    """The default synthesiser under a name of its own, so that nothing is known of it."""

    def __init__(self, key: str) -> None:
        self.key = key
        self._synth = Midirenderer(find_soundfont())
        self.slurred_programs = self._synth.slurred_programs

    def render(self, midi: bytes) -> Take:
        return self._synth.render(midi)


def test_there_are_the_mixes_the_lesson_needs() -> None:
    assert {"demo", "backing", "melody", "no-bass", "no-chords", "no-drums"} <= set(
        mix_names()
    )


@pytest.mark.parametrize("mix", mix_names())
def test_the_count_in_is_in_every_mix(mix: str) -> None:
    assert "count" in mix_table().players(mix)


def test_each_player_is_rendered_once_for_all_mixes(
    performance: Performance, tones: Tones
) -> None:
    render_mixes(performance, ["demo"], synth=tones)
    for_one = tones.rendered
    tones.rendered = 0
    again = render_mixes(performance, ["demo", "backing", "melody", "no-bass"], synth=tones)
    assert set(again) == {"demo", "backing", "melody", "no-bass"}
    # The second time the sounds are known, and of the band what was rendered for the demo.
    assert tones.rendered == 1, "the chords alone; the melody is remembered"
    assert for_one > 3


def test_where_mixes_need_players_apart_nobody_is_rendered_twice(
    performance: Performance, tones: Tones
) -> None:
    render_mixes(performance, ["demo"], synth=tones)
    tones.rendered = 0
    mixes = dict(
        each_mix(performance, ["demo", "no-bass", "no-chords"], synth=tones, apart=True)
    )
    assert tones.rendered == 2, "bass and chords; the melody is remembered"
    alone = dict(each_mix(performance, ["demo"], synth=tones, apart=True))["demo"]
    np.testing.assert_array_equal(alone.samples, mixes["demo"].samples)


def test_the_table_says_when_players_are_needed_apart() -> None:
    table = mix_table()
    assert not table.are_apart(["demo", "backing", "melody", "click"])
    assert table.are_apart(["demo", "no-bass"])
    assert ("bass", "chords") in table.stems("demo")
    assert ("bass",) in table.stems("demo", apart=True)


def test_a_mix_is_the_sum_of_its_players(performance: Performance, tones: Tones) -> None:
    stems = [render_stem(performance, player, tones) for player in ("bass", "chords")]
    both = sum_stems(stems, 200_000)
    one, other = (sum_stems([stem], 200_000) for stem in stems)
    np.testing.assert_allclose(both, one + other, atol=1e-6)


def test_finished_mixes_have_loudness_and_length(
    performance: Performance, tones: Tones
) -> None:
    demo = render_mixes(performance, ["demo"], synth=tones)["demo"]
    assert demo.samples.dtype == np.float32
    assert demo.lufs == pytest.approx(-16, abs=0.5)
    assert integrated_lufs(demo.samples) == pytest.approx(demo.lufs, abs=0.05)
    assert demo.true_peak_dbtp <= -1
    assert performance.seconds <= demo.seconds <= performance.seconds + 3
    assert abs(demo.samples[-1]).max() < 1e-3, "faded out"


def test_the_balance_follows_the_table(performance: Performance, tones: Tones) -> None:
    melody = integrated_lufs(render_stem(performance, "melody", tones).floats())
    bass = integrated_lufs(render_stem(performance, "bass", tones).floats())
    wanted = mix_table().balance_lu["bass"] - mix_table().balance_lu["melody"]
    assert bass - melody == pytest.approx(wanted, abs=1.5)


def test_strokes_land_on_the_planned_sample(tones: Tones) -> None:
    events = [NoteEvent("drums", 51, start, 0.1, 96) for start in (0.0, 0.3001, 0.9)]
    audio = place_strokes(
        events, synth=tones, player="drums", kit=0, sample_count=72_000
    ).floats()
    for event in events:
        place = round(event.start_s * 48_000)
        assert abs(audio[place]).max() > 0.015
        assert abs(audio[max(0, place - 20) : place]).max(initial=0) < 0.015 or place == 0


def test_a_part_in_pieces_is_the_part(tones: Tones) -> None:
    events = [NoteEvent("drums", 51, beat * 0.31, 0.1, 90) for beat in range(12)]
    part = place_strokes(events, synth=tones, player="drums", kit=0, sample_count=200_001)
    whole = part.floats()
    assert len(part) == len(whole) == 200_001
    pieces = [part.floats(start, start + 9_999) for start in range(0, len(part), 9_999)]
    np.testing.assert_allclose(np.concatenate(pieces), whole, atol=1e-7)
    assert part.floats(300_000, 400_000).shape == (0, 2)


def test_what_is_known_of_a_sound_does_not_depend_on_what_came_before(
    performance: Performance,
) -> None:
    fresh, used = (NamedSynth(name) for name in ("fresh", "used"))
    measure_patch(
        used, 65, [NoteEvent("melody", key, 0.0, 0.5, 90) for key in (59, 61, 72)]
    )
    more = [NoteEvent("drums", key, 0.1, 0.1, 90) for key in (49, 36)]
    place_strokes(more, synth=used, player="drums", kit=32, sample_count=9600)
    one, other = (
        render_mixes(performance, ["demo"], synth=synth)["demo"] for synth in (fresh, used)
    )
    np.testing.assert_array_equal(one.samples, other.samples)


def test_another_process_need_not_measure_sounds_again(
    performance: Performance, tones: Tones, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = render_mixes(performance, ["demo"], synth=tones)["demo"]
    monkeypatch.setattr("kit.sound._patch._measured", {})
    monkeypatch.setattr("kit.sound._strokes._known", {})
    monkeypatch.setattr("kit.sound._takes._last", {})
    tones.rendered = 0
    again = render_mixes(performance, ["demo"], synth=tones)["demo"]
    np.testing.assert_array_equal(again.samples, first.samples)
    assert tones.rendered == 1, "the melody, which is not kept"


def test_a_mix_is_finished_before_the_next_one_is_summed(
    performance: Performance, tones: Tones
) -> None:
    mixes = each_mix(performance, ["backing", "demo"], synth=tones)
    name, backing = next(mixes)
    rendered = tones.rendered
    assert name == "backing"
    assert backing.lufs == pytest.approx(-16, abs=0.5)
    assert next(mixes)[0] == "demo"
    assert tones.rendered > rendered, "the melody is rendered when it is needed"


def test_a_loop_needs_one_pass(performance: Performance, tones: Tones) -> None:
    render_mixes(performance, ["demo"], synth=tones)
    tones.rendered = 0
    loop = render_mixes(performance, ["demo"], synth=tones, is_loop=True)["demo"]
    assert tones.rendered == 1
    apart = render_mixes(performance, ["demo"], synth=tones)["demo"]
    level = [np.square(mix.samples[: 7 * 48_000]).mean() for mix in (loop, apart)]
    assert level[0] == pytest.approx(level[1], rel=0.1)


def test_louder_strokes_are_louder_across_layers(tones: Tones) -> None:
    peaks = []
    for velocity in range(20, 125, 5):
        event = NoteEvent("drums", 38, 0.0, 0.1, velocity)
        audio = place_strokes(
            [event], synth=tones, player="drums", kit=0, sample_count=9600
        ).floats()
        peaks.append(abs(audio).max())
    assert peaks == sorted(peaks)


def test_a_stretch_starts_at_its_first_bar(performance: Performance, tones: Tones) -> None:
    part = render_stretch(performance, 4.0, 6.0, synth=tones)
    assert 2.0 <= part.seconds <= 5.0
    assert abs(part.samples[: 48 * 20]).max() > 0.01


def test_an_empty_stretch_is_refused(performance: Performance, tones: Tones) -> None:
    with pytest.raises(ValueError, match="nothing lies between"):
        render_stretch(performance, 4.0, 4.0, synth=tones)


def test_an_unknown_mix_is_refused_with_the_list(
    performance: Performance, tones: Tones
) -> None:
    with pytest.raises(ValueError, match="demo, backing"):
        render_mixes(performance, ["karaoke"], synth=tones)


def test_silence_stays_silence(tones: Tones) -> None:
    empty = Performance((), 2.0, 0.0, {})
    demo = render_mixes(empty, ["demo"], synth=tones)["demo"]
    assert demo.lufs == float("-inf")
    assert not demo.samples.any()
