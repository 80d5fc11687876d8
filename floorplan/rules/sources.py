"""Every rule and constant with its source, as rows to print."""

from collections.abc import Iterable
from dataclasses import dataclass

from floorplan.rules.book import Kind, Mark, Rule, cite, load_rules
from floorplan.rules.overlap import MATRIX, PUBLISHED_IN
from floorplan.rules.tables import all_tables


@dataclass(frozen=True, slots=True)
class SourceRow:
    """A number or table of the program as a reader wants to see it.

    `value` is text as a person writes it and `unit` the SI unit that the program computes in.
    Print `ground`, not `source`: it tells a source that was read from one that was not.
    """

    id: str
    value: str
    unit: str
    kind: Kind
    about: str
    source: str
    mark: Mark
    edition: str = ""
    note: str = ""
    checked: bool = True
    """False for a yardstick that is only there to be read."""

    @property
    def ground(self) -> str:
        """What stands behind the value, fit to print."""
        return cite(mark=self.mark, source=self.source, edition=self.edition)


def _rule_row(rule: Rule, name: str) -> SourceRow:
    return SourceRow(
        id=name,
        value=rule.text,
        unit=rule.unit,
        kind=rule.kind,
        about=rule.about,
        source=rule.source,
        mark=rule.mark,
        edition=rule.edition,
        note=rule.note,
        checked=rule.checked,
    )


def _rule_rows() -> Iterable[SourceRow]:
    for rule, metric in zip(load_rules(False), load_rules(True), strict=True):
        yield _rule_row(rule, rule.id)
        if metric != rule:
            yield _rule_row(metric, f"{rule.id} (metric file)")


def _table_rows() -> Iterable[SourceRow]:
    for table in all_tables():
        yield SourceRow(
            id=table.id,
            value=table.text,
            unit=", ".join(column.unit for column in table.columns),
            kind="constant",
            about=table.about,
            source=table.source,
            mark=table.mark,
            edition=table.edition,
            note=table.note,
        )


def _overlap_rows() -> Iterable[SourceRow]:
    answer = {True: "may", False: "may not"}
    for (first, second), cell in MATRIX.items():
        yield SourceRow(
            id=f"overlap of {first} and {second}",
            value=f"one person {answer[cell.same_person]}, two {answer[cell.two_people]}",
            unit="",
            kind="required",
            about=f"Whether a {first} and a {second} may share floor at one time.",
            source=PUBLISHED_IN if cell.published else "",
            mark="reproduction" if cell.published else "common practice",
        )


def all_sources(more: Iterable[SourceRow] = ()) -> tuple[SourceRow, ...]:
    """Every rule, table and cell of this room, then the rows that other rooms hand in."""
    return (*_rule_rows(), *_table_rows(), *_overlap_rows(), *more)
