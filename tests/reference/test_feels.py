"""Each feel against its definition, in performances of tunes that were not tuned on.

The definitions with their sources are rows of ``feels.toml``; measured is what sounds. The
clave's rule: the figure is laid over the form's first bar, or over its second where the
notes want that, and from there its sides take turns to the end.
"""

from __future__ import annotations

import sys
import tomllib
from functools import cache
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))

import groove_measures as measure
from feels_heard import eight_bars, expected
from groove_tunes import subject

from kit.band.feel import feel_names, load_feel

DEFINITIONS = tomllib.loads(
    Path(__file__).with_name("feels.toml").read_text(encoding="utf-8")
)
JUDGED = (305, 309, 317)
"""Odd seeds: the feels were written with even ones. Sixteen bars, 5 and 7, and eight."""
CASES = [(name, meter) for name, row in DEFINITIONS.items() for meter in row["meters"]]


@cache
def performances(name: str, meter: str):
    found = []
    for seed in JUDGED:
        made = subject(seed, meter, jazzy=load_feel(name).tensions)
        tempo_qpm = measure.tempo_of(DEFINITIONS[name], meter)
        heard = measure.listen(
            made.tune, made.route, feel=name, tempo_qpm=tempo_qpm, seed=seed
        )
        found.append((made, heard))
    return found


def test_every_feel_has_a_definition_with_its_source():
    assert set(DEFINITIONS) == set(feel_names())
    assert all(len(row["source"]) > 8 and row["rules"] for row in DEFINITIONS.values())


def test_usual_tempi_lie_within_those_of_the_feels():
    for name, row in DEFINITIONS.items():
        for meter, tempo in zip(row["meters"], row["tempo"], strict=True):
            slow, fast = load_feel(name).tempi[meter]
            assert slow < tempo < fast, (name, meter)


@pytest.mark.parametrize(("name", "meter"), CASES)
def test_a_feel_is_what_its_definition_says(name, meter):
    definition = DEFINITIONS[name]
    heards = [heard for _, heard in performances(name, meter)]
    for rule in definition["rules"]:
        scores = [measure.rule_score(heard, rule, definition) for heard in heards]
        total = sum(scores, measure.Score())
        assert total.share >= 0.95, (rule["says"], total.share)
        assert not total.wrong, (rule["says"], [str(found) for found in total.wrong[:3]])
        assert total.due or total.sounds, rule["says"]
    if definition.get("drums") is False:
        assert not any(heard.show.of("drums") for heard in heards)


@pytest.mark.parametrize(
    ("name", "meter"), [case for case in CASES if "clave" in DEFINITIONS[case[0]]]
)
def test_the_clave_keeps_its_direction(name, meter):
    for made, heard in performances(name, meter):
        breaks = measure.clave_breaks(heard, DEFINITIONS[name])
        assert not breaks, (made.name, [str(found) for found in breaks[:3]])


@pytest.mark.parametrize(
    ("name", "meter"), [case for case in CASES if DEFINITIONS[case[0]].get("own_chord")]
)
def test_no_chord_is_of_the_next_bar(name, meter):
    for made, heard in performances(name, meter):
        count, foreign = measure.foreign_chords(heard)
        assert count
        assert not foreign, (made.name, [str(found) for found in foreign[:3]])


@pytest.mark.parametrize(
    ("name", "meter"), [case for case in CASES if "ahead" in DEFINITIONS[case[0]]]
)
def test_a_tumbao_sounds_the_next_root_ahead(name, meter):
    for made, heard in performances(name, meter):
        count, missed = measure.roots_ahead(heard, DEFINITIONS[name])
        assert count
        assert not missed, (made.name, [str(found) for found in missed[:3]])


@pytest.mark.parametrize("name", feel_names())
def test_every_change_has_its_root_under_it(name):
    meter = next(iter(load_feel(name).tempi))
    for _, heard in performances(name, meter):
        line = measure.bass_line(heard)
        assert line.rooted == line.changes
        assert line.outside == 0


@pytest.mark.parametrize("name", feel_names())
def test_eight_bars_have_the_players_of_the_feel_and_no_others(name):
    show = eight_bars(name, DEFINITIONS[name])
    heard = {event.player for event in show.events} - {"melody", "count", "click"}
    assert heard == expected(DEFINITIONS[name])
    loud = {player: max(e.velocity for e in show.of(player)) for player in heard}
    assert all(30 <= velocity <= 127 for velocity in loud.values()), loud
    # Everyone is there in every bar but the last, in which all end together.
    bar_s = (show.seconds - show.music_start_s) / 8
    for player in heard:
        bars = {
            int((e.start_s - show.music_start_s + 0.04) / bar_s) for e in show.of(player)
        }
        assert bars >= set(range(7)), (player, bars)
