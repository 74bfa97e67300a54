"""Independent numpy calculation of the planning workbook: a second opinion, by other methods where there are any.

Each module says at the end of its docstring which other method it has, or what it echoes.

Every function takes numbers or arrays of eyes of any broadcastable shape. NaN means "absent" and propagates silently.
Lengths are in mm, powers in dioptres (D), angles in degrees as the examiner faces the patient, unless said otherwise.
"""
