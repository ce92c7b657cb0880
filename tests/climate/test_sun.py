"""Sun on faces: against pvlib's own transposition, symmetry, and light that is added or taken away."""

from dataclasses import replace

import numpy as np
import pytest
from boxes import ALWAYS, NEVER, SEA_ONLY, plain_box, plain_day, plain_face, plain_glazing, plain_place
from skies import one_moment

from heatsim.climate.days import design_weather
from heatsim.climate.sun import sun_on_boat
from heatsim.physics import sea_surface
from heatsim.scenario.resolved import Awning, Foreground, Obstruction, Routine, Shade

DARK = Foreground(0.0, 0.0, 1.0, 0.0, 0.0)
GROUND = Foreground(0.0, 0.0, 1.0, 0.0, 0.2)


def on_face(weather, heading=0.0, *, place=None, awnings=(), **face):
    """Incident sun on one face at the first step's start."""
    bearing, tilt = face.pop("bearing", 0.0), face.pop("tilt", 90.0)
    kind = face.pop("kind", "house")
    box = plain_box([plain_face("one", kind, bearing, tilt, 1.0, **face)], place=place, awnings=awnings)
    return sun_on_boat(box, weather, [heading])


@pytest.mark.parametrize("tilt", [0.0, 20.0, 55.0, 90.0, 120.0])
@pytest.mark.parametrize("bearing", [0.0, 75.0, 200.0])
@pytest.mark.parametrize(("zenith", "dni", "dhi"), [(20.0, 850.0, 110.0), (75.0, 400.0, 90.0), (50.0, 0.0, 250.0)])
def test_beam_and_sky_agree_with_pvlib(tilt, bearing, zenith, dni, dhi):
    """Perez 1990 and a grey ground of 0.2 by pvlib's own function for the whole plane; same formulas, so round-off.

    pvlib takes global sun on its ground as given; ours is built from the same beam and sky light.
    """
    from pvlib.atmosphere import get_relative_airmass
    from pvlib.irradiance import get_extra_radiation, get_total_irradiance

    weather = one_moment(zenith, 160.0, dni, dhi)
    found = on_face(weather, bearing=bearing, tilt=tilt, foreground=GROUND).incident[0, 0, 0, 0]
    extra = get_extra_radiation(202, method="spencer")
    ghi = dhi + dni * np.cos(np.radians(zenith))
    total = get_total_irradiance(
        tilt, bearing, zenith, 160.0, dni, ghi, dhi, dni_extra=extra, airmass=get_relative_airmass(zenith), albedo=0.2,
        model="perez",
    )  # fmt: skip
    assert found == pytest.approx(float(total["poa_global"]), rel=2e-4)  # the day of the year enters by 0.02 %


def test_beam_on_a_plane_square_to_the_sun():
    """Nothing but beam: its own strength (definition)."""
    weather = one_moment(90.0 - 35.0, 120.0, 800.0, 1e-9)
    assert on_face(weather, bearing=120.0, tilt=55.0, foreground=DARK).incident[0, 0, 0, 0] == pytest.approx(800.0)


def test_turning_the_boat_swaps_its_sides():
    """180° of heading swaps port and starboard, bow and stern, glass included (symmetry; round-off)."""
    day = plain_day()
    box = plain_box(windows=(0.0, 90.0, 180.0, 270.0), day=day)
    sun = sun_on_boat(box, design_weather(box, day), [30.0, 210.0])
    names = [face.name for face in box.faces]
    for kind in ("side", "window"):
        for a, b in ((0, 180), (90, 270)):
            i, j = names.index(f"{kind} {a}"), names.index(f"{kind} {b}")
            for name in ("incident", "transmitted", "outer_absorbed", "inner_absorbed"):
                values = getattr(sun, name)
                np.testing.assert_allclose(values[0, ..., i], values[1, ..., j], atol=1e-9)
                np.testing.assert_allclose(values[1, ..., i], values[0, ..., j], atol=1e-9)


def test_heading_and_bearing_add():
    weather = one_moment(40.0, 200.0, 700.0, 100.0)
    first = on_face(weather, 50.0, bearing=100.0, foreground=SEA_ONLY).incident
    assert first == pytest.approx(on_face(weather, 0.0, bearing=150.0, foreground=SEA_ONLY).incident, rel=1e-12)


def test_only_outdoor_faces_get_sun_and_only_glass_passes_it():
    weather = one_moment(40.0, 200.0, 700.0, 100.0)
    faces = [
        plain_face("hull", "house", 180.0, 90.0, 1.0),
        plain_face("bottom", "bottom", 180.0, 120.0, 1.0, beyond="sea"),
        plain_face("window", "glass", 180.0, 90.0, 1.0),
    ]
    sun = sun_on_boat(plain_box(faces), weather, [0.0])
    assert (sun.incident[0, 0, 0] > 0.0).tolist() == [True, False, True]
    assert (sun.transmitted[0, 0, 0] > 0.0).tolist() == [False, False, True]


def test_glass_shares_follow_the_angle():
    """Beam alone at 0 and 60° on a table with simple numbers: transmitted = incident × the table's value."""
    weather = one_moment(90.0, 180.0, 500.0, 0.0)
    glazing = plain_glazing()
    for turn, place_in_table in ((0.0, 0), (60.0, 6)):
        sun = on_face(weather, kind="glass", bearing=180.0 + turn, foreground=DARK)
        incident = sun.incident[0, 0, 0, 0]
        assert incident == pytest.approx(500.0 * np.cos(np.radians(turn)))
        for found, table in (
            (sun.transmitted, glazing.transmittance),
            (sun.outer_absorbed, glazing.outer_absorptance),
            (sun.inner_absorbed, glazing.inner_absorptance),
        ):
            assert found[0, 0, 0, 0] == pytest.approx(incident * table[place_in_table], rel=1e-4)


def test_overcast_takes_the_diffuse_shares():
    weather = one_moment(60.0, 180.0, 0.0, 200.0)
    sun = on_face(weather, kind="glass", bearing=0.0, tilt=0.0, foreground=DARK)
    glazing = plain_glazing()
    # Perez's circumsolar share of an overcast sky is small and goes by angle, hence 2 %
    assert sun.transmitted[0, 0, 0, 0] == pytest.approx(200.0 * glazing.diffuse_transmittance, rel=0.02)


def test_mirrored_sun_on_a_topside():
    """A low sun over the sea: what sea adds to a wall facing it, less what the sky light in the water gives, is beam
    times reflectance times the cosine to the mirrored sun (geometry)."""
    weather = one_moment(75.0, 90.0, 600.0, 80.0, wind=4.0)
    sea = on_face(weather, bearing=90.0, foreground=SEA_ONLY).incident[0, 0, 0, 0]
    dark = on_face(weather, bearing=90.0, foreground=DARK).incident[0, 0, 0, 0]
    glint = 600.0 * sea_surface.beam_reflectance(15.0, 4.0) * np.cos(np.radians(15.0))
    flat = 600.0 * np.sin(np.radians(15.0))
    dim = 0.5 * (sea_surface.DIFFUSE_REFLECTANCE * 80.0 + sea_surface.VOLUME_REFLECTANCE * flat)
    assert sea - dark == pytest.approx(glint + dim, rel=1e-9)
    away = on_face(weather, bearing=270.0, foreground=SEA_ONLY).incident[0, 0, 0, 0]
    assert away - on_face(weather, bearing=270.0, foreground=DARK).incident[0, 0, 0, 0] == pytest.approx(dim, rel=1e-9)


def test_horizontal_deck_sees_no_sea():
    weather = one_moment(30.0, 90.0, 800.0, 100.0)
    assert on_face(weather, tilt=0.0, foreground=SEA_ONLY).incident == pytest.approx(
        on_face(weather, tilt=0.0, foreground=DARK).incident
    )


def test_white_deck_throws_light_on_the_window_above():
    """needs.md 4 and design: 200–300 W/m² on a window above a white deck under a high sun (common practice, no source);
    half of 0.6 × 900 is 270 W/m²."""
    weather = one_moment(20.0, 180.0, 850.0, 100.0)
    deck = Foreground(0.0, 1.0, 0.0, 0.6, 0.0)
    thrown = on_face(weather, 180.0, foreground=deck).incident - on_face(weather, 180.0, foreground=DARK).incident
    assert thrown[0, 0, 0, 0] == pytest.approx(0.5 * 0.6 * (100.0 + 850.0 * np.cos(np.radians(20.0))), rel=1e-9)
    assert 200.0 < thrown[0, 0, 0, 0] < 300.0
    # the deck before a window that has the sun behind it lies in the boat's shadow and throws up sky light only
    behind = on_face(weather, 0.0, foreground=deck).incident - on_face(weather, 0.0, foreground=DARK).incident
    assert behind[0, 0, 0, 0] == pytest.approx(0.5 * 0.6 * 100.0, rel=1e-9)


def test_obstruction_takes_the_beam_and_its_mirror_image():
    """A wall to 30° all round: a sun at 20° is hidden, one at 40° is not, and the sky dims by what the wall covers."""
    place = plain_place(obstructions=(Obstruction(0.0, 360.0, 30.0),))
    low, high = one_moment(70.0, 90.0, 600.0, 0.0), one_moment(50.0, 90.0, 600.0, 0.0)
    assert on_face(low, bearing=90.0, place=place).incident[0, 0, 0, 0] == 0.0
    assert on_face(high, bearing=90.0, place=place).incident == pytest.approx(on_face(high, bearing=90.0).incident)
    # turning the boat turns what stands at a bearing on the boat with it
    quay = plain_place(obstructions=(Obstruction(80.0, 100.0, 30.0),))
    assert on_face(low, 0.0, tilt=0.0, place=quay).incident[0, 0, 0, 0] == 0.0
    assert on_face(low, 90.0, tilt=0.0, place=quay).incident[0, 0, 0, 0] > 0.0


def test_overhang_halves_the_beam():
    weather = one_moment(45.0, 90.0, 600.0, 0.0)
    bare = on_face(weather, bearing=90.0, foreground=DARK).incident[0, 0, 0, 0]
    shaded = on_face(weather, bearing=90.0, foreground=DARK, shade=Shade(1.0, 1.0, overhang=0.5)).incident[0, 0, 0, 0]
    assert shaded == pytest.approx(0.5 * bare)


def awning(routine):
    return Awning("sheet", 0.2, 0.5, 0.9, True, routine)


def test_awning_dims_beam_and_sky_but_not_the_light_from_below():
    weather = one_moment(30.0, 180.0, 800.0, 100.0)
    faces = {"tilt": 90.0, "bearing": 180.0}
    below = on_face(weather, foreground=GROUND, **faces).incident - on_face(weather, foreground=DARK, **faces).incident
    open_sky = on_face(weather, foreground=DARK, **faces).incident
    covered = on_face(weather, foreground=GROUND, awning="sheet", awnings=(awning(ALWAYS),), **faces).incident
    assert covered == pytest.approx(0.2 * open_sky + below, rel=1e-9)
    off = on_face(weather, foreground=GROUND, awning="sheet", awnings=(awning(NEVER),), **faces)
    assert off.incident == pytest.approx(open_sky + below, rel=1e-9)
    assert np.all(off.awning_absorbed == 0.0)


def test_awning_absorbs_from_the_whole_sky():
    weather = one_moment(30.0, 180.0, 800.0, 100.0)
    sun = on_face(weather, awning="sheet", awnings=(awning(ALWAYS),))
    assert sun.awning_absorbed.shape == (1, 2, 1, 1)
    assert sun.awning_absorbed[0, 0, 0, 0] == pytest.approx(0.5 * (100.0 + 800.0 * np.cos(np.radians(30.0))), rel=1e-3)


def test_awning_is_set_by_the_clock():
    """Set from 10:00: the jump falls on a step edge, and glass under it jumps with it."""
    day = plain_day()
    sheet = awning(Routine("from ten", (0, 600), (0.0, 1.0)))
    face = plain_face("roof light", "glass", 0.0, 0.0, 1.0, awning="sheet", foreground=DARK)
    box = plain_box([face], day=day, awnings=(sheet,))
    sun = sun_on_boat(box, design_weather(box, day), [0.0])
    for values in (sun.incident, sun.transmitted):
        before, after = values[0, 1, 119, 0], values[0, 0, 120, 0]
        assert after == pytest.approx(0.2 * before, rel=1e-9)


def test_night_is_dark():
    day = plain_day(month=12, date="2025-12-21")
    place = plain_place(latitude=78.2, longitude=15.6, timezone="UTC")
    box = plain_box(day=day, place=place)
    sun = sun_on_boat(box, design_weather(box, day), np.arange(3) * 120.0)
    assert sun.incident.shape == (3, 2, 288, len(box.faces))
    assert not sun.incident.any()


def test_mirror_latitude_half_a_year_later():
    """What stands north and south changes places at the mirror latitude half a year later; day means to 7 %, for the
    earth is 3.3 % nearer the sun in December (6.8 % more sun), which the same turbidity does not undo."""
    means = []
    for latitude, month in ((35.0, 6), (-35.0, 12)):
        day = plain_day(month=month, date=f"2025-{month:02d}-21", turbidity=3.0)
        box = plain_box(day=day, place=plain_place(latitude=latitude, longitude=0.0, timezone="UTC"))
        sun = sun_on_boat(box, design_weather(box, day), [0.0 if latitude > 0 else 180.0])
        means.append(sun.incident[0].mean(axis=(0, 1)))
    north, south = means
    names = [face.name for face in box.faces]
    for name in ("deck", "side 0", "side 180"):
        i = names.index(name)
        assert south[i] / north[i] == pytest.approx(1.0 + 0.068, abs=0.03)


def test_stretches_of_a_day_make_the_day():
    day = plain_day()
    box = plain_box(day=day)
    weather = design_weather(box, day)
    whole = sun_on_boat(box, weather, [40.0])
    parts = [sun_on_boat(box, weather.stretch(a, b), [40.0]) for a, b in ((0, 100), (100, 101), (101, 288))]
    for name in ("incident", "transmitted"):
        joined = np.concatenate([getattr(part, name) for part in parts], axis=2)
        np.testing.assert_allclose(joined, getattr(whole, name), atol=1e-10)


def test_faces_alike_share_one_result_whatever_their_order():
    day = plain_day()
    faces = list(plain_box(windows=(0.0, 180.0)).faces)
    weather = design_weather(plain_box(), day)
    forth = sun_on_boat(plain_box(faces), weather, [10.0])
    back = sun_on_boat(plain_box(faces[::-1]), weather, [10.0])
    np.testing.assert_array_equal(forth.transmitted, back.transmitted[..., ::-1])
    twice = sun_on_boat(plain_box([*faces, *(replace(f, name=f.name + " again") for f in faces)]), weather, [10.0])
    np.testing.assert_array_equal(twice.incident[..., : len(faces)], twice.incident[..., len(faces) :])


def test_own_deck_lies_in_the_sun_before_a_face_that_does_and_in_the_shadow_of_one_that_does_not():
    """Global sun on the level before the lit side, sky light alone before the other, nothing where no deck is seen."""
    weather = one_moment(40.0, 180.0, 700.0, 100.0)
    over = Foreground(0.5, 0.5, 0.0, 0.35, 0.0)
    box = plain_box(
        [
            plain_face("lit", "house", 180.0, 90.0, 1.0, foreground=over),
            plain_face("shaded", "house", 0.0, 90.0, 1.0, foreground=over),
            plain_face("at sea", "house", 180.0, 90.0, 1.0, foreground=SEA_ONLY),
        ]
    )
    found = sun_on_boat(box, weather, [0.0, 180.0])
    level = 100.0 + 700.0 * np.cos(np.radians(40.0))
    assert found.outlook.tolist() == [0, 1, -1]
    assert found.on_deck[0, 0, 0] == pytest.approx([level, 100.0])
    assert found.on_deck[1, 1, 0] == pytest.approx([100.0, level])
