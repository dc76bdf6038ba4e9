"""A request is whole with its last byte, however it was cut up; what is not one is handed on."""

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.arrivals import LARGEST_HEAD, Arrival, Progress

LIMIT = 1000
HEAD = b"POST /x HTTP/1.1\r\nHost: x\r\n"


def with_length(body: bytes) -> bytes:
    return HEAD + b"Content-Length: %d\r\n\r\n" % len(body) + body


def in_chunks(parts: list[bytes]) -> bytes:
    chunks = b"".join(b"%x;why=not\r\n%s\r\n" % (len(part), part) for part in parts if part)
    return HEAD + b"Transfer-Encoding: chunked\r\n\r\n" + chunks + b"0\r\n\r\n"


def fed(data: bytes, cuts: list[int]) -> Arrival:
    arrival = Arrival(LIMIT)
    edges = [0, *sorted(cut % (len(data) + 1) for cut in cuts), len(data)]
    for start, end in itertools.pairwise(edges):
        assert arrival.progress() is Progress.MORE, data[:start]
        arrival.add(data[start:end])
    return arrival


BODIES = st.one_of(
    st.binary(max_size=LIMIT).map(with_length), st.lists(st.binary(max_size=90), max_size=8).map(in_chunks)
)


@given(BODIES, st.lists(st.integers(0, 5000), max_size=6))
def test_a_request_is_whole_with_its_last_byte(request: bytes, cuts: list[int]) -> None:
    last = len(request) - 1
    arrival = fed(request[:last], cuts)
    assert arrival.progress() is Progress.MORE
    arrival.add(request[last:])
    assert arrival.progress() is Progress.WHOLE
    assert arrival.take() == request


@given(BODIES)
def test_what_comes_behind_belongs_to_the_next(request: bytes) -> None:
    arrival = Arrival(LIMIT, request + b"GET /")
    assert arrival.progress() is Progress.WHOLE
    assert arrival.take() == request + b"GET /", "the parser keeps what is left"


@given(st.binary(max_size=3000))
def test_nothing_that_is_sent_breaks_it(data: bytes) -> None:
    for head in (b"", HEAD + b"\r\n\r\n", HEAD + b"Transfer-Encoding: chunked\r\n\r\n"):
        assert isinstance(Arrival(LIMIT, head + data).progress(), Progress)


CHUNKED = HEAD + b"Transfer-Encoding: chunked\r\n\r\n"


@pytest.mark.parametrize(
    ("request_", "progress"),
    [
        (HEAD + b"Content-Length: 1001\r\n\r\n", Progress.LARGE),
        (CHUNKED + b"3e9\r\n", Progress.BODY_TOO_LONG),
        (CHUNKED + b"64\r\n" + b"x" * 100 + b"\r\n" + b"ffffffff\r\n", Progress.BODY_TOO_LONG),
        (CHUNKED + b"64\r\n" + (b"x" * 100 + b"\r\n64\r\n") * 10, Progress.BODY_TOO_LONG),
        (CHUNKED + b"no chunk\r\n", Progress.FAULTY),
        (CHUNKED + b"-5\r\n", Progress.FAULTY),
        (CHUNKED + b"1" * 2000, Progress.FAULTY),
        (b"GET /" + b"x" * LARGEST_HEAD, Progress.HEAD_TOO_LONG),
    ],
)
def test_what_is_too_large_or_no_request_is_not_waited_for(request_: bytes, progress: Progress) -> None:
    assert Arrival(LIMIT, request_).progress() is progress


def test_a_length_that_is_no_number_is_left_to_the_parser() -> None:
    assert Arrival(LIMIT, HEAD + b"Content-Length: ten\r\n\r\n").progress() is Progress.WHOLE


def test_a_client_that_waits_to_be_asked_is_known() -> None:
    arrival = Arrival(LIMIT, HEAD + b"Expect: 100-continue\r\nContent-Length: 5\r\n\r\n")
    assert arrival.progress() is Progress.MORE
    assert arrival.expects_continue
