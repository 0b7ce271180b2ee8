"""Levels as edits on one another: applied, compared in words, measured and suggested."""
