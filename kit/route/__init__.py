"""What is performed at one level, bar by bar, and when."""
