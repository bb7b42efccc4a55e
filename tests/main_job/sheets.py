"""Song sheets that the tests of the main job render; settings and titles are invented."""

from tests.sheet_parts import GHOSTED, PLAIN

NINTH_FERRY = """
title = "Ninth Ferry"
tempo = 132
form = ["intro", "verse", "chorus", "verse", "chorus", "middle", { part = "chorus", feel = "double" }]

[defaults]
arrival = false
groove = "plain"
bars = 8

""" + PLAIN + """
[parts.intro]
bars = 4

[parts.verse]

[parts.chorus]
timekeeper = "ride"

[parts.middle]
feel = "half"
"""

SALT_LEDGER = """
title = "Salt Ledger"
tempo = 96
form = ["verse"]

""" + GHOSTED + """
[parts.verse]
groove = "plain"
bars = 16
timekeeper = ["closed hi-hat", "ride"]
"""

UNDER_THE_WEIR = """
title = "Under the Weir"
tempo = 168
form = ["opening", "middle", { part = "opening", tempo = "2/3" }]

[defaults]
arrival = false

[grooves.opening]
tab = '''
HH x-x-x-x-x-x-x-x-|x-x-x-x-x-x-x-x-
SN ----O-------O---|----O--o----O---
BD o-oo--o-o-------|o-oo--o-o---o-o-
'''

[parts.opening]
groove = "opening"
bars = 8

[parts.middle]
groove = "opening"
feel = "half"
bars = 32
"""

LAST_TWO_BARS = """
title = "Two Slow Bars"
tempo = 140
form = ["riff", { part = "riff", bars = 2, tempo = { to = 98, over = 8 } }]

""" + PLAIN + """
[parts.riff]
groove = "plain"
bars = 4
"""
