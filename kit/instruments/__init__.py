"""Instruments: transposition, range, octave fit and spelling of written parts."""
