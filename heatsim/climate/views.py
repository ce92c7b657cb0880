"""The distinct ways in which a boat's faces look at sky, sea and sun.

Faces that share bearing, tilt, foreground, shade, awning and glazing receive the same sun per area; each such set is
one view. Awnings are views of their own, over open sea.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from heatsim.climate import shade
from heatsim.physics import sea_surface
from heatsim.scenario.resolved import OUTDOORS, Foreground, Glazing, Resolved, Shade

Array = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]

OPEN_SEA = Foreground(sea=1.0, deck=0.0, quay=0.0, deck_reflectance=0.0, quay_reflectance=0.0)

_Key = tuple[float, float, Foreground, Shade | None, str | None, str | None]


@dataclass(frozen=True)
class Views:
    """Views as arrays over view; the last `len(awnings)` of them are the awnings.

    `sky` and `horizon` multiply Perez's even sky and horizon band, `lower_sky` and `lower_beam` the sky light and the
    beam on a horizontal plane, `deck_beam` the beam on the boat's own deck, which lies in the boat's shadow while the
    sun stands behind the view, `glint` the mirrored sun; what hides any of these for good is already in them.
    """

    face: Integers
    """(outdoor face,) number of the face in the scenario."""
    view: Integers
    """(outdoor face,) its view."""
    axes: shade.Axes
    sky: Array
    horizon: Array
    lower_sky: Array
    lower_beam: Array
    deck_beam: Array
    glint: Array
    own_deck: Integers
    """Views that have own deck before them, one for each direction."""
    outlook: Integers
    """(outdoor face,) which of those looks as the face does, −1 where it sees no deck."""
    shaded: Integers
    """Views that have a shade, in the order of `shades`."""
    shades: shade.ShadeGeometry
    awning: Integers
    """(view,) number of the awning above it, −1 for none."""
    glazings: tuple[tuple[Glazing, Integers], ...]
    """Each glazing in use and its views."""


def boat_views(resolved: Resolved) -> Views:
    """The views of a boat where it lies."""
    outdoor = [(i, face) for i, face in enumerate(resolved.faces) if face.beyond == OUTDOORS]
    number: dict[_Key, int] = {}
    index = [
        number.setdefault(
            (face.bearing % 360.0, face.tilt, face.foreground, face.shade, face.awning, face.glazing), len(number)
        )
        for _, face in outdoor
    ]
    keys: list[_Key] = [*number, *((a.bearing % 360.0, a.tilt, OPEN_SEA, None, None, None) for a in resolved.awnings)]
    axes = shade.plane_axes(np.array([key[0] for key in keys]), np.array([key[1] for key in keys]))
    shaded = np.array([i for i, key in enumerate(keys) if key[3] is not None], dtype=np.int64)
    shades = shade.shade_geometry([key[3] for key in keys if key[3] is not None])
    above, beside = np.ones(len(keys)), np.ones(len(keys))
    above[shaded], beside[shaded] = shade.visible_above(shades), shade.visible_between(shades)
    visible = above * beside * shade.visible_sky(resolved.place.obstructions, axes)
    cosine = axes.normal[:, 2]
    lower = 0.5 * (1.0 - cosine) * beside
    sea, deck, quay = _reflectances([key[2] for key in keys])
    decks: dict[tuple[float, float], int] = {}
    for i, key in enumerate(keys):
        if key[2].deck > 0.0:
            decks.setdefault(key[:2], i)
    outlooks = {direction: i for i, direction in enumerate(decks)}
    names = [awning.name for awning in resolved.awnings]
    return Views(
        face=np.array([i for i, _ in outdoor], dtype=np.int64),
        view=np.array(index, dtype=np.int64),
        axes=axes,
        sky=0.5 * (1.0 + cosine) * visible,
        horizon=np.hypot(axes.normal[:, 0], axes.normal[:, 1]) * visible,
        lower_sky=lower * (sea * sea_surface.DIFFUSE_REFLECTANCE + deck + quay),
        lower_beam=lower * (sea * sea_surface.VOLUME_REFLECTANCE + quay),
        deck_beam=lower * deck,
        glint=sea,
        own_deck=np.array(list(decks.values()), dtype=np.int64),
        outlook=np.array(
            [outlooks.get(keys[i][:2], -1) if keys[i][2].deck > 0.0 else -1 for i in index], dtype=np.int64
        ),
        shaded=shaded,
        shades=shades,
        awning=np.array([-1 if key[4] is None else names.index(key[4]) for key in keys], dtype=np.int64),
        glazings=_glazings(resolved, [key[5] for key in keys]),
    )


def _reflectances(foregrounds: list[Foreground]) -> tuple[Array, Array, Array]:
    """Share of sea, and reflectances of deck and of quay weighted by their shares."""
    sea = np.array([f.sea for f in foregrounds])
    deck = np.array([f.deck * f.deck_reflectance for f in foregrounds])
    quay = np.array([f.quay * f.quay_reflectance for f in foregrounds])
    return sea, deck, quay


def _glazings(resolved: Resolved, names: list[str | None]) -> tuple[tuple[Glazing, Integers], ...]:
    used = [(g, np.array([i for i, name in enumerate(names) if name == g.name], dtype=np.int64))
            for g in resolved.glazings]  # fmt: skip
    return tuple((glazing, views) for glazing, views in used if len(views))
