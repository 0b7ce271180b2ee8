"""How is the kit's own SoundFont made from the one that Debian carries?

``make_font.py`` is run by hand (docs/developer/sound.md); nothing else imports this folder.
"""
