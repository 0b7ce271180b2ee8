"""Is anything of the members' in what is given away?

What is compared are hashes: of runs of words (`words`), of steps of a melody (`melody`), of
frames of sound (`sound`), and pictures seen from afar (`pictures`). `reading` opens a file
down to its last wrapping; what one file holds (`prints`) is kept in the cache.
"""
