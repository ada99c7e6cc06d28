"""From the readings of four sides to one board: its rings, its fibre, its knots.

Positions are millimetres from the marked end; slopes are rise over length, up in the side's own photo.
"""
