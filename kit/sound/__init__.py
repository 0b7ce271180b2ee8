"""The sound: a performance becomes finished audio, loudness and clock guaranteed.

Choosing a SoundFont costs nothing; what renders is loaded, with its numerical libraries,
on first use.
"""
