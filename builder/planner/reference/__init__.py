"""Independent numpy calculation of the planning workbook: a second opinion by other methods than the cells'.

Every function takes numbers or arrays of eyes of any broadcastable shape. NaN means "absent" and propagates silently.
Lengths are in mm, powers in dioptres (D), angles in degrees as the examiner faces the patient, unless said otherwise.
"""
