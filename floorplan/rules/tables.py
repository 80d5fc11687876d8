"""Constants that come as a table: wire resistance, hours of noise, weights of sheets."""

from dataclasses import dataclass
from functools import cache
from typing import Any

from floorplan.rules.book import Mark, RuleError, no_such
from floorplan.rules.data import read_rows
from floorplan.rules.quantity import parse_quantity


@dataclass(frozen=True, slots=True)
class Column:
    """A column's name, its values in the SI unit `unit`, and the texts as the source has them."""

    name: str
    unit: str
    values: tuple[float, ...]
    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A published table; its columns are of one length."""

    id: str
    about: str
    columns: tuple[Column, ...]
    source: str
    mark: Mark
    edition: str
    note: str

    def __getitem__(self, name: str) -> tuple[float, ...]:
        """Return the values of a column [SI]. Raises RuleError for an unknown name."""
        for column in self.columns:
            if column.name == name:
                return column.values
        names = [column.name for column in self.columns]
        raise RuleError(no_such(f"column of {self.id}", name, names))

    @property
    def text(self) -> str:
        """The rows on one line, each as its first cell, a colon and the others."""
        rows = zip(*(column.texts for column in self.columns), strict=True)
        return "; ".join(f"{first}: {', '.join(others)}" for first, *others in rows)


def _table(row: dict[str, Any]) -> Table:
    columns = []
    for index, head in enumerate(row["columns"]):
        texts = tuple(f"{cells[index]} {head['written']}".strip() for cells in row["rows"])
        values = tuple(parse_quantity(text, head["unit"]) for text in texts)
        columns.append(Column(head["name"], head["unit"], values, texts))
    return Table(
        id=row["id"],
        about=row["about"],
        columns=tuple(columns),
        source=row["source"],
        mark=row["mark"],
        edition=row.get("edition", ""),
        note=row.get("note", ""),
    )


@cache
def all_tables() -> tuple[Table, ...]:
    """Every table, in the order of the file."""
    return tuple(_table(row) for row in read_rows("tables.yaml"))


def table(table_id: str) -> Table:
    """Return the table of that id. Raises RuleError, which names the nearest id."""
    known = {each.id: each for each in all_tables()}
    if table_id not in known:
        raise RuleError(no_such("table", table_id, known))
    return known[table_id]
