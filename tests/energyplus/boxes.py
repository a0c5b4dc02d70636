"""Boxes: nine the model was made beside, nine that judged it, twelve that it had never seen."""

from energyplus_box import Box, Face

SLAB = Face(("Concrete 100",), towards="ground")
SOIL = Face(("Soil 50",), towards="ground")
BRICK, CONCRETE = Face(("Brick 220",)), Face(("Concrete 200",))
TIMBER, METAL = Face(("Timber 20",)), Face(("Metal",))
FOAM, FOAM_100 = Face(("EPS 50",)), Face(("EPS 100",))
FELT, TILES = Face(("Felt and boards",)), Face(("Tiles", "Felt and boards"))
STUD, WOOL_ROOF = Face(("Timber 20", "Wool 90")), Face(("Felt and boards", "Wool 90"))
RAISED = Face(("Timber 20",))
BURIED = Face(("Concrete 200",), towards="ground")
HOUSE = Face(("Brick 220",), towards="house")


def glass(name: str) -> Face:
    return Face(glazing=name)


MAKING = (
    Box("brick garage", "Golden", 6, 3.5, 2.3, 2.6, BRICK, TILES, SLAB, air_changes_per_h=1.0),
    Box(
        *("glasshouse 600 W at 2", "Golden", 3, 2.4, 1.8, 2.2, glass("single glass")),
        *(glass("single glass"), SOIL),
        pot_litres=150,
        power_w=600,
        hold_c=2,
        vent_above_c=15,
    ),
    Box(
        *("double film 1 kW at 3", "Dulles", 6, 3, 1.8, 2.1, glass("double film")),
        *(glass("double film"), SOIL),
        pot_litres=300,
        power_w=1000,
        hold_c=3,
        vent_above_c=15,
    ),
    Box("foam shed 60 W", "Golden", 2, 1.5, 1.8, 2.0, FOAM, FOAM, FOAM, power_w=60),
    Box(
        *("cellar", "Dulles", 4, 3, 2.1, 2.1, BURIED, Face(("EPS 100", "Concrete 100")), SLAB),
        air_changes_per_h=0.3,
        pot_litres=200,
    ),
    Box("metal shed", "Chicago", 3, 2.4, 1.8, 2.1, METAL, METAL, SLAB, air_changes_per_h=2.0),
    Box(
        *("cold frame", "Dulles", 1.8, 0.9, 0.3, 0.5, TIMBER, glass("single glass"), SOIL),
        pot_litres=80,
        vent_above_c=10,
    ),
    Box(
        *("film house 6 kW at 5", "Chicago", 6, 4, 2.2, 2.2, glass("single film")),
        *(glass("single film"), SOIL),
        power_w=6000,
        hold_c=5,
        vent_above_c=18,
    ),
    Box(
        *("room 800 W at 5", "Chicago", 4, 3, 2.4, 2.4, FOAM, FOAM),
        Face(("EPS 50", "Concrete 100"), towards="ground"),
        air_changes_per_h=0.5,
        power_w=800,
        hold_c=5,
    ),
)
JUDGING = (
    Box(
        *("glasshouse", "Chicago", 3.6, 2.4, 1.8, 2.2, glass("single glass")),
        *(glass("single glass"), SOIL),
        pot_litres=200,
        vent_above_c=12,
    ),
    Box(
        *("double film", "Chicago", 5, 3, 1.8, 2.1, glass("double film"), glass("double film")),
        SOIL,
        pot_litres=200,
        vent_above_c=12,
    ),
    Box(
        *("lean-to glass", "Dulles", 4, 1.8, 1.6, 2.4, glass("single glass")),
        *(glass("single glass"), SLAB),
        faces={"North": HOUSE},
        pot_litres=150,
        vent_above_c=12,
    ),
    Box("foam shed", "Golden", 2.4, 1.8, 2.0, 2.2, FOAM, FOAM, RAISED, air_changes_per_h=0.7),
    Box("shed 250 W", "Northway", 2.4, 1.8, 2.0, 2.2, FOAM_100, FOAM_100, FOAM, power_w=250),
    Box("timber shed", "Dulles", 3, 2, 2.0, 2.2, TIMBER, FELT, RAISED, air_changes_per_h=1.5),
    Box(
        *("twin-wall 2.5 kW at 5", "Golden", 4, 2.5, 1.8, 2.2),
        *(glass("twin-wall polycarbonate 8 mm"), glass("twin-wall polycarbonate 8 mm"), SOIL),
        pot_litres=200,
        power_w=2500,
        hold_c=5,
        vent_above_c=12,
    ),
    Box(
        *("garage at the house", "Chicago", 6, 3.5, 2.4, 2.6, BRICK, TILES, SLAB),
        faces={"North": HOUSE},
        pot_litres=200,
    ),
    Box(
        *("concrete garage 1 kW at 1", "Chicago", 5, 3, 2.3, 2.3, CONCRETE, FELT, SLAB),
        power_w=1000,
        hold_c=1,
        pot_litres=300,
    ),
)
UNSEEN = (
    Box("shed on slab", "Shasta", 3, 2, 2.0, 2.2, TIMBER, FELT, SLAB, air_changes_per_h=1.5),
    Box(
        *("small cold frame", "Chicago", 1.8, 0.9, 0.3, 0.5, TIMBER, glass("single glass"), SOIL),
        pot_litres=80,
        vent_above_c=10,
    ),
    Box(
        *("stud garage bare above", "Chicago", 6.7, 6.1, 2.4, 2.4, STUD, FELT, SLAB),
        faces={"North": HOUSE},
        pot_litres=200,
    ),
    Box(
        *("stud garage wool above", "Chicago", 6.7, 6.1, 2.4, 2.4, STUD, WOOL_ROOF, SLAB),
        faces={"North": HOUSE},
        pot_litres=200,
    ),
    Box(
        *("concrete garage", "Shasta", 5, 3, 2.3, 2.3, CONCRETE, FELT, SLAB),
        pot_litres=100,
    ),
    Box("garage in Alaska", "Northway", 6, 3.5, 2.3, 2.6, BRICK, TILES, SLAB),
    Box(
        *("small glasshouse", "Shasta", 3, 2.4, 1.8, 2.2, glass("single glass")),
        *(glass("single glass"), SOIL),
        pot_litres=150,
        vent_above_c=15,
    ),
    Box(
        *("vented double film", "Golden", 6, 3, 1.8, 2.1, glass("double film")),
        *(glass("double film"), SOIL),
        pot_litres=200,
        vent_above_c=10,
    ),
    Box(
        *("deep cellar", "Chicago", 4, 3, 2.1, 2.1, BURIED, Face(("EPS 100", "Concrete 100"))),
        SLAB,
        air_changes_per_h=0.3,
        pot_litres=200,
    ),
    Box("foam hut", "Dulles", 2.4, 1.8, 2.0, 2.2, FOAM, FOAM, RAISED, air_changes_per_h=0.7),
    Box("draughty shed", "Golden", 3, 2, 2.0, 2.2, TIMBER, FELT, RAISED, air_changes_per_h=2.0),
    Box("barn", "Chicago", 10, 6, 3.0, 4.0, BRICK, TILES, SOIL, air_changes_per_h=2.0),
)
