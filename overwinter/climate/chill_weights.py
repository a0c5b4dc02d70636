"""What an hour at a temperature is worth in chilling.

Chill hours: Weinberger 1950, Proc. Am. Soc. Hort. Sci. 56:122-128 (32 to 45 degF; the rule was
read second-hand, the citation is from memory). Utah units: Richardson, Seeley & Walker 1974,
HortScience 9:331-332, in the degC cuts of the paper as public code of the model states them; the
upper cut belongs to its band.
"""

import numpy as np

from overwinter.model.shelter import FloatArray

CHILL_HOURS_RANGE_C = (0.0, 7.2)
UTAH_CUTS_C = (1.4, 2.4, 9.1, 12.4, 15.9, 18.0)
UTAH_WEIGHTS = (0.0, 0.5, 1.0, 0.5, 0.0, -0.5, -1.0)


def chill_hours_weight(air_c: FloatArray | float) -> FloatArray:
    """Chill hours earned by one hour at ``air_c`` (degC, any shape): 1 from 0 to 7.2, else 0."""
    air = np.asarray(air_c, dtype=np.float64)
    low, high = CHILL_HOURS_RANGE_C
    return ((air >= low) & (air <= high)).astype(np.float64)


def utah_weight(air_c: FloatArray | float) -> FloatArray:
    """Utah chill units earned by one hour at ``air_c`` (degC, any shape); negative when warm."""
    band = np.searchsorted(UTAH_CUTS_C, np.asarray(air_c, dtype=np.float64), side="left")
    return np.asarray(np.take(UTAH_WEIGHTS, band), dtype=np.float64)
