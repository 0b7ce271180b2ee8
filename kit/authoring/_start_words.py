"""What are the first words of a new lesson, as far as the music says them?

Every sentence is computed, and the teacher's to change. The same words go to every
instrument, so none of them names a note: keys, chords and notes stand in the figures, which
are drawn in each player's own key.
"""

from __future__ import annotations

from collections.abc import Iterator

from kit.authoring._start_levels import StartLevel
from kit.authoring.first_look import FirstLook
from kit.form.facts import FormFacts, form_facts
from kit.form.wording import bars_words, listed, number_word
from kit.levels.compare import compare
from kit.levels.difficulty import difficulty_by_bar
from kit.levels.kinds import kind_words
from kit.solo.guide import scale_guide
from kit.solo.practice import hard_loops

__all__ = [
    "changes_words",
    "form_words",
    "practice_words",
    "setting_words",
    "solo_words",
]

_MOST_KINDS = 6
"""More kinds of changes than a student can listen for."""


def form_words(look: FirstLook) -> str:
    """Say what knowing the form saves, and where a section differs."""
    return " ".join(_form_sentences(form_facts(look.played, look.form)))


def _form_sentences(facts: FormFacts) -> Iterator[str]:
    yield facts.sentences[0]
    most = max(facts.shares, key=lambda share: share.bars)
    if most.times > 1 and len(facts.shares) > 1:
        yield most.sentence
    varied = [item.number for item in facts.differences]
    if varied:
        yield f"Mind {bars_words(varied)}, where a section comes back with a difference."


def changes_words(lower: StartLevel, upper: StartLevel) -> str:
    """Say what is new at a level, by kinds, with the bars in which to look for it."""
    bars: dict[str, list[int]] = {}
    for difference in compare(lower.head, upper.head):
        bars.setdefault(difference.kind, []).append(difference.bar_number)
    if not bars:
        return (
            "The notes are those of the level below; what is new is the tempo"
            f"{' and the solo' if upper.takes_solo else ''}."
        )
    by_count = sorted(bars.items(), key=lambda item: -len(item[1]))
    items = [_kind_words(kind, numbers) for kind, numbers in by_count[:_MOST_KINDS]]
    more = " Listen for more of them in the list under the notes."
    return f"New here: {'; '.join(items)}.{more if len(by_count) > _MOST_KINDS else ''}"


def _kind_words(kind: str, numbers: list[int]) -> str:
    words = kind_words(kind)
    return f"{words.one if len(numbers) == 1 else words.several} in {bars_words(numbers)}"


def practice_words(look: FirstLook, level: StartLevel) -> str:
    """Say where to begin and which bars to loop."""
    facts = form_facts(look.played, look.form)
    worth = max(facts.shares, key=lambda share: share.bars)
    sentences = ["Work slowly enough to be right every time."]
    if len(facts.shares) > 1:
        sentences.append(
            f"Begin with the {worth.label} section, two bars at a time, until you can play "
            "it without the page."
        )
    tempo_qpm = level.tempo * float(level.head.meter.pulse)
    bars = level.head.bars
    hard = [
        one for one in difficulty_by_bar(level.head, tempo_qpm) if not bars[one.bar].pickup
    ]
    loops = [bars_words(range(first, last + 1)) for first, last in hard_loops(hard)]
    if loops:
        sentences.append(
            f"Loop {listed(loops)} by themselves first: they are harder than the rest."
        )
    sentences.append("Stop while it still feels easy.")
    return " ".join(sentences)


def setting_words(level: StartLevel) -> str:
    """Say how to vary a tune over which one does not improvise."""
    if level.idiom.solo:
        return (
            "Embellish the melody: play it as it stands, then change one note in every "
            "other bar. Make short phrases, with a rest in between."
        )
    article = "an" if level.idiom.name[0] in "aeiou" else "a"
    return (
        f"In {article} {level.idiom.name} players vary the melody and take no solo. "
        "Play it as it stands, then change one thing in every other bar, and keep what "
        "you like."
    )


def solo_words(look: FirstLook) -> str:
    """Say how many scales a first solo needs, and how long its phrases are."""
    scales = scale_guide(look.played, look.form)
    phrases = (
        "Make short phrases: two bars to ask, two bars to answer, with a rest in between."
    )
    if not scales:
        return (
            "Embellish the melody: play it as it stands, then change one note in every "
            f"other bar. {phrases}"
        )
    if len({str(scale.scale) for scale in scales}) == 1:
        first = f"One scale serves the whole tune, the {scales[0].scale.name}."
    else:
        each = [f"the {scale.scale.name} in section {scale.label}" for scale in scales]
        first = f"{number_word(len(each)).capitalize()} scales will do: {listed(each)}."
    return f"{first} The guide names its notes in your key. {phrases}"
