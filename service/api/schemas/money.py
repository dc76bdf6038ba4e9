"""Schemas for money at stake."""

import marshmallow as ma

from service.api.fields import Number, Text


class StakeSchema(ma.Schema):
    """Money at stake by the owner's table; what has no price is named."""

    credit = Number(required=True, metadata={"description": "what clean contents bring when reclaimed"})
    charge = Number(required=True, metadata={"description": "what their destruction costs"})
    at_stake = Number(required=True, metadata={"description": "both: what a mistake makes of it"})
    unpriced = ma.fields.List(Text(), required=True)
