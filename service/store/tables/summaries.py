"""What the judgement last said of each cylinder, for lists that cannot judge everything that they count."""

import sqlalchemy as sa

from service.store.tables.base import owned_table, reference
from service.store.types import UtcDateTime

summaries = owned_table(
    "summaries",
    reference("cylinder_id", "cylinders"),
    # By which version of the rules, and under which law; a row by others is as good as none.
    sa.Column("judged_by", sa.String(80), nullable=False),
    sa.Column("law", sa.String(16), nullable=False),
    sa.Column("judged_at", UtcDateTime, nullable=False),
    # Each designation between bars, so that one can be looked for: |R-22|R-410A|
    sa.Column("believable", sa.Text, nullable=False),
    sa.Column("form", sa.String(16), nullable=False),
    sa.Column("name", sa.Text, nullable=False),
    sa.Column("known", sa.Boolean, nullable=False),
    sa.Column("weighed", sa.Boolean, nullable=False),
    sa.Column("liquid_fraction", sa.Float, nullable=True),
    sa.Column("limit_fraction", sa.Float, nullable=True),
    sa.Column("over", sa.Boolean, nullable=False),
    sa.UniqueConstraint("cylinder_id"),
    sa.Index(None, "organisation_id", "judged_by"),
)
