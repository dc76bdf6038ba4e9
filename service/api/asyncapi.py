"""``/asyncapi.json``: what goes over MQTT, and the events told by stream and webhook (AsyncAPI 3.0)."""

from typing import Any

from flask import Blueprint, Response, current_app, jsonify

from service.operations import events

blueprint = Blueprint("asyncapi", __name__)

Node = dict[str, Any]

QUANTITIES = {
    "gauge-pressure": (("Pa",), "at the valve, against the local atmosphere"),
    "absolute-pressure": (("Pa",), "instead of it, from an absolute sensor"),
    "wall-temperature": (("Cel", "K"), "clamp or surface thermometer low on the wall"),
    "ambient-temperature": (("Cel", "K"), "optional"),
    "ambient-pressure": (("Pa",), "optional barometer; beats the place's elevation"),
    "mass": (("kg",), "optional scale under the cylinder, gross"),
    "battery": (("%EL",), "optional"),
}
"""Record names of a pack, the units each may have, and what it means."""
EXAMPLE_PACK = [
    {"bn": "urn:dev:mac:0024befffe804ff1:", "bt": 1777896000, "n": "gauge-pressure", "u": "Pa", "v": 942000},
    {"n": "wall-temperature", "u": "Cel", "v": 24.8},
    {"n": "battery", "u": "%EL", "v": 81},
]
VERDICT_DATA = (
    "cylinder",
    "verdict",
    "identity",
    "designation",
    "probability",
    "contamination",
    "disposition",
)


@blueprint.get("/api/v1/asyncapi.json")
def asyncapi() -> Response:
    """The document."""
    return jsonify(document(current_app.config["API_VERSION"]))


def document(version: str) -> Node:
    """The AsyncAPI document as plain data."""
    return {
        "asyncapi": "3.0.0",
        "info": {
            "title": "Heelmark, messages",
            "version": version,
            "description": "Readings in over MQTT (QoS 1); events out by server-sent events and by webhook.",
            "license": {"name": "Apache-2.0"},
        },
        "defaultContentType": "application/json",
        "servers": {
            "broker": {"host": "{host}:{port}", "protocol": "mqtt", "variables": _variables("1883")},
            "service": {"host": "{host}:{port}", "protocol": "http", "variables": _variables("8642")},
        },
        "channels": {"readings": _readings(), "refused": _refused(), "events": _events()},
        "operations": {
            "takeReadings": _operation("receive", "readings", "Take a device's readings."),
            "tellRefusal": _operation("send", "refused", "Tell why a pack was refused as a whole."),
            "tellEvents": _operation(
                "send", "events", "Tell what happened, in order, after `Last-Event-ID`."
            ),
        },
    }


def _variables(port: str) -> Node:
    return {"host": {"default": "127.0.0.1"}, "port": {"default": port}}


def _operation(action: str, channel: str, summary: str) -> Node:
    return {"action": action, "channel": {"$ref": f"#/channels/{channel}"}, "summary": summary}


def _topic(kind: str) -> Node:
    return {
        "address": f"{{root}}/{{place}}/{kind}/{{device}}",
        "servers": [{"$ref": "#/servers/broker"}],
        "parameters": {
            "root": {"default": "heelmark"},
            "place": {"description": "The shop, van or site whose gateway publishes; free of / + #."},
            "device": {"description": "Its RFC 9039 name or a short id; free of / + #."},
        },
    }


def _readings() -> Node:
    kinds = "; ".join(
        f"`{name}` in {' or '.join(units)}: {told}" for name, (units, told) in QUANTITIES.items()
    )
    record = {
        "type": "object",
        "properties": {
            "bn": {"type": "string"},
            "bt": {"type": "number"},
            "bu": {"type": "string"},
            "n": {"type": "string", "pattern": f"({'|'.join(QUANTITIES)})$"},
            "u": {"enum": sorted({unit for units, _ in QUANTITIES.values() for unit in units})},
            "v": {"type": "number"},
            "t": {"type": "number"},
        },
    }
    pack = {
        "name": "pack",
        "title": "SenML pack (RFC 8428)",
        "summary": f"Record names: {kinds}. Times more than 60 s ahead, other units, NaN: refused as a whole.",
        "contentType": "application/senml+json",
        "payload": {"type": "array", "minItems": 1, "items": record},
        "examples": [{"payload": EXAMPLE_PACK}],
    }
    return {**_topic("readings"), "messages": {"pack": pack}}


def _refused() -> Node:
    properties = {
        "reason": {"type": "string", "description": "A stable word to count by."},
        "detail": {"type": "string"},
        "at": {"type": "number", "description": "When it arrived, seconds since 1970 UTC."},
        "pack": {"type": "string", "description": "What was sent, where it is text."},
        "pack_base64": {"type": "string", "description": "What was sent, where it is not."},
    }
    message = {
        "name": "refusal",
        "payload": {"type": "object", "properties": properties, "required": ["reason"]},
    }
    return {**_topic("refused"), "messages": {"refusal": message}}


def _events() -> Node:
    types = sorted(value for name, value in vars(events).items() if name.isupper() and isinstance(value, str))
    return {
        "address": "/api/v1/events",
        "servers": [{"$ref": "#/servers/service"}],
        "messages": {kind.replace(".", "_").replace("-", "_"): _event(kind) for kind in types},
    }


def _event(kind: str) -> Node:
    data: Node = {"type": "object"}
    if kind == events.VERDICT_REACHED:
        data["properties"] = {name: {} for name in VERDICT_DATA}
    properties = {
        "id": {"type": "integer", "description": "Increasing; the id of the stream and of the CloudEvent."},
        "at": {"type": "string", "format": "date-time"},
        "type": {"const": kind},
        "subject": {"type": "string", "examples": ["cylinders/HM-0001"]},
        "actor": {"type": "string", "description": "Who did it."},
        "data": data,
    }
    required = sorted(properties)
    return {"name": kind, "payload": {"type": "object", "properties": properties, "required": required}}
