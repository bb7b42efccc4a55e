"""Grooves that the song sheets of several tests play, as the sheets hold them."""

PLAIN = """\
[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o-------o-------
'''
"""
"""Eighths, kick on 1 and 3, snare on 2 and 4."""

SIXTEENTHS = """\
[grooves.sixteenths]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD oooo-oooooooo-oo
'''
"""
"""24 strokes a bar: hand 8, snare 2, kicks 14."""

PUSHED = """\
[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O-------O---
BD o--o--o-o-------
'''
"""
"""Eighths; the kick goes in threes of sixteenths up to 3."""

GHOSTED = """\
[grooves.plain]
tab = '''
HH x-x-x-x-x-x-x-x-
SN ----O--g----O-g-
BD o-o---o-o-------
'''
"""
"""Eighths, with ghost notes of the snare between its backbeats."""
