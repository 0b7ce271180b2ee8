"""Lets ``python -m kit`` do what ``kit`` does."""

from kit.cli import main

main()
