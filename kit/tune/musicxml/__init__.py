"""What does MusicXML say, and how is a tune said in it? One reader, one writer."""
