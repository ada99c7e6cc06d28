"""From the readings of four sides to the judgement: section, back, verdict, score, strength.

Positions are millimetres from the marked end; slopes are rise over length, up in the side's own photo.
"""
