"""Is anything of the members' in what is given away?

With every build all that is theirs is listed from the sources (`_secrets`, `_sounds`), by a
rule of its own (`_rules`) that does not ask the code which chooses what is free. The
finished free files are opened down to their last wrapping (`_reading`), and whatever is in
both, and is not everybody's by right (`_given`), stops the build (`_search`, `proof`).

What is compared are hashes: of runs of words (`_words`), of steps of a melody (`_melody`),
of frames of sound (`_sound`), and pictures seen from afar (`_pictures`). What one file
holds (`_prints`) is kept in the cache, so that only what has changed is read again.

`_stranger` lists for the teacher what is given away.
"""
