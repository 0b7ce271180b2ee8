"""Cadences, key centres, turnarounds and pedal points."""

from __future__ import annotations

from dataclasses import replace

import pytest

from kit.form.find import find_form
from kit.form.harmony import cadences, changes, key_centre, pedals, turnaround
from kit.form.names import form_name
from kit.tune.pitch import Key, NoteName


@pytest.fixture
def chart(request):
    from conftest import tune

    def build(text: str, key: str = "C major"):
        bars = " | ".join(f"{part}: r/4" for part in text.split("|"))
        return tune(bars, key)

    return build
