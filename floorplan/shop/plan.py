"""A plan over years: stages in order of time, and what is there in which of them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from floorplan.shop.model import Pose

Sort = Literal["thing", "task", "job", "door", "window", "keep-clear", "run", "collector", "vacuum"]
"""What may come and go; with its name it is one key."""
Key = tuple[Sort, str]


@dataclass(frozen=True, slots=True)
class Stage:
    """The shop at one moment of a plan over years."""

    name: str
    when: str = ""
    """In the owner's words."""
    line: int = 0


@dataclass(frozen=True, slots=True)
class Span:
    """Stages in a row, by number from 0, both ends included."""

    first: int
    last: int

    def __contains__(self, stage: int) -> bool:
        return self.first <= stage <= self.last

    def meets(self, other: Span) -> bool:
        """Whether the two share a stage."""
        return self.first <= other.last and other.first <= self.last

    def common(self, other: Span) -> Span:
        """The stages of both; `first` is beyond `last` where there is none."""
        return Span(max(self.first, other.first), min(self.last, other.last))


@dataclass(frozen=True, slots=True, eq=False)
class Plan:
    """Two stages or more, and when each thing, task, opening or run is there."""

    stages: tuple[Stage, ...]
    """In order of time."""
    spans: Mapping[Key, Span] = field(default_factory=dict)
    """Of what is not there throughout."""
    replaces: Mapping[str, str] = field(default_factory=dict)
    """Thing -> the thing in whose place it comes."""
    poses: Mapping[tuple[int, str, str], Pose] = field(default_factory=dict)
    """(stage, thing, place) -> where the file has it stand from that stage on."""
    fixed: Mapping[str, Pose] = field(default_factory=dict)
    """Poses of fixed things that come later: what they keep clear binds before they come."""

    @property
    def throughout(self) -> Span:
        """All stages."""
        return Span(0, len(self.stages) - 1)

    def span(self, sort: Sort, name: str) -> Span:
        """Stages in which something is there."""
        return self.spans.get((sort, name), self.throughout)

    def there(self, sort: Sort, name: str, stage: int) -> bool:
        """Whether something is there at a stage."""
        return stage in self.span(sort, name)

    def heir(self, thing: str, stage: int) -> str | None:
        """The thing itself or what has come in its place by then; None when neither is there."""
        at: str | None = thing
        heirs = {old: new for new, old in self.replaces.items()}
        while at is not None and not self.there("thing", at, stage):
            at = heirs.get(at)
        return at

    def served(self, thing: str) -> Span:
        """Stages in which a thing or what comes in its place is there."""
        span = self.span("thing", thing)
        heirs = {old: new for new, old in self.replaces.items()}
        at = thing
        while at in heirs:
            at = heirs[at]
            span = Span(span.first, self.span("thing", at).last)
        return span

    def names(self, span: Span) -> str:
        """Stages in words: `second bench`, or `now to second bench`."""
        first, last = self.stages[span.first].name, self.stages[span.last].name
        return first if span.first == span.last else f"{first} to {last}"
