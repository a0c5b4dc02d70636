"""A shelter as a network of resistances: air, inner faces, heavy walls, pots, soil under the floor.

Each surface has an inner face that exchanges heat with the air by convection and with the others by
radiation (over a star), as in ISO 52016-1; heavy walls hold a node of mass; the floor lies on two
layers of soil over undisturbed ground, and leaks to the outdoors at its edge; outer faces lose heat
to air, wind and sky and take sun. Faces without mass are eliminated.
"""

from collections.abc import Hashable
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from overwinter.climate.air import cold_sky_share, sky_loss_w_m2
from overwinter.climate.ground import kusuda_c
from overwinter.climate.series import days_of_year
from overwinter.climate.sun import HourlySun, hourly_sun, sky_share, sun_on_face
from overwinter.model.season import Season
from overwinter.model.shelter import Envelope, FloatArray, Surface, Towards
from overwinter.model.site import Site
from overwinter.shelters.root_zone import MEDIUM_CAPACITY_J_M3K
from overwinter.units import HOURS_PER_DAY

AIR_WH_M3K = 0.335
"""Heat held by air, Wh/(m3 K): 1.2 kg/m3 x 1005 J/(kg K) / 3600. Practice in US units uses
0.018 Btu/(ft3 F), which is 0.3353."""
AIR_J_M3K = 1.2 * 1005.0
ROOM_HEIGHT_M = 2.2  # to guess a floor from the volume where no surface is towards ground
FRAME_AND_DIRT = 0.85  # light that frame, staging and a winter's dirt leave (judgement)
OUTDOORS, HOUSE, LEVEL_SUN = "outdoors", "house", "sun on the horizontal"


def air_exchange_w_k(volume_m3: float, air_changes_per_h: float) -> float:
    """Heat-loss coefficient of an air exchange, W/K."""
    return AIR_WH_M3K * air_changes_per_h * volume_m3


def floor_m2(envelope: Envelope) -> float:
    """Area of the floor, m2: what lies towards the ground, at most what the volume allows."""
    ground = sum(s.area_m2 for s in envelope.surfaces if s.towards is Towards.GROUND)
    by_volume = envelope.volume_m3 / ROOM_HEIGHT_M
    return min(ground, 1.5 * by_volume) if ground else by_volume


def light_let_in(envelope: Envelope) -> float | None:
    """Share of the outdoor light that falls inside; None without glazing towards outdoors. Opaque
    walls do not dilute it: what counts is how much of the floor's sky the glazing fills."""
    panes = [s for s in envelope.surfaces if s.glazed and s.towards is Towards.OUTDOORS]
    if not panes:
        return None
    filled = sum(s.area_m2 * sky_share(s.slope_deg) for s in panes)
    through = sum(s.area_m2 * sky_share(s.slope_deg) * s.transmission for s in panes) / filled
    return FRAME_AND_DIRT * through * min(1.0, filled / floor_m2(envelope))


WALL_CONVECTION_W_M2K, ROOF_CONVECTION_W_M2K = 2.5, 3.0
"""Still air at a wall, as in ISO 52016-1 (memory), and under a cold roof (5 there; less as found by
EnergyPlus for roofs a few kelvins colder than the air)."""
FLAT_DEG = 45.0  # a face that slopes less is a roof
FLOOR_CONVECTION_W_M2K = 1.5  # between floors warmer (5) and colder (0.7): ISO 52016-1 (memory)
RADIATION_W_M2K = 4.2  # at 0 degC: 4 sigma T^3 x 0.9; no face sees itself
SMOOTH_CONVECTION_W_M2K, ROUGH_CONVECTION_W_M2K = 6.0, 10.0
"""Outside, glass and other faces, at 2 m height among gardens in wind of 2 m/s: judgement; calm
nights less, open fields more."""
OUTSIDE_RADIATION_W_M2K = 4.0  # 4 sigma T^3 x 0.9 at -5 degC
INSIDE_FILM_M2K_W, OUTSIDE_FILM_M2K_W = 0.13, 0.04  # in U-values (ISO 6946, wall)
LEAST_RESISTANCE_M2K_W = 0.003  # 3 mm of glass
COLD_GAP = 1.15
"""A gap between panes insulates better in a frost than at the 10 degC that U-values are given for:
radiation falls as T^3, by a fifth at -10 degC, air's conduction by 6 % (reckoned)."""
GLASS_EMISSIVITY, OUTSIDE_EMISSIVITY, ABSORPTANCE = 0.84, 0.9, 0.7
"""Of glass and of paint for the sky; of weathered wood and brick for the sun (memory)."""

AIR_AND_STAGING = 3.0  # air, staging and leaves against air alone (judgement)
POT_DEPTH_M = 0.06  # volume over the surface that pots show to the air, standing close (judgement)
POT_RESISTANCE_M2K_W = 0.075  # from a pot's skin to the middle of its mass: 3 cm of moist mix
KNOWN_MASS_J_M2K = 1e5  # of a mass that a grower gives, an m2 meets the air (judgement)

SOIL_W_MK, SOIL_J_M3K = 1.2, 2.0e6
"""Moist loam: a judgement; ISO 13370 has 1.5 W/(m K) for clay and 2.0 for sand (memory)."""
SOIL_TOP_M, SOIL_NEXT_M, DEEP_M = 0.12, 0.4, 1.2  # under the floor; undisturbed below `DEEP_M`
EDGE_DEPTH_M = SOIL_TOP_M + SOIL_NEXT_M / 2
GROUND_STANDARD_M2K_W = 0.17 + 1.0 / SOIL_W_MK  # film and a metre of soil, in U-values
BARE_M2K_W = 0.3  # a floor insulated by less than this stores heat in the soil's top layer
EDGE_TOP_W_MK, EDGE_NEXT_W_MK = 0.3, 0.25  # loss at a floor's edge, as in EnergyPlus's ground

DIRECT_SHARE = 0.75  # of the sun let in, on floor, pots and walls first (by EnergyPlus)
SUN_ON_AIR = 0.1  # of the sun let in, that leaves and staging give to the air (judgement)


@dataclass(frozen=True)
class GroundAt:
    """Undisturbed ground at a depth: an input of the network, degC."""

    depth_m: float


@dataclass(frozen=True)
class SkyOver:
    """Loss to the sky of a face with this slope (None: roof and walls together), W/m2."""

    slope_deg: float | None


@dataclass(frozen=True)
class SunOn:
    """Sun on one kind of face: an input of the network, W/m2."""

    faces_deg: float | None
    slope_deg: float | None
    through_glass: bool


class Network:
    """Conductances between nodes and what drives them; nodes and inputs come by name."""

    def __init__(self) -> None:
        self._capacity: dict[Hashable, float] = {}
        self._links: list[tuple[Hashable, Hashable, float]] = []
        self._drives: list[tuple[Hashable, Hashable, float]] = []
        self._leaks: list[tuple[Hashable, float]] = []

    def store(self, node: Hashable, capacity_j_k: float) -> None:
        """``node`` holds so much more heat."""
        self._capacity[node] = self._capacity.get(node, 0.0) + capacity_j_k

    def link(self, one: Hashable, other: Hashable, w_k: float) -> None:
        """Two nodes exchange heat."""
        self._links.append((one, other, w_k))

    def to_outside(self, node: Hashable, source: Hashable, w_k: float) -> None:
        """``node`` exchanges heat with a given temperature."""
        self._leaks.append((node, w_k))
        self._drives.append((node, source, w_k))

    def drive(self, node: Hashable, source: Hashable, per_unit: float) -> None:
        """``node`` gets ``per_unit`` W for each unit of ``source``."""
        self._drives.append((node, source, per_unit))

    def reduced(self) -> "Reduced":
        """Without the nodes that hold no heat."""
        linked = [node for *ends, _ in self._links for node in ends]
        nodes = list(dict.fromkeys([*self._capacity, *linked, *(n for n, *_ in self._drives)]))
        at, held = {node: i for i, node in enumerate(nodes)}, len(self._capacity)
        sources = list(dict.fromkeys(source for _, source, _ in self._drives))
        count = len(nodes)
        loss, drive = np.zeros((count, count)), np.zeros((count, len(sources)))
        for one, other, w_k in self._links:
            i, j = at[one], at[other]
            loss[[i, j], [i, j]] += w_k
            loss[[i, j], [j, i]] -= w_k
        for node, w_k in self._leaks:
            loss[at[node], at[node]] += w_k
        for node, source, per_unit in self._drives:
            drive[at[node], sources.index(source)] += per_unit
        # Those that hold heat come first; the others are eliminated.
        through = np.linalg.solve(loss[held:, held:], np.hstack((loss[held:, :held], drive[held:])))
        into = loss[:held, held:]
        return Reduced(
            sources=tuple(sources),
            capacity_j_k=np.array(list(self._capacity.values())),
            loss_w_k=loss[:held, :held] - into @ through[:, :held],
            drive=drive[:held] - into @ through[:, held:],
        )


@dataclass(frozen=True)
class Reduced:
    """C dT/dt = -K T + B u + heat into node 0, the air; ``n`` nodes, ``m`` sources. K, the loss, is
    ``(n, n)`` and symmetric; B, the drive, ``(n, m)``."""

    sources: tuple[Hashable, ...]
    capacity_j_k: FloatArray
    loss_w_k: FloatArray
    drive: FloatArray


def network_of(envelope: Envelope, pot_litres: float = 0.0) -> Reduced:
    """The network of an envelope in which pots of ``pot_litres`` stand (litres of mix)."""
    net = Network()
    air_w_k = air_exchange_w_k(envelope.volume_m3, envelope.air_changes_per_h)
    air_j_k = AIR_AND_STAGING * AIR_J_M3K * envelope.volume_m3
    net.store("air", air_j_k)
    if air_w_k:
        net.to_outside("air", OUTDOORS, air_w_k)
    for number, surface in enumerate(envelope.surfaces):
        _surface(net, surface, number)
    floors = [s for s in envelope.surfaces if s.towards is Towards.GROUND]
    ground_m2 = sum(s.area_m2 for s in floors)
    if ground_m2:
        _soil(net, ground_m2, envelope.volume_m3 / ROOM_HEIGHT_M)
    bare_m2 = sum(s.area_m2 for s in floors if _floor_insulation_m2k_w(s) < BARE_M2K_W)
    _sun(net, envelope, _contents(net, envelope, air_j_k, bare_m2, pot_litres))
    return net.reduced()


def _face(net: Network, node: Hashable, area_m2: float, convection_w_m2k: float) -> None:
    """An inner face: convection to the air, radiation to the other faces."""
    net.link(node, "air", convection_w_m2k * area_m2)
    net.link(node, "radiant", RADIATION_W_M2K * area_m2)


def _floor_insulation_m2k_w(surface: Surface) -> float:
    """What a U-value towards ground says of insulation."""
    return max(0.0, 1 / surface.u_w_m2k - GROUND_STANDARD_M2K_W)


def _surface(net: Network, surface: Surface, number: int) -> None:
    area, inner = surface.area_m2, ("inner", number)
    if surface.towards is Towards.GROUND:
        _face(net, inner, area, FLOOR_CONVECTION_W_M2K)
        insulated = _floor_insulation_m2k_w(surface) + SOIL_TOP_M / 2 / SOIL_W_MK
        net.link(inner, "soil top", area / insulated)
        return
    flat = surface.slope_deg is not None and surface.slope_deg < FLAT_DEG
    _face(net, inner, area, ROOF_CONVECTION_W_M2K if flat else WALL_CONVECTION_W_M2K)
    to_house = surface.towards is Towards.HOUSE
    films = INSIDE_FILM_M2K_W + (INSIDE_FILM_M2K_W if to_house else OUTSIDE_FILM_M2K_W)
    resistance = max(LEAST_RESISTANCE_M2K_W, 1 / surface.u_w_m2k - films)
    if surface.glazed:
        resistance *= COLD_GAP
    outer: Hashable = ("outer", number)
    if surface.mass_j_m2k:
        mass = ("mass", surface.towards, surface.u_w_m2k, surface.mass_j_m2k)
        inside = np.clip(
            surface.mass_at / surface.u_w_m2k - INSIDE_FILM_M2K_W, 0.001, resistance - 0.001
        )
        net.store(mass, surface.mass_j_m2k * area)
        net.link(inner, mass, area / float(inside))
        net.link(mass, outer, area / (resistance - float(inside)))
    else:
        net.link(inner, outer, area / resistance)
    if to_house:
        net.to_outside(outer, HOUSE, area / INSIDE_FILM_M2K_W)
        return
    wind, emissivity = ROUGH_CONVECTION_W_M2K, OUTSIDE_EMISSIVITY
    if surface.glazed:
        wind, emissivity = SMOOTH_CONVECTION_W_M2K, GLASS_EMISSIVITY
    net.to_outside(outer, OUTDOORS, area * (wind + OUTSIDE_RADIATION_W_M2K))
    net.drive(outer, SkyOver(surface.slope_deg), -area * emissivity)


def _soil(net: Network, area_m2: float, floor_m2: float) -> None:
    """Two layers of soil, the ground below, and the edge of a floor that is about square. What lies
    towards ground beyond the floor is buried wall: its edge leaks so much deeper."""
    edge_m = 4 * float(np.sqrt(min(area_m2, floor_m2)))
    buried_m = max(0.0, area_m2 - floor_m2) / edge_m
    net.store("soil top", SOIL_TOP_M * SOIL_J_M3K * area_m2)
    net.store("soil next", SOIL_NEXT_M * SOIL_J_M3K * area_m2)
    net.link("soil top", "soil next", area_m2 / ((SOIL_TOP_M + SOIL_NEXT_M) / 2 / SOIL_W_MK))
    net.to_outside("soil next", GroundAt(DEEP_M), area_m2 * SOIL_W_MK / (DEEP_M - EDGE_DEPTH_M))
    net.to_outside("soil top", OUTDOORS, EDGE_TOP_W_MK * edge_m)
    net.to_outside("soil next", GroundAt(EDGE_DEPTH_M + buried_m / 2), EDGE_NEXT_W_MK * edge_m)


def _contents(
    net: Network, envelope: Envelope, air_j_k: float, bare_m2: float, pot_litres: float
) -> float:
    """Pots, and mass that the grower gives beyond them; the surface they show, m2."""
    pots_j_k = pot_litres / 1000 * MEDIUM_CAPACITY_J_M3K
    pots_m2 = pot_litres / 1000 / POT_DEPTH_M
    known = envelope.heat_capacity_j_k or 0.0
    counted = air_j_k + pots_j_k + sum(s.mass_j_m2k * s.area_m2 for s in envelope.surfaces)
    counted += SOIL_TOP_M * SOIL_J_M3K * bare_m2
    more_j_k = max(0.0, known - counted)
    area_m2 = pots_m2 + more_j_k / KNOWN_MASS_J_M2K
    if area_m2:
        net.store("contents", pots_j_k + more_j_k)
        net.link("contents", "skin", area_m2 / POT_RESISTANCE_M2K_W)
        _face(net, "skin", area_m2, WALL_CONVECTION_W_M2K)
    return area_m2


def _sun(net: Network, envelope: Envelope, contents_m2: float) -> None:
    """Sun on opaque outsides and through glass, or by the grower's own aperture."""
    outdoors = [(i, s) for i, s in enumerate(envelope.surfaces) if s.towards is Towards.OUTDOORS]
    glass_m2 = sum(s.area_m2 for _, s in outdoors if s.glazed)
    opaque = {("inner", i): s.area_m2 for i, s in enumerate(envelope.surfaces) if not s.glazed}
    shares: dict[Hashable, float] = {
        node: area * (1.0 if envelope.surfaces[node[1]].towards is Towards.GROUND else 0.3)
        for node, area in opaque.items()
    }
    if contents_m2:
        shares["skin"] = 0.5 * contents_m2
    lit = sum(shares.values())
    # Scattered light, and what the first face throws back, finds its way out of the glass again.
    takes = ABSORPTANCE * (sum(opaque.values()) + contents_m2)
    scattered = takes / (takes + glass_m2) if takes else 0.0
    at_once = ABSORPTANCE * DIRECT_SHARE
    taken = at_once + (1 - at_once) * scattered

    def let_in(source: Hashable, aperture_m2: float) -> None:
        on_air = SUN_ON_AIR if lit else 1.0
        net.drive("air", source, aperture_m2 * on_air)
        for node, share in shares.items():
            net.drive(node, source, aperture_m2 * (1 - on_air) * share / lit)

    if envelope.solar_aperture_m2 is not None:
        let_in(LEVEL_SUN, envelope.solar_aperture_m2)
        return
    for number, surface in outdoors:
        sun = SunOn(surface.faces_deg, surface.slope_deg, surface.glazed)
        if surface.glazed:
            let_in(sun, surface.area_m2 * surface.transmission * taken)
        else:
            net.drive(("outer", number), sun, surface.area_m2 * ABSORPTANCE)


@dataclass(frozen=True)
class Surroundings:
    """Of all winters side by side, ``(winter, hour)``."""

    air_c: FloatArray
    sun_w_m2: FloatArray
    day_of_year: FloatArray  # `(hour,)`: the middle of each, with fractions
    site: Site

    @cached_property
    def sky_loss_w_m2(self) -> FloatArray:
        """Loss of a horizontal black face to the sky, ``(winter, hour)``."""
        days = np.floor(self.day_of_year[::HOURS_PER_DAY])
        loss = sky_loss_w_m2(self.air_c, self.sun_w_m2, self.site.location, days)
        return np.repeat(loss, HOURS_PER_DAY, axis=1)

    @cached_property
    def sun(self) -> HourlySun:
        """Direct and diffuse."""
        return hourly_sun(self.sun_w_m2, self.site.location, self.day_of_year)

    def source(self, of: Hashable) -> FloatArray:
        """What a source of a shelter's network gives, broadcast to ``(winter, hour)``."""
        if isinstance(of, SunOn):
            return sun_on_face(self.sun, of.faces_deg, of.slope_deg, of.through_glass)
        if isinstance(of, SkyOver):
            return cold_sky_share(of.slope_deg) * self.sky_loss_w_m2
        if isinstance(of, GroundAt):
            return kusuda_c(of.depth_m, self.day_of_year, self.site.ground)
        if of == HOUSE:
            return np.asarray(self.site.house_c)
        return {OUTDOORS: self.air_c, LEVEL_SUN: self.sun_w_m2}[str(of)]

    def sources(self, wanted: tuple[Hashable, ...]) -> FloatArray:
        """Those of a network, ``(hour, source, winter)``."""
        every = [np.broadcast_to(self.source(of), self.air_c.shape).T for of in wanted]
        return np.stack(every, axis=1)


def surroundings(season: Season) -> Surroundings:
    """What surrounds the season's shelters."""
    days = days_of_year(season.site.starts, season.days)
    middle = 0.5 + (np.arange(HOURS_PER_DAY) + 0.5) / HOURS_PER_DAY
    day_of_year = np.asarray((days[:, None] + middle).reshape(-1))
    return Surroundings(season.winters.air_c, season.winters.sun_w_m2, day_of_year, season.site)
