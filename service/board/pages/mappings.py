"""Mappings of foreign messages: listed with their versions, edited as text with a trial beside, withdrawn."""

import json
from typing import Any

from flask import redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from service.board import session
from service.board.blueprint import bp, done
from service.board.forms import Form
from service.board.views import mappings as view
from service.mappings.mapping import FaultyMapping
from service.mappings.toml_text import documents, written
from service.mappings.trial import Trial
from service.operations import mappings, not_understood
from service.operations.support.errors import Invalid, NotAllowed, OperationError
from service.store.mappings import StoredMapping
from service.store.paging import LARGEST_PAGE, PageRequest

MAY_SAVE = ("supervisor", "administrator")
SAVE, WITHDRAW, LOOK = "save", "withdraw", "look"
LONGEST_TEXT, LONGEST_MESSAGE, VERSIONS_SHOWN = 20_000, 10_000, 20


@bp.get("/mappings")
@session.sign_in_first
def mappings_page() -> str:
    """List what messages are read by, and what there is to begin from."""
    kept = mappings.listed(session.services(), session.actor(), PageRequest(LARGEST_PAGE)).items
    return render_template(
        "mappings.html", page=view.mappings_page(kept, mappings.shipped()), may_save=session.may(*MAY_SAVE)
    )


@bp.route("/mappings/new", methods=["GET", "POST"])
@session.sign_in_first
def new_mapping() -> Response | str:
    """Write a mapping, from one that comes with the program on request."""
    wanted = request.args.get("from", "")
    begun = next((one.document for one in mappings.shipped() if one.document["name"] == wanted), None)
    return _edited(None, written(begun) if begun else "")


@bp.route("/mappings/<name>", methods=["GET", "POST"])
@session.sign_in_first
def mapping_page(name: str) -> Response | str:
    """Show one mapping with its versions, and change it."""
    services, actor = session.services(), session.actor()
    versions = mappings.versions(services, actor, name, PageRequest(VERSIONS_SHOWN)).items
    shown = next((one for one in versions if str(one.version) == request.args.get("version")), versions[0])
    return _edited(versions, written(shown.document) if shown.document else "")


def _edited(versions: list[StoredMapping] | None, text: str) -> Response | str:
    form = Form(request.form if request.method == "POST" else {"text": text, **_sample(text)})
    document = _document(form, versions[0].name if versions else None)
    trial = _tried(form, document)
    step = form.values.get("step", "")
    if step in (SAVE, WITHDRAW) and (form.ok or step == WITHDRAW):
        if not session.may(*MAY_SAVE):
            raise NotAllowed("Only a supervisor keeps a mapping.")
        if answer := _kept(form, document, versions, step):
            return answer
    page = view.mapping_page(versions or (), trial, session.show())
    return render_template("mapping.html", form=form, page=page, may_save=session.may(*MAY_SAVE))


def _kept(
    form: Form, document: dict[str, Any] | None, versions: list[StoredMapping] | None, step: str
) -> Response | None:
    """Do what was asked; nothing where it was refused, which the form tells."""
    services, actor = session.services(), session.actor()
    try:
        if step == WITHDRAW and versions:
            mappings.withdraw(services, actor, versions[0].name)
            done("Withdrawn. No message is read by it any more.")
        elif document is not None:
            told = form.values.get("version", "")
            mappings.save(services, actor, document, lambda version: str(version) == told)
            done("Kept. The worker reads these messages from now on, and those of the last day.")
    except OperationError as error:
        form.refusals += session.refusals(error)
        return None
    return redirect(url_for("board.mappings_page"))


def _document(form: Form, name: str | None) -> dict[str, Any] | None:
    """The one mapping of the text, checked; or None, with each fault named by its field."""
    text = form.text("text", "Mapping", longest=LONGEST_TEXT, required=request.method == "POST")
    if not text:
        return None
    try:
        found = documents(text)
        if len(found) > 1:
            raise FaultyMapping("mapping", len(found), "one [[mapping]]")
        mappings.checked(found[0])
        if name is not None and found[0]["name"] != name:
            raise FaultyMapping("name", found[0]["name"], f"{name!r}; another name is another mapping")
    except FaultyMapping as fault:
        form.errors["text"] = str(fault)
    except Invalid as error:
        form.errors["text"] = "; ".join(session.refusals(error))
    else:
        return found[0]
    return None


def _tried(form: Form, document: dict[str, Any] | None) -> Trial | None:
    """What the mapping makes of the message beside it; None without one."""
    topic = form.text("topic", "Topic", required=False, longest=400)
    text = form.text("message", "Message", required=False, longest=LONGEST_MESSAGE)
    if document is None or not topic or not text or "message" in form.errors:
        return None
    try:
        message = json.loads(text)
    except (ValueError, RecursionError) as error:
        form.errors["message"] = f"Message: {error}, expected JSON"
        return None
    return mappings.trial(document, topic, message, session.services().now().timestamp())


def _sample(text: str) -> dict[str, str]:
    """A message that was heard of late and not understood, of the mapping's topic where there is one."""
    heard = [one for one in not_understood.of_late(session.services(), session.actor()) if one.message]
    for one in heard:
        if view.is_of(text, one.topic or one.source):
            return {"topic": one.topic or one.source, "message": json.dumps(one.message, indent=1)}
    return {}
