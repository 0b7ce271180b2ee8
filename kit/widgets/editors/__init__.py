"""The editors of form, route, changes and levels."""
