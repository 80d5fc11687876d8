"""When something is there: always, only in some tasks, or in all but some."""

from __future__ import annotations

from dataclasses import dataclass, replace

Pairs = frozenset[frozenset[str]]
NO_PAIRS: Pairs = frozenset()


@dataclass(frozen=True, slots=True)
class Presence:
    """The tasks during which something is there."""

    only: frozenset[str] | None = None
    """Only during these; None means always, also at rest."""
    absent: frozenset[str] = frozenset()
    """Not during these."""
    together: Pairs = NO_PAIRS
    """Pairs of tasks that go on at one time, as the file says."""
    side_by_side: Pairs = NO_PAIRS
    """Pairs of tasks that two people may do at one time."""

    unattended: frozenset[str] = frozenset()
    """Tasks that go on by themselves: not there for their sake while another task is done."""

    def during(self, *tasks: str) -> bool:
        """Whether it is there while these tasks are done, all of them at one time."""
        if self.only is not None and self.only.isdisjoint(tasks):
            return False
        return self.absent.isdisjoint(tasks)

    def meets(self, other: Presence) -> bool:
        """Whether there is a moment at which both are there."""
        if self.only is None and other.only is None:
            return True
        if self.shares_task(other):
            return True
        pairs = self.together or other.together
        return any(self._within(pair) and other._within(pair) for pair in pairs)

    def _within(self, pair: frozenset[str]) -> bool:
        """Whether it is there while two tasks go on, one of them perhaps by itself."""
        if self.only is not None and not (self.only & pair) - self.unattended:
            return False
        return self.absent.isdisjoint(pair)

    def shares_task(self, other: Presence) -> bool:
        """Whether both are there during one and the same task."""
        tasks = self.only if self.only is not None else other.only
        return any(self.during(task) and other.during(task) for task in tasks or ())

    def beside(self, other: Presence) -> bool:
        """Whether one is there for one person's task and the other for a second person's."""
        if self.only is None or other.only is None:
            return False
        return any(
            frozenset((mine, yours)) in self.side_by_side
            and self.during(mine, yours)
            and other.during(mine, yours)
            for mine in self.only
            for yours in other.only
        )

    def within(self, only: frozenset[str] | None) -> Presence:
        """The same, narrowed to some tasks."""
        if only is None:
            return self
        return replace(self, only=only if self.only is None else self.only & only)

    def partners(self, task: str) -> tuple[str, ...]:
        """Tasks that go on together with a task, in order of their names."""
        return tuple(
            sorted(name for pair in self.together if task in pair for name in pair - {task})
        )


ALWAYS = Presence()
