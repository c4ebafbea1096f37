"""This machine's own address in its network."""

from __future__ import annotations

import socket


def outward_address() -> str | None:
    """The IPv4 address from which this machine would reach others; None without a network.

    A datagram socket is only connected, which chooses the address and sends nothing.
    """
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # an address reserved for documentation (RFC 5737)
        except OSError:
            return None
        address = str(probe.getsockname()[0])
    return None if address == "0.0.0.0" else address
