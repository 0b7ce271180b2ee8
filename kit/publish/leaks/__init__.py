"""Is anything of the members' in what is given away?

With every build all that is theirs is listed from the sources (`secrets`, `sounds`), by a
rule of its own (`rules`) that does not ask the code which chooses what is free. The
finished free files are opened down to their last wrapping (`reading`), and whatever is in
both, and is not everybody's by right (`given`), stops the build (`search`, `proof`).

What is compared are hashes: of runs of words (`words`), of steps of a melody (`melody`),
of frames of sound (`sound`), and pictures seen from afar (`pictures`). What one file
holds (`prints`) is kept in the cache, so that only what has changed is read again.

`stranger` lists for the teacher what is given away.
"""
