"""An edit list outlives a correction of the tune, and undoing an edit is leaving it out."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kit.form.find import find_form
from kit.levels.draft import draft_edits
from kit.levels.edit import Edit
from kit.levels.edits import apply_edits, apply_edits_reporting
from kit.levels.rewrite import sounds_of, with_sounds
from kit.tune.pitch import Pitch

_DRAFTS = {}
QUIET = settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


def drafted(tune, seed):
    """A draft for the one tune of these tests, worked out once for each seed."""
    if seed not in _DRAFTS:
        form = find_form(tune)
        _DRAFTS[seed] = draft_edits(tune, form, level="intermediate", seed=seed, count=10)
    return _DRAFTS[seed]


def corrected(tune, place, pitch):
    sounds = list(sounds_of(tune))
    sounds[place] = replace(sounds[place], pitch=pitch)
    return with_sounds(tune, sounds)


@given(data=st.data(), seed=st.integers(0, 2))
@QUIET
def test_a_corrected_note_elsewhere_reaches_the_level_and_breaks_no_edit(aaba, data, seed):
    edits = drafted(aaba, seed)
    near = {n for e in edits for n in (e.bar - 1, e.bar, e.bar + 1)}
    free = [k for k, s in enumerate(sounds_of(aaba)) if int(s.start // 4) + 1 not in near]
    if not free:
        return
    place = data.draw(st.sampled_from(free))
    pitch = data.draw(st.sampled_from([Pitch("A", -1, 4), Pitch("D", 0, 5)]))
    tune = corrected(aaba, place, pitch)
    level, errors = apply_edits_reporting(tune, edits)
    assert errors == ()
    start = sounds_of(aaba)[place].start
    assert next(s for s in sounds_of(level) if s.start == start).pitch == pitch
    # Nothing else has changed: putting the old note back gives the old level.
    where = next(k for k, s in enumerate(sounds_of(level)) if s.start == start)
    restored = corrected(level, where, sounds_of(aaba)[place].pitch)
    assert restored == apply_edits(aaba, edits)


@given(data=st.data())
@QUIET
def test_undoing_an_edit_is_leaving_it_out(aaba, data):
    edits = list(drafted(aaba, 2))
    place = data.draw(st.integers(0, len(edits) - 1))
    undone = edits[:place] + edits[place + 1 :]
    level, errors = apply_edits_reporting(aaba, undone)
    assert errors == ()
    bar = edits[place].bar - 1
    others = {e.bar for e in undone}
    if not others & {bar, bar + 1, bar + 2}:
        assert level.bars[bar] == aaba.bars[bar]


def test_an_edit_that_no_longer_applies_is_reported_and_the_others_still_do(aaba):
    edits = [
        Edit(3, Fraction(1), "early"),
        Edit(5, Fraction(1), "grace"),
        Edit(9, Fraction(1), "accent"),
    ]
    bars = list(aaba.bars)
    bars[4] = replace(bars[4], notes=tuple(replace(n, pitch=None) for n in bars[4].notes))
    level, errors = apply_edits_reporting(
        replace(aaba, bars=tuple(bars)), edits, "levels/intermediate.toml"
    )
    (error,) = errors
    assert str(error).startswith(
        "levels/intermediate.toml, bar 5: no note starts on beat 1"
    )
    assert level.bars[8].notes[0].marks == ("accent",)
    assert level.bars[1].notes[-1].tied
