"""Published placement problems as search problems, and their cost: trips times distance."""

import json
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from floorplan.geometry.pieces import box
from floorplan.search.problem import Item, Problem, State

DATA = Path(__file__).parents[1] / "data"
INCH = 0.0254
BODY, ZONE, OUTSIDE = 0, 1, 2


def load(name):
    """Read one of the data files."""
    return json.loads((DATA / f"{name}.json").read_text())


@dataclass(frozen=True)
class Trips:
    """Sum over pairs of weight times rectilinear distance between service points."""

    weights: np.ndarray
    """(n, n) symmetric, zero diagonal"""
    points: np.ndarray
    """(n, t, 2) service point of each item at each turn, from its reference point [m]"""
    unit: float = 1.0
    """what one unit of the published cost is [m]"""

    def _others(self, item, state):
        weights = self.weights[item]
        (j,) = (state.placed & (weights > 0)).nonzero()
        return weights[j], state.xy[j] + self.points[j, state.turn[j]]

    def guides(self, item, turn, state):
        """Coordinates at which the service point is level with another one."""
        _, spots = self._others(item, state)
        spots -= self.points[item, turn]
        return spots[:, 0], spots[:, 1]

    def score(self, item, turn, xy, state):
        """Cost of all trips from and to the item."""
        weights, spots = self._others(item, state)
        spots -= self.points[item, turn]
        away = np.abs(xy[:, None, :] - spots)
        return away.sum(axis=2) @ weights / self.unit

    def settled(self, state, cost):
        """Return the total: it says everything."""
        return cost

    def total(self, state):
        """Cost of all trips."""
        spots = state.xy + self.points[np.arange(len(self.points)), state.turn]
        away = np.abs(spots[:, None, :] - spots[None, :, :]).sum(axis=2)
        return 0.5 * float((away * self.weights).sum()) / self.unit

    def guides_each(self, item, states):
        """Guides of all states and turns at once."""
        _, spots = self._others_each(item, states)
        spots = spots[:, None] - self.points[item][:, None, :]
        return spots[..., 0], spots[..., 1]

    def score_each(self, item, which, turn, xy, states):
        """Costs in all states at once."""
        weights, spots = self._others_each(item, states)
        away = np.abs(spots[which] - (xy + self.points[item, turn])[:, None, :])
        return (away[:, :, 0] + away[:, :, 1]) @ weights / self.unit

    def total_each(self, states):
        """Costs of all states."""
        spots = states.xy + self.points[self.every, states.turn]
        a, b, weights = self.pairs
        away = np.abs(spots[:, a] - spots[:, b])
        return (away[:, :, 0] + away[:, :, 1]) @ weights / self.unit

    def _others_each(self, item, states):
        weights = self.weights[item]
        (j,) = (states.placed & (weights > 0)).nonzero()
        return weights[j], states.xy[:, j] + self.points[j, states.turn[:, j]]

    @cached_property
    def every(self):
        """(n,) numbers of the items."""
        return np.arange(len(self.points))

    @cached_property
    def pairs(self):
        """Every two items with trips, and their weights."""
        a, b = np.triu(self.weights, 1).nonzero()
        return a, b, self.weights[a, b]


def outside(width, depth, far):
    """Four boxes round a room."""
    return tuple(
        box(*corners, label=OUTSIDE)
        for corners in (
            (-far, -far, 0, depth + far),
            (width, -far, width + far, depth + far),
            (-far, -far, width + far, 0),
            (-far, depth, width + far, depth + far),
        )
    )


def bodies_and_zones(a, b):
    """Bodies conflict with all, zones with all but zones, the outside with all but itself."""
    return not (a == b and a != BODY)


def quarter_turned(corners, turn):
    """Box corners turned by quarter turns counter-clockwise about the origin."""
    x0, y0, x1, y1 = corners
    for _ in range(turn):
        x0, y0, x1, y1 = -y1, x0, -y0, x1
    return x0, y0, x1, y1


def eight_machines():
    """Eight machines with one-sided operator zones in one room."""
    return machines(load("placement_8_machines"))


def generated(count, seed=1):
    """Machines of random sizes and trips, as full as the room of the eight machines."""
    dice = np.random.default_rng([count, seed])
    made = [
        {"id": f"machine {k}", "w": w, "d": d, "zone": zone}
        for k, (w, d, zone) in enumerate(
            dice.integers((24, 20, 30), (101, 49, 49), (count, 3)).tolist()
        )
    ]
    links = [(k, k + 1) for k in range(count - 1)]
    while len(links) < 2 * count - 1:
        a, b = sorted(dice.choice(count, 2, replace=False).tolist())
        if (a, b) not in links:
            links.append((a, b))
    area = sum(machine["w"] * (machine["d"] + machine["zone"]) for machine in made)
    depth = round((11 / 12 * area / 0.52) ** 0.5)
    return {
        "room": [round(12 / 11 * depth), depth],
        "machines": made,
        "trips": [
            {"a": f"machine {a}", "b": f"machine {b}", "weight": int(dice.integers(3, 26))}
            for a, b in links
        ],
    }


def machines(data):
    """Machines with a zone along one side, and trips between the middles of the zones."""
    items, points = [], []
    for machine in data["machines"]:
        w, d, zone = (machine[key] * INCH for key in ("w", "d", "zone"))
        plans = [((0, 0, w, d), BODY), ((0, -zone, w, 0), ZONE)]
        pieces, service = [], []
        for turn in range(4):
            placed = [(quarter_turned(corners, turn), label) for corners, label in plans]
            low = np.min([corners[:2] for corners, _ in placed], axis=0)
            shifted = [
                (np.array(corners) - np.concatenate([low, low]), label) for corners, label in placed
            ]
            pieces.append(tuple(box(*corners, label=label) for corners, label in shifted))
            zone_corners = shifted[1][0]
            service.append(0.5 * (zone_corners[:2] + zone_corners[2:]))
        items.append(Item(machine["id"], (0.0, 90.0, 180.0, 270.0), tuple(pieces)))
        points.append(service)
    names = [machine["id"] for machine in data["machines"]]
    weights = np.zeros((len(names), len(names)))
    for trip in data["trips"]:
        a, b = names.index(trip["a"]), names.index(trip["b"])
        weights[a, b] += trip["weight"]
        weights[b, a] += trip["weight"]
    width, depth = (side * INCH for side in data["room"])
    problem = Problem(
        tuple(items), outside(width, depth, 20.0), bodies_and_zones, (0, 0, width, depth)
    )
    return problem, Trips(weights, np.array(points), INCH)


def departments(name):
    """Rectangles of fixed size in a room, centre to centre, quarter turns allowed."""
    data = load(f"flp_{name}")
    items, points = [], []
    for number, row in enumerate(data["departments"]):
        a, b = row[:2]
        turns = (0.0,) if a == b else (0.0, 90.0)
        sizes = [(a, b), (b, a)][: len(turns)]
        items.append(Item(str(number), turns, tuple((box(0, 0, *size),) for size in sizes)))
        points.append(0.5 * np.array([sizes[0], sizes[-1]]))
    flow = np.array(data["flow"])
    width, depth = data["room"]["W"], data["room"]["H"]
    problem = Problem(
        tuple(items), outside(width, depth, 100.0), bodies_and_zones, (0, 0, width, depth)
    )
    return problem, Trips(flow + flow.T, np.array(points))


def assignment(name):
    """Equal unit squares on a full grid: the quadratic assignment problem of that name."""
    data = load(f"qap_{name}")
    distance, flow = np.array(data["A"]), np.array(data["B"])
    cells = grid_cells(distance)
    columns, rows = cells.max(axis=0) + 1
    item_pieces = ((box(0, 0, 1, 1),),)
    items = tuple(Item(str(k), (0.0,), item_pieces) for k in range(len(flow)))
    problem = Problem(items, outside(columns, rows, 100.0), bodies_and_zones, (0, 0, columns, rows))
    points = np.full((len(items), 1, 2), 0.5)
    # The published sum runs over ordered pairs, so each pair of trips counts twice.
    return problem, Trips((flow + flow.T).astype(float), points), cells


def grid_cells(distance):
    """(n, 2) integer cells whose rectilinear distances are the given ones, row by row."""
    count = len(distance)
    columns = next((k for k in range(1, count) if distance[0, k] != k), count)
    cells = np.array([(k % columns, k // columns) for k in range(count)])
    assert np.array_equal(np.abs(cells[:, None] - cells[None]).sum(axis=2), distance)
    return cells


def squares(sides, width, height):
    """Squares in a box, none of which may overlap."""
    items = tuple(Item(str(k), (0.0,), ((box(0, 0, s, s),),)) for k, s in enumerate(sides))
    return Problem(items, outside(width, height, 50.0), bodies_and_zones, (0, 0, width, height))


def state_at(corners):
    """State with every item at turn 0 and its reference point at the given corner."""
    return State.of([(0, float(x), float(y)) for x, y in corners])


def garage(count=10, seed=1):
    """Things of four pieces in a two-car garage, 24 x 22 ft: body, front, and two sides.

    The front is where the operator stands; the sides let long pieces pass at table height only.
    """
    dice = np.random.default_rng(seed)
    width, depth = 288 * INCH, 264 * INCH
    items, points = [], []
    for number in range(count):
        w, d = dice.uniform(0.5, 1.5), dice.uniform(0.4, 0.8)
        side = dice.uniform(0.3, 0.6)
        plans = [
            ((0, 0, w, d), (0, dice.uniform(0.8, 1.6)), BODY),
            ((0, -0.7, w, 0), (0, 2.0), ZONE),
            ((-side, 0, 0, d), (0.85, 1.0), ZONE),
            ((w, 0, w + side, d), (0.85, 1.0), ZONE),
        ]
        pieces = [
            tuple(
                box(*quarter_turned(corners, turn), bottom=band[0], top=band[1], label=label)
                for corners, band, label in plans
            )
            for turn in range(4)
        ]
        items.append(Item(f"thing {number}", (0.0, 90.0, 180.0, 270.0), tuple(pieces)))
        front = np.array([0.5 * w, -0.35])
        turns = [np.array([[1, 0], [0, 1]]), np.array([[0, -1], [1, 0]])]
        turns += [-turn for turn in turns]
        points.append([turn @ front for turn in turns])
    weights = np.triu(dice.integers(0, 6, (count, count)), 1).astype(float)
    problem = Problem(
        tuple(items), outside(width, depth, 20.0), bodies_and_zones, (0, 0, width, depth)
    )
    return problem, Trips(weights + weights.T, np.array(points))
