"""What to play in the solo, and how to practise it."""

from kit.solo.guide import ChordAdvice, SectionScale, scale_guide
from kit.solo.guide_tones import guide_tone_line, guide_tones
from kit.solo.outlines import chord_outline_line
from kit.solo.phrases import Phrase, RhythmPrompt, phrase_plan, rhythm_prompts
from kit.solo.practice import Step, practice_plan
from kit.solo.sample import call_and_response, draft_solo
from kit.solo.scales import Scale, chord_scale, scale_names, scale_on

__all__ = [
    "ChordAdvice",
    "Phrase",
    "RhythmPrompt",
    "Scale",
    "SectionScale",
    "Step",
    "call_and_response",
    "chord_outline_line",
    "chord_scale",
    "draft_solo",
    "guide_tone_line",
    "guide_tones",
    "phrase_plan",
    "practice_plan",
    "rhythm_prompts",
    "scale_guide",
    "scale_names",
    "scale_on",
]
