"""The cautions that go with results, by topic."""

from functools import cache

from floorplan.rules.book import RuleError, no_such
from floorplan.rules.data import read_rows

ALWAYS = "always"
"""The topic that stands under every result."""


@cache
def _by_topic() -> dict[str, tuple[str, ...]]:
    texts: dict[str, tuple[str, ...]] = {}
    for row in read_rows("cautions.yaml"):
        texts[row["topic"]] = (*texts.get(row["topic"], ()), row["text"])
    return texts


def caution_topics() -> tuple[str, ...]:
    """Every topic, in the order in which cautions are printed."""
    return tuple(_by_topic())


def cautions(*topics: str) -> tuple[str, ...]:
    """Cautions on the topics, after those that always stand; in the order of the file.

    Raises RuleError for a topic that does not exist.
    """
    known = _by_topic()
    for topic in topics:
        if topic not in known:
            raise RuleError(no_such("topic of cautions", topic, known))
    wanted = {ALWAYS, *topics}
    return tuple(text for topic, texts in known.items() if topic in wanted for text in texts)
