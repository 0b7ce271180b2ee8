"""Which chords could go with a melody that has none, and why these?"""
