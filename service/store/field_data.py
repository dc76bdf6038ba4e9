"""Queries for field data: settled pairs and epochs of every cylinder of the owner."""

from collections import defaultdict
from typing import Any

from service.store.cylinders import Epoch
from service.store.pairs import StoredPair
from service.store.tables import epochs, pairs
from service.store.work import Work, as_record


def settled(work: Work) -> list[StoredPair]:
    """Every settled pair, oldest first."""
    statement = work.select(pairs).where(pairs.c.provisional.is_(False))
    return work.all(statement.order_by(pairs.c.id), StoredPair)


def epochs_of_all(work: Work) -> dict[int, dict[int, Epoch]]:
    """Every epoch by cylinder and number."""
    found: dict[int, dict[int, Any]] = defaultdict(dict)
    for row in work.connection.execute(work.select(epochs)).mappings():
        found[row["cylinder_id"]][row["number"]] = as_record(row, Epoch)
    return found
