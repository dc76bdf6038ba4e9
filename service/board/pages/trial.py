"""A reading without a cylinder: what it would be, with the curves drawn, and nothing kept."""

from flask import render_template, request

from service.board import session
from service.board.blueprint import bp
from service.board.forms import Form
from service.board.pages.readings import conditions_of, pressure_of, temp_k_of
from service.board.quantities import Quantities
from service.board.views import trial as view
from service.operations import adhoc_verdict
from service.operations.adhoc_verdict import Evidence, Question
from service.operations.support.errors import OperationError


@bp.get("/try")
@session.sign_in_first
def try_reading() -> str:
    """
    Show what a typed reading says.

    What was typed is in the address: it may be reloaded, bookmarked and sent to somebody.
    """
    services, show = session.services(), session.show()
    typed = request.args if "temperature" in request.args else {"kind": "gauge"}
    form, page = Form(typed), None
    question = _question(form, show) if "temperature" in request.args else None
    if question is not None:
        try:
            found = adhoc_verdict.judge_question(services, question, explain=False, chart=True)
            page = view.trial_page(found, show)
        except OperationError as error:
            form.refusals = session.refusals(error)
    names = services.catalogue.designations
    return render_template("try_reading.html", form=form, page=page, designations=names)


def _question(form: Form, show: Quantities) -> Question | None:
    temp_k = temp_k_of(form, show)
    pressure = pressure_of(form, show)
    conditions = conditions_of(form)
    claimed = form.text("claimed", "Its label says", required=False, longest=40)
    if not form.ok or temp_k is None or pressure is None:
        return None
    return Question((Evidence(temp_k, pressure, conditions=conditions),), claimed_designation=claimed or None)
