"""General optimisers on the machines of `trips.machines`, for comparison; seconds are CPU seconds.

The sampled methods see poses as numbers and pay for overlap; the constraint solver works on whole
inches.
"""

import importlib.util
import threading
import time

import numpy as np
from benchmarks.trips import machines
from scipy.optimize import differential_evolution

from floorplan.search.problem import State


def methods():
    """Return name -> function of data, seed and seconds, for what is installed."""
    found = {"differential evolution (scipy)": by_differential_evolution}
    if importlib.util.find_spec("cma"):
        found["CMA-ES with restarts (cma)"] = by_cma
    if importlib.util.find_spec("ortools"):
        found["constraint solver (ortools)"] = by_constraint_solver
    return found


class Penalised:
    """The machines as a function of 3 numbers a machine, overlap paid for by its area."""

    def __init__(self, data, seconds):
        self.problem, self.objective = machines(data)
        self.deadline = time.process_time() + seconds
        self.best = None
        items = self.problem.items
        self.width, self.depth = self.problem.bounds[2:]
        self.boxes = np.array([[[p.bounds for p in turn] for turn in i.pieces] for i in items])

    @property
    def late(self):
        """Whether the seconds are over."""
        return time.process_time() > self.deadline

    def state(self, unit):
        """Return the state for numbers in 0 ... 1: turn, x and y of each machine."""
        turn, x, y = np.clip(unit, 0, 1 - 1e-12).reshape(3, -1)
        turn = (4 * turn).astype(int)
        every = np.arange(len(turn))
        low = self.boxes[every, turn, :, :2].min(axis=1)
        high = self.boxes[every, turn, :, 2:].max(axis=1)
        room = np.array([self.width, self.depth]) - (high - low)
        xy = np.column_stack([x, y]) * room - low
        return State(turn, xy, np.ones(len(turn), dtype=bool))

    def __call__(self, unit):
        """Cost plus a price for overlap; remembers the best without overlap."""
        state = self.state(unit)
        placed = self.boxes[np.arange(len(state.turn)), state.turn]
        placed = placed + np.tile(state.xy, 2)[:, None, :]
        body, every = placed[:, None, 0], placed.reshape(1, -1, 4)
        across = np.minimum(body[..., 2], every[..., 2]) - np.maximum(body[..., 0], every[..., 0])
        up = np.minimum(body[..., 3], every[..., 3]) - np.maximum(body[..., 1], every[..., 1])
        area = np.clip(across, 0, None) * np.clip(up, 0, None)
        own = np.arange(len(body)).repeat(2)[None, :] == np.arange(len(body))[:, None]
        overlap = float(area[~own].sum())
        cost = self.objective.total(state)
        if overlap < 1e-9 and (self.best is None or cost < self.best):
            self.best = cost
        return cost + 2e4 * overlap + (2e3 if overlap > 1e-9 else 0)


def by_differential_evolution(data, seed, seconds):
    """Return the lowest cost without overlap, or none."""
    cost = Penalised(data, seconds)
    size = 3 * len(cost.problem.items)
    round_ = 0
    while not cost.late:
        differential_evolution(
            cost,
            [(0, 1)] * size,
            seed=1000 * seed + round_,
            popsize=8,
            maxiter=10**6,
            tol=1e-6,
            polish=False,
            callback=lambda *_, **__: cost.late,
        )
        round_ += 1
    return cost.best


def by_cma(data, seed, seconds):
    """Return the lowest cost without overlap, or none."""
    import cma

    cost = Penalised(data, seconds)
    size = 3 * len(cost.problem.items)
    round_ = 0
    while not cost.late:
        dice = np.random.default_rng(1000 * seed + round_)
        options = {"bounds": [0, 1], "seed": 1000 * seed + round_ + 1, "verbose": -9}
        strategy = cma.CMAEvolutionStrategy(dice.random(size), 0.3, options)
        while not strategy.stop() and not cost.late:
            asked = strategy.ask()
            strategy.tell(asked, [cost(np.array(unit)) for unit in asked])
        round_ += 1
    return cost.best


def by_constraint_solver(data, seed, seconds):
    """Return the lowest cost on whole inches, or none; one worker."""
    from ortools.sat.python import cp_model

    model = cp_model.CpModel()
    _model(model, data)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    solver.parameters.random_seed = seed
    deadline, done = time.process_time() + seconds, threading.Event()

    def watch():
        while not done.wait(0.05):
            if time.process_time() > deadline:
                solver.stop_search()

    watcher = threading.Thread(target=watch)
    watcher.start()
    status = solver.solve(model)
    done.set()
    watcher.join()
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return solver.objective_value / 2 if found else None


def _model(model, data):
    width, depth = data["room"]
    service, bodies, zones = [], [], []
    for machine in data["machines"]:
        body, zone, middle = _machine(model, machine, (width, depth))
        bodies.append(body)
        zones.append(zone)
        service.append(middle)
    model.add_no_overlap_2d(*map(list, zip(*bodies, strict=True)))
    for a, body in enumerate(bodies):
        for b, zone in enumerate(zones):
            if a != b:
                model.add_no_overlap_2d([body[0], zone[0]], [body[1], zone[1]])
    names = [machine["id"] for machine in data["machines"]]
    cost = []
    for trip in data["trips"]:
        a, b = service[names.index(trip["a"])], service[names.index(trip["b"])]
        for axis in (0, 1):
            gap = model.new_int_var(0, 2 * max(width, depth), "")
            model.add_abs_equality(gap, a[axis] - b[axis])
            cost.append(trip["weight"] * gap)
    model.minimize(sum(cost))


def _machine(model, machine, room):
    """Body and zone as two intervals each, and twice the middle of the zone, for any turn."""
    chosen = [model.new_bool_var("") for _ in range(4)]
    model.add_exactly_one(chosen)
    corner = [model.new_int_var(0, side, "") for side in room]
    plans = [_plan(machine, turn) for turn in range(4)]
    for size, on in zip([plan[0] for plan in plans], chosen, strict=True):
        for axis in (0, 1):
            model.add(corner[axis] + size[axis] <= room[axis]).only_enforce_if(on)
    intervals = []
    for part in (1, 2):
        for axis in (0, 1):
            low = sum(on * plan[part][axis] for on, plan in zip(chosen, plans, strict=True))
            high = sum(on * plan[part][axis + 2] for on, plan in zip(chosen, plans, strict=True))
            start, end = (model.new_int_var(0, room[axis], "") for _ in range(2))
            length = model.new_int_var(0, room[axis], "")
            model.add(start == corner[axis] + low)
            model.add(end == corner[axis] + high)
            intervals.append((start, end, model.new_interval_var(start, length, end, "")))
    middle = [start + end for start, end, _ in intervals[2:]]
    shapes = [interval for _, _, interval in intervals]
    return shapes[:2], shapes[2:], middle


def _plan(machine, turn):
    """Outer size, body and zone of a machine at a quarter turn, from its lower left corner."""
    w, d, zone = machine["w"], machine["d"], machine["zone"]
    return {
        0: ((w, d + zone), (0, zone, w, zone + d), (0, 0, w, zone)),
        1: ((d + zone, w), (0, 0, d, w), (d, 0, d + zone, w)),
        2: ((w, d + zone), (0, 0, w, d), (0, d, w, d + zone)),
        3: ((d + zone, w), (zone, 0, zone + d, w), (0, 0, zone, w)),
    }[turn]
