"""Signs, changes and key signature: what a player or the band would stumble over."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kit.check._changes import LONG_BARS, missing_changes
from kit.check._key import key_findings
from kit.check._leaf import leaf_of
from kit.check._signs import sign_findings
from kit.tune.model import transposed
from kit.tune.pitch import Interval, Key

BAR = "c2 e2 g2 c2"


def said(findings):
    return [(finding.code, finding.severity, finding.numbers) for finding in findings]


@pytest.mark.parametrize(
    "music",
    [
        f"{BAR} | {BAR} |]",
        f"|: {BAR} | {BAR} :|",
        f"{BAR} | {BAR} :|",  # back to the start
        f"|: {BAR} |1 {BAR} :|2 {BAR} |]",
        f"|: {BAR} |1 {BAR} :|2 {BAR} :|3 {BAR} |]",
        f"|: {BAR} |1 {BAR} :|2 {BAR} |: {BAR} |1 {BAR} :|2 {BAR} |]",
        f"{BAR} | !fine! {BAR} | {BAR} | {BAR} !D.C.alfine! |]",
        f"{BAR} | !segno! {BAR} | {BAR} !D.S.! |]",
    ],
)
def test_signs_that_lead_somewhere_say_nothing(leaf, music):
    assert said(sign_findings(leaf(music))) == []


def test_a_repeat_that_never_closes_is_a_warning_at_its_opening(leaf):
    music = f"{BAR} | {BAR} |: {BAR} | {BAR} |]"
    (finding,) = sign_findings(leaf(music))
    assert str(finding) == (
        "warning: tune.abc, beginner, bar 3: the repeat that opens here never closes, so "
        "it is played once; add the closing repeat sign, or take the opening one out."
    )


def test_only_the_open_one_of_two_repeats_is_named(leaf):
    music = f"|: {BAR} | {BAR} :||: {BAR} | {BAR} |]"
    assert said(sign_findings(leaf(music))) == [("open-repeat", "warning", (3,))]


def test_a_first_ending_without_its_repeat_is_a_warning(leaf):
    music = f"|: {BAR} |1 {BAR} |2 {BAR} |]"
    codes = [finding.code for finding in sign_findings(leaf(music))]
    assert "ending-without-repeat" in codes


def test_a_second_ending_without_a_first_is_a_warning(leaf):
    music = f"|: {BAR} | {BAR} :|2 {BAR} |]"
    (finding,) = sign_findings(leaf(music))
    assert finding.code == "missing-ending"
    assert "the second ending stands here without the first" in finding.text


@pytest.mark.parametrize(
    ("music", "code"),
    [
        (f"{BAR} | !segno! {BAR} |]", "idle-sign"),
        (f"{BAR} | {BAR} !fine! | {BAR} |]", "idle-sign"),
        (f"{BAR} | {BAR} | {BAR} !D.C.alfine! |]", "jump-without-goal"),
    ],
)
def test_a_sign_without_its_partner_is_named(leaf, music, code):
    assert code in [finding.code for finding in sign_findings(leaf(music))]


def test_a_tune_without_changes_is_one_warning(leaf):
    (finding,) = missing_changes(leaf(f"{BAR} | {BAR} |]"))
    assert (finding.code, finding.severity) == ("no-changes", "warning")
    assert finding.bar is None


def test_bars_before_the_first_change_are_named_and_a_pick_up_is_not(leaf):
    late = leaf(f'{BAR} | {BAR} | "C"{BAR} |]')
    assert said(missing_changes(late)) == [("late-changes", "hint", (1, 2))]
    assert said(missing_changes(leaf(f'g2 | "C"{BAR} | {BAR} |]'))) == []


@settings(deadline=None)
@given(bars=st.integers(1, 20), at=st.integers(0, 19))
def test_a_long_stretch_on_one_symbol_is_a_hint_and_a_short_one_is_not(leaf, bars, at):
    at %= bars
    music = " | ".join(
        f'"C"{BAR}' if index == 0 else f'"G"{BAR}' if index == at else BAR
        for index in range(bars)
    )
    stretches = [bars] if at == 0 else [at, bars - at]
    found = list(missing_changes(leaf(music + " |]")))
    assert len(found) == sum(length > LONG_BARS for length in stretches)
    assert all(len(finding.numbers) > LONG_BARS for finding in found)


SCALE = '"D"d2 e2 ^f2 g2 | "A7"a2 g2 ^f2 e2 | "D"d2 ^f2 a2 d2 | "A7"^c2 e2 "D"d4 |'


def test_a_signature_that_the_notes_contradict_is_a_hint_with_both_keys(leaf):
    (finding,) = key_findings(leaf(SCALE, key="C"))
    assert "the signature is that of C major, and the notes rather make D major" in str(
        finding
    )


@pytest.mark.parametrize("key", ["D", "Bm", "Edor", "Amix"])
def test_a_signature_that_fits_says_nothing_whatever_its_mode(leaf, key):
    assert said(key_findings(leaf(SCALE.replace("^", ""), key=key))) == []


def test_a_few_notes_decide_nothing(leaf):
    assert said(key_findings(leaf("^f4 ^c4 |", key="C"))) == []


def test_only_the_stretch_with_the_wrong_signature_is_named(leaf):
    music = f"{SCALE} [K:C] {SCALE}"
    tune = leaf(music, key="D").tune
    assert [finding.numbers for finding in key_findings(leaf_of(tune))] == [(5, 6, 7, 8)]


@settings(deadline=None)
@given(st.sampled_from(["m2", "M2", "m3", "-M3", "P4"]), st.integers(-2, 2))
def test_what_is_said_of_the_key_does_not_depend_on_the_key(leaf, name, off):
    tune = leaf(SCALE.replace("^", ""), key="D").tune
    wrong = replace(
        tune,
        bars=tuple(
            replace(bar, key=Key(bar.key.fifths + off, bar.key.mode)) for bar in tune.bars
        ),
    )
    there = len(list(key_findings(leaf_of(wrong))))
    moved = transposed(wrong, Interval.parse(name))
    assert len(list(key_findings(leaf_of(moved)))) == there
    assert there == (off != 0)
