"""What to play in the solo, and how to practise it."""
