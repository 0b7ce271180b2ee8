"""What does ABC notation say? One reader of tunes and of books of tunes."""
