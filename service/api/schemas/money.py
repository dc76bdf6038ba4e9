"""Schemas for money at stake."""

import marshmallow as ma

from service.api.http.answers import Answer
from service.api.http.fields import Number, Text
from service.cylinders.money import Stake


class StakeSchema(Answer):
    """Money at stake by the owner's table; what has no price is named."""

    of = Stake

    credit = Number(required=True, metadata={"description": "what clean contents bring when reclaimed"})
    charge = Number(required=True, metadata={"description": "what their destruction costs"})
    at_stake = Number(required=True, metadata={"description": "both: what a mistake makes of it"})
    unpriced = ma.fields.List(Text(), required=True)
