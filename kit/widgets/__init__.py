"""The widgets of a lesson notebook, each with a static form that stays in the file."""
