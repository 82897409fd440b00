"""A desk for a test, and a client of it: plain HTTP and a small WebSocket (RFC 6455) by hand, so that a
test can send what no browser would. Standard library alone."""
import atexit
import base64
import hashlib
import http.client
import json
import os
import pathlib
import select
import shutil
import signal
import socket
import struct
import subprocess
import tempfile
import time
import urllib.parse

# What libraries lose is known, for programs under LeakSanitizer.
LEAKS = pathlib.Path(__file__).resolve().parents[1] / "fuzz/leaks.txt"
os.environ["LSAN_OPTIONS"] = f"suppressions={LEAKS}:print_suppressions=0"

PATIENCE = 5  # how many times longer than should be needed a test waits
GUID = "258EAFA5-E914-47DA-95CA-C5AB0DC85B11"  # RFC 6455 section 1.3


class Desk:
    """A running desk in a folder of its own. `options` follow the command; `program` is drawtrue."""

    def __init__(self, program, *options, rig=True, folder=None):
        self.root = pathlib.Path(tempfile.mkdtemp(prefix="drawtrue-desk-"))
        self.folder = pathlib.Path(folder) if folder else self.root / "start"
        self.folder.mkdir(exist_ok=True)
        self.program, self.options, self.rig = program, list(options), rig
        self.start()

    def start(self):
        command = [self.program, "desk", "--json", "--no-browser", "--folder", str(self.folder),
                   "--work", str(self.root / "work"), "--journal", str(self.root / "journal.db"),
                   *(["--rig"] if self.rig else []), *self.options]
        atexit.register(self.give_up)
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
                                        text=True, cwd=self.folder)
        line = self.process.stdout.readline()
        assert line, self.process.stderr.read()
        self.address = json.loads(line)["address"]
        url = urllib.parse.urlsplit(self.address)
        self.port, self.token = url.port, url.query.removeprefix("token=")
        self.host = f"127.0.0.1:{self.port}"
        self.cookie = None
        self.log_in()

    def log_in(self):
        status, headers, _ = self.ask("GET", f"/?token={self.token}", cookie=None)
        assert status == 303, status
        self.cookie = headers["set-cookie"].split(";")[0]

    def ask(self, method, path, body=None, cookie=..., headers=None, timeout=10):
        """Status, headers (lower case) and body. Without more it asks as the page would."""
        fields = {"Host": self.host}
        if cookie is ...:
            cookie = self.cookie
        if cookie:
            fields["Cookie"] = cookie
        if method == "POST":
            fields["Origin"] = f"http://{self.host}"
            fields["Content-Type"] = "application/json"
            fields["Sec-Fetch-Site"] = "same-origin"
        for name, value in (headers or {}).items():
            fields.pop(name, None)
            if value is not None:
                fields[name] = value
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=timeout)
        try:
            connection.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
            if body is not None and "Content-Length" not in fields:
                fields["Content-Length"] = str(len(body))
            for name, value in fields.items():
                connection.putheader(name, value)
            connection.endheaders(body)
            answer = connection.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read()
        finally:
            connection.close()

    def post(self, action, **values):
        status, _, body = self.ask("POST", f"/{action}", json.dumps(values).encode())
        return status, json.loads(body)

    def drop(self, name, data):
        status, _, body = self.ask("POST", "/file?name=" + urllib.parse.quote(name), data,
                                   headers={"Content-Type": "application/octet-stream"})
        return status, json.loads(body)

    def get(self, path):
        status, _, body = self.ask("GET", path)
        assert status == 200, (path, status, body)
        return json.loads(body)

    def page(self):
        return Page(self)

    def kill(self):
        self.process.kill()
        self.process.wait()

    def give_up(self):
        """What a test that failed has left."""
        if self.process.poll() is None:
            self.process.kill()
            self.process.wait()
        shutil.rmtree(self.root, ignore_errors=True)

    def close(self):
        """Ends it; its exit code."""
        if self.process.stdout.closed:
            return self.process.returncode
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
        try:
            code = self.process.wait(timeout=30)
        except subprocess.TimeoutExpired:
            self.process.kill()
            code = "does not end"
        self.errors = self.process.stderr.read()
        self.process.stdout.close()
        self.process.stderr.close()
        shutil.rmtree(self.root, ignore_errors=True)
        return code

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()


class Page:
    """A page's WebSocket: keeps the latest of each part that the desk tells."""

    def __init__(self, desk, headers=None, acknowledges=True, timeout=10, port=None):
        self.desk, self.acknowledges = desk, acknowledges
        self.parts, self.data = {}, b""
        self.socket = socket.create_connection(("127.0.0.1", port or desk.port), timeout=timeout)
        key = base64.b64encode(os.urandom(16)).decode()
        fields = {"Host": desk.host, "Upgrade": "websocket", "Connection": "Upgrade",
                  "Sec-WebSocket-Key": key, "Sec-WebSocket-Version": "13",
                  "Origin": f"http://{desk.host}", "Cookie": desk.cookie}
        for name, value in (headers or {}).items():
            fields.pop(name, None)
            if value is not None:
                fields[name] = value
        text = "GET /events HTTP/1.1\r\n" + "".join(f"{k}: {v}\r\n" for k, v in fields.items())
        self.socket.sendall(text.encode() + b"\r\n")
        while b"\r\n\r\n" not in self.data:
            more = self.socket.recv(65536)
            if not more:
                break
            self.data += more
        head, _, self.data = self.data.partition(b"\r\n\r\n")
        self.status = int(head.split()[1]) if head else 0
        if self.status == 101:
            accept = base64.b64encode(hashlib.sha1((key + GUID).encode()).digest())
            assert accept in head, head

    def send(self, data, opcode=1, masked=True, final=True):
        if isinstance(data, str):
            data = data.encode()
        head = bytes([(0x80 if final else 0) | opcode])
        bit = 0x80 if masked else 0
        if len(data) < 126:
            head += bytes([bit | len(data)])
        elif len(data) < 65536:
            head += bytes([bit | 126]) + struct.pack(">H", len(data))
        else:
            head += bytes([bit | 127]) + struct.pack(">Q", len(data))
        if masked:
            mask = os.urandom(4)
            data = mask + bytes(b ^ mask[i % 4] for i, b in enumerate(data))
        self.socket.sendall(head + data)

    def frame(self, timeout):
        """Opcode and payload of the next frame; None where none comes; (8, ..) where it is closed."""
        limit = time.monotonic() + timeout
        while True:
            d = self.data
            if len(d) >= 2:
                n, at = d[1] & 127, 2
                if n == 126 and len(d) >= 4:
                    n, at = struct.unpack(">H", d[2:4])[0], 4
                elif n == 127 and len(d) >= 10:
                    n, at = struct.unpack(">Q", d[2:10])[0], 10
                elif n >= 126:
                    n = 1 << 62
                if len(d) >= at + n:
                    self.data = d[at + n:]
                    return d[0] & 15, d[at:at + n]
            left = limit - time.monotonic()
            if left <= 0 or not select.select([self.socket], [], [], left)[0]:
                return None
            try:
                more = self.socket.recv(1 << 20)
            except OSError:
                more = b""
            if not more:
                return 8, b""
            self.data += more

    def update(self, timeout=10):
        """Takes one message; FALSE where none comes or the desk has hung up."""
        frame = self.frame(timeout)
        if frame is None or frame[0] == 8:
            return False
        if frame[0] == 1:
            message = json.loads(frame[1])
            self.parts.update(message)
            if self.acknowledges:
                try:
                    self.send(str(message["n"]))
                except OSError:
                    return False
        return True

    def wait(self, test, timeout=20, what="a state"):
        """`timeout` is for a machine with nothing else to do."""
        limit = time.monotonic() + PATIENCE * timeout
        while not self.parts or not test(self.parts):
            left = limit - time.monotonic()
            if left <= 0 or not self.update(left):
                raise AssertionError(f"waited in vain for {what}: {json.dumps(self.parts)[:3000]}")
        return self.parts

    def close(self):
        self.socket.close()
