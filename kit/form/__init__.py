"""Sections, what they are worth to a student, and how they look."""
