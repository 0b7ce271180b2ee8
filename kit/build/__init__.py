"""How does a lesson become an output folder, whole or not at all, and only where needed?"""
