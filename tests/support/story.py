"""Plays every example of the OpenAPI document: one cylinder's life."""

from typing import Any

from flask import Flask
from flask.testing import FlaskClient

from tests.support.http import api_operations, documented_path, examples, path_of

FIRST = ("places", "cylinders", "evacuations", "hookups", "requalifications", "inspections", "transfers")
LAST = ("exchanges", "holds", "scrappings")
"""What the rest needs, and what ends a cylinder's use."""
PREPARED: dict[str, Any] = {
    "marks": "DOT-4BA400", "water_capacity_lb": 47.7, "tare_lb": 27.6, "gross_mass_lb": 27.6,
    "evacuated": True, "requalification_stamp": "6 A123 24",
}  # fmt: skip
RECOVERED_INTO = ("HM-0004", "HM-0003")
"""Where a recovery begins, and where it goes on: cylinders of its own, whose use nothing else ends."""
NAMES = {"serial": "HM-0001", "name": "van-2", "designation": "R-22", "device": "gauge-17"}


def play(app: Flask, clients: list[FlaskClient]) -> dict[tuple[str, str], Any]:
    """
    Send every documented write with its example, again and again until none succeeds any more.

    Answers those that never succeeded, with their last answer.
    """
    documented = examples(app)
    for serial in RECOVERED_INTO:
        clients[0].post("/api/v1/cylinders", json={"serial": serial, **PREPARED})
    waiting = {
        (method, documented_path(rule)): rule
        for method, rule in api_operations(app)
        if method in {"POST", "PUT", "PATCH"}
    }
    refused: dict[tuple[str, str], Any] = {}
    progress = True
    while waiting and progress:
        progress = False
        for operation, rule in sorted(waiting.items(), key=lambda item: _turn(item[0])):
            answer = _first_allowed(clients, operation[0], path_of(rule, **NAMES), documented[operation])
            if answer.status_code < 300:
                progress = True
                del waiting[operation]
                refused.pop(operation, None)
            else:
                refused[operation] = answer
    return refused


def _turn(operation: tuple[str, str]) -> tuple[int, str]:
    method, path = operation
    noun = path.removeprefix("/api/v1/").split("/")[0]
    place = FIRST.index(noun) if noun in FIRST else len(FIRST) + (1 + LAST.index(noun) if noun in LAST else 0)
    if path.endswith("/end"):
        return (len(FIRST), "~")  # what goes on before it
    if path.endswith("/advice-releases"):
        return (len(FIRST), "~")  # after the readings that it is about
    # What is corrected has to be there first, and corrections of a cylinder come when its contents are in.
    return (place, path) if method != "PATCH" else (len(FIRST), path)


def _first_allowed(clients: list[FlaskClient], method: str, path: str, sent: dict[str, Any]) -> Any:
    for client in clients:
        tag = client.get(path).headers.get("ETag", '"1"') if method == "PATCH" else '"1"'
        answer = client.open(path, method=method, headers={"If-Match": tag}, **sent)
        if answer.status_code != 403:
            return answer
    return answer
