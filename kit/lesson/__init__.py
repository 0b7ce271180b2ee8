"""A lesson folder as one object from which everything is computed."""
