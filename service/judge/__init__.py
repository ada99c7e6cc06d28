"""From the reading of a board to the answer: section, back, verdict, score, margin, strength; no pixels.

Positions are millimetres from the marked end; slopes are rise over length, up in the side's own photo.
"""
