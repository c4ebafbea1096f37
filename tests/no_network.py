"""Runs the command line in a process that cannot open an internet socket without being found out.

Twice guarded: Python's audit hook notes every socket event that is not of this machine's own kind;
and on Linux a filter in the kernel (seccomp) ends the process at the system call that would open an
internet socket, whichever native library makes it. Usage: no_network.py REPORT ARGUMENTS ...
"""

from __future__ import annotations

import ctypes
import json
import os
import platform
import struct
import sys
from pathlib import Path
from typing import Any

# seccomp(2), linux/filter.h, linux/seccomp.h and the tables of system calls; from memory, and the
# test that opens a socket on purpose shows that they are right on the machine at hand.
_ARCHITECTURES = {"x86_64": (0xC000003E, 41), "aarch64": (0xC00000B7, 198)}
_NO_NEW_PRIVILEGES, _SET_SECCOMP, _MODE_FILTER = 38, 22, 2
_LOAD, _IF_EQUAL, _RETURN = 0x20, 0x15, 0x06
_ALLOW, _KILL = 0x7FFF0000, 0x80000000
_AT_NUMBER, _AT_ARCHITECTURE, _AT_FIRST_ARGUMENT = 0, 4, 16
_INTERNET = (2, 10, 17)
"""AF_INET, AF_INET6, AF_PACKET. The families of this machine itself stay open."""


class _Program(ctypes.Structure):
    _fields_ = (("length", ctypes.c_ushort), ("filter", ctypes.c_void_p))


def forbid_sockets() -> bool:
    """From here on an internet socket ends this process; False where that is not to be had."""
    known = _ARCHITECTURES.get(platform.machine())
    if sys.platform != "linux" or known is None:
        return False
    architecture, socket_call = known
    rules = [
        (_LOAD, 0, 0, _AT_ARCHITECTURE),
        (_IF_EQUAL, 0, 2 + 1 + len(_INTERNET), architecture),
        (_LOAD, 0, 0, _AT_NUMBER),
        (_IF_EQUAL, 0, 1 + len(_INTERNET), socket_call),
        (_LOAD, 0, 0, _AT_FIRST_ARGUMENT),
        *((_IF_EQUAL, len(_INTERNET) - k, 0, family) for k, family in enumerate(_INTERNET)),
        (_RETURN, 0, 0, _ALLOW),
        (_RETURN, 0, 0, _KILL),
    ]
    code = b"".join(struct.pack("HBBI", *rule) for rule in rules)
    memory = ctypes.create_string_buffer(code)
    program = _Program(len(rules), ctypes.addressof(memory))
    libc = ctypes.CDLL(None, use_errno=True)
    zero = ctypes.c_ulong(0)
    if libc.prctl(_NO_NEW_PRIVILEGES, ctypes.c_ulong(1), zero, zero, zero) != 0:
        return False
    done = libc.prctl(_SET_SECCOMP, ctypes.c_ulong(_MODE_FILTER), ctypes.byref(program))
    return bool(done == 0)


def _listen(report: Path) -> None:
    """Note every network event that Python itself sees; the first is enough."""

    def heard(event: str, arguments: tuple[Any, ...]) -> None:
        if not event.startswith("socket."):
            return
        if event == "socket.__new__":
            family = int(arguments[1])
        else:
            family = getattr(arguments[0], "family", _INTERNET[0]) if arguments else _INTERNET[0]
        if family in _INTERNET and event != "socket.gethostname":
            with report.open("a") as file:
                file.write(json.dumps([event, repr(arguments)[:200]]) + "\n")

    sys.addaudithook(heard)


def main() -> None:
    """Guard this process and run the command line; "socket", "native": open one on purpose."""
    report = Path(sys.argv.pop(1))
    report.write_text("")
    _listen(report)
    kernel = forbid_sockets() if os.environ.get("SECCOMP", "1") == "1" else False
    report.with_suffix(".kernel").write_text("yes" if kernel else "no")
    if sys.argv[1:] == ["socket"]:
        import socket

        socket.socket(socket.AF_INET, socket.SOCK_DGRAM).close()
    elif sys.argv[1:] == ["native"]:
        ctypes.CDLL(None).socket(2, 2, 0)
    else:
        from assist.cli import main as command_line

        command_line()


if __name__ == "__main__":
    main()
