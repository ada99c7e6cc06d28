"""Photo bytes to an upright picture, to the side's outline in it, to a straightened strip of known scale.

Rows run down and columns to the right, and pixel (0, 0) has its centre at (0.0, 0.0). The order of use is
`open_photo`, `find_side` (or `outline_from_corners`), `straighten`, `usable`; and `find_end` for the board's end.
"""
