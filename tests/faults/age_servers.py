"""Senders on this machine whose pictures tell when they were taken, and links that are in the way.

A picture carries its time as a row of black and white bars, so that whoever gets it knows its true
age. `motion_jpeg` sends over HTTP, `rtsp` as RTP over the RTSP connection (RFC 2326 and 2435, from
memory); `SlowLink` stands between a sender and its reader.
"""

from __future__ import annotations

import contextlib
import http.server
import re
import socket
import socketserver
import struct
import threading
import time

import cv2
import numpy as np

SIZE_PX = (640, 360)
RATE_HZ = 25.0
_BITS = 24
_BARS = slice(40, 100)


def stamped(time_s, chance, noise=120):
    """A picture taken at that time by `time.monotonic`, with noise that makes its file large."""
    width, height = SIZE_PX
    picture = chance.integers(0, noise, (height, width, 3), np.uint8)
    count = round(time_s * 1000) % (1 << _BITS)
    across = width // _BITS
    for bit in range(_BITS):
        picture[_BARS, bit * across : (bit + 1) * across] = 250 if count >> bit & 1 else 5
    return picture


def true_age_s(picture, now_s):
    """How old a picture is."""
    across = SIZE_PX[0] // _BITS
    row = picture[_BARS.start + 10 : _BARS.stop - 10].mean(axis=(0, 2))
    count = sum(1 << bit for bit in range(_BITS) if row[bit * across + across // 2] > 127)
    return ((round(now_s * 1000) - count) % (1 << _BITS)) / 1000


class Pictures:
    """A sensor at work: (time, JPEG) of the newest picture, on a thread of its own.

    noise: more of it makes a larger file: 120 about 100 kB.   late_s: how much later than taken a
    picture is given out, as by an encoder that looks ahead.
    """

    def __init__(self, noise=40, late_s=0.0, quality=80):
        self._noise, self._late_s, self._quality = noise, late_s, quality
        self._changed = threading.Condition()
        self._made = []
        self._over = False
        self._thread = threading.Thread(target=self._run, daemon=True)

    def _run(self):
        chance = np.random.default_rng(5)
        due_s = time.monotonic()
        while not self._over:
            taken_s = time.monotonic()
            picture = stamped(taken_s, chance, self._noise)
            jpeg = cv2.imencode(".jpg", picture, [cv2.IMWRITE_JPEG_QUALITY, self._quality])[1]
            with self._changed:
                self._made.append((taken_s, jpeg.tobytes()))
                del self._made[:-200]
                self._changed.notify_all()
            due_s += 1 / RATE_HZ
            time.sleep(max(0.0, due_s - time.monotonic()))

    def after(self, taken_s):
        """The newest picture that was taken after that time and is given out by now; waits."""
        while not self._over:
            with self._changed:
                ready = [
                    one
                    for one in self._made
                    if one[0] > taken_s and one[0] <= time.monotonic() - self._late_s
                ]
                if ready:
                    return ready[-1]
                self._changed.wait(0.005 if self._late_s else 0.1)
        raise OSError("over")

    def since(self, taken_s):
        """All pictures that were taken after that time."""
        with self._changed:
            return [one for one in self._made if one[0] > taken_s]

    def __enter__(self):
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._over = True
        self._thread.join()


class _Server(socketserver.ThreadingTCPServer):
    allow_reuse_address = True
    daemon_threads = True
    block_on_close = False


@contextlib.contextmanager
def _serving(handler, **attributes):
    server = _Server(("127.0.0.1", 0), type("Handler", (handler,), attributes))
    thread = threading.Thread(target=server.serve_forever, args=(0.05,), daemon=True)
    thread.start()
    try:
        yield server.server_address[1]
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


class _MotionJpegHandler(http.server.BaseHTTPRequestHandler):
    pictures = None
    times = False
    put_by_s = 0.0

    def do_GET(self):
        self.send_response(200)
        self.send_header("Content-Type", "multipart/x-mixed-replace; boundary=next")
        self.end_headers()
        last_s = time.monotonic()
        with contextlib.suppress(OSError):
            for taken_s, jpeg in self.pictures.since(last_s - self.put_by_s):
                self._send(taken_s, jpeg)
                last_s = taken_s
            while True:
                last_s, jpeg = self.pictures.after(last_s)
                self._send(last_s, jpeg)

    def _send(self, taken_s, jpeg):
        head = f"--next\r\nContent-Type: image/jpeg\r\nContent-Length: {len(jpeg)}\r\n"
        if self.times:
            head += f"X-Timestamp: {taken_s + 1.7e9:.6f}\r\n"
        self.wfile.write(head.encode() + b"\r\n" + jpeg + b"\r\n")

    def log_message(self, *_):
        pass


def motion_jpeg(pictures, *, times=False, put_by_s=0.0):
    """A sender of motion JPEG over HTTP; its port.

    times: whether it puts the time into each picture's header.   put_by_s: how much of the past it
    sends first.
    """
    return _serving(_MotionJpegHandler, pictures=pictures, times=times, put_by_s=put_by_s)


class _RtspHandler(socketserver.StreamRequestHandler):
    pictures = None
    put_by_s = 0.0

    def handle(self):
        with contextlib.suppress(OSError, ValueError):
            while request := self._request():
                method, sequence, over_tcp = request
                if method == "SETUP" and not over_tcp:
                    self._write("461 Unsupported Transport", sequence)
                    continue
                self._answer(method, sequence)
                if method == "PLAY":
                    self._play()

    def _request(self):
        lines = []
        while (line := self.rfile.readline().decode().strip()) or not lines:
            if not line:
                return None
            lines.append(line)
        sequence = next(re.search(r"\d+", x)[0] for x in lines if x.lower().startswith("cseq"))
        return lines[0].split()[0], sequence, any("/TCP" in line for line in lines)

    def _answer(self, method, sequence):
        body, more = "", ""
        if method == "OPTIONS":
            more = "Public: OPTIONS, DESCRIBE, SETUP, PLAY, TEARDOWN\r\n"
        elif method == "DESCRIBE":
            body = (
                "v=0\r\no=- 0 0 IN IP4 127.0.0.1\r\ns=-\r\nc=IN IP4 0.0.0.0\r\nt=0 0\r\n"
                "m=video 0 RTP/AVP 26\r\na=rtpmap:26 JPEG/90000\r\na=control:track1\r\n"
                f"a=framerate:{RATE_HZ:g}\r\n"
            )
            more = f"Content-Type: application/sdp\r\nContent-Length: {len(body)}\r\n"
        elif method == "SETUP":
            more = "Session: 1\r\nTransport: RTP/AVP/TCP;unicast;interleaved=0-1\r\n"
        elif method == "PLAY":
            more = "Session: 1\r\n"
        self._write("200 OK", sequence, more, body)

    def _write(self, status, sequence, more="", body=""):
        self.wfile.write(f"RTSP/1.0 {status}\r\nCSeq: {sequence}\r\n{more}\r\n{body}".encode())

    def _play(self):
        self._number = 0
        last_s = time.monotonic()
        for taken_s, jpeg in self.pictures.since(last_s - self.put_by_s):
            self._send(taken_s, jpeg)
            last_s = taken_s
        while True:
            last_s, jpeg = self.pictures.after(last_s)
            self._send(last_s, jpeg)

    def _send(self, taken_s, jpeg):
        tables, scan, width, height = _taken_apart(jpeg)
        stamp = round(taken_s * 90000) & 0xFFFFFFFF
        at = 0
        while at < len(scan):
            head = struct.pack(">I", at) + bytes([1, 255, width // 8, height // 8])
            if at == 0:
                head += struct.pack(">BBH", 0, 0, len(tables)) + tables
            piece = scan[at : at + 1400]
            at += len(piece)
            marker = 0x80 if at >= len(scan) else 0
            packet = struct.pack(">BBHII", 0x80, 26 | marker, self._number & 0xFFFF, stamp, 7)
            packet += head + piece
            self.wfile.write(b"$\0" + struct.pack(">H", len(packet)) + packet)
            self._number += 1


def _taken_apart(jpeg):
    """Quantization tables, the coded scan, and the size, of a JPEG as OpenCV writes it."""
    tables, at = b"", 2
    width = height = 0
    while True:
        marker, length = jpeg[at + 1], int.from_bytes(jpeg[at + 2 : at + 4], "big")
        segment = jpeg[at + 4 : at + 2 + length]
        at += 2 + length
        if marker == 0xDB:
            while segment:
                tables, segment = tables + segment[1:65], segment[65:]
        elif marker == 0xC0:
            height, width = struct.unpack(">HH", segment[1:5])
        elif marker == 0xDA:
            return tables, jpeg[at:-2], width, height


def rtsp(pictures, *, put_by_s=0.0):
    """A sender of motion JPEG as RTP over its RTSP connection; its port."""
    return _serving(_RtspHandler, pictures=pictures, put_by_s=put_by_s)


class SlowLink:
    """Stands between a reader and a sender, brings so many bytes a second, and keeps the rest.

    keeps: how many bytes may wait in it.   `stalled`: set it for nothing to come through; what was
    kept then comes all at once.
    """

    def __init__(self, port, bytes_s=None, keeps=6_000_000):
        self._port, self._bytes_s, self._keeps = port, bytes_s, keeps
        self.stalled = threading.Event()
        self._over = threading.Event()
        self._listening = socket.create_server(("127.0.0.1", 0))
        self.port = self._listening.getsockname()[1]

    def __enter__(self):
        threading.Thread(target=self._accept, daemon=True).start()
        return self

    def __exit__(self, *_):
        self._over.set()
        self._listening.close()

    def _accept(self):
        with contextlib.suppress(OSError):
            while True:
                reader, _ = self._listening.accept()
                sender = socket.create_connection(("127.0.0.1", self._port))
                waiting, changed = bytearray(), threading.Condition()
                for run, *given in (
                    (self._ask, reader, sender),
                    (self._take, sender, waiting, changed),
                    (self._bring, reader, sender, waiting, changed),
                ):
                    threading.Thread(target=run, args=given, daemon=True).start()

    @staticmethod
    def _ask(reader, sender):
        with contextlib.suppress(OSError):
            while more := reader.recv(65536):
                sender.sendall(more)
            sender.shutdown(socket.SHUT_RDWR)

    def _take(self, sender, waiting, changed):
        with contextlib.suppress(OSError):
            while more := sender.recv(65536):
                with changed:
                    while len(waiting) >= self._keeps and not self._over.is_set():
                        changed.wait(0.1)
                    waiting += more

    def _bring(self, reader, sender, waiting, changed):
        """Packets of 1448 bytes, as a network has them, some together as a radio sends them."""
        free_s = time.monotonic()
        with contextlib.suppress(OSError):
            while not self._over.is_set():
                with changed:
                    most = 10 * 1448 if self._bytes_s else 65536
                    piece = b"" if self.stalled.is_set() else bytes(waiting[:most])
                    del waiting[: len(piece)]
                    changed.notify_all()
                if not piece:
                    time.sleep(0.002)
                    continue
                reader.sendall(piece)
                if self._bytes_s:
                    free_s = max(free_s, time.monotonic() - 0.005) + len(piece) / self._bytes_s
                    time.sleep(max(0.0, free_s - time.monotonic()))
        with contextlib.suppress(OSError):
            sender.shutdown(socket.SHUT_RDWR)
        reader.close()
