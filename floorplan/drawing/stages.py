"""The stages of a plan side by side under one scale; what is new or has moved is marked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Protocol

from floorplan.checks.stage_changes import Changes
from floorplan.drawing.canvas import Plan
from floorplan.drawing.comparison import Candidate, comparison
from floorplan.drawing.judged import Judged, Ranked
from floorplan.drawing.page import FORMATS, Page, save
from floorplan.drawing.style import HEAVY, KEEP_CLEAR, LIGHT
from floorplan.shop.model import Shop, Stage
from floorplan.shop.scene import Element, Scene, frame_of

KEPT = ("duct-strip", "keep-clear-free")
"""Rules of what is drawn as kept free: not the swing of doors, which is drawn as such."""
HATCHED = "Hatched: room kept free."
NOTHING = "Everything stays."


class Staged(Protocol):
    """A judged layout for each stage."""

    @property
    def shop(self) -> Shop:
        """The shop with its plan."""
        ...

    @property
    def stages(self) -> Sequence[Judged]:
        """One for each stage."""
        ...

    @property
    def changes(self) -> Sequence[Changes]:
        """What is done before each stage."""
        ...


@dataclass(frozen=True, slots=True)
class Sheeted:
    """One stage of a ranked plan, drawn like a ranked layout."""

    plan: Ranked
    judgement: Judged

    @property
    def rank(self) -> int:
        """That of the plan."""
        return self.plan.rank

    @property
    def best_for(self) -> tuple[str, ...]:
        """That of the plan."""
        return self.plan.best_for

    @property
    def reason(self) -> str:
        """That of the plan."""
        return self.plan.reason

    @property
    def dominated(self) -> bool:
        """That of the plan."""
        return self.plan.dominated


def stages_page(staged: Staged, *, subject: str, why: str = "") -> Page:
    """The sheet, not yet saved; `why` is said below the first stage."""
    assert staged.shop.plan is not None
    candidates = [
        Candidate(
            _called(stage),
            judged,
            " ".join(
                (why if i == 0 else _reason(done), HATCHED * bool(_kept(judged.scene)))
            ).strip(),
            stage.name,
        )
        for i, (stage, judged, done) in enumerate(
            zip(staged.shop.plan.stages, staged.stages, staged.changes, strict=True)
        )
    ]

    def mark(plan: Plan, index: int) -> None:
        done = staged.changes[index]
        _keep_free(plan)
        _mark(plan, done.new, new=True)
        _mark(plan, done.moved, new=False)

    return comparison(candidates, subject=subject, name=staged.shop.name, over=mark)


def stages_sheet(
    staged: Staged,
    out_dir: str | Path,
    name: str,
    *,
    subject: str = "The stages side by side",
    why: str = "",
    formats: Sequence[str] = FORMATS,
) -> tuple[Path, ...]:
    """All stages on one sheet. Raises OSError, ValueError when no paper holds them."""
    return save(stages_page(staged, subject=subject, why=why), Path(out_dir) / name, formats)


def _called(stage: Stage) -> str:
    return f"{stage.name}: {stage.when}" if stage.when else stage.name


def _reason(done: Changes) -> str:
    rows = (
        ("New (heavy outline)", done.new),
        ("Gone", done.gone),
        ("Moved (heavy dashes)", done.moved),
        ("Rebuilt", done.rebuilt),
        ("Holes to cut", done.holes),
    )
    words = [f"{word}: {', '.join(names)}." for word, names in rows if names]
    return " ".join(words) or NOTHING


def _kept(scene: Scene) -> list[Element]:
    return [
        element
        for element in scene.building
        if element.nature == "keep-clear"
        and (element.rule in KEPT or element.name.endswith(" to come"))
    ]


def _keep_free(plan: Plan) -> None:
    """What must stay free by hand, for a duct to come or for what a later stage brings."""
    style = KEEP_CLEAR
    for element in _kept(plan.scene):
        plan.page.area(
            plan.shape(element.volume.polygon), edge=style.colour, width=LIGHT,
            dashes=(4.0, 2.0), hatch=style.hatch, z=5.2, gid=f"kept free: {element.label}",
        )  # fmt: skip


def _mark(plan: Plan, names: Sequence[str], *, new: bool) -> None:
    """A second outline round what is new, a dashed one round what has moved."""
    for name in names:
        thing = plan.scene.shop.thing(name)
        pose = plan.scene.layout.pose(name)
        if pose is None:
            continue
        body = frame_of(thing, pose).place(thing.body).points
        corners = [plan.to_paper(float(x), float(y)) for x, y in (*body, body[0])]
        plan.page.line(
            corners, width=2.0 * HEAVY, dashes=() if new else (3.0, 1.5), z=9.5,
            gid=f"{'new' if new else 'moved'}: {name}",
        )  # fmt: skip
