"""From where somebody asks, as our own proxies saw it."""

from ipaddress import IPv6Address, IPv6Network, ip_address

# What one household or ward gets of IPv6: within it an address is changed at will.
PREFIX = 64
UNKNOWN = "0.0.0.0"  # noqa: S104 - stands for an address that nobody told


def client_address(*, passed: str, remote: str, proxies: int) -> str:
    """Return the address of whoever asks; behind our own proxies, what the outermost of them saw.

    `passed` is the header X-Forwarded-For, to which each proxy adds the address that it saw; what
    stands before our own proxies' words was written by whoever asks and counts for nothing. An
    address that cannot be read is `UNKNOWN`.
    """
    words = [word.strip() for word in passed.split(",")]
    if proxies and len(words) >= proxies and words[-proxies]:
        return _plain(words[-proxies])
    return _plain(remote.strip())


def neighbourhood(address: str) -> str:
    """Return what is counted as one place: an IPv4 address, or the network of an IPv6 address.

    Raises ValueError for what is no address.
    """
    read = ip_address(address)
    if isinstance(read, IPv6Address):
        return str(IPv6Network((read, PREFIX), strict=False))
    return str(read)


def _plain(word: str) -> str:
    if word.startswith("["):
        word = word[1:].partition("]")[0]
    elif word.count(":") == 1:
        word = word.partition(":")[0]
    try:
        read = ip_address(word)
    except ValueError:
        return UNKNOWN
    if isinstance(read, IPv6Address) and read.ipv4_mapped is not None:
        return str(read.ipv4_mapped)
    return str(read)
