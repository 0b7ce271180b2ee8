"""What is in a SoundFont, and how is one cut, packed and made?"""
