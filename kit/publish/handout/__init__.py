"""The handout: one level for one instrument on paper."""
