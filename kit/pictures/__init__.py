"""What may a picture that somebody else made bring into the lesson? Its pixels, no more."""

from kit.pictures.clean import CleanPicture, clean_notebook_picture, clean_picture
from kit.pictures.limits import PICTURE_TYPES

__all__ = ["PICTURE_TYPES", "CleanPicture", "clean_notebook_picture", "clean_picture"]
