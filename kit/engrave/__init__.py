"""Engraving: written parts as SVG, whole or line by line, and in words."""
