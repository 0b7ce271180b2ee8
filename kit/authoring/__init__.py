"""What changes a lesson's own files: saving with history, edits, a new lesson."""
