"""The band: bass, chords, drums and the melody player, from the changes and the route."""
