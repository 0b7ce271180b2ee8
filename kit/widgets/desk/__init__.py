"""The teacher's desk: new lesson, preview, rights, builder and school."""
