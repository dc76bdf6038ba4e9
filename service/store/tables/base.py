"""The one metadata, and the columns that every owned table carries."""

from collections.abc import Sequence

import sqlalchemy as sa

from service.store.types import BigId

metadata = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)


def owned_table(name: str, *items: sa.schema.SchemaItem) -> sa.Table:
    """A table whose rows belong to one organisation: ``id`` and ``organisation_id`` come first."""
    owner: Sequence[sa.schema.SchemaItem] = (
        sa.Column("id", BigId, primary_key=True),
        sa.Column("organisation_id", BigId, sa.ForeignKey("organisations.id"), nullable=False),
    )
    return sa.Table(name, metadata, *owner, *items, sqlite_autoincrement=True, info={"owned": True})


def reference(column: str, target: str, *, nullable: bool = False) -> sa.Column[int]:
    """A column that names a row of another table."""
    return sa.Column(column, BigId, sa.ForeignKey(f"{target}.id"), nullable=nullable)
