"""No target inside the operator's own network, whatever it is called."""

from ipaddress import ip_address

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.outbound.addresses import AddressPolicy, ForbiddenTarget, is_public

STRICT = AddressPolicy()
NAMED = AddressPolicy(frozenset({"fleet.internal", "127.0.0.1"}))


@pytest.mark.parametrize(
    "text",
    [
        "127.0.0.1", "127.255.0.9", "0.0.0.0", "10.1.2.3", "172.16.0.1", "192.168.1.1", "169.254.169.254",
        "100.64.0.1", "192.0.2.1", "198.18.0.1", "224.0.0.1", "255.255.255.255", "240.0.0.1",
        "::", "::1", "fe80::1", "fc00::1", "fd00:ec2::254", "ff02::1", "fec0::1", "2001:db8::1",
        "::ffff:127.0.0.1", "::ffff:10.0.0.1", "64:ff9b::7f00:1", "64:ff9b:1::1",
        "2002:7f00:1::1", "2002:a00:1::", "192.0.0.1", "192.0.0.8", "192.0.0.192", "192.0.0.255", "192.88.99.1",
        "203.0.113.9", "198.51.100.1", "100::1", "100:0:0:1::1", "2001:2::1", "2001:10::1", "2001:1ff::1",
        "3fff::1", "3fff:fff::1", "5f00::1", "4000::1", "200::1", "1::1", "::ffff:192.0.0.8", "64:ff9b::c000:8",
    ],
)  # fmt: skip
def test_addresses_that_are_not_public(text: str) -> None:
    """Registries: IANA special-purpose addresses (RFC 6890) as `ipaddress` has them, and wrapped forms."""
    assert not is_public(ip_address(text))


@pytest.mark.parametrize(
    "text",
    [
        "8.8.8.8",
        "1.1.1.1",
        "192.0.1.1",
        "2606:4700::1111",
        "2a00::1",
        "3ffe::1",
        "::ffff:8.8.8.8",
        "64:ff9b::808:808",
    ],
)
def test_public_addresses(text: str) -> None:
    assert is_public(ip_address(text))


@given(st.ip_addresses(v=4))
def test_an_ipv4_address_is_judged_alike_when_wrapped(address: object) -> None:
    assert is_public(ip_address(f"::ffff:{address}")) == is_public(ip_address(str(address)))


@pytest.mark.parametrize(
    "url",
    [
        "http://hooks.example/", "ftp://hooks.example/", "//hooks.example/", "hooks.example", "", "https://",
        "https://user@hooks.example/", "https://u:p@hooks.example/", "https://hooks.example/#part",
        "https://hooks.example:0/", "https://hooks.example:99999/", "https://hooks.example/a b",
        "https://hooks.example\\@127.0.0.1/", "https://bücher.example/", "https://[::1/", "https://a\n.example/",
    ],
)  # fmt: skip
def test_unacceptable_urls(url: str) -> None:
    with pytest.raises(ForbiddenTarget):
        STRICT.parse(url)


def test_one_private_address_among_public_ones_is_enough_to_refuse() -> None:
    with pytest.raises(ForbiddenTarget, match=r"10\.0\.0\.5"):
        STRICT.target("https://hooks.example/", lambda host, port: ["8.8.8.8", "10.0.0.5"])


def test_the_checked_address_is_the_pinned_one_and_the_name_is_asked_once() -> None:
    answers = iter([["8.8.8.8"], ["127.0.0.1"]])
    target = STRICT.target("https://rebinding.example/x", lambda host, port: next(answers))
    assert (target.host, target.port, target.address) == ("rebinding.example", 443, "8.8.8.8")
    assert next(answers) == ["127.0.0.1"]


def test_a_named_host_may_be_private_and_plain_http() -> None:
    target = NAMED.target("http://fleet.internal:8080/in", lambda host, port: ["10.0.0.5"])
    assert (target.address, target.port) == ("10.0.0.5", 8080)
    with pytest.raises(ForbiddenTarget):
        NAMED.target("https://other.internal/", lambda host, port: ["10.0.0.5"])


@pytest.mark.parametrize("host", ["2130706433", "0x7f.1", "0177.0.0.1", "127.1"])
def test_odd_spellings_of_loopback_are_caught_after_resolution(host: str) -> None:
    with pytest.raises(ForbiddenTarget, match="not a public address"):
        STRICT.target(f"https://{host}/")


def test_a_name_without_an_address_is_refused() -> None:
    with pytest.raises(ForbiddenTarget, match="no address"):
        STRICT.target("https://hooks.example/", lambda host, port: [])
