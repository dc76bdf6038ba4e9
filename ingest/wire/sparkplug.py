"""Sparkplug B: a protobuf payload as the tree that mappings read, with the names that a birth gave to its aliases.

The message's fields are those of the public schema `sparkplug_b.proto` of Eclipse Tahu; topics, births and sequence
numbers are as in the Sparkplug specification 3.0.0, chapters 4 to 6 (Eclipse Foundation).
"""

from __future__ import annotations

import math
from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from google.protobuf import descriptor_pb2, descriptor_pool, message_factory
from google.protobuf.message import DecodeError

from ingest.wire.reading import MOST_RECORDS, Refused

NAMESPACE = "spBv1.0"
NO_BIRTH = "no-birth"
MOST_NODES, MOST_ALIASES = 2000, 200_000
"""Nodes and names of metrics that are remembered; the node that was silent the longest is forgotten."""
SEQUENCES = 256
ASK_EVERY_S = 60.0
BIRTHS, DATA, DEATHS = ("NBIRTH", "DBIRTH"), ("NDATA", "DDATA"), ("NDEATH", "DDEATH")
_UINT32, _UINT64, _FLOAT, _DOUBLE, _BOOL, _STRING, _BYTES, _MESSAGE = 13, 4, 2, 1, 8, 9, 12, 11
_SIGNED = {1: 8, 2: 16, 3: 32, 4: 64}
"""Bits of the signed whole numbers by datatype: they travel as unsigned ones."""
_FIELDS = {
    "Payload": (
        ("timestamp", 1, _UINT64, ""),
        ("metrics", 2, _MESSAGE, "Metric"),
        ("seq", 3, _UINT64, ""),
    ),
    "Metric": (
        ("name", 1, _STRING, ""),
        ("alias", 2, _UINT64, ""),
        ("timestamp", 3, _UINT64, ""),
        ("datatype", 4, _UINT32, ""),
        ("is_historical", 5, _BOOL, ""),
        ("is_null", 7, _BOOL, ""),
        ("properties", 9, _MESSAGE, "PropertySet"),
        ("int_value", 10, _UINT32, ""),
        ("long_value", 11, _UINT64, ""),
        ("float_value", 12, _FLOAT, ""),
        ("double_value", 13, _DOUBLE, ""),
        ("boolean_value", 14, _BOOL, ""),
        ("string_value", 15, _STRING, ""),
    ),
    "PropertySet": (("keys", 1, _STRING, ""), ("values", 2, _MESSAGE, "PropertyValue")),
    "PropertyValue": (
        ("type", 1, _UINT32, ""),
        ("is_null", 2, _BOOL, ""),
        ("int_value", 3, _UINT32, ""),
        ("long_value", 4, _UINT64, ""),
        ("float_value", 5, _FLOAT, ""),
        ("double_value", 6, _DOUBLE, ""),
        ("boolean_value", 7, _BOOL, ""),
        ("string_value", 8, _STRING, ""),
    ),
}
_MANY = {("Payload", "metrics"), ("PropertySet", "keys"), ("PropertySet", "values")}
_VALUES = ("int_value", "long_value", "float_value", "double_value", "boolean_value", "string_value")


def _payload_class() -> Any:
    """Return the class of a payload; a field that is not named here, such as a data set, is skipped."""
    file = descriptor_pb2.FileDescriptorProto(
        name="heelmark/sparkplug.proto", package="heelmark.sparkplug", syntax="proto2"
    )
    for message, fields in _FIELDS.items():
        made = file.message_type.add(name=message)
        for name, number, kind, of in fields:
            label = 3 if (message, name) in _MANY else 1
            made.field.add(
                name=name,
                number=number,
                type=kind,
                label=label,
                type_name=f".{file.package}.{of}" if of else None,
            )
    pool = descriptor_pool.DescriptorPool()
    pool.Add(file)
    return message_factory.GetMessageClass(pool.FindMessageTypeByName(f"{file.package}.Payload"))


_Payload = _payload_class()


class Address(NamedTuple):
    """A topic `spBv1.0/group/type/node` or `spBv1.0/group/type/node/device`; the device is empty for a node's own."""

    group: str
    kind: str
    node: str
    device: str = ""

    @classmethod
    def of(cls, topic: str) -> Address | None:
        """Return what a topic addresses, or None if it is none of Sparkplug B's."""
        namespace, *rest = topic.split("/")
        return cls(*rest) if namespace == NAMESPACE and len(rest) in (3, 4) else None


@dataclass(slots=True)
class Node:
    """An edge node: its last sequence number, and for each alias the name, datatype and device it was born with."""

    sequence: int | None = None
    metrics: dict[int, tuple[str, int, str]] = field(default_factory=dict)


class Births:
    """What the births of edge nodes said, as long as no message has been missed since."""

    def __init__(self) -> None:
        self.nodes: OrderedDict[tuple[str, str], Node] = OrderedDict()

    def tree(self, address: Address, payload: bytes, *, is_new: bool = True) -> dict[str, Any]:
        """Return a message's tree, its metrics under their names.

        Parameters
        ----------
        address : Address
            Where it was published.
        payload : bytes
            The message.
        is_new : bool
            Whether it is heard for the first time; otherwise no alias is known, for births may have come since.

        Returns
        -------
        dict
            `group`, `type`, `node`, `device`, `timestamp` [ms], `seq` and `metrics`: each with `name`, `alias`,
            `timestamp` [ms], `value`, `datatype`, `is_historical` and `properties`.

        Raises
        ------
        Refused
            It cannot be decoded, or names a metric by an alias that no birth has told.
        """
        message = _decoded(payload)
        node = self._node(address, message) if is_new else Node()
        return _tree(address, message, node.metrics, must_know=True)

    def shown(self, address: Address, payload: bytes) -> dict[str, Any]:
        """Return a message's tree for showing, with the names that are known; raises Refused."""
        node = self.nodes.get((address.group, address.node), Node())
        return _tree(address, _decoded(payload), node.metrics, must_know=False)

    def note(self, address: Address, payload: bytes) -> None:
        """Take a birth, a death or a sequence number from a message that nobody reads; raises Refused."""
        self._node(address, _decoded(payload))

    def _node(self, address: Address, message: Any) -> Node:
        key = (address.group, address.node)
        node = self.nodes.setdefault(key, Node())
        self.nodes.move_to_end(key)
        if len(self.nodes) > MOST_NODES:
            self.nodes.popitem(last=False)
        if address.kind in ("NBIRTH", "NDEATH"):
            node.sequence, node.metrics = None, {}
        if address.kind not in (*BIRTHS, *DATA, "DDEATH"):
            return node
        if message.HasField("seq"):
            self._follow(node, int(message.seq))
        if address.kind == "DDEATH" or address.kind in BIRTHS:
            _forget(node, address.device)
        if address.kind in BIRTHS:
            born = (one for one in message.metrics if one.HasField("alias") and one.name)
            node.metrics |= {one.alias: (one.name, one.datatype, address.device) for one in born}
            self._bound()
        return node

    @staticmethod
    def _follow(node: Node, sequence: int) -> None:
        """Forget all aliases where a message is missing: it may have been a birth that gave them to others."""
        if node.sequence is not None and sequence not in (node.sequence, (node.sequence + 1) % SEQUENCES):
            node.metrics = {}
        node.sequence = sequence

    def _bound(self) -> None:
        while len(self.nodes) > 1 and sum(len(one.metrics) for one in self.nodes.values()) > MOST_ALIASES:
            self.nodes.popitem(last=False)


class BirthRequests:
    """Commands by which edge nodes are asked for their births, each node once in `ASK_EVERY_S` at most."""

    def __init__(self) -> None:
        self._asked_s: dict[str, float] = {}

    def due(self, topic: str, now_s: float) -> tuple[str, bytes] | None:
        """Return topic and payload of the command to a message's node, or None; `now_s` is any steady time, [s]."""
        address = Address.of(topic)
        if address is None:
            return None
        command = f"{NAMESPACE}/{address.group}/NCMD/{address.node}"
        if now_s - self._asked_s.get(command, -math.inf) < ASK_EVERY_S:
            return None
        if len(self._asked_s) >= MOST_NODES:
            self._asked_s.clear()
        self._asked_s[command] = now_s
        message = _Payload()
        message.metrics.add(name="Node Control/Rebirth", datatype=11, boolean_value=True)
        return command, message.SerializeToString()


def _decoded(payload: bytes) -> Any:
    try:
        message = _Payload.FromString(payload)
    except DecodeError as error:
        raise Refused("not-sparkplug", f"no payload of Sparkplug B: {error}"[:200]) from error
    if len(message.metrics) > MOST_RECORDS:
        raise Refused("not-sparkplug", f"{len(message.metrics)} metrics, expected at most {MOST_RECORDS}")
    return message


def _forget(node: Node, device: str) -> None:
    node.metrics = {alias: one for alias, one in node.metrics.items() if one[2] != device}


def _tree(
    address: Address, message: Any, known: dict[int, tuple[str, int, str]], *, must_know: bool
) -> dict[str, Any]:
    stamp = int(message.timestamp) if message.HasField("timestamp") else None
    return {
        "group": address.group,
        "type": address.kind,
        "node": address.node,
        "device": address.device or None,
        "timestamp": stamp,
        "seq": int(message.seq) if message.HasField("seq") else None,
        "metrics": [_metric(address, one, known, stamp, must_know) for one in message.metrics],
    }


def _metric(
    address: Address, one: Any, known: dict[int, tuple[str, int, str]], stamp: int | None, must_know: bool
) -> dict[str, Any]:
    name, datatype = one.name, one.datatype
    born = known.get(one.alias) if not name else None
    if born is not None and born[2] == address.device:
        name, datatype = born[0], datatype or born[1]
    elif not name and must_know:
        raise Refused(
            NO_BIRTH,
            f"no birth yet: metric with alias {one.alias} of {address.group}/{address.node}, expected the name that"
            " a birth gives it; since it, no message may be missing",
        )
    return {
        "name": name or None,
        "alias": int(one.alias) if one.HasField("alias") else None,
        "timestamp": int(one.timestamp) if one.HasField("timestamp") else stamp,
        "datatype": datatype,
        "is_historical": bool(one.is_historical),
        "value": _value(one, datatype),
        "properties": {
            key: _value(value, value.type)
            for key, value in zip(one.properties.keys, one.properties.values, strict=False)
        },
    }


def _value(one: Any, datatype: int) -> int | float | bool | str | None:
    """Return a value; none where it is null or of a kind that no mapping reads."""
    if one.is_null:
        return None
    for name in _VALUES:
        if one.HasField(name):
            value: int | float | bool | str = getattr(one, name)
            bits = _SIGNED.get(datatype)
            if bits and type(value) is int and value >= 1 << (bits - 1):
                # Of fewer than 32 bits some encoders extend the sign to 32.
                return value - (1 << (32 if bits < 64 and value >> bits else bits))
            return value
    return None
