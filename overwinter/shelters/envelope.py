"""What is told of an envelope before its network: air exchange, floor, U-values of layers."""

from overwinter.climate.sun_on_faces import sky_share
from overwinter.model.shelter import Envelope, Towards

AIR_WH_M3K = 0.335
"""Heat held by air, Wh/(m3 K): 1.2 kg/m3 x 1005 J/(kg K) / 3600. Practice in US units uses
0.018 Btu/(ft3 F), which is 0.3353."""
AIR_J_M3K = 1.2 * 1005.0
ROOM_HEIGHT_M = 2.2
"""To guess a floor from the volume where no surface is towards ground."""


def air_exchange_w_k(volume_m3: float, air_changes_per_h: float) -> float:
    """Heat-loss coefficient of an air exchange, W/K."""
    return AIR_WH_M3K * air_changes_per_h * volume_m3


def floor_m2(envelope: Envelope) -> float:
    """Area of the floor, m2: what lies towards the ground, at most what the volume allows."""
    ground = sum(s.area_m2 for s in envelope.surfaces if s.towards is Towards.GROUND)
    by_volume = envelope.volume_m3 / ROOM_HEIGHT_M
    return min(ground, 1.5 * by_volume) if ground else by_volume


FRAME_AND_DIRT = 0.85
"""Light that frame, staging and a winter's dirt leave (judgement)."""


def light_let_in(envelope: Envelope) -> float | None:
    """Share of the outdoor light that falls inside; None without glazing towards outdoors.

    Opaque walls do not dilute it: what counts is how much of the floor's sky the glazing fills.
    """
    panes = [s for s in envelope.surfaces if s.glazed and s.towards is Towards.OUTDOORS]
    if not panes:
        return None
    filled = sum(s.area_m2 * sky_share(s.slope_deg) for s in panes)
    through = sum(s.area_m2 * sky_share(s.slope_deg) * s.transmission for s in panes) / filled
    return FRAME_AND_DIRT * through * min(1.0, filled / floor_m2(envelope))
