"""A small valid scenario as text, which tests change one line at a time."""

SMALL = """\
format: 1
yacht: {name: Wren, length: 12 m, persons: 4}
place:
  region: CYC
  month: 8
lay_ups:
  side:
    layers:
      - {material: plywood, thickness: 9 mm}
      - {material: mineral wool, thickness: 40 mm}
      - {material: GRP, thickness: 8 mm}
glazings:
  pane: {u_value: 5.6 W/(m2 K), g_value: 0.75}
routines:
  guests: {"08:00-22:00": 1}
zones:
  saloon:
    use: saloon
    floor_area: 20 m2
    height: 2 m
    setpoint: 23 degC
    people: [{count: 4, activity: seated at rest, routine: guests}]
    faces:
      - {kind: house, name: port side, side: port, area: 10 m2, lay_up: side}
      - {kind: glass, side: port, area: 3 m2, cut_from: port side, glazing: pane}
      - {kind: deck, area: 20 m2, colour: white}
      - {kind: bulkhead, area: 6 m2, beyond: cabin}
      - {kind: sole, area: 21 m2, beyond: engine space}
  cabin:
    use: cabin
    quick: {deck: lower, length: 4 m, beam: 3 m, height: 2 m}
spaces:
  engine space: {use: engine space, temperature: 45 degC}
flows:
  - {source: cabin, target: outdoors, rate: 20 m3/h}
openings:
  - {kind: door, first: saloon, second: cabin, width: 0.7 m, height: 1.9 m, open: 0.2}
"""


def changed(old: str, new: str) -> str:
    """The small scenario with one text replaced by another; a test fails where nothing is replaced."""
    assert old in SMALL, f"{old!r} is not in the small scenario"
    return SMALL.replace(old, new, 1)
