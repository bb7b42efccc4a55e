"""What command line, page and Python users share: the library, inputs from disk, outputs of a song.

The formats read and write text and bytes, `files` opens and replaces; the modules of this room join them.
"""
