"""A plan over years as data and in words: each stage, and the way from one to the next."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from textwrap import fill

from floorplan.checks.finding import measure_text
from floorplan.checks.judge import Judgement, laid_out
from floorplan.checks.judge_beside import beside_lasting
from floorplan.checks.judge_stages import SUMMED, StagedJudgement, stage_name
from floorplan.checks.stage_changes import Changes
from floorplan.report.data import VERSION, Data, findings, measures, number, poses
from floorplan.report.laid_out import laid_data, laid_lines
from floorplan.report.lasting import beside_data, beside_lines
from floorplan.report.text import finding_lines, headline, measure_lines, place_lines, tail
from floorplan.report.trust import trust_data, trust_lines
from floorplan.report.words import WIDTH
from floorplan.search.arrange_stages import StagedArrangement, StagedRanked
from floorplan.search.future import Future
from floorplan.search.trust import Trust

Remedies = Mapping[int, str]
"""Least changes by identity of the finding."""


def changes_data(found: Changes) -> Data:
    """What is done before a stage."""
    return {
        "moved": list(found.moved),
        "rebuilt": list(found.rebuilt),
        "holes": list(found.holes),
        "new": list(found.new),
        "gone": list(found.gone),
        "count": found.count,
    }


def stages_data(judged: StagedJudgement) -> list[Data]:
    """One entry a stage, in order of time."""
    return [
        {
            "stage": stage_name(made),
            "when": stage.when,
            "verdict": made.verdict,
            "poses": poses(made.layout),
            "measures": measures(made.measures),
            "findings": findings(made),
            "assumed": list(made.assumed),
            "not placed": list(made.scene.absent),
            "changes": changes_data(done),
        }
        for stage, made, done in zip(judged.plan.stages, judged.stages, judged.changes, strict=True)
    ]


def staged_envelope(
    command: str,
    judged: StagedJudgement,
    cautions: Iterable[str],
    files: Iterable[Path],
    **blocks: object,
) -> Data:
    """The object of a command about all stages; its verdict is that of the worst stage."""
    shop = judged.shop
    return {
        "version": VERSION,
        "command": command,
        "shop": shop.name,
        "verdict": judged.verdict,
        "findings": [f for made in judged.stages for f in findings(made)],
        "measures": measures(judged.measures),
        "cautions": list(cautions),
        "files": [str(f) for f in files],
        "assumed": sorted({name for made in judged.stages for name in made.assumed}),
        "not placed": list(
            dict.fromkeys(name for made in judged.stages for name in made.scene.absent)
        ),
        "rules changed": [
            {"id": r.id, "value": number(r.value), "off": r.off, "line": r.line}
            for r in shop.rules.changed
        ],
        "notes": list(shop.notes),
        **blocks,
    }


def check_stages_data(
    judged: StagedJudgement,
    trusted: Sequence[Trust],
    remedies: Remedies,
    cautions: Iterable[str],
    files: Iterable[Path],
    supposed: Iterable[str],
) -> Data:
    """The answer of `check` for a plan."""
    rows = [
        {**row, "trust": trust_data(trust), **_beside(made)}
        for row, trust, made in zip(stages_data(judged), trusted, judged.stages, strict=True)
    ]
    told = [
        {"stage": stage_name(made), "message": f.message, "remedy": remedies.get(id(f))}
        for made in judged.stages
        for f in made.failing
    ]
    return staged_envelope(
        "check", judged, cautions, files, supposed=list(supposed), remedies=told, stages=rows
    )


def _beside(made: Judgement) -> Data:
    """What may be done while a task lasts, where one does."""
    rows = beside_lasting(made.shop, made.layout, made.scene)
    laid = laid_out(made.scene)
    return {
        **({"beside": beside_data(rows)} if rows else {}),
        **({"laid_out": laid_data(laid)} if laid else {}),
    }


def plans_data(found: StagedArrangement) -> Data:
    """The block of `arrange` for a plan; `poses` are those of the first stage."""
    return {
        "seed": found.seed,
        "tried": found.tried,
        "interrupted": found.interrupted,
        "note": found.note,
        "clash": list(found.clash),
        "future": future_data(found.future),
        "today": {
            "verdict": found.today.verdict,
            "poses": poses(found.today.stages[0].layout),
            "measures": measures(found.today.measures),
            "findings": [f for made in found.today.stages for f in findings(made)],
            "stages": stages_data(found.today),
        },
        "layouts": [plan_data(layout) for layout in found.layouts],
    }


def plan_data(layout: StagedRanked) -> Data:
    """One ranked plan."""
    judged, ranked = layout.judged, layout.ranked
    return {
        "rank": layout.rank,
        "verdict": judged.verdict,
        "poses": poses(judged.stages[0].layout),
        "measures": measures(judged.measures),
        "best_for": list(ranked.best_for),
        "dominated": ranked.dominated,
        "reason": ranked.reason,
        "findings": [f for made in judged.stages for f in findings(made)],
        "assumed": list(ranked.judgement.assumed),
        "stages": stages_data(judged),
    }


def future_data(found: Future | None) -> Data | None:
    """Why the present stands as it does."""
    if found is None:
        return None
    return {
        "differs": list(found.differs),
        "because": list(found.because),
        "text": found.text,
        "alone": {
            "verdict": found.lone.verdict,
            "poses": poses(found.lone.layout),
            "measures": measures(found.lone.measures),
        },
    }


# --- in words ------------------------------------------------------------------------------


def check_stages_text(
    judged: StagedJudgement,
    trusted: Sequence[Trust],
    remedies: Remedies,
    cautions: Iterable[str],
    files: Iterable[Path],
) -> str:
    """The answer of `check` for a plan, stage by stage."""
    lines = [fill(staged_headline(judged, judged.shop.name), WIDTH), ""]
    told: dict[str, str] = {}
    for i, made in enumerate(judged.stages):
        lines += [*change_lines(judged, i), fill(headline(made, _called(judged, i)), WIDTH)]
        lines += _finding_lines(made, told, remedies)
        lines += measure_lines(made)
        lines += laid_lines(made.shop, laid_out(made.scene))
        lines += beside_lines(made.shop, beside_lasting(made.shop, made.layout, made.scene))
        lines += [*trust_lines(trusted[i], made.shop.system), ""]
    lines += summed_lines(judged)
    assumed = sorted({name for made in judged.stages for name in made.assumed})
    lines += tail(judged.shop, assumed, cautions, files)
    return "\n".join(lines) + "\n"


def staged_headline(judged: StagedJudgement, what: str) -> str:
    """The verdict of all stages in one line: that of the worst."""
    bad = [stage_name(made) for made in judged.stages if made.verdict != "passes"]
    count = len(judged.stages)
    if not bad:
        assumed = {name for made in judged.stages for name in made.assumed}
        on = f" on {len(assumed)} assumed size{'s' * (len(assumed) != 1)}" if assumed else ""
        return f"{what} passes in all {count} stages{on}"
    word = "FAILS" if judged.verdict == "fails" else "is UNSURE"
    return f"{what} {word} in {len(bad)} of {count} stages: {', '.join(bad)}"


def _called(judged: StagedJudgement, index: int) -> str:
    stage = judged.plan.stages[index]
    return f"Stage {stage.name}" + (f" ({stage.when})" if stage.when else "")


def change_lines(judged: StagedJudgement, index: int) -> Iterator[str]:
    """What is done before a stage, in one line."""
    if index:
        before, after = (judged.plan.stages[i].name for i in (index - 1, index))
        words = change_words(judged.changes[index])
        yield fill(f"Between {before} and {after}: {words}", WIDTH, subsequent_indent="  ")


def change_words(found: Changes) -> str:
    """What is done between two stages, the costly first."""
    parts = [
        f"{word}: {', '.join(names)}"
        for word, names in (
            ("moved", found.moved),
            ("rebuilt", found.rebuilt),
            ("holes to cut", found.holes),
            ("new", found.new),
            ("gone", found.gone),
        )
        if names
    ]
    return "; ".join(parts) if parts else "nothing changes"


def _finding_lines(made: Judgement, told: dict[str, str], remedies: Remedies) -> Iterator[str]:
    """What does not pass; what an earlier stage had in the same words is only counted."""
    again: dict[str, int] = {}
    number = 0
    for found in made.findings:
        if found.verdict == "passes":
            continue
        key = f"{found.kind} {found.verdict} {found.message} {found.task}"
        if key in told:
            again[told[key]] = again.get(told[key], 0) + 1
            continue
        told[key] = stage_name(made)
        number += 1
        yield from finding_lines(found, number)
        remedy = remedies.get(id(found))
        if remedy:
            yield fill(f"     cleared by: {remedy}", WIDTH, subsequent_indent="     ")
    for stage, count in again.items():
        yield f"     and {count} as in stage {stage}"
    passed = sum(found.verdict == "passes" for found in made.findings)
    yield f"{passed} {'further ' * bool(number or again)}checked facts pass."


def summed_lines(judged: StagedJudgement) -> Iterator[str]:
    """Measures of the whole plan."""
    yield "All stages together (walking added up, of all else the least):"
    for name, measure in judged.measures.items():
        if name in SUMMED or not name.startswith("walking: "):
            yield f"  {name}: {measure_text(measure, judged.shop.system)}"


def plans_text(found: StagedArrangement, cautions: Iterable[str], files: Iterable[Path]) -> str:
    """The answer of `arrange` for a plan."""
    lines: list[str] = []
    if found.interrupted:
        lines.append("Interrupted: the best found so far.")
    if found.note:
        lines.append(fill(found.note[0].upper() + found.note[1:] + ".", WIDTH))
    if found.clash:
        told = "As far as was found these cannot all be met: " + "; ".join(found.clash)
        lines.append(fill(told, WIDTH, subsequent_indent="  "))
    lines += [fill(staged_headline(found.today, "The file's own plan"), WIDTH), ""]
    for layout in found.layouts:
        lines += _plan_lines(layout)
    if found.future is not None:
        lines += [fill(found.future.text + ".", WIDTH, subsequent_indent="  "), ""]
    assumed = sorted({name for layout in found.layouts for name in layout.ranked.judgement.assumed})
    lines += tail(found.today.shop, assumed, cautions, files)
    return "\n".join(lines) + "\n"


def _plan_lines(layout: StagedRanked) -> Iterator[str]:
    judged, ranked = layout.judged, layout.ranked
    mark = "  (another one shown is as good in everything)" if ranked.dominated else ""
    yield fill(staged_headline(judged, f"Rank {layout.rank}"), WIDTH) + mark
    yield fill(f"  {ranked.reason}", WIDTH, subsequent_indent="  ")
    if ranked.best_for:
        yield f"  best for: {', '.join(ranked.best_for)}"
    told: dict[str, str] = {}
    for i, made in enumerate(judged.stages):
        yield from change_lines(judged, i)
        yield fill(headline(made, _called(judged, i)), WIDTH)
        if made.verdict != "passes" or made.wishes:
            yield from _finding_lines(made, told, {})
        done = judged.changes[i]
        fresh = set(done.new) | set(done.moved) if i else {n for n, _ in made.layout.poses}
        if fresh:
            yield "  places, west and south points of each body from the room's origin:"
            yield from place_lines(made, fresh)
    yield from summed_lines(judged)
    yield ""
