"""What a person can do at a cylinder: the one task that the advice asks for, and the others that are allowed."""

from flask import url_for

from service.board.views.answer import Task
from service.codes import Standing
from service.cylinders.judgement.judge import Judgement
from service.cylinders.judgement.permits import Act

FOR_ADVICE = {
    "ready": "transfer",
    "keep": "transfer",
    "relieve": "transfer",
    "leak": "transfer",
    "take-out": "transfer",
    "move-contents": "transfer",
    "recover-and-recycle": "transfer",
    "retest": "transfer",
    "do-not-refill": "transfer",
    "send-to-reclaimer": "exchange",
    "send-for-destruction": "exchange",
    "on-hold": "hold",
    "hold": "hold",
    "relabel": "edit_cylinder",
    "evacuate": "care_page",
    "identify": "check",
    "check": "check",
    "not-empty": "check",
    "measure-again": "check",
    "investigate-label": "check",
}
"""Which page carries out each advice; the check is devices first, a typed reading once they are on."""


def tasks(
    serial: str, judgement: Judgement, *, hooked: bool, on_scale: bool, may_release: bool
) -> tuple[Task, ...]:
    """Offer what is allowed, what the advice asks for first; what is not is told with its reasons elsewhere."""
    offered = [task for task in _all(serial, judgement, hooked, on_scale, may_release) if task is not None]
    wanted = _wanted(judgement, hooked=hooked)
    if wanted == "transfer" and on_scale and judgement.permits[Act.FILL].allowed:
        wanted = "fill_page"
    return tuple(sorted(offered, key=lambda task: task.name != wanted))


def _wanted(judgement: Judgement, *, hooked: bool) -> str:
    code = judgement.advice.code
    if code == "complete":
        # A weight is taken at the scale; everything else that may be missing is stamped on the cylinder.
        return "weigh" if [name for name, _ in judgement.unknowns] == ["weight"] else "edit_cylinder"
    wanted = FOR_ADVICE.get(code, "")
    if wanted == "check":
        return "type_reading" if hooked else "hook_up"
    return wanted


def _all(
    serial: str, judgement: Judgement, hooked: bool, on_scale: bool, may_release: bool
) -> tuple[Task | None, ...]:
    permits = judgement.permits
    may_fill = permits[Act.FILL].allowed
    may_draw = permits[Act.DRAW_LIQUID].allowed or permits[Act.DRAW_VAPOR].allowed
    may_leave = permits[Act.RECLAIM].allowed or permits[Act.DESTRUCTION].allowed
    here = judgement.state.standing == Standing.IN_SERVICE

    def offer(text: str, name: str, allowed: bool = here) -> Task | None:
        return Task(text, name, url_for(f"board.{name}", serial=serial)) if allowed else None

    return (
        offer(_transfer_words(judgement), "fill_page", may_fill and on_scale),
        offer(
            "Record a transfer" if may_fill and on_scale else _transfer_words(judgement),
            "transfer",
            may_fill or may_draw,
        ),
        offer("Recover into it", "start_recovery", may_fill),
        offer("Hook up devices", "hook_up", here and not hooked),
        offer("Weigh", "weigh"),
        offer("Type a reading", "type_reading"),
        offer(_hold_words(judgement, may_release), "hold"),
        offer("Hand over", "exchange", may_leave),
        offer("Care", "care_page"),
        offer("Leave an instruction", "pin_instruction"),
        offer("What it turned out to hold", "result_page", True),
        offer("Marks", "edit_cylinder"),
        offer("Print label", "label_page", True),
    )


def _transfer_words(judgement: Judgement) -> str:
    if not judgement.permits[Act.FILL].allowed:
        return "Take refrigerant out"
    name = judgement.name.bare
    return f"Fill with {name}" if name and not judgement.belief.is_empty else "Fill it"


def _hold_words(judgement: Judgement, may_release: bool) -> str:
    if judgement.state.holds:
        return "See the hold"
    return "Hold or release" if may_release and judgement.advice.release_code else "Put on hold"
