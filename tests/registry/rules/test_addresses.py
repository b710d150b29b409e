"""From where somebody asks, as our own proxies saw it."""

import pytest

from registry.rules.addresses import UNKNOWN, client_address, neighbourhood


@pytest.mark.parametrize(
    ("passed", "remote", "proxies", "address"),
    [
        ("", "192.0.2.1", 0, "192.0.2.1"),
        # Without a proxy of ours the header is what anybody likes to write.
        ("203.0.113.9", "192.0.2.1", 0, "192.0.2.1"),
        ("203.0.113.9", "10.0.0.1", 1, "203.0.113.9"),
        ("6.6.6.6, 203.0.113.9", "10.0.0.1", 1, "203.0.113.9"),
        ("6.6.6.6, 203.0.113.9, 10.0.0.2", "10.0.0.1", 2, "203.0.113.9"),
        # Fewer words than proxies: one was gone around, so what it would have said is not there.
        ("", "10.0.0.1", 1, "10.0.0.1"),
        ("203.0.113.9:4711", "10.0.0.1", 1, "203.0.113.9"),
        ("[2001:db8::1]:4711", "10.0.0.1", 1, "2001:db8::1"),
        ("2001:DB8:0::1", "10.0.0.1", 1, "2001:db8::1"),
        ("::ffff:192.0.2.7", "10.0.0.1", 1, "192.0.2.7"),
        ("unknown", "10.0.0.1", 1, UNKNOWN),
        ("", "", 0, UNKNOWN),
    ],
)
def test_the_address_is_what_the_outermost_own_proxy_saw(
    passed: str, remote: str, proxies: int, address: str
) -> None:
    assert client_address(passed=passed, remote=remote, proxies=proxies) == address


def test_a_household_of_the_newer_protocol_is_one_place() -> None:
    assert neighbourhood("2001:db8:1:2:aaaa::1") == neighbourhood("2001:db8:1:2:bbbb::9")
    assert neighbourhood("2001:db8:1:2::1") != neighbourhood("2001:db8:1:3::1")
    assert neighbourhood("192.0.2.1") == "192.0.2.1"
    with pytest.raises(ValueError, match="address"):
        neighbourhood("nowhere")
