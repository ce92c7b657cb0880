"""The hook for the plan view of the boat: decks from above, zones coloured by load per area, the hour of each peak."""

from __future__ import annotations

from markupsafe import Markup

from heatsim.handover.results import Results
from heatsim.report.amounts import UnitSystem


def plan_view(found: Results, system: UnitSystem) -> Markup | None:
    """A drawing of the decks as SVG text, None as long as nothing draws one: the page then leaves its section out.

    Parameters
    ----------
    found : Results
        `found.peak` holds W/m² and the hour of every zone's peak, `found.scenario.zones` what the file says of each.
    system : {"si", "us", "both"}

    Returns
    -------
    Markup or None
        One `svg` element without style attributes or script (the page's policy forbids both); texts escaped; a
        `role="img"` and an `aria-label`; readable without colour.
    """
    return None
