"""How does a tune get into music21 and back, and what can music21 read for us?"""
