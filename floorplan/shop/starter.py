"""The text of a first shop file: a small working shop, with the most used keys explained."""

from __future__ import annotations

from floorplan.shop.edit import replace_values

_SIZES = {
    "units": ("feet and inches", "mm"),
    "tape": ("{plan: 1/8 in, height: 1/16 in}", "{plan: 3, height: 2}"),
    "lengths": ('7\' 4-1/2", 34 1/4 in, 18" +- 1/4"', "2440, 2440 mm, 86.5 cm, 450 +- 5"),
    "room": ("[20', 18']", "[6200, 5600]"),
    "ceiling": ("8' 6\"", "2600"),
    "big at": ("2'", "600"),
    "big wide": ("9'", "2800"),
    "big high": ("7'", "2100"),
    "door at": ("14'", "4300"),
    "door wide": ('36"', "900"),
    "door high": ('80"', "2030"),
    "sill": ('42"', "1050"),
    "window": ('36"', "900"),
    "panel along": ('40"', "1000"),
    "saw x": ('70"', "1780"),
    "saw y": ('90"', "2300"),
    "saw wide": ('54"', "1370"),
    "saw deep": ('34"', "860"),
    "table": ('34"', "860"),
    "gap": ('1/4"', "6"),
    "bench wide": ('60"', "1500"),
    "bench deep": ('40"', "1000"),
    "bench high": ('33-7/8" +- 1/32"', "857 +- 1"),
    "clamps": ('12"', "300"),
    "drawer": (
        '{side: front, at: 4", width: 24", travel: 18", bottom: 22", top: 29"}',
        "{side: front, at: 100, width: 600, travel: 450, bottom: 560, top: 740}",
    ),
    "rack x": ('4"', "100"),
    "rack y": ("10'", "3000"),
    "shelf wide": ('48"', "1200"),
    "shelf deep": ('14"', "350"),
    "shelf high": ('76"', "1930"),
    "shelf y": ("4'", "1200"),
    "post": ("{at: [10', 9'], size: [4\", 4\"]}", "{at: [3000, 2800], size: [100, 100]}"),
    "sheet": (
        '{length: 96", width: 48", thickness: 3/4"}',
        "{length: 2440, width: 1220, thickness: 18}",
    ),
    "side": (
        '{length: 30", width: 24", thickness: 3/4"}',
        "{length: 760, width: 600, thickness: 18}",
    ),
    "offset": ('24"', "600"),
    "small offset": ('12"', "300"),
    "way out": ("32 in", "800 mm"),
    "stack": ("{x: 5', y: 4'}", "{x: 1500, y: 1200}"),
    "reach": ('24"', "600"),
}
"""What stands in the text -> in feet and inches, in millimetres; each set is round for itself."""

_TEXT = """\
# A shop file to begin from.  Measure your room, put your own numbers in, and ask
#     floorplan check THIS-FILE
# Lengths are written as one says them: <lengths>.
# What stands behind +- is how far off you think that number may be.
# x counts to the east, y to the north, from the room's south-west corner inside; z from the floor.

shop: <name>
units: <units>
tape: <tape>    # how far off a number may be when nothing else is said; 0 means exact

room:
  size: <room>              # west to east, south to north, between the walls
  height: <ceiling>
  # posts:
  #   post: <post>
  # (a room that is no rectangle: `corners: [[x, y], ...]` in order, instead of `size`)

doors:                      # `at` counts along the wall from its west or south end
  big door:
    kind: overhead          # or hinged (the usual), sliding, opening
    wall: south
    at: <big at>
    width: <big wide>
    height: <big high>
    leads to: outside       # or house; only what leads outside is a way out
  side door:
    wall: east
    at: <door at>
    width: <door wide>
    height: <door high>
    hand: left              # side of the hinges, seen from inside
    swing: out
    leads to: outside

windows:
  window: {wall: north, at: <big at>, width: <window>, sill: <sill>, height: <window>}

fixed:                      # what belongs to the building and never moves
  panel: {kind: electrical panel, at: {wall: east, along: <panel along>}}

# A thing takes its sizes from its `kind`; every size you write replaces the typical one, and only
# what you measured counts as measured.  Things without a kind need width, depth and height.
# `at` is the thing's most western and most southern point and its turn (counter-clockwise); at
# turn 0 you stand south of it.  Leave `at` out for what is not there yet: `arrange` places it.
equipment:
  saw:
    kind: cabinet table saw
    width: <saw wide>
    depth: <saw deep>
    height: <table>
    surface: <table>        # the height work lies on
    at: {x: <saw x>, y: <saw y>, turn: 0}
    # may: stay             # or slide (with `along: north`), move, move and turn (the usual)
    # turns: [0, 90]        # the turns it may have
  bench:
    kind: assembly bench
    width: <bench wide>
    depth: <bench deep>
    height: <bench high>
    surface: <bench high>
    takes the outfeed of: saw
    # clamp room: {front: <clamps>, task: glue up}    # beyond its edges; or one depth for all sides
    at: {x: <saw x>, y: north of saw + <gap>, turn: 180}
    drawers:
      upper left: <drawer>
      upper right: none     # the kind has one, this bench has not
    doors:
      end door: none
  shelf:
    width: <shelf wide>
    depth: <shelf deep>
    height: <shelf high>
    zones:                  # room that must be free while one uses it
      reach: {side: front, depth: <reach>, purpose: stand}
    at: {x: against west wall, y: <shelf y>, turn: 90}
  # band saw: {kind: band saw}

# places:
#   stack: <stack>

stock:
  sheet: <sheet>
  cabinet side: <side>

tasks:                      # what is done at one time, and what is open meanwhile
  rip a sheet: {uses: [saw], open: [big door]}

jobs:                       # how often one walks, and what goes through which machine
  cabinet:
    walk:
      - {from: saw, to: bench, times: 8}
      - {from: bench, to: shelf, times: 4}
    feed:
      - {stock: sheet, through: saw, cut: rip, offset: <offset>}
      - {stock: cabinet side, through: saw, cut: rip, offset: <small offset>}

# rules:                    # `floorplan sources` lists them with where they come from
#   way-out-width: <way out>
# priorities: [required rules, advised rules, walking, open floor]
"""


def starter_text(name: str, metric: bool = False) -> str:
    """A commented shop file for a rectangular room that can be read and checked as it is.

    Raises EditError for a name that is not one line of text.
    """
    text = _TEXT
    for key, sizes in _SIZES.items():
        text = text.replace(f"<{key}>", sizes[metric])
    return replace_values(text, {("shop",): " ".join(name.split()) or "my shop"})
