"""``/instructions``: ask something of whoever is at a cylinder next."""

from flask.views import MethodView

from service.api.http import examples
from service.api.http.answers import Listed, page_of, rows
from service.api.http.auth import requires
from service.api.http.current import actor, services
from service.api.http.document import Blueprint
from service.api.http.idempotent import idempotent
from service.api.schemas.common import ID
from service.api.schemas.instructions import (
    DoneBody,
    DoneSchemaIn,
    InstructionArgs,
    InstructionBody,
    InstructionQuery,
    InstructionSchema,
    InstructionSchemaIn,
)
from service.operations import instructions
from service.store.instructions import Instruction

blueprint = Blueprint("instructions", __name__, description="Instructions pinned to cylinders")


@blueprint.route("/instructions")
class Instructions(MethodView):
    """Every instruction."""

    @requires("reader", within=("cylinder",), naming="cylinder")
    @blueprint.arguments(InstructionArgs, location="query")
    @blueprint.response(200, page_of(InstructionSchema))
    def get(self, args: InstructionQuery) -> Listed[Instruction]:
        """List instructions, newest first; `open=false` for those done too."""
        return rows(
            instructions.listed(services(), actor(), args.page, serial=args.cylinder, open_only=args.open)
        )

    @requires("technician", within=("cylinder",))
    @idempotent
    @blueprint.arguments(InstructionSchemaIn, example=examples.INSTRUCTION)
    @blueprint.response(201, InstructionSchema)
    def post(self, body: InstructionBody) -> Instruction:
        """Pin an instruction or a question to a cylinder."""
        return instructions.pin(services(), actor(), body.cylinder, body.text)


@blueprint.route(f"/instructions/<{ID}:instruction_id>/done")
class InstructionDone(MethodView):
    """One instruction that is done."""

    @requires("technician", within=())
    @idempotent
    @blueprint.arguments(DoneSchemaIn, example=examples.INSTRUCTION_DONE)
    @blueprint.response(200, InstructionSchema)
    def post(self, body: DoneBody, instruction_id: int) -> Instruction:
        """Tick an instruction off; it stays in the history."""
        return instructions.finish(services(), actor(), instruction_id, body.answer)
