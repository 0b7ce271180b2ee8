"""The tune: notation files in and out, and one immutable model in between."""
