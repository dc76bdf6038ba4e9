"""What could not be read is told a line a source and reason, and nobody can fill the memory with it."""

from ingest.sessions.misunderstood import MOST_LINES, MisunderstoodLines

AT_S = 1.7e9


def test_messages_of_one_source_and_reason_are_one_line() -> None:
    lines = MisunderstoodLines()
    lines.note("shop", "probe-1", "unit", "in psi", b'[{"n":"gauge-pressure","u":"psi"}]', AT_S)
    lines.note("shop", "probe-1", "unit", "in bar", b"[2]", AT_S + 5)
    lines.note("shop", "probe-1", "not-json", "no", b"\x00\xff", AT_S + 6)
    last, first = lines.take(10)
    assert (first["count"], first["detail"], first["example"]) == (2, "in bar", "[2]")
    assert (first["first_seen"], first["last_seen"]) == (
        "2023-11-14T22:13:20.000Z",
        "2023-11-14T22:13:25.000Z",
    )
    assert last["example"] == " �"
    assert not lines and lines.take(10) == []


def test_only_as_many_as_asked_for_are_told_at_once() -> None:
    lines = MisunderstoodLines()
    for number in range(5):
        lines.note("shop", f"probe-{number}", "unit", "", b"", AT_S)
    assert [one["source"] for one in lines.take(2)] == ["probe-4", "probe-3"]
    assert len(lines.take(10)) == 3


def test_made_up_names_do_not_fill_the_memory() -> None:
    lines = MisunderstoodLines()
    for number in range(MOST_LINES + 50):
        lines.note("shop", f"probe-{number}", "unit", "x" * 10_000, b"y" * 10_000, AT_S)
    told = lines.take(10_000)
    assert len(told) == MOST_LINES
    assert told[-1]["source"] == "probe-50"
    assert max(len(one["detail"]) for one in told) == 300 and max(len(one["example"]) for one in told) == 400


def test_unknown_names_are_named_once_each() -> None:
    lines = MisunderstoodLines()
    lines.note_unknown("shop", "probe-1", ["probe-1:pressure", "probe-1:pressure"], b"[]", AT_S, partly=True)
    (line,) = lines.take(1)
    assert line["reason"] == "unknown-name" and line["partly"]
    assert line["detail"].count("probe-1:pressure") == 1
