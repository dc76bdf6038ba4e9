"""Schemas for instructions pinned to cylinders."""

from dataclasses import dataclass

from service.api.http.answers import Answer
from service.api.http.fields import Instant, Text, Truth, Whole
from service.api.http.paging import OfCylinder, PageArgs
from service.api.http.strict import Strict
from service.api.schemas.common import serial
from service.store.instructions import Instruction

LONGEST = 500
"""Characters of an instruction or of its answer (a choice): what is read at a cylinder is short."""


@dataclass(frozen=True, slots=True)
class InstructionBody:
    """An instruction to pin."""

    cylinder: str
    text: str


class InstructionSchemaIn(Strict):
    """An instruction to pin."""

    into = InstructionBody

    cylinder = serial(required=True)
    text = Text(required=True, longest=LONGEST)


@dataclass(frozen=True, slots=True)
class DoneBody:
    """What came of an instruction."""

    answer: str | None


class DoneSchemaIn(Strict):
    """What came of an instruction."""

    into = DoneBody

    answer = Text(longest=LONGEST, load_default=None)


class InstructionSchema(Answer):
    """An instruction."""

    of = Instruction

    id = Whole(required=True)
    cylinder = Text(required=True)
    text = Text(required=True)
    pinned_at = Instant(required=True)
    pinned_by = Text(required=True)
    done_at = Instant(required=True, allow_none=True)
    done_by = Text(required=True, allow_none=True)
    answer = Text(required=True, allow_none=True)


@dataclass(frozen=True, slots=True)
class InstructionQuery(OfCylinder):
    """Which instructions to list."""

    open: bool


class InstructionArgs(PageArgs):
    """Query of the list of instructions."""

    into = InstructionQuery

    cylinder = serial(load_default=None)
    open = Truth(load_default=True)
