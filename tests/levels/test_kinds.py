"""Whatever a comparison tells apart has words for prose: nobody reads a raw name."""

import ast
from fractions import Fraction
from pathlib import Path

import pytest

from kit.errors import LevelError
from kit.levels import _compare_chords, _compare_words, compare
from kit.levels.edit import Edit
from kit.levels.edits import OPERATIONS, apply_edit
from kit.levels.kinds import kind_words, kinds
from kit.levels.rewrite import sounds_of

GIVEN = {
    "chord": (("to", "A7"),), "chord quality": (("to", "7b9"),), "pitch": (("to", "F4"),),
    "note": (("to", "F5"),),
}  # fmt: skip


@pytest.mark.parametrize("name", OPERATIONS)
def test_every_kind_that_an_edit_leads_to_has_words(aaba, name):
    tried = 0
    at_notes = [sound.start for sound in sounds_of(aaba)[::5]]
    at_bars = [Fraction(4 * index) for index in range(len(aaba.bars))]
    for start in at_notes if OPERATIONS[name].needs_note else at_bars:
        edit = Edit(int(start // 4) + 1, start % 4 + 1, name, GIVEN.get(name, ()))
        try:
            level = apply_edit(aaba, edit)
        except LevelError:
            continue
        for one, other in ((aaba, level), (level, aaba)):
            for difference in compare.compare(one, other):
                assert kind_words(difference.kind).several
                tried += 1
    # Taking signs off needs a tune that has some; a note needs a rest to stand in.
    assert tried or name in {"plain", "note", "lengthen"}


def kinds_written_out(module):
    """Yield the texts at the place of a kind: first in a pair, or given by its name."""
    for node in ast.walk(ast.parse(Path(module.__file__).read_text(encoding="utf-8"))):
        if isinstance(node, ast.keyword) and node.arg == "kind":
            yield node.value
        elif isinstance(node, ast.Yield | ast.Return) and isinstance(node.value, ast.Tuple):
            yield from (
                node.value.elts[:1] if len(node.value.elts) == 2 else node.value.elts[2:]
            )


@pytest.mark.parametrize("module", [compare, _compare_words, _compare_chords])
def test_every_kind_that_is_written_out_has_words(module):
    found = {
        node.value
        for node in kinds_written_out(module)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert found <= set(kinds())


def test_one_and_several_differ_and_have_their_articles():
    for kind, (one, several) in kinds().items():
        assert one.split()[0] in {"a", "an", "another"}, kind
        assert several.split()[0] not in {"an", "another"}, kind


def test_a_mordent_is_called_by_its_name_in_the_first_words_of_a_lesson(aaba):
    level = aaba
    for bar in (1, 3, 5):
        level = apply_edit(level, Edit(bar, Fraction(1), "mordent"))
    found = {difference.kind for difference in compare.compare(aaba, level)}
    assert found == {"mordent"}
    assert kind_words("mordent") == ("a mordent", "mordents")
