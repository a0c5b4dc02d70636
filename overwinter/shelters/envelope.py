"""Heat-loss coefficients of a shelter: Q = (sum U A + c n V)(Ti - To), and what it stores.

Areas are those of the surfaces as given; U-values carry their own surface films.
"""

from dataclasses import dataclass

from overwinter.model.shelter import Envelope, Towards

AIR_WH_M3K = 0.335
"""Heat held by air, Wh/(m3 K): 1.2 kg/m3 x 1005 J/(kg K) / 3600. Practice in US units uses
0.018 Btu/(ft3 F), which is 0.3353."""
AIR_J_M3K = 1.2 * 1005.0

CONTENTS_OVER_AIR = 5.0
"""Air, staging, pots' skins and frame against air alone: a judgement, no source."""
FLOOR_SKIN_J_M2K = 0.05 * 2.0e6
"""Top 5 cm of moist soil or concrete at 2 MJ/(m3 K), the part that swings through a day: about
half the diurnal penetration depth; a judgement on the low side, since less mass means colder."""

APERTURE_SHARE = 0.5
"""Share of transmitted sun that warms the air and contents; the rest leaves as reflection, in
evaporation, and into ground that is not counted. A judgement, see docs/physics.md."""


@dataclass(frozen=True, slots=True)
class Conductances:
    """Heat-loss coefficients, W/K, by what lies on the other side."""

    outdoors_w_k: float
    """Through surfaces towards outdoors, infiltration not counted."""
    infiltration_w_k: float
    ground_w_k: float
    house_w_k: float
    vent_w_k: float
    """Added when the vents stand fully open."""

    @property
    def outdoor_air_w_k(self) -> float:
        """Conduction and infiltration to the outdoor air, W/K."""
        return self.outdoors_w_k + self.infiltration_w_k

    @property
    def total_w_k(self) -> float:
        """All of them with the vents shut, W/K."""
        return self.outdoor_air_w_k + self.ground_w_k + self.house_w_k


def air_exchange_w_k(volume_m3: float, air_changes_per_h: float) -> float:
    """Heat-loss coefficient of an air exchange, W/K."""
    return AIR_WH_M3K * air_changes_per_h * volume_m3


def u_value_w_m2k(
    layers_m2k_w: tuple[float, ...], inside_m2k_w: float = 0.13, outside_m2k_w: float = 0.04
) -> float:
    """U = 1 / (Rsi + sum d/lambda + Rse), W/(m2 K), as in ISO 6946.

    Films by default for a wall (0.13 and 0.04); a roof takes 0.10 inside, a floor 0.17.
    """
    return 1.0 / (inside_m2k_w + sum(layers_m2k_w) + outside_m2k_w)


def conductances(envelope: Envelope) -> Conductances:
    """Heat-loss coefficients of ``envelope``, W/K."""
    by_side = dict.fromkeys(Towards, 0.0)
    for surface in envelope.surfaces:
        by_side[surface.towards] += surface.u_w_m2k * surface.area_m2
    vented = envelope.vent_above_c is not None
    return Conductances(
        outdoors_w_k=by_side[Towards.OUTDOORS],
        infiltration_w_k=air_exchange_w_k(envelope.volume_m3, envelope.air_changes_per_h),
        ground_w_k=by_side[Towards.GROUND],
        house_w_k=by_side[Towards.HOUSE],
        vent_w_k=air_exchange_w_k(envelope.volume_m3, envelope.vent_air_changes_per_h)
        if vented
        else 0.0,
    )


def estimate_capacity_j_k(volume_m3: float, floor_area_m2: float) -> float:
    """Heat capacity that follows the air through a day, J/K, when the grower does not know it."""
    return CONTENTS_OVER_AIR * AIR_J_M3K * volume_m3 + FLOOR_SKIN_J_M2K * floor_area_m2


def estimate_solar_aperture_m2(
    glazed_area_m2: float, transmission: float, share: float = APERTURE_SHARE
) -> float:
    """Solar aperture, m2, of a glazed area seen in plan (m2) with a transmission (0 to 1)."""
    return glazed_area_m2 * transmission * share


OPAQUE_ABSORPTANCE = 0.7
OUTSIDE_FILM_M2K_W = 0.04
OPAQUE_SHARE = 0.6
"""Sun on an opaque outside against the horizontal: 1 for a roof, about a half over four walls; a
judgement between."""


def estimate_opaque_aperture_m2(outdoors_w_k: float) -> float:
    """Solar aperture, m2, of opaque surfaces with ``outdoors_w_k`` (sum of U A, W/K).

    Sun warms the outside by absorptance x Rse x sun (the sol-air temperature), U A of which comes
    through. Small, but a tight room without windows is 1 to 2 K too cold by day without it.
    """
    return outdoors_w_k * OPAQUE_ABSORPTANCE * OUTSIDE_FILM_M2K_W * OPAQUE_SHARE
