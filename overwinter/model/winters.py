"""The outdoor weather of many winters, side by side."""

from dataclasses import dataclass
from enum import StrEnum

from overwinter.model.shelter import FloatArray


@dataclass(frozen=True)
class Winters:
    """Hourly weather of a sample of winters over the days of the plan, local standard time.

    Hour 0 begins at noon of ``Site.starts`` and a day runs from noon to noon, so that every night
    lies in one day. Shapes ``(winter, hour)`` with ``hour = 24 * days``.
    """

    air_c: FloatArray
    """Outdoor air, degC."""
    sun_w_m2: FloatArray
    """Global horizontal irradiance, W/m2, mean over the hour."""
    snow_m: FloatArray
    """Depth of lying snow by day, m, ``(winter, day)``; 0 where nothing is known."""
    names: tuple[str, ...]
    """Of each winter: "1998/99" of a record, "drawn 7" of the generator."""
    origin: str
    """Station, file, kind and licence, and how the sample was made, in a sentence."""

    @property
    def count(self) -> int:
        """How many winters."""
        return int(self.air_c.shape[0])

    @property
    def days(self) -> int:
        """Days of the plan."""
        return int(self.air_c.shape[1]) // 24


class SnowLies(StrEnum):
    """How often snow lies in the garden for weeks, as the grower says."""

    NEVER = "never"
    SOMETIMES = "sometimes"
    USUALLY = "usually"


@dataclass(frozen=True, slots=True)
class WinterRecipe:
    """What winters are drawn from; months run from January to December."""

    mean_min_c: tuple[float, ...]
    """Mean daily minimum of each month, degC."""
    mean_max_c: tuple[float, ...]
    """Mean daily maximum of each month, degC."""
    sun_mj_m2_d: tuple[float, ...] | None
    """Mean daily sun of each month, MJ/(m2 d); None: told from each day's range of temperature."""
    coldest_mean_c: float
    """Mean of the winters' coldest nights, degC."""
    coldest_spread_k: float
    """Standard deviation of the winters' coldest nights, K."""
    snow_lies: SnowLies = SnowLies.NEVER
