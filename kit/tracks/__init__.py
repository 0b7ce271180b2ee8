"""A lesson's audio: what is played of each level, and which files it gives."""
