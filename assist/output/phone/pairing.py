"""Who may look: a code shown once beside the camera, exchanged for a secret that a device keeps."""

from __future__ import annotations

import hmac
import secrets
import threading
from enum import Enum

ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
"""Digits and capitals without 0, 1, I and O, which are taken for one another."""
CODE_LENGTH = 8
"""32^8 codes: with MOST_ATTEMPTS guesses, one in 10^11 succeeds."""
MOST_ATTEMPTS = 10


class PairingOutcome(Enum):
    """What came of showing a code."""

    PAIRED = "paired"
    WRONG = "wrong"
    CLOSED = "closed"


class Pairing:
    """One code, good for `devices` devices, and the secrets of those that have paired.

    After MOST_ATTEMPTS wrong codes pairing closes for good: whoever guesses can keep a device out,
    but not get in. Safe to use from several threads.
    """

    def __init__(self, devices: int = 1) -> None:
        self.code = "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))
        self._left = devices
        self._wrong = 0
        self._secrets: list[bytes] = []
        self._lock = threading.Lock()

    @property
    def spaced_code(self) -> str:
        """The code in two halves, for reading and typing."""
        return f"{self.code[: CODE_LENGTH // 2]}-{self.code[CODE_LENGTH // 2 :]}"

    @property
    def open(self) -> bool:
        """Whether a device can still pair."""
        return self._left > 0 and self._wrong < MOST_ATTEMPTS

    def pair(self, code: str) -> tuple[PairingOutcome, str]:
        """Exchange a code for a new secret; "" with any other outcome than PAIRED."""
        tidy = "".join(c for c in code.upper() if c.isalnum())
        right = hmac.compare_digest(_bytes(tidy), self.code.encode())
        with self._lock:
            if not self.open:
                return PairingOutcome.CLOSED, ""
            if not right:
                self._wrong += 1
                return PairingOutcome.WRONG, ""
            self._left -= 1
            secret = secrets.token_urlsafe(32)
            self._secrets.append(secret.encode())
            return PairingOutcome.PAIRED, secret

    def knows(self, secret: str | None) -> bool:
        """Whether that is the secret of a paired device."""
        given = _bytes(secret or "")
        with self._lock:
            # Every one is compared, so that the time taken tells nothing.
            return sum(hmac.compare_digest(given, known) for known in self._secrets) > 0


def _bytes(given: str) -> bytes:
    """What a stranger sent; bytes that are no text come as half characters."""
    return given.encode("utf-8", "surrogatepass")
