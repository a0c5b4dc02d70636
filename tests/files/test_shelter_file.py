"""Shelters as written: units, defaults, the two ways of describing them, heat-loss examples."""

from pathlib import Path

import pytest
from folders import good_folder, replaced

from overwinter.files.envelope import constructions
from overwinter.files.findings import Findings
from overwinter.files.season import read_season
from overwinter.files.shelter_file import read_shelters
from overwinter.model.shelter import PlaceKind, Shelter, Side, Towards

BTU_H_F = 0.527528  # W/K in 1 Btu/(h F)


def read(tmp_path: Path, text: str) -> tuple[Shelter, Findings]:
    (tmp_path / "shelters.toml").write_text(text, encoding="utf-8")
    findings = Findings()
    _, shelters = read_shelters(tmp_path / "shelters.toml", findings)
    assert findings.problems == []
    return shelters[0], findings


PLACE = """
  [[shelter.place]]
  id = "bench"
  kind = "bench"
  width_ft = 10
  depth_in = 36
"""


def test_a_published_greenhouse_in_us_units(tmp_path: Path) -> None:
    # A greenhouse maker's how-to (rimolgreenhouses.com, "How to size a greenhouse heating system",
    # read): ends 352 ft2 at U 0.53 and roof 3456 ft2 at U 0.70 Btu/(h ft2 F); the page prints
    # 186.56 and 2,419 Btu/(h F).
    shelter, _ = read(
        tmp_path,
        """
[[shelter]]
id = "film house"
transmission = 0.7
  [shelter.envelope]
  volume_ft3 = 20000
  air_changes_per_h = 0
  heat_capacity_btu_f = 5000
  solar_aperture_ft2 = 500
    [[shelter.envelope.surface]]
    name = "ends"
    area_ft2 = 352
    u_btu_h_ft2_f = 0.53
    [[shelter.envelope.surface]]
    name = "roof"
    area_ft2 = 3456
    r_h_ft2_f_btu = 1.4285714286
"""
        + PLACE,
    )
    assert shelter.envelope is not None
    ends, roof = shelter.envelope.surfaces
    assert ends.u_w_m2k * ends.area_m2 / BTU_H_F == pytest.approx(186.56, abs=0.01)
    assert roof.u_w_m2k * roof.area_m2 / BTU_H_F == pytest.approx(2419, abs=1)
    assert shelter.envelope.volume_m3 == pytest.approx(566.337, abs=0.001)  # 1 ft3 = 0.0283168 m3


def test_places_in_mixed_units_and_their_defaults(tmp_path: Path) -> None:
    # Benches out of reach of mice, pots on the ground exposed: common practice, no source.
    text = '[[shelter]]\nid = "garden"\nopen_air = true\n' + PLACE
    text += '  [[shelter.place]]\n  id = "bed"\n  kind = "Sunk"\n  width_m = 2\n  depth_m = 1\n'
    shelter, _ = read(tmp_path, text)
    bench, bed = shelter.places
    assert (bench.id, bench.name, bench.kind) == ("garden/bench", "bench", PlaceKind.BENCH)
    assert bench.width_m == pytest.approx(3.048)
    assert bench.depth_m == pytest.approx(0.9144)
    assert bench.headroom_m == bench.load_limit_kg == float("inf")
    assert bench.open_sides == {Side.FRONT}
    assert bench.rodent_exposure < 0.2 < bed.rodent_exposure
    assert shelter.transmission == 1.0


@pytest.mark.parametrize("written", ["cover_cm = 25", "cover_m = 0.25", "cover_in = 9.84251968504"])
def test_cover_of_a_sunk_pot_in_its_units(written: str, tmp_path: Path) -> None:
    # 25 cm is 9.8425 in by the international inch of 2.54 cm.
    text = '[[shelter]]\nid = "garden"\nopen_air = true\n'
    bed = PLACE.replace('kind = "bench"', f'kind = "sunk"\n  {written}')
    shelter, findings = read(tmp_path, text + bed)
    assert shelter.places[0].cover_m == pytest.approx(0.25)
    assert findings.warnings == []


def test_a_cover_that_is_not_given_is_said(tmp_path: Path) -> None:
    # Roots live or die by it; 10 cm is a judgement.
    text = '[[shelter]]\nid = "garden"\nopen_air = true\n'
    shelter, findings = read(tmp_path, text + PLACE.replace('"bench"\n  w', '"sunk"\n  w'))
    assert shelter.places[0].cover_m == pytest.approx(0.10)
    assert any("10 cm under soil, bark or leaves" in text for text in findings.assumed)


def test_constructions_by_name_carry_u_and_light(tmp_path: Path) -> None:
    # A single layer is 1.0 to 1.2 Btu/(h ft2 F), 5.7 to 6.8 W/(m2 K): eXtension/ENCON (read).
    folder = good_folder(tmp_path)
    replaced(folder, "shelters.toml", ("transmission = 0.6\n", ""), ("solar_aperture_m2 = 3\n", ""))
    season = read_season(folder)
    greenhouse = season.shelter_by_id["greenhouse"]
    assert greenhouse.envelope is not None
    (glass,) = greenhouse.envelope.surfaces
    assert 5.7 <= glass.u_w_m2k <= 6.8
    assert glass.glazed
    assert glass.towards is Towards.OUTDOORS
    # 3 mm glass 0.88, NGMA text (read), less frame and dirt.
    assert greenhouse.transmission == pytest.approx(0.88 * 0.85)
    assert greenhouse.envelope.solar_aperture_m2 is None
    said = " ".join(season.assumed)
    assert "no transmission" in said


def test_a_window_lights_as_much_as_it_shows_of_the_sky(tmp_path: Path) -> None:
    # By hand: 2 m2 of upright glass show half of their sky to a floor of 13.2 / 2.2 = 6 m2:
    # 0.88 x 0.85 x 1 / 6. Opaque walls count for nothing. Frame and dirt 0.85 are a judgement.
    text = """
[[shelter]]
id = "shed"
  [shelter.envelope]
  volume_m3 = 13.2
  air_changes_per_h = 1
    [[shelter.envelope.surface]]
    name = "walls"
    area_m2 = 20
    u_w_m2k = 1.0
    [[shelter.envelope.surface]]
    name = "window"
    area_m2 = 2
    construction = "single glass"
    faces = "south-west"
"""
    shelter, _ = read(tmp_path, text + PLACE)
    assert shelter.transmission == pytest.approx(0.88 * 0.85 / 6)
    assert shelter.envelope is not None
    window = shelter.envelope.surfaces[1]
    assert (window.faces_deg, window.slope_deg) == (225.0, 90.0)


@pytest.mark.parametrize(
    ("name", "layers_m2k_w", "inside", "outside"),
    [
        ("concrete 200 mm", 0.200 / 2.0, 0.13, 0.04),
        ("timber board 20 mm", 0.020 / 0.13, 0.13, 0.04),
        ("50 mm rigid foam", 0.050 / 0.036, 0.10, 0.04),
        ("100 mm rigid foam", 0.100 / 0.036, 0.10, 0.04),
        ("insulated roof 100 mm mineral wool", 0.100 / 0.040, 0.10, 0.04),
    ],
)
def test_constructions_against_iso_6946(
    name: str, layers_m2k_w: float, inside: float, outside: float
) -> None:
    # U = 1 / (Rsi + d/lambda + Rse) of ISO 6946; surface resistances read, lambdas from memory.
    built = constructions()[name]
    exact = 1 / (inside + layers_m2k_w + outside)
    assert built.u_w_m2k == pytest.approx(exact, rel=0.06)
    assert built.u_least <= exact <= built.u_most


def test_every_construction_lies_in_its_range_and_says_its_source() -> None:
    # The range between sources travels with the figure.
    table = constructions()
    assert len(table) >= 25
    for name, built in table.items():
        assert built.u_least <= built.u_w_m2k <= built.u_most, name
        assert built.source, name
        assert built.transmission is None or 0.4 <= built.transmission <= 0.9, name


@pytest.mark.parametrize(("u", "warned"), [(0.62, False), (0.2, True), (6.2, False)])
def test_glass_ten_times_too_good_is_warned_of(u: float, warned: bool, tmp_path: Path) -> None:
    # 0.62 is 6.2 with a slipped point; the best triple glazing is near 0.5 (memory), so only what
    # no glass reaches is called odd.
    folder = good_folder(tmp_path)
    change = ('construction = "single glass"', f"u_w_m2k = {u}\n    glazed = true")
    replaced(folder, "shelters.toml", change)
    warnings = read_season(folder).warnings
    assert any("decimal point" in text for text in warnings) is warned


def test_walls_ten_times_too_good_are_warned_of(tmp_path: Path) -> None:
    # 0.037 instead of 0.37: better than any house wall.
    folder = good_folder(tmp_path)
    replaced(folder, "shelters.toml", ('construction = "single glass"', "u_w_m2k = 0.037"))
    assert any("better than the best walls" in text for text in read_season(folder).warnings)


def test_burners_without_a_flue_bring_a_caution(tmp_path: Path) -> None:
    # Carbon monoxide kills; said with every such heater.
    folder = good_folder(tmp_path)
    replaced(
        folder,
        "shelters.toml",
        ('carrier = "electricity"', 'carrier = "propane"\n  vented = false'),
        ('  breaker = "garden"\n', ""),
    )
    replaced(folder, "site.toml", ("[prices.electricity]", "[prices.propane]"))
    season = read_season(folder)
    (heater,) = season.shelter_by_id["greenhouse"].heaters
    assert any("carbon monoxide" in text for text in season.warnings)
    assert not heater.vented
    assert heater.efficiency == 1.0  # all its heat stays in the shelter


def test_a_heater_beyond_its_breaker_is_warned_of(tmp_path: Path) -> None:
    # 230 V x 16 A x 0.8 = 2944 W: common practice; the local code decides.
    folder = good_folder(tmp_path)
    replaced(folder, "shelters.toml", ("power_w = 2000", "power_kw = 3"))
    assert any("2944 W" in text for text in read_season(folder).warnings)


def test_readings_of_a_file(tmp_path: Path) -> None:
    # Rows may come in any order, in degF.
    lines = ["date,min_f,max_f,outdoor_min_f,outdoor_max_f"]
    lines += [f"2025-12-{day:02d},36,41,14,32" for day in range(22, 8, -1)]
    (tmp_path / "shed.csv").write_text("\n".join(lines), encoding="utf-8")
    text = '[[shelter]]\nid = "shed"\ntransmission = 0\nreadings = "shed.csv"\n' + PLACE
    shelter, _ = read(tmp_path, text)
    assert shelter.readings is not None
    assert list(shelter.readings.dates) == sorted(shelter.readings.dates)
    assert shelter.readings.max_c[0] == pytest.approx(5.0)
    assert shelter.readings.outdoor_min_c[0] == pytest.approx(-10.0)
