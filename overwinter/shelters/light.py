"""Daily light integral at each place."""

import numpy as np

from overwinter.climate.series import daily_sum
from overwinter.climate.sun import dli_mol_m2_d
from overwinter.model.shelter import FloatArray, Place, Shelter
from overwinter.model.winters import Winters

MJ_PER_WH = 0.0036


def outdoor_dli_mol_m2_d(winters: Winters) -> FloatArray:
    """Outdoor daily light integral, mol/(m2 d), ``(winter, day)``, at the low published factor."""
    return dli_mol_m2_d(daily_sum(winters.sun_w_m2) * MJ_PER_WH)


def place_dli_mol_m2_d(outdoor_dli: FloatArray, shelter: Shelter, place: Place) -> FloatArray:
    """Light at ``place``, mol/(m2 d), ``(winter, day)``: daylight let in, and lamps."""
    inside = outdoor_dli * shelter.transmission + shelter.lamp_mol_m2_d
    return np.asarray(inside * place.light_share)
