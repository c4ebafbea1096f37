"""Whether an H.264 stream's pictures are sent in another order than they were taken.

An encoder that does so waits for later pictures before it codes one, and one that waits for two or
three commonly looks ahead over a second and more. Encoders made for watching live do not. The
stream's sequence parameter set tells (ITU-T H.264, 7.3.2.1.1 and E.1.1; from memory, and held
against an encoder's streams).
"""

from __future__ import annotations

from dataclasses import dataclass

_SET = 7
_HIGH = (100, 110, 122, 244, 44, 83, 86, 118, 128, 138, 139, 134, 135)
_MOST_ZEROS = 31
_EXTENDED_SAR = 255


@dataclass
class _Bits:
    data: bytes
    at: int = 0

    def take(self, count: int) -> int:
        """The next bits as a number; ValueError at the end."""
        value = 0
        for _n in range(count):
            byte, bit = divmod(self.at, 8)
            if byte >= len(self.data):
                raise ValueError("too short")
            value = value << 1 | self.data[byte] >> (7 - bit) & 1
            self.at += 1
        return value

    def number(self) -> int:
        """The next number of the variable-length kind (Exp-Golomb)."""
        zeros = 0
        while self.take(1) == 0:
            zeros += 1
            if zeros > _MOST_ZEROS:
                raise ValueError("no number")
        return (1 << zeros) - 1 + self.take(zeros)

    def signed(self) -> int:
        """The next of the signed kind."""
        code = self.number()
        return (code + 1) // 2 if code % 2 else -(code // 2)


def held_back(configuration: bytes) -> int | None:
    """How many pictures are held back to be put in order; None where the stream does not say.

    configuration: the decoder's configuration as the stream brings it, in either of its forms.
    """
    for unit in _units(configuration):
        if unit and unit[0] & 31 == _SET:
            try:
                return _of_set(_Bits(unit[1:].replace(b"\x00\x00\x03", b"\x00\x00")))
            except ValueError:
                return None
    return None


def _units(configuration: bytes) -> list[bytes]:
    if configuration[:1] == b"\x01":  # as in files: counted, each with its length before it
        length = int.from_bytes(configuration[6:8], "big")
        return [configuration[8 : 8 + length]]
    return [unit for unit in configuration.split(b"\x00\x00\x01") if unit]


def _of_set(bits: _Bits) -> int | None:
    profile = bits.take(8)
    bits.take(16)
    bits.number()
    if profile in _HIGH:
        _skip_colours(bits)
    bits.number()
    order = bits.number()
    if order == 0:
        bits.number()
    elif order == 1:
        bits.take(1)
        bits.signed()
        bits.signed()
        for _n in range(min(bits.number(), 255)):
            bits.signed()
    bits.number()
    bits.take(1)
    bits.number()
    bits.number()
    if bits.take(1) == 0:
        bits.take(1)
    bits.take(1)
    if bits.take(1):
        for _n in range(4):
            bits.number()
    if order == 2:  # the order of sending, by definition
        return 0
    return _of_usability(bits) if bits.take(1) else None


def _skip_colours(bits: _Bits) -> None:
    if bits.number() == 3:
        bits.take(1)
        lists = 12
    else:
        lists = 8
    bits.number()
    bits.number()
    bits.take(1)
    if not bits.take(1):
        return
    for which in range(lists):
        if bits.take(1):
            last = following = 8
            for _n in range(16 if which < 6 else 64):
                if following:
                    following = (last + bits.signed()) % 256
                last = following or last


def _of_usability(bits: _Bits) -> int | None:
    if bits.take(1) and bits.take(8) == _EXTENDED_SAR:
        bits.take(32)
    if bits.take(1):
        bits.take(1)
    if bits.take(1):
        bits.take(4)
        if bits.take(1):
            bits.take(24)
    if bits.take(1):
        bits.number()
        bits.number()
    if bits.take(1):
        bits.take(65)
    buffers = 0
    for _n in range(2):
        if bits.take(1):
            buffers += 1
            _skip_buffering(bits)
    if buffers:
        bits.take(1)
    bits.take(1)
    if not bits.take(1):
        return None
    bits.take(1)
    for _n in range(4):
        bits.number()
    return bits.number()


def _skip_buffering(bits: _Bits) -> None:
    count = bits.number() + 1
    bits.take(8)
    for _n in range(min(count, 32)):
        bits.number()
        bits.number()
        bits.take(1)
    bits.take(20)
