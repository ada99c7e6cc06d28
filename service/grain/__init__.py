"""From a straightened strip to the direction of its lines and fibres, knots, and how sure that is.

Arrays are (row, col): rows run down across the side, columns along the board from the marked end.
A slope is rise over length, positive when the line rises toward the top (row 0) as the column grows.
"""
