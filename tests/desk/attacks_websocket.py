"""Attacks by WebSocket (RFC 6455), which test-attacks.py runs with its own."""
import pathlib
import time

from attacks import case, each, memory, raw, snapshot
from desk import Page


@each("a page that does not keep to the protocol is closed", [
    ("no number", lambda p: p.send("go-on")), ("JSON", lambda p: p.send('{"request":"go-on"}')), ("binary", lambda p: p.send(b"1", opcode=2)),
    ("too long", lambda p: p.send("1" * 5000)), ("a number from the future", lambda p: p.send("4000000000")), ("negative", lambda p: p.send("-1")),
    ("not masked (5.1)", lambda p: p.send("1", masked=False)), ("a reserved opcode (5.2)", lambda p: p.send("1", opcode=11)),
    ("no UTF-8 (8.1)", lambda p: p.send(b"\xff\xfe")), ("a fragmented ping (5.5)", lambda p: p.send(b"x", opcode=9, final=False)),
    ("a huge length", lambda p: p.socket.sendall(b"\x81\xff\x7f\xff\xff\xff\xff\xff\xff\xff\x00\x00\x00\x00")),
    ("a flood", lambda p: [p.send("0") for _ in range(2000)])])
def websocket(d, attack):
    page = Page(d, acknowledges=False, timeout=3)
    assert page.status == 101
    try:
        attack(page)
    except OSError:
        pass
    limit = time.monotonic() + 4
    while (frame := page.frame(max(0.01, limit - time.monotonic()))) is not None and frame[0] != 8:
        pass
    page.close()
    assert frame is not None, "it was not closed"


def close_code(page):
    """Of the close frame that comes (7.4); None where the connection just ends."""
    limit = time.monotonic() + 4
    while (frame := page.frame(max(0.01, limit - time.monotonic()))) is not None and frame[0] != 8:
        pass
    assert frame is not None, "it was not closed"
    return int.from_bytes(frame[1][:2], "big") if len(frame[1]) >= 2 else None


@case
def the_handshake_that_rfc_6455_works_out_is_answered_as_it_says(d):
    """Section 1.3: the key "dGhlIHNhbXBsZSBub25jZQ==" is answered by "s3pPLMBiTxaQ9kYGzzhZRbK+xOo="."""
    head = raw(d, f"GET /events HTTP/1.1\r\nHost: {d.host}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"
               f"Origin: http://{d.host}\r\nSec-WebSocket-Version: 13\r\nCookie: {d.cookie}\r\n\r\n", until=b"\r\n\r\n")
    fields = {k.strip().lower(): v.strip() for k, _, v in (line.partition(b":") for line in head.split(b"\r\n")[1:])}
    assert head.startswith(b"HTTP/1.1 101 "), head
    assert fields[b"sec-websocket-accept"] == b"s3pPLMBiTxaQ9kYGzzhZRbK+xOo=", head
    assert fields[b"upgrade"].lower() == b"websocket" and fields[b"connection"].lower() == b"upgrade", head


# The examples of RFC 6455 5.7, byte by byte, and what each must lead to; a page may send nothing but numbers,
# so that whole frames that say "Hello" are understood and end with 1008 (7.4.1), those that break the
# protocol with 1002.
@each("a frame of RFC 6455 5.7 is answered as it must be", [
    ("a single-frame masked text message", (bytes.fromhex("818537fa213d7f9f4d5158"), 1008)),
    ("a single-frame unmasked text message (5.1: a server closes)", (bytes.fromhex("810548656c6c6f"), 1002)),
    ("a fragmented masked text message", (bytes.fromhex("018337fa213d7f9f4d" "808237fa213d5b95"), 1008)),
    ("an unmasked ping", (bytes.fromhex("890548656c6c6f"), 1002)),
    ("256 bytes of binary in a masked frame", (bytes.fromhex("82fe010000000000") + bytes(256), 1009)),
    ("64 KiB of binary in a masked frame", (bytes.fromhex("82ff000000000001000000000000") + bytes(65536), 1009))])
def worked_frame(d, value):
    data, code = value
    page = Page(d, acknowledges=False, timeout=3)
    try:
        page.socket.sendall(data)
    except OSError:
        pass
    found = close_code(page)
    page.close()
    assert found == code or (found is None and code == 1009), (found, code)


@case
def the_masked_ping_of_rfc_6455_5_7_is_answered_by_its_pong(d):
    page = Page(d, timeout=3)
    page.socket.sendall(bytes.fromhex("898537fa213d7f9f4d5158"))
    limit = time.monotonic() + 3
    while (frame := page.frame(max(0.01, limit - time.monotonic()))) is not None and frame[0] not in (8, 10):
        pass
    page.close()
    assert frame == (10, b"Hello"), frame


@each("an upgrade that is none is refused", [("no key", {"Sec-WebSocket-Key": None}), ("an old version", {"Sec-WebSocket-Version": "8"}),
                                             ("another protocol", {"Upgrade": "h2c"})])
def upgrade(d, fields):
    page = Page(d, headers=fields, timeout=3)
    page.close()
    assert page.status != 101


@case
def too_many_pages_are_refused_and_those_that_are_open_stay(d):
    first = Page(d)
    first.update()
    more = [Page(d, timeout=3) for _ in range(40)]
    codes = [p.status for p in more]
    for p in more:
        p.close()
    assert codes.count(101) <= 24 and 503 in codes, codes
    first.socket.sendall(b"\x89\x80\x00\x00\x00\x00")  # a ping (5.5.2)
    limit = time.monotonic() + 3
    while (frame := first.frame(limit - time.monotonic())) is not None and frame[0] != 10:
        assert frame[0] != 8
    first.close()
    assert frame is not None


@case
def a_page_that_reads_nothing_costs_no_memory(d):
    page = Page(d, acknowledges=False)
    before = memory(d)
    for i in range(60):
        d.post("forget-corners")
        snapshot(d)
    page.close()
    checked = "libasan" in pathlib.Path(f"/proc/{d.process.pid}/maps").read_text()  # which keeps what is freed
    assert memory(d) - before < (300 if checked else 20) << 20
