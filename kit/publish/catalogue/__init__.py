"""The school's catalogue: all lessons of an output folder, to search and to follow."""
