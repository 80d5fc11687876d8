"""The book of rules: every yardstick by its id, with its source and what the user changed."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field, replace
from difflib import get_close_matches
from functools import cache
from typing import Literal, cast

from floorplan.rules.data import read_rows
from floorplan.rules.quantity import parse_quantity
from floorplan.units import UnitError

Kind = Literal["required", "advised", "constant"]
Mark = Literal[
    "published", "reproduction", "computed", "from memory", "common practice", "set by the user"
]

UNSOURCED: tuple[Mark, ...] = ("from memory", "common practice", "set by the user")
"""Marks of values that no source stands behind; such a rule's `source` is empty."""


class RuleError(ValueError):
    """A rule that does not exist, or a change that it cannot take."""


def no_such(what: str, name: str, known: Iterable[str]) -> str:
    """Message for a name that is not among the known ones, with the nearest that is."""
    near = get_close_matches(name, tuple(known), n=1)
    return f"there is no {what} `{name}`" + (f"; did you mean `{near[0]}`?" if near else "")


@dataclass(frozen=True, slots=True)
class Rule:
    """One yardstick or constant.

    `value` is in the SI unit named by `unit` (`share` is 0 to 1, `deg` degrees) and `text` is the
    same as a person writes it. `source` names the publication and is empty where none stands
    behind the value. `line` is the line of the shop file that changed the rule.
    """

    id: str
    value: float
    unit: str
    text: str
    kind: Kind
    about: str
    source: str
    mark: Mark
    edition: str = ""
    note: str = ""
    overridden: bool = False
    off: bool = False
    line: int | None = None
    default: str = ""
    """The text of the value that the user's own one replaced, else empty."""
    checked: bool = True
    """False for a yardstick that is only there to be read: nothing computes with it."""


@dataclass(frozen=True, slots=True)
class RuleBook:
    """Unchanging set of rules; iterates in the order of the book."""

    rules: tuple[Rule, ...]
    metric: bool
    _by_id: dict[str, Rule] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_by_id", {rule.id: rule for rule in self.rules})

    def __iter__(self) -> Iterator[Rule]:
        return iter(self.rules)

    def __len__(self) -> int:
        return len(self.rules)

    def __contains__(self, rule_id: object) -> bool:
        return rule_id in self._by_id

    def __getitem__(self, rule_id: str) -> Rule:
        """Return the rule of that id. Raises RuleError, which names the nearest id."""
        try:
            return self._by_id[rule_id]
        except KeyError:
            raise RuleError(no_such("rule", rule_id, self._by_id)) from None

    def value(self, rule_id: str) -> float:
        """Value of the rule [SI]. Raises RuleError for an unknown id."""
        return self[rule_id].value

    @property
    def changed(self) -> tuple[Rule, ...]:
        """The rules that the user changed or turned off."""
        return tuple(rule for rule in self.rules if rule.overridden or rule.off)

    def with_override(
        self,
        rule_id: str,
        *,
        value: str | None = None,
        off: bool | None = None,
        kind: str | None = None,
        line: int | None = None,
        default_unit: str | None = None,
    ) -> "RuleBook":
        """Return a book in which the user's word stands for one rule; what is None stays.

        Args:
            rule_id: the rule to change.
            value: the new value as written; it loses the source of the value it replaces.
            off: whether the rule is left out of judging.
            kind: `required` or `advised`.
            line: line of the shop file that says so.
            default_unit: unit of a bare length.

        Raises:
            RuleError: no such rule, no such value, or a constant asked to judge or not to.

        """
        rule, original = self[rule_id], load_rules(self.metric)[rule_id]
        if not rule.checked:
            raise RuleError(
                f"`{rule_id}` is a yardstick to read: nothing is checked by it, so a change would "
                "change nothing"
            )
        if rule.kind == "constant" and (off or kind is not None):
            raise RuleError(f"`{rule_id}` is a number to compute with; only its value can change")
        if kind is not None and kind not in ("required", "advised"):
            raise RuleError(f"`{rule_id}`: `{kind}` is neither required nor advised")
        if value is not None:
            rule = _revalued(rule, original, value, default_unit)
        rule = replace(
            rule,
            kind=rule.kind if kind is None else cast(Kind, kind),
            off=rule.off if off is None else off,
            line=rule.line if line is None else line,
        )
        differs = (rule.value, rule.kind) != (original.value, original.kind)
        new = replace(rule, overridden=differs)
        return replace(self, rules=tuple(new if old.id == rule_id else old for old in self.rules))


def _revalued(rule: Rule, original: Rule, text: str, default_unit: str | None) -> Rule:
    """Give the rule the value written in `text`; the original's value brings back its source."""
    try:
        value = parse_quantity(text, rule.unit, default_unit)
    except UnitError as wrong:
        raise RuleError(f"`{rule.id}`: {wrong}") from wrong
    if value < 0 or (rule.unit == "share" and value > 1):
        raise RuleError(f"`{rule.id}` cannot be {text.strip()}")
    if value == original.value:
        return replace(original, kind=rule.kind, off=rule.off, line=rule.line)
    return replace(
        rule,
        value=value,
        text=text.strip(),
        source="",
        edition="",
        note="",
        mark="set by the user",
        default=original.text,
    )


def _rule(row: dict[str, str], metric: bool) -> Rule:
    other = row.get("metric")
    if metric and other is not None:
        row = row | (other if isinstance(other, dict) else {"value": other})
    text, unit = str(row["value"]), row.get("unit", "m")
    return Rule(
        id=row["id"],
        value=parse_quantity(text, unit),
        unit=unit,
        text=text,
        kind=cast(Kind, row["kind"]),
        about=row["about"],
        source=row.get("source", ""),
        mark=cast(Mark, row["mark"]),
        edition=row.get("edition", ""),
        note=row.get("note", ""),
        checked=str(row.get("checked", "yes")).lower() not in ("no", "false"),
    )


@cache
def load_rules(metric: bool) -> RuleBook:
    """Load the rules as they come, for a shop file in metric units or in feet and inches."""
    return RuleBook(tuple(_rule(row, metric) for row in read_rows("rules.yaml")), metric)


def citation(rule: Rule) -> str:
    """Say what stands behind a rule's value, as it may be printed; never an unread source."""
    return cite(
        mark=rule.mark,
        source=rule.source,
        edition=rule.edition,
        line=rule.line,
        default=rule.default,
    )


def cite(
    *, mark: Mark, source: str, edition: str = "", line: int | None = None, default: str = ""
) -> str:
    """Ground of a value of this mark. Raises RuleError for a mark that needs a source and has none.

    A source that goes with a mark of `UNSOURCED` is left unsaid.
    """
    if mark == "from memory":
        return "from memory, not verified"
    if mark == "common practice":
        return "common practice, no source"
    if mark == "set by the user":
        where = f", line {line}" if line else ""
        return f"set in the shop file{where}" + (f" (default {default})" if default else "")
    if not source:
        raise RuleError(f"a value marked {mark} needs a source")
    named = f"{source} ({edition})" if edition else source
    if mark == "reproduction":
        return f"{named}, read in a reproduction"
    return f"computed from {named}" if mark == "computed" else named
