"""Runs of duct found: airflow before length, every tree tried on small cases, ways closed."""

import itertools

import numpy as np
import pytest

from floorplan.air.ducttree import (
    Making,
    Start,
    Terminal,
    corners,
    stretch_names,
    system_of,
    tree_of,
)
from floorplan.air.fan import FanCurve
from floorplan.air.friction import friction_gradient
from floorplan.air.lattice import Obstacle, lattice
from floorplan.air.losses import Gate, Hood, RatedLoss
from floorplan.air.network import Collector, Port
from floorplan.air.operating import operating_point
from floorplan.air.properties import duct_velocity, velocity_pressure
from floorplan.air.routing import Inlet, NoRouteError, Space, route
from floorplan.air.sizing import Demand, Sizer, flows_of, value_of
from floorplan.air.topology import Ground, Paths, flaws_of

FOOT, INCH, CFM, IN_WG = 0.3048, 0.0254, 4.719474e-4, 249.08891
FLOWS = np.linspace(0.0, 1600.0, 17)
STRONG = FanCurve(
    "3 hp class", tuple(FLOWS * CFM), tuple(13.0 * IN_WG * (1.0 - (FLOWS / 1600.0) ** 2))
)


def terminal(name, x, y, z=0.0, *, needs=400.0, across=4.0, hose=0.0, entry=0.49):
    """A port at a point given in feet."""
    spot = (x * FOOT, y * FOOT, z * FOOT)
    port = Port(name, Hood("own", entry), gate=Gate())
    return Terminal(port, across * INCH, needs * CFM, (Start(spot, hose),))


def demand(terminals, sizes=(4.0,), **more):
    collector = more.pop("collector", Collector(STRONG))
    return Demand(tuple(terminals), collector, tuple(s * INCH for s in sizes), **more)


def inlet(x=0.0, y=0.0, z=0.0):
    return Inlet((x * FOOT, y * FOOT, z * FOOT))


U = (terminal("M1", 0, 20), terminal("M2", 20, 20), terminal("M3", 20, 2))


def path_loss(tree, index):
    """Loss of the pipe and elbows of a port's path at 400 cfm in 4 in galvanized [in wg]."""
    flow, size = 400 * CFM, 4 * INCH
    gradient = float(friction_gradient(flow, size))
    pressure = velocity_pressure(duct_velocity(flow, size))
    stretches = [tree.stretches[i] for i in tree.path(index)]
    pipe = sum(s.length for s in stretches) * gradient
    return (pipe + 0.24 * pressure * sum(s.elbows for s in stretches)) / IN_WG


def test_the_shortest_tree_of_the_u():
    # worked by hand: 58 ft; a chain of all three gives M3 58 ft and two elbows, 5.402 in wg
    found = route(demand(U), [inlet()], objective="length")
    assert found.tree.length / FOOT == pytest.approx(58)
    gradient = float(friction_gradient(400 * CFM, 4 * INCH))
    chain = 58 * FOOT * gradient + 2 * 0.24 * velocity_pressure(duct_velocity(400 * CFM, 4 * INCH))
    assert chain / IN_WG == pytest.approx(5.402, abs=0.002)


def test_airflow_splits_the_u():
    # worked by hand: nobody need be worse off than M2 by 40 ft and one elbow, 3.607 in wg;
    # 62 ft with a run of its own for M3, less where runs join
    found = route(demand(U), [inlet()])
    losses = [path_loss(found.tree, i) for i in range(3)]
    assert max(losses) == losses[1] == pytest.approx(3.607, abs=0.002)
    assert losses[2] == pytest.approx(2.125, abs=0.002)
    assert 58 < found.tree.length / FOOT <= 62 + 1e-9
    shortest = route(demand(U), [inlet()], objective="length")
    assert found.value > shortest.value


# --- every tree on a small lattice ---------------------------------------------------------------


def simple_paths(made, start, ends):
    """Every path without a loop from a node to the first of some nodes."""
    beside = {}
    for low, high, _ in made.pieces:
        for a, b in zip(low.tolist(), high.tolist(), strict=True):
            beside.setdefault(a, []).append(b)
            beside.setdefault(b, []).append(a)

    def onward(path):
        if path[-1] in ends:
            yield path
            return
        for other in beside[path[-1]]:
            if other not in path:
                yield from onward([*path, other])

    yield from onward([start])


def every_tree(made, terminals, root):
    """Every tree of duct on a lattice: ports joined one after the other in every way."""
    starts = [(made.node(t.starts[0].spot), t.starts[0].hose) for t in terminals]
    spots = [tuple(s) for s in made.spots.tolist()]
    seen = set()

    def grown(index, following):
        if index == len(starts):
            key = frozenset(following.items())
            if key not in seen:
                seen.add(key)
                yield tree_of(following, starts, root, spots, needs=[t.needs for t in terminals])
            return
        ends = {root, *following, *following.values()}
        for path in simple_paths(made, starts[index][0], ends):
            yield from grown(index + 1, {**following, **dict(itertools.pairwise(path))})

    yield from grown(0, {})


def best_by_trying(tree, what, known):
    """Best value over all sizes that never fall towards the collector, one gate at a time."""
    sizes = sorted(what.sizes)
    best = -np.inf
    for chosen in itertools.product(sizes, repeat=len(tree.stretches)):
        if any(s.into is not None and chosen[i] > chosen[s.into]
               for i, s in enumerate(tree.stretches)):  # fmt: skip
            continue
        values = [port_value(tree, chosen, i, what, known) for i in range(len(what.terminals))]
        best = max(best, min(values))
    return best


def port_value(tree, chosen, index, what, known):
    """Got over needed with one gate open, from the network of that path alone."""
    path = tree.path(index)
    rows = [(chosen[i], tree.stretches[i]) for i in path]
    key = (index, tuple((d, round(s.length, 9), s.elbows, s.enters) for d, s in rows))
    if key not in known:
        system = system_of(tree, chosen, what.terminals, what.making, what.collector)
        name = what.terminals[index].name
        point = operating_point(system, [name])
        slowest = min(s.velocity / s.floor for s in point.segments if s.floor)
        share = point.port_flow(name) / what.terminals[index].needs
        known[key] = share if slowest >= 1 else slowest - 1
    return known[key]


FOURS = [
    pytest.param(
        [(0, 10, 380), (10, 20, 450), (20, 10, 400), (20, 20, 350)], (0, 0), marks=pytest.mark.slow
    ),
    pytest.param(
        [(10, 0, 500), (10, 20, 400), (20, 10, 420), (0, 20, 350)], (0, 0), marks=pytest.mark.slow
    ),
    ([(0, 0, 400), (20, 0, 400), (0, 20, 390), (20, 20, 600)], (10, 10)),
]


@pytest.mark.parametrize(("ports", "end"), FOURS)
def test_airflow_equals_every_tree_and_size_of_four_ports(ports, end):
    ends = [terminal(f"p{i}", x, y, needs=n) for i, (x, y, n) in enumerate(ports)]
    what = demand(ends, (4.0, 5.0))
    lines = tuple((0.0, 10 * FOOT, 20 * FOOT) for _ in range(2))
    found = route(what, [inlet(*end)], Space(lines=(*lines, ())), step=0.0)
    made = lattice((*lines, (0.0,)))
    root = made.node((end[0] * FOOT, end[1] * FOOT, 0.0))
    known, rows = {}, []
    for tree in every_tree(made, ends, root):
        rows += [(best_by_trying(tree, what, known), tree.length)]
    most = max(value for value, _ in rows)
    assert len(rows) > 40
    assert found.value == pytest.approx(most, abs=1e-6)
    shortest = min(length for value, length in rows if value >= most - 1e-6)
    assert found.tree.length <= shortest + 1e-6


# --- sizes ---------------------------------------------------------------------------------------


def some_tree(seed, count=4):
    random = np.random.default_rng(seed)
    ends = [
        terminal(f"p{i}", *random.integers(1, 20, 2), 3, needs=float(random.uniform(330, 520)),
                 hose=float(random.uniform(0.3, 0.9)))
        for i in range(count)
    ]  # fmt: skip
    spots = [t.starts[0].spot for t in ends] + [(0.0, 0.0, 3 * FOOT)]
    made = lattice(list(zip(*spots, strict=True)))
    ground = Ground(made, ends, made.node(spots[-1]))
    from floorplan.air.topology import Paths

    paths = Paths((None,) * count)
    for i in range(count):
        paths = ground.joined(paths, i, 0.5)
    return ground.tree(paths), ends


@pytest.mark.parametrize("seed", range(5))
def test_sizes_are_the_best_of_all(seed):
    tree, ends = some_tree(seed, 3)
    filters = Collector(
        STRONG, RatedLoss("clean", 100.0, 0.38, "linear"),
        RatedLoss("dirty", 375.0, 0.38, "linear"), (RatedLoss("cyclone", 700.0, 0.38),),
    )  # fmt: skip
    what = demand(ends, (4.0, 5.0, 6.0), collector=filters)
    sized = Sizer(what).best(tree)
    tried = [
        value_of(tree, sizes, what)
        for sizes in itertools.product(what.sizes, repeat=len(tree.stretches))
        if all(s.into is None or sizes[i] <= sizes[s.into] for i, s in enumerate(tree.stretches))
    ]
    assert sized.value == pytest.approx(max(tried), abs=1e-7)
    assert value_of(tree, sized.sizes, what) == pytest.approx(sized.value, abs=1e-7)


@pytest.mark.parametrize("seed", range(3))
def test_sizes_for_gates_open_together(seed):
    tree, ends = some_tree(seed, 3)
    what = demand(ends, (4.0, 5.0), states=((0,), (1,), (2,), (0, 1)))
    sized = Sizer(what).best(tree)
    tried = [
        value_of(tree, sizes, what)
        for sizes in itertools.product(what.sizes, repeat=len(tree.stretches))
        if all(s.into is None or sizes[i] <= sizes[s.into] for i, s in enumerate(tree.stretches))
    ]
    assert sized.value == pytest.approx(max(tried), abs=1e-9)


def test_the_fattest_duct_is_refused_where_chips_would_settle():
    # 6 in takes most air, and it is too slow in it: 29 CFR 1910.94(b)(3)(ii) and the trade ask
    # for a velocity that carries
    far = [terminal("saw", 0, 40, needs=400)]
    small = FanCurve(
        "1.5 hp class", tuple(FLOWS[:10] * CFM),
        tuple(9.5 * IN_WG * (1.0 - (FLOWS[:10] / 900.0) ** 2)),
    )  # fmt: skip
    what = demand(far, (4.0, 6.0), collector=Collector(small))
    found = route(what, [inlet()])
    assert found.sizes == (4 * INCH,)
    free = demand(far, (4.0, 6.0), collector=Collector(small),
                  making=Making(branch_floor=0.1, main_floor=0.1))  # fmt: skip
    assert route(free, [inlet()]).sizes == (6 * INCH,)


def test_prices_decide_among_equals():
    near = [terminal("saw", 0, 3, needs=350)]
    prices = {4 * INCH: 1.0, 5 * INCH: 50.0}
    dear = demand(near, (4.0, 5.0), prices=prices)
    plain = route(demand(near, (4.0, 5.0)), [inlet()])
    assert route(dear, [inlet()], step=0.9).sizes == (4 * INCH,)
    assert plain.sizes == (5 * INCH,)
    assert route(dear, [inlet()], step=0.0).sizes == (5 * INCH,)


# --- ways ----------------------------------------------------------------------------------------


def box(name, x0, y0, x1, y1, bottom, top, *, level_only=False):
    outline = FOOT * np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]], dtype=float)
    return Obstacle(name, outline, bottom * FOOT, top * FOOT, level_only)


def space(*obstacles, lines=((), (), ()), radius=0.0):
    feet = tuple(tuple(v * FOOT for v in axis) for axis in lines)
    return Space(tuple(obstacles), feet, radius)


def test_duct_keeps_out_of_a_beam_by_its_radius():
    # a beam from 8 ft up; duct of 3 in radius hangs at 7 ft 9 in under it, just touching
    saw = [terminal("saw", 0, 0, 3)]
    beam = box("beam", 4, -5, 5, 5, 8, 9)
    touching = space(beam, lines=((), (), (7.75,)), radius=0.25 * FOOT)
    found = route(demand(saw), [inlet(10, 0, 3)], touching)
    assert found.tree.length / FOOT == pytest.approx(10)  # straight, under everything
    wall = box("wall", 4, -5, 5, 5, 0, 7.5)
    between = space(beam, wall, lines=((), (), (7.75,)), radius=0.25 * FOOT)
    found = route(demand(saw), [inlet(10, 0, 3)], between)
    assert found.tree.length / FOOT == pytest.approx(19.5)  # up, along, down
    higher = box("wall", 4, -5, 5, 5, 0, 7.5 + 1 / 96)
    shut = space(beam, higher, lines=((), (), (7.75,)), radius=0.25 * FOOT)
    with pytest.raises(NoRouteError) as told:
        route(demand(saw), [inlet(10, 0, 3)], shut)
    assert told.value.closed_by == ("wall",)
    assert "saw" in str(told.value)


def test_head_room_takes_level_duct_but_lets_drops_through():
    saw = [terminal("saw", 0, 0, 3)]
    walk = box("room to walk", -20, -20, 20, 20, 0, 80 / 12, level_only=True)
    found = route(demand(saw), [inlet(10, 0, 3)], space(walk, lines=((), (), (8.0,))))
    assert found.tree.length / FOOT == pytest.approx(20)  # 5 up, 10 along, 5 down
    assert found.tree.elbows == 2


def test_a_slanted_obstacle_closes_only_what_runs_through_it():
    diamond = Obstacle("post", FOOT * np.array([[0, -1], [1, 0], [0, 1], [-1, 0.0]]), 0.0, 3.0)
    made = lattice([[-2 * FOOT, 2 * FOOT], [0.0, 0.9 * FOOT, 1.0 * FOOT], [1.0]], [diamond])
    # through the middle, through the corner, and touching the corner
    assert made.free[0][0, :, 0].tolist() == [False, False, True]


def test_one_inlet_of_several_is_chosen_by_the_way_behind_it():
    saw = [terminal("saw", 0, 0, 0)]
    near = Inlet((4 * FOOT, 0.0, 0.0), ((4 * FOOT, 0.0, 0.0), (4 * FOOT, 30 * FOOT, 0.0)), "near")
    far = Inlet((6 * FOOT, 0.0, 0.0), ((6 * FOOT, 0.0, 0.0), (6 * FOOT, 2 * FOOT, 0.0)), "far")
    found = route(demand(saw), [near, far])
    assert found.inlet.name == "far"
    assert found.tree.length / FOOT == pytest.approx(8)
    assert found.tree.elbows == 1


def test_no_branch_enters_level_duct_from_below():
    # the second port stands right under the main of the first; it must come in from the side
    ports = [terminal("a", 0, 0, 8), terminal("b", 5, 0, 3)]
    on = Inlet((10 * FOOT, 0, 8 * FOOT), ((10 * FOOT, 0, 8 * FOOT), (12 * FOOT, 0, 8 * FOOT)))
    found = route(demand(ports), [on], space(lines=((), (1.0,), ())))
    assert found.flaws == 0
    b = next(s for s in found.tree.stretches if s.terminal == 1)
    rising = b.path[-1][2] - b.path[-2][2] if len(b.path) > 1 else 0.0
    assert not (b.enters and rising > 0)


def test_flaws_count_what_cannot_be_built():
    straight = [(0.0, 0.0, 0.0), (5.0, 0.0, 0.0)]
    beside = [(0.0, 0.1, 0.0), (5.0, 0.1, 0.0), (5.0, 0.0, 0.0)]
    made = lattice([[0, 5], [0, 0.1], [0]])
    spots = [tuple(s) for s in made.spots.tolist()]
    node = {s: i for i, s in enumerate(spots)}
    following = {node[straight[0]]: node[straight[1]]}
    following |= {node[a]: node[b] for a, b in itertools.pairwise(beside)}
    starts = [(node[straight[0]], 0.0), (node[beside[0]], 0.0)]
    tree = tree_of(following, starts, node[straight[1]], spots)
    assert flaws_of(tree, 0.04) == 0
    assert flaws_of(tree, 0.051) == 1
    jog = corners([(0, 0, 0), (1, 0, 0), (1, 0.1, 0), (2, 0.1, 0)])
    from floorplan.air.ducttree import DuctTree, Stretch

    assert flaws_of(DuctTree((Stretch(jog, terminal=0),)), 0.01, 0.3) == 1
    assert flaws_of(DuctTree((Stretch(jog, terminal=0),)), 0.01, 0.1) == 0


def test_names_and_flows_of_a_tree():
    found = route(demand(U), [inlet()])
    names = stretch_names(found.tree, U)
    assert names[:3] == ("M1", "M2", "M3")
    assert len(set(names)) == len(names)
    what = demand(U)
    for point, end in zip(flows_of(found.tree, found.sizes, what), U, strict=True):
        assert point.open_ports == (end.name,)
        assert point.port_flow(end.name) / end.needs >= found.value - 1e-9


def test_the_same_question_has_the_same_answer():
    one, other = (route(demand(U, (4.0, 5.0)), [inlet()]) for _ in range(2))
    assert one == other


def test_nothing_to_route_is_refused():
    with pytest.raises(ValueError, match="ports, sizes and an inlet"):
        route(demand(()), [inlet()])


def test_what_was_asked_before_does_not_change_a_join():
    # the same question to ground already used, to ground used for another root, and to new ground
    made = demand(U).terminals
    lines = Space(lines=tuple(tuple(FOOT * v for v in (5.0, 10.0, 15.0)) for _ in range(3)))
    ends = [inlet(), inlet(10, 10)]
    grid = lines.lattice(made, ends)
    roots = [grid.node(end.spot) for end in ends]
    used = Ground(grid, made, roots[0])

    def grown(ground):
        out = []
        for order in itertools.permutations(range(3)):
            for weight in (0.0, 0.6, 1000.0):
                paths = Paths((None,) * 3)
                for index in order:
                    paths = ground.joined(paths, index, weight)
                    out.append(paths.of)
        return out

    first = grown(Ground(grid, made, roots[0]))
    other = grown(Ground(grid, made, roots[1]))
    assert grown(used) == grown(used) == first
    assert grown(used.rooted(roots[1])) == other != first
