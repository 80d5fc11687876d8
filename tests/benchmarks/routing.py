"""Runs of duct found: speed, rivals for length, and how well the fast estimate tells the airflow.

Shops of 24 x 30 ft with six ports, three kinds of obstacle, three stock sizes. Beside the search
stand the exact shortest tree, sized as well as it can be, and each port by the shortest way of its
own. The estimate is compared with the airflow of runs laid out, over generated layouts. Seconds are
processor time.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Sequence

import networkx as nx
import numpy as np
from scipy.stats import spearmanr

from floorplan.air.ducttree import Start, Terminal
from floorplan.air.estimate import FlowEstimate
from floorplan.air.fan import FanCurve
from floorplan.air.fittings import hood
from floorplan.air.lattice import Obstacle, lattice
from floorplan.air.losses import Gate, RatedLoss
from floorplan.air.network import Collector, Port
from floorplan.air.routing import Inlet, Space, route
from floorplan.air.sizing import Demand
from floorplan.air.steiner import steiner_tree

FOOT, INCH, CFM, IN_WG = 0.3048, 0.0254, 4.719474e-4, 249.08891
WIDE, DEEP, HIGH = 24 * FOOT, 30 * FOOT, 9 * FOOT
RADIUS = 3 * INCH
LEVEL = 2.2 - RADIUS
"""Lowest at which duct runs level, under the open leaf [m]."""
NEEDS = (350, 400, 450, 550)


def box(name, x0, y0, x1, y1, bottom, top, *, level_only=False):
    """An upright box [m]."""
    corners = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    return Obstacle(name, corners, bottom, top, level_only)


def shop(seed: int, ports: int = 6) -> tuple[Demand, list[Inlet], Space]:
    """A generated shop: machines at random places, a leaf, a beam, a post, space over a panel."""
    random = np.random.default_rng(seed)
    flows = np.linspace(0, 1600, 17)
    fan = FanCurve("fan", tuple(flows * CFM), tuple(13 * IN_WG * (1 - (flows / 1600) ** 2)))
    obstacles = [
        box("leaf", 2.4, 0.0, 4.9, 3.0, 2.2, 2.6),
        box("beam", 0.0, 5.0, WIDE, 5.2, 2.5, HIGH),
        box("post", 3.6, 5.0, 3.8, 5.2, 0.0, HIGH),
        box("panel", 0.0, 7.0, 0.8, 8.0, 0.0, 2.0),
        box("room to walk under", 0.0, 0.0, WIDE, DEEP, 0.0, 80 * INCH, level_only=True),
    ]
    terminals = []
    for i in range(ports):
        x, y = random.uniform(0.8, WIDE - 0.8), random.uniform(0.8, DEEP - 0.8)
        obstacles.append(box(f"machine {i}", x - 0.25, y - 0.25, x + 0.25, y + 0.25, 0.0, 1.0))
        sides = ((0.35, 0.0), (-0.35, 0.0), (0.0, 0.35), (0.0, -0.35))
        starts = tuple(Start((x + dx, y + dy, 0.5), 0.6) for dx, dy in sides)
        need = float(random.choice(NEEDS)) * CFM
        port = Port(f"machine {i}", hood("flanged pipe end"), gate=Gate())
        terminals.append(Terminal(port, 4 * INCH, need, starts))
    collector = Collector(
        fan, RatedLoss("clean", 100.0, 0.38, "linear"), RatedLoss("dirty", 375.0, 0.38, "linear"),
        (RatedLoss("cyclone", 700.0, 0.38),),
    )  # fmt: skip
    lines = ((RADIUS, WIDE - RADIUS), (RADIUS, DEEP - RADIUS), (HIGH - RADIUS, LEVEL))
    demand = Demand(tuple(terminals), collector, (4 * INCH, 5 * INCH, 6 * INCH))
    inlet = Inlet((WIDE - 0.5, DEEP - 0.5, 1.5))
    return demand, [inlet], Space(tuple(obstacles), lines, RADIUS, least_leg=12 * INCH)


def row(case, method, seeds, seconds, values):
    """One row; seconds are the median of a run."""
    return {
        "case": case, "method": method, "seeds": list(seeds),
        "seconds": float(statistics.median(seconds)), "values": [float(v) for v in values],
        "median": float(statistics.median(values)),
    }  # fmt: skip


def six_ports(seeds: Sequence[int]) -> list[dict]:
    """Worst got over needed, and length of duct in ft: the search, and the shortest tree."""
    rows: dict[str, tuple[list, list, list]] = {
        "tree and sizes by airflow": ([], [], []), "shortest tree, best sizes": ([], [], []),
    }  # fmt: skip
    for seed in seeds:
        demand, inlets, space = shop(seed)
        for method, objective in zip(rows, ("airflow", "length"), strict=True):
            start = time.process_time()
            found = route(demand, inlets, space, objective=objective)
            rows[method][0].append(time.process_time() - start)
            rows[method][1].append(found.value)
            rows[method][2].append(found.tree.length / FOOT)
    out = []
    for method, (seconds, shares, lengths) in rows.items():
        out.append(row("six ports: worst got over needed", method, seeds, seconds, shares))
        out.append(row("six ports: duct [ft]", method, seeds, seconds, lengths))
    return out


def shortest(seeds: Sequence[int]) -> list[dict]:
    """Length over the exact shortest tree, seven points in a plane."""
    exact, kou, spanning = ([], []), ([], []), ([], [])
    for seed in seeds:
        points = [tuple(map(float, p)) for p in np.random.default_rng(seed).integers(0, 30, (7, 2))]
        points = list(dict.fromkeys(points))
        start = time.process_time()
        made = lattice([[p[0] for p in points], [p[1] for p in points], [0.0]])
        ends = [{made.node((*p, 0.0)): 0.0} for p in points]
        best = steiner_tree(made, ends).length
        exact[0].append(time.process_time() - start)
        exact[1].append(1.0)
        graph = nx.Graph()
        for low, high, length in made.pieces:
            for a, b, w in zip(low.tolist(), high.tolist(), length.tolist(), strict=True):
                graph.add_edge(a, b, weight=w)
        start = time.process_time()
        rival = nx.approximation.steiner_tree(graph, [next(iter(e)) for e in ends], method="kou")
        kou[0].append(time.process_time() - start)
        kou[1].append(rival.size(weight="weight") / best)
        start = time.process_time()
        joined = nx.Graph()
        for i, p in enumerate(points):
            for j in range(i):
                q = points[j]
                joined.add_edge(i, j, weight=abs(p[0] - q[0]) + abs(p[1] - q[1]))
        spanning[0].append(time.process_time() - start)
        direct = nx.minimum_spanning_tree(joined).size(weight="weight")
        spanning[1].append(direct / best)
    case = "seven points: length over shortest"
    return [
        row(case, "exact", seeds, *exact),
        row(case, "networkx steiner_tree (kou)", seeds, *kou),
        row(case, "networkx spanning tree", seeds, *spanning),
    ]


def estimates(layouts: int, work: int) -> list[dict]:
    """Fast estimate against runs laid out: share of it, rank correlation, seconds a layout."""
    fast, exact, fast_seconds, exact_seconds = [], [], [], []
    for seed in range(1000, 1000 + layouts):
        demand, inlets, space = shop(seed)
        made = FlowEstimate.of(demand, inlets, LEVEL)
        spots = [np.array([s.spot for s in t.starts]) for t in demand.terminals]
        start = time.process_time()
        fast.append(made.worst(spots))
        fast_seconds.append(time.process_time() - start)
        start = time.process_time()
        exact.append(route(demand, inlets, space, work=work).value)
        exact_seconds.append(time.process_time() - start)
    off = np.abs(np.array(fast) / np.array(exact) - 1.0)
    seeds = range(layouts)
    rank = spearmanr(fast, exact).statistic
    case = "estimate of the worst airflow"
    return [
        row(f"{case}: off from laid out", "estimate", seeds, fast_seconds, off),
        row(f"{case}: rank correlation", "estimate", seeds, fast_seconds, [rank]),
        row(f"{case}: got over needed", f"laid out, {work} trees", seeds, exact_seconds, exact),
    ]  # fmt: skip


SMALL = {"seeds": 1, "layouts": 40, "work": 20}
"""The budget that `all` gives it."""


def run(seeds: int = 5, layouts: int = 200, work: int = 40) -> dict:
    """Run all cases and return the rows."""
    rows = [*six_ports(range(seeds)), *shortest(range(10)), *estimates(layouts, work)]
    return {"name": "routing", "rows": rows}
