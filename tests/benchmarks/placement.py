"""Placement search beside general optimisers: machines with zones, departments, and QAP.

Every method gets the same CPU seconds on the same problem in the same run, so that a busy machine
does not change who wins.
"""

import time

from benchmarks.optimisers import methods
from benchmarks.run import row
from benchmarks.trips import assignment, departments, eight_machines, generated, load, machines

from floorplan.search.clashes import violations
from floorplan.search.placing import search

OURS = "re-insertion, states in step"
GOAL = 7700
"""What the eight machines are to cost at most."""

SIZES = (6, 10, 15, 25)
"""Numbers of machines in the generated shops."""


SMALL = {"seconds": 1.0, "seeds": 1, "parts": "machines,departments"}
"""The budget that `all` gives it."""


def run(seconds=20.0, seeds=5, rivals=None, parts="machines,departments,assignment,generated"):
    """Return the rows of some parts; `rivals` is the number of seeds of the general optimisers."""
    numbers = range(1, int(seeds) + 1)
    others = range(1, int(seeds if rivals is None else rivals) + 1)
    rows = []
    if "machines" in parts:
        rows += _machines(seconds, numbers, others)
    if "departments" in parts:
        rows += _departments(seconds, numbers)
    if "assignment" in parts:
        rows += _assignment(seconds, numbers)
    if "generated" in parts:
        rows += _generated(seconds, numbers, others)
    return {"name": "placement, CPU seconds on one core", "rows": rows}


class Watch:
    """Ends a search when its CPU seconds are over, and notes when it reached a cost."""

    def __init__(self, seconds, goal=0.0):
        self.began = time.process_time()
        self.seconds = seconds
        self.goal = goal
        self.reached = None

    def __call__(self, progress):
        """Look at the clock, as the user who interrupts would."""
        spent = time.process_time() - self.began
        if self.reached is None and progress.best <= self.goal + 1e-6:
            self.reached = round(spent, 3)
        if spent >= self.seconds:
            raise KeyboardInterrupt


def searched(problem, objective, seed, watch):
    """Return the cost, after checking straight from the pieces that nothing overlaps."""
    outcome = search(problem, objective, seed=seed, effort=10**9, on_progress=watch)
    assert outcome.feasible
    assert not violations(problem, outcome.best)
    return outcome.cost


def _machines(seconds, seeds, others):
    problem, objective = eight_machines()
    watches, values = [], []
    for seed in seeds:
        watches.append(Watch(seconds, GOAL))
        values.append(searched(problem, objective, seed, watches[-1]))
    reached = [watch.reached for watch in watches]
    return [
        row("eight machines", OURS, seeds, seconds, values),
        row(f"eight machines: CPU s until {GOAL}", OURS, seeds, seconds, reached),
        *_rivals("eight machines", load("placement_8_machines"), seconds, others),
    ]


def _generated(seconds, seeds, others):
    rows = []
    for count in SIZES:
        data = generated(count)
        problem, objective = machines(data)
        values = [searched(problem, objective, seed, Watch(seconds)) for seed in seeds]
        case = f"{count} generated machines"
        rows.append(row(case, OURS, seeds, seconds, values))
        rows += _rivals(case, data, seconds, others)
    return rows


def _rivals(case, data, seconds, seeds):
    return [
        row(case, name, seeds, seconds, [method(data, seed, seconds) for seed in seeds])
        for name, method in methods().items()
        if seeds
    ]


def _departments(seconds, seeds):
    rows = []
    for name in ("P6", "D6", "D8"):
        best = load(f"flp_{name}")["best_found"]["cost"]
        gaps = _gaps(*departments(name), best, seconds, seeds)
        rows.append(row(f"{name}: % above listed", OURS, seeds, seconds, gaps))
    return rows


def _assignment(seconds, seeds):
    rows = []
    for name in ("nug12", "nug15", "nug20", "nug25", "nug30"):
        problem, objective, _ = assignment(name)
        gaps = _gaps(problem, objective, load(f"qap_{name}")["optimum"], seconds, seeds)
        rows.append(row(f"{name}: % above optimum", OURS, seeds, seconds, gaps))
    return rows


def _gaps(problem, objective, least, seconds, seeds):
    costs = [searched(problem, objective, seed, Watch(seconds)) for seed in seeds]
    return [100 * (cost / least - 1) for cost in costs]
