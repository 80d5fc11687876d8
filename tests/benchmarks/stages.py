"""Plans over years: a search over three stages beside searches of one stage at the same effort.

Each method has the same items to put back.  Values are processor seconds; `search` is the search
by itself, `arrange` all that the command computes: the search, every judgement of what it found,
the first stage alone, and moves between stages.
"""

import time
from pathlib import Path

from benchmarks.run import row

from floorplan.search.arrange import LEVELS, Run, arrange
from floorplan.search.arrange_stages import StagedRun, arrange_stages
from floorplan.shop.reader import load

DEMO = Path(__file__).parents[2] / "layouts" / "backyard-shop.yaml"


def spent(task):
    """Processor seconds of a task."""
    begin = time.process_time()
    task()
    return time.process_time() - begin


def search_stage(file, stage, seed, effort):
    """The search of one stage, without judging."""
    at = file.at(stage)
    one = Run(at.shop, at.layout, seed, effort, None, 3, None, None)
    return one._search(one._question(LEVELS[0][0]))


def search_plan(file, seed, effort):
    """The search of all stages, without judging."""
    every = StagedRun(file.shop, file.layout, seed, effort, None, 3, None, None)
    return every._search(every._question(LEVELS[0][0]))


def arrange_stage(file, stage, seed, effort):
    """The whole answer for one stage."""
    at = file.at(stage)
    return arrange(at.shop, at.layout, seed=seed, effort=effort)


SMALL = {"effort": 120, "seeds": 1, "whole": False}
"""The budget that `all` gives it."""


def run(effort=600, seeds=2, whole=True):
    """CPU seconds by method, all in one run."""
    file = load(DEMO)
    count = len(file.shop.plan.stages)
    methods = {
        f"search, stage {i + 1} alone": lambda seed, i=i: search_stage(file, i, seed, effort)
        for i in range(count)
    }
    methods["search, all stages together"] = lambda seed: search_plan(file, seed, effort)
    if whole:
        for i in range(count):
            methods[f"arrange, stage {i + 1} alone"] = lambda seed, i=i: arrange_stage(
                file, i, seed, effort
            )
        methods["arrange, all stages together"] = lambda seed: arrange_stages(
            file.shop, file.layout, seed=seed, effort=effort
        )
    rows = []
    for name, method in methods.items():
        begin = time.perf_counter()
        values = [spent(lambda s=seed, m=method: m(s)) for seed in range(1, seeds + 1)]
        rows.append(row(DEMO.stem, name, range(1, seeds + 1), time.perf_counter() - begin, values))
    return {"name": "stages", "rows": rows}
