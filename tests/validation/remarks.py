"""What the page says of each family in plain words, kept by hand; the generator adds what the rows themselves say."""

REMARKS: dict[str, str] = {
    "conduction cube": (
        "Films, layers and values were recalled; that they fit each other speaks for them. Test 3 is missing."
    ),
    "films and sea water": (
        "Inside, still-air films follow ISO 6946; heat that flows up from a warm sole meets a tenth more than by the "
        "handbook. Its direction does not follow the hour. With the fan on, as for sizing, none of them acts."
    ),
    "glass": "Shipped values stand for all makes: U to one decimal, solar factors to a few hundredths.",
    "glass by angle": "Panes are ideal: above 50 degrees measured double panes let in up to 0.03 less than ours.",
    "metal frames": "Fins come out 4 to 8 % below the two-dimensional solution, because linings spread heat too.",
    "periodic walls": "A wall is cut into a few cells: up to 2 % off over a day, up to 6 % over six hours.",
    "moist air": (
        "Perfect-gas formulas: 0.5 % less vapour at one relative humidity than real gas. Just below freezing the wet "
        "bulbs of ice and of water differ, and the libraries with them; those states are left out for one of them."
    ),
    "sun and sky": (
        "South and south-west glass at noon gets up to 28 W/m2 less than the handbook's factors, whose sky is spread "
        "by another rule. Dry clear skies are up to 0.055 darker in emissivity than the mean of two formulas, and "
        "humid tropical skies lie 10 K below the air where a standard has 13. The sea's reflection under a low sun is "
        "18 % above the measured fit."
    ),
    "trade facts": "Thermometer readings and rules of thumb without a source: docs/trade.md has every assumption.",
    "ship standard": (
        "The 2002 edition from memory; the tables of the 2022 edition were not seen. The comparison with the "
        "hour-by-hour engine is reported, not judged: it shows what a steady basis leaves out."
    ),
    "standard test cells": (
        "Ranges and definition from memory. Films and sky are the engine's own, which the standard allows; with "
        "its combined coefficients to the air instead, the coldest free-floating hour comes inside and the peak "
        "cooling of light cells with south windows comes 1 to 2 % above the ranges. Unheld cells are cold by up "
        "to 0.8 K in the coldest hours of clear winter nights, which no yacht is sized by. The sun of the weather"
        " file is placed by noon: its sky light had been made with the sun half an hour early."
    ),
    "standard test cells, in depth": ("Ranges less surely remembered, those of 200 to 215 least; none is judged."),
    "standard test cells, later editions": (
        "Their window and thermostat are not surely remembered; cooling lies 5 to 8 % above the upper ends in "
        "seven cases, which a window that lets in less would explain. None is judged."
    ),
    "storage of sun in rooms": (
        "A cabin as heatsim takes it stores sun like the handbook's light rooms (type A). A single store cannot "
        "follow slabs that give back over the day: type C is 0.1 of the largest gain high around noon."
    ),
    "measured sun": (
        "The mornings of Golden are left out: its plane reads up to 20 % less than beam and sky together."
    ),
    "friction in ducts and pipes": (
        "Straight smooth or evenly rough walls: a chart of ducts with joints lies up to a tenth higher, and plumbers' "
        "power law up to a tenth lower. Bends and fittings are a library's and are not checked here."
    ),
    "services by the trade": "Rules without a source, for each 12 kBtu/h; air flows are the invented catalogue's own.",
    "radiant exchange in rooms": ("One radiant node loses nothing that radiosity would see, in an empty box: 0.2 %."),
}
