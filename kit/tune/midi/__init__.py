"""What was played into a MIDI file, in bars and note values?"""
