"""Findings about a lesson: what is wrong or doubtful, where, and what to do."""
