"""Which requests are answered at all, and the headers of every answer."""

from __future__ import annotations

import ipaddress
from collections.abc import Mapping

HEADERS = {
    "Content-Security-Policy": "default-src 'none'; script-src 'self'; style-src 'self'; "
    "img-src 'self'; connect-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'none'",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Permissions-Policy": "camera=(), microphone=(), geolocation=(), screen-wake-lock=(self)",
    "Cache-Control": "no-store",
    "Server": "assist",
}


def own_hosts(address: str, port: int) -> frozenset[str]:
    """The Host headers that name a server listening there.

    A name that a foreign site makes point here (DNS rebinding) is none of them.
    """
    ip = ipaddress.ip_address(address)
    hosts = {f"[{ip}]:{port}" if ip.version == 6 else f"{ip}:{port}"}
    if ip.is_loopback:
        hosts.add(f"localhost:{port}")
    if port == 80:
        hosts |= {host.removesuffix(":80") for host in hosts}
    return frozenset(hosts)


def refusal(method: str, headers: Mapping[str, str], hosts: frozenset[str]) -> str | None:
    """Why a request is not answered, None if it is.

    Its Host must be this server, and it must not come from a page of any other origin. A link on
    another page may be followed here, as one may be typed: that page reads nothing of the answer.
    """
    host = headers.get("Host", "")
    if host.lower() not in hosts:
        return "open this page by the address that the assistant shows"
    origin = headers.get("Origin")
    if origin is None and method not in ("GET", "HEAD"):
        return "no origin"
    if origin is not None and origin.lower() != f"http://{host.lower()}":
        return "another origin"
    followed = (
        method == "GET"
        and headers.get("Sec-Fetch-Mode") == "navigate"
        and headers.get("Sec-Fetch-Dest") == "document"
    )
    if headers.get("Sec-Fetch-Site", "none") not in ("same-origin", "none") and not followed:
        return "another site"
    return None
