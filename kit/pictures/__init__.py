"""What may a picture that somebody else made bring into the lesson? Its pixels, no more."""
