"""Speed and agreement of the air physics, side by side in one run.

Friction: ours over a whole grid at once against the independent library `fluids` point by point
and against the explicit Swamee-Jain formula. Networks: all gate states of ten branches in one
batch, one state after the other, and by a general root finder (`scipy.optimize.root`). Seconds are
processor time, since wall time tells more of what else the machine does.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence

import fluids
import numpy as np
from scipy.optimize import root

from floorplan.air.fan import FanCurve
from floorplan.air.fittings import branch_entry, elbow, hood
from floorplan.air.friction import GALVANIZED, flexible_hose, friction_factor
from floorplan.air.hydraulics import equations, falling_curve, row_order
from floorplan.air.losses import Gate, RatedLoss
from floorplan.air.network import Collector, Port, Segment, System
from floorplan.air.operating import all_gate_states, operating_point

INCH = 0.0254


def ten_branches(seed: int) -> System:
    """Ten branches of 4 in, hose at each machine, along a main of 5 to 6 in; lengths by seed."""
    random = np.random.default_rng(seed)
    segments = []
    for i in range(10):
        port = Port(f"port {i}", hood("flanged pipe end"), gate=Gate(0.2, 1e-4))
        length = float(random.uniform(1.0, 5.0))
        hose = flexible_hose() if random.random() < 0.5 else flexible_hose(1.5)
        fittings = (elbow(), branch_entry(30))
        segments.append(
            Segment(f"branch {i}", length, 4 * INCH, f"main {i}", hose, fittings, port=port)
        )
        size = (5 if i < 4 else 6) * INCH
        into = f"main {i + 1}" if i < 9 else None
        segments.append(Segment(f"main {i}", float(random.uniform(0.5, 2.0)), size, into))
    flows = np.linspace(0.0, 0.755, 12)
    fan = FanCurve("fan", tuple(flows), tuple(3238.0 * (1 - (flows / 0.755) ** 2)))
    cyclone = RatedLoss("cyclone", 498.0, 0.378)
    cloth = RatedLoss("filter", 249.0, 0.378, "linear")
    return System(tuple(segments), Collector(fan, cloth, losses=(cyclone,)))


def _timed(work: Callable[[], object], repeats: int) -> tuple[float, object]:
    """Best time of several [s], and the result."""
    best, result = np.inf, None
    for _ in range(repeats):
        start = time.process_time()
        result = work()
        best = min(best, time.process_time() - start)
    return float(best), result


def _row(
    case: str, method: str, seeds: Sequence[int], seconds: Sequence[float], values: Sequence[float]
) -> dict[str, object]:
    return {
        "case": case,
        "method": method,
        "seeds": list(seeds),
        "seconds": float(statistics.median(seconds)),
        "values": [float(v) for v in values],
        "median": float(statistics.median(values)),
    }


def friction_rows() -> list[dict[str, object]]:
    """Value: largest relative difference from `fluids` over 20 000 Reynolds numbers."""
    reynolds = np.logspace(np.log10(4001), 7, 20_000)
    rough = GALVANIZED.constant / (4 * INCH)
    library = lambda: np.array([fluids.friction.Clamond(re, rough) for re in reynolds.tolist()])  # noqa: E731
    swamee = lambda: 0.25 / np.log10(rough / 3.7 + 5.74 / reynolds**0.9) ** 2  # noqa: E731
    methods = {
        "fluids, one by one": (library, 1),
        "floorplan, whole array": (lambda: friction_factor(reynolds, rough), 5),
        "Swamee-Jain, whole array": (swamee, 5),
    }
    results = {name: _timed(work, repeats) for name, (work, repeats) in methods.items()}
    exact = np.asarray(results["fluids, one by one"][1])
    case = "friction factor of 20 000 Reynolds numbers, relative difference from fluids"
    return [
        _row(case, name, [], [seconds], [np.max(np.abs(np.asarray(found) / exact - 1))])
        for name, (seconds, found) in results.items()
    ]


def gate_state_rows(seeds: Sequence[int]) -> list[dict[str, object]]:
    """Value: largest relative difference of a total flow from one state after the other."""
    batch_seconds, single_seconds, differences = [], [], []
    for seed in seeds:
        system = ten_branches(seed)
        seconds, found = _timed(lambda system=system: all_gate_states(system), 5)
        batch_seconds.append(seconds)
        names = [port.name for port in system.ports]
        opened = [[n for n, on in zip(names, row, strict=True) if on] for row in found.open]
        start = time.process_time()
        alone = [operating_point(system, ports).flow for ports in opened]
        single_seconds.append(time.process_time() - start)
        total = found.flow[:, -1]
        differences.append(float(np.max(np.abs(total / np.array(alone) - 1))))
    case = "all 1024 gate states of ten branches, relative difference of total flow"
    return [
        _row(case, "floorplan, one batch", seeds, batch_seconds, differences),
        _row(case, "floorplan, one by one", seeds, single_seconds, [0.0] * len(seeds)),
    ]


def root_finder_rows(seeds: Sequence[int]) -> list[dict[str, object]]:
    """Value: largest imbalance of a junction over the fan pressure, all ten gates open."""
    rows: dict[str, tuple[list[float], list[float]]] = {
        "floorplan, Newton on the tree": ([], []),
        "scipy root (hybr), same equations": ([], []),
    }
    for seed in seeds:
        system = ten_branches(seed)
        opened = [port.name for port in system.ports]
        imbalance, start, order = _residuals(system)
        seconds, point = _timed(lambda s=system, o=opened: operating_point(s, o), 5)
        by_name = {s.name: s for s in point.segments}
        states = [by_name[system.segments[i].name] for i in order]
        ours = np.array([[s.flow for s in states], [-s.static_start for s in states]])
        general, answer = _timed(lambda f=imbalance, x=start: root(f, x, tol=1e-12), 2)
        for name, took, error in (
            ("floorplan, Newton on the tree", seconds, np.abs(imbalance(ours.ravel())).max()),
            ("scipy root (hybr), same equations", general, np.abs(answer.fun).max()),
        ):
            rows[name][0].append(took)
            rows[name][1].append(float(error))
    case = "ten gates open, largest imbalance over fan pressure or flow"
    return [_row(case, name, seeds, *columns) for name, columns in rows.items()]


def _residuals(
    system: System,
) -> tuple[Callable[[np.ndarray], np.ndarray], np.ndarray, tuple[int, ...]]:
    """Imbalances for a general solver, unknowns flow and suction of each segment; and a start."""
    written = equations(system, np.ones((1, len(system.ports)), dtype=bool), dirty=False)
    fan = falling_curve(system.collector.fan, system.air)
    count = len(written.into)

    def imbalance(unknowns: np.ndarray) -> np.ndarray:
        flow, suction = unknowns.reshape(2, count, 1)
        flow = np.maximum(flow, 1e-9)
        loss, _ = written.losses(flow)
        heads = written.head * flow**2
        pays = np.maximum(heads[written.into] - heads, 0.0)
        end = suction + loss
        end[:-1] += pays[:-1]
        goal = suction[written.into]
        goal[-1] = fan.at(flow[-1])[0] - written.collector_loss(flow[-1])[0]
        nodes = [
            (flow[k] - flow[list(feeders)].sum(axis=0)) / fan.flows[-1]
            if feeders
            else suction[k] / fan.pressures[0]
            for k, feeders in enumerate(written.feeders)
        ]
        return np.concatenate([((end - goal) / fan.pressures[0]).ravel(), np.ravel(nodes)])

    start_flow = [0.05 if not feeders else 0.4 for feeders in written.feeders]
    start_suction = [0.0 if not feeders else 1000.0 for feeders in written.feeders]
    return imbalance, np.array(start_flow + start_suction), row_order(system)


SMALL = {"seeds": (1,)}
"""The budget that `all` gives it."""


def run(seeds: Sequence[int] = (1, 2, 3)) -> dict[str, object]:
    """Run all cases and return the rows."""
    rows = [*friction_rows(), *gate_state_rows(seeds), *root_finder_rows(seeds)]
    return {"name": "air", "rows": rows}
