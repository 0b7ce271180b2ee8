"""Are the forms of tunes found that the finder was not tuned on, odd ones too?

Sources: traditional tunes with agreed forms (traditional_forms.abc, common practice), and
tunes put together from sung lines of the Essen folk song collection (music21's corpus;
tests/benchmarks/form_patchwork.py). Exact means the same letters, and every border in its
bar. More of them: ``python tests/benchmarks/form_finding.py``.
"""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from kit.form._search import found_form
from kit.tune.abc.read import read_abc
from kit.tune.unfold import unfolded

HERE = Path(__file__).parent
FILES = ("altdeu20", "erk20", "kinder0")
"""Of those that were not looked at, the ones that are quickly read."""
BOUNDS = {"regular": 0.95, "four-bar": 0.85, "odd": 0.85, "framed": 0.85, "lifted": 0.9}
"""Shares of exact forms that are kept, of 24 tunes each."""


def traditional() -> list[tuple[str, str, str]]:
    text = (HERE / "traditional_forms.abc").read_text(encoding="utf-8")
    tunes = re.split(r"\n(?=X:)", text)[1:]
    return [
        (re.search(r"T:(.*)", one)[1], re.search(r"N:(.*)", one)[1], one) for one in tunes
    ]


def test_agreed_forms_of_traditional_tunes_are_found():
    missed = []
    for title, agreed, text in traditional():
        form = found_form(unfolded(read_abc(text, source="traditional_forms.abc")))
        found = " ".join(f"{s.label}{s.bar_count}" for s in form.sections)
        if found != agreed:
            missed.append(f"{title}: {found}, not {agreed}")
    assert len(traditional()) >= 12
    assert len(missed) <= 2, missed


@pytest.fixture(scope="module")
def patchwork():
    place = str(HERE.parent / "benchmarks")
    sys.path.insert(0, place)
    import form_patchwork

    yield form_patchwork
    sys.path.remove(place)


@pytest.mark.parametrize("kind", BOUNDS)
def test_forms_of_patchwork_tunes_are_found(patchwork, kind):
    made = [patchwork.patchwork_tune(kind, seed, files=FILES) for seed in range(24)]
    exact = sum(patchwork.is_exact(known, found_form(known.tune)) for known in made)
    assert exact >= BOUNDS[kind] * len(made), f"{exact} of {len(made)}"
