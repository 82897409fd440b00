#!/usr/bin/env python3
"""Attacks on the desk's server, all to be refused, while a run waits that must come out unharmed. By
number after RFC 9110, RFC 6455, RFC 6265 and OWASP ASVS 4.0.3: 3.1.1 no session token in an address
that stays, 3.4.2 HttpOnly, 3.4.3 SameSite, 4.2.2 requests of other pages, 5.1 input, 12.1 sizes, 12.3
paths, 13.2 methods and types, 14.4 headers, 14.5 Host and Origin. Speaks TAP.
Usage: test-attacks.py DRAWTRUE EXAMPLES"""
import json
import os
import pathlib
import socket
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
import attacks_websocket  # whose cases come first
from attacks import case, cases, each, raw, refused, snapshot
from desk import Desk, Page

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import attempt

PROGRAM, EXAMPLES = str(pathlib.Path(sys.argv[1]).resolve()), pathlib.Path(sys.argv[2]).resolve()
JSON = b'{"kind":"home","serial":1}'

# Who asks ------------------------------------------------------------------------------------------


@each("a foreign Host is refused", [
    ("another name", "evil.example"), ("the name with our port", "evil.example:{port}"),
    ("no port", "127.0.0.1"), ("another port", "127.0.0.1:1"), ("another loopback address", "127.0.0.2:{port}"),
    ("a suffix", "127.0.0.1:{port}.evil.example"), ("user info", "127.0.0.1:{port}@evil.example"),
    ("all addresses", "0.0.0.0:{port}"), ("IPv6", "[::1]:{port}"), ("two", "127.0.0.1:{port}, evil.example"),
    ("decimal", "2130706433:{port}"), ("a dot at the end", "localhost.:{port}"), ("empty", "")])
def foreign_host(d, host):
    refused(d.ask("GET", "/log", headers={"Host": host.format(port=d.port)}), 400, 421)


@case
def a_request_without_a_host_is_refused(d):
    assert raw(d, f"GET /log HTTP/1.0\r\nCookie: {d.cookie}\r\n\r\n").startswith((b"HTTP/1.0 4", b"HTTP/1.1 4"))


@each("a foreign Origin is refused", [
    ("another page", "http://evil.example"), ("null", "null"), ("https", "https://127.0.0.1:{port}"),
    ("another port", "http://127.0.0.1:1"), ("no port", "http://127.0.0.1"), ("another name of ours", "http://localhost:{port}"),
    ("a suffix", "http://127.0.0.1:{port}.evil.example"), ("a file", "file://"), ("empty", "")])
def foreign_origin(d, origin):
    fields = {"Origin": origin.format(port=d.port)}
    refused(d.ask("POST", "/jog", JSON, headers=fields), 403)
    page = Page(d, headers=fields)
    page.close()
    assert page.status == 403, page.status


@case
def a_request_that_moves_without_an_origin_is_refused(d):
    refused(d.ask("POST", "/jog", JSON, headers={"Origin": None}), 403)


@case
def a_websocket_without_an_origin_is_refused(d):
    page = Page(d, headers={"Origin": None})
    page.close()
    assert page.status == 403, page.status


@each("what a browser says of another site is believed", [("cross-site", "cross-site"), ("same-site", "same-site"), ("nonsense", "x")])
def fetch_site(d, value):
    refused(d.ask("GET", "/log", headers={"Sec-Fetch-Site": value}), 403)
    refused(d.ask("POST", "/jog", JSON, headers={"Sec-Fetch-Site": value}), 403)


@each("without the right cookie nothing is told", [
    ("none", lambda d: None), ("empty", lambda d: ""), ("a wrong one", lambda d: d.cookie[:-1] + "g"),
    ("cut short", lambda d: d.cookie[:-1]), ("longer", lambda d: d.cookie + "0"), ("of another port", lambda d: d.cookie.replace(str(d.port), "1")),
    ("twice", lambda d: f"{d.cookie}; {d.cookie}"), ("the token in its place", lambda d: d.cookie.split("=")[0] + "=" + d.token),
    ("upper case", lambda d: d.cookie.split("=")[0] + "=" + d.cookie.split("=")[1].upper() + "X")])
def wrong_cookie(d, cookie):
    for path in ("/", "/log", "/keys", "/files", "/js/main.js"):
        refused(d.ask("GET", path, cookie=cookie(d)), 403)
    refused(d.ask("POST", "/jog", JSON, cookie=cookie(d)), 403)
    page = Page(d, headers={"Cookie": cookie(d)})
    page.close()
    assert page.status == 403, page.status


@each("a wrong token lets nobody in", [
    ("none", ""), ("empty", "?token="), ("wrong", "?token=" + "0" * 64), ("short", "?token=0"), ("long", "?token=" + "0" * 5000),
    ("a pattern", "?token=*"), ("a zero byte", "?token=%00"), ("two", "?token=a&token=b")])
def wrong_token(d, query):
    status, headers, _ = refused(d.ask("GET", "/" + query, cookie=None), 403, 400)
    assert "set-cookie" not in headers


@case
def the_token_is_no_cookie_and_opens_no_other_address(d):
    refused(d.ask("GET", f"/log?token={d.token}", cookie=None), 403)
    refused(d.ask("POST", f"/?token={d.token}", b"{}", cookie=None), 403)
    assert d.token not in d.cookie


@case
def the_cookie_is_http_only_strict_and_of_this_session(d):
    _, headers, _ = d.ask("GET", f"/?token={d.token}", cookie=None)
    assert "HttpOnly" in headers["set-cookie"] and "SameSite=Strict" in headers["set-cookie"]
    assert headers["location"].endswith("/") and "token" not in headers["location"]


# What is asked -------------------------------------------------------------------------------------


@each("another method is refused", [(m, m) for m in ("PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT", "PROPFIND")])
def method(d, name):
    refused(d.ask(name, "/jog", headers={"Origin": f"http://{d.host}"}), 400, 405, 403)


@each("a body of another type is refused", [("form", "application/x-www-form-urlencoded"), ("text", "text/plain"),
                                            ("multipart", "multipart/form-data; boundary=x"), ("none", None), ("a prefix", "application/jsonp")])
def media_type(d, value):
    refused(d.ask("POST", "/jog", JSON, headers={"Content-Type": value}), 415)


@each("no path leads out of the page's files", [(p, p) for p in (
    "/../../../etc/passwd", "/js/../../etc/passwd", "/%2e%2e/%2e%2e/etc/passwd", "/..%2f..%2fetc%2fpasswd", "/js/..%5c..%5cetc",
    "//etc/passwd", "/etc/passwd", "/js/", "/js", "/.git/config", "/desk.css%00.html", "/index.html/", "/page.gresource.xml", "/%c0%ae%c0%ae/etc")])
def page_path(d, path):
    status, _, body = d.ask("GET", path)
    assert status in (400, 403, 404, 301) and b"root:" not in body, (status, body[:200])


@each("no path leads out of the start folder", [(p, p) for p in (
    "../secret.svg", "/etc/passwd", "sub/../../secret.svg", "link.svg", "linked/secret.svg", "loop.svg", "", ".", "sub", "pipe.svg",
    "a" * 5000, "bad\nname.svg", "~/x.svg", "/proc/self/environ", "hard/../../start/../secret.svg")])
def file_path(d, path):
    status, said = d.post("open", path=path)
    assert status in (400, 409), (status, said)
    assert "opened" not in said


@each("no listing leads out of the start folder", [(p, p) for p in ("..", "/", "../..", "linked", "sub/../..", "/etc")])
def listing(d, path):
    status, _, body = d.ask("GET", "/files?folder=" + path.replace("/", "%2F"))
    assert status in (400, 409) and b"secret" not in body, body


@case
def links_that_lead_out_are_not_listed(d):
    names = [e["name"] for e in d.get("/files?folder=")["entries"]]
    assert "inside.svg" in names and "link.svg" not in names and "linked" not in names, names


@each("an upload is never written where the page says", [(n, n) for n in (
    "../../../tmp/evil.svg", "/tmp/evil.svg", "..\\evil.svg", "evil.svg/../../x.svg", "x.svg\0.sh", "evil.sh", "evil", ".svg/..", "....//evil.svg", "-rf.svg.exe")])
def upload_name(d, name):
    before = tree(d)
    d.drop(name, b"<svg xmlns='http://www.w3.org/2000/svg'/>")
    assert {p for p in tree(d) if not p.startswith("work/art-")} == {p for p in before if not p.startswith("work/art-")}
    assert not os.path.exists("/tmp/evil.svg")


@each("what is no JSON object is refused", [(t[:24], t) for t in (
    "", "null", "[]", "1", "{", '{"a":}', "{'kind':'home'}", '{"kind":"home"', "[" * 30000, '{"a":' * 9000 + "1" + "}" * 9000, "\0", '{"kind":"\\ud800"}',
    '{"kind": 1, "serial": 1}', '{"kind": "home", "serial": "1"}', '{"kind": "home", "serial": 1.5}', '{"kind": "home", "serial": -1}',
    '{"kind": "home", "serial": 99999999999999999999}', '{"kind": {"x": 1}, "serial": 1}', '{"kind": null, "serial": null}')])
def json_text(d, text):
    refused(d.ask("POST", "/jog", text.encode()), 400, 409)


@case
def json_that_is_no_utf8_is_refused(d):
    refused(d.ask("POST", "/jog", b'{"kind":"\xff\xfe"}'), 400)


@each("there is no such action", [(a, a) for a in ("", "eval", "shutdown", "jog/", "Jog", "jog%00", "__proto__", "request/../start")])
def action(d, name):
    refused(d.ask("POST", "/" + name, b"{}"), 400, 404)


@each("a motion out of bounds of sense is refused", [(json.dumps(v)[:40], v) for v in (
    {"kind": "to", "x": 1e999, "y": 0}, {"kind": "to", "x": "1", "y": 0}, {"kind": "to", "x": 1}, {"kind": "fly"}, {"kind": "by", "x": [1], "y": 1})])
def motion(d, values):
    serial = snapshot(d)["session"]["serial"]
    text = json.dumps({"serial": serial, **values}).replace("Infinity", "1e999")
    refused(d.ask("POST", "/jog", text.encode()), 400, 409)


@each("a port or profile that is not offered is refused", [(a, (a, p)) for a, p in (
    ("choose-port", "/dev/null"), ("choose-port", "/etc/passwd"), ("choose-port", ""), ("choose-profile", "/etc/passwd"), ("choose-profile", "../x.ini"),
    ("new-profile", "../evil"), ("new-profile", "/tmp/evil"), ("new-profile", ""), ("new-profile", ".hidden"), ("new-profile", "a\nb"))])
def choice(d, what):
    name, value = what
    status, said = d.post(name, **{"name" if name == "new-profile" else "path": value})
    assert status in (400, 409), (status, said)


@each("a profile takes no key that it does not have, and no second line", [
    ("a section", ("evil", "x", "1")), ("a key", ("machine", "evil", "1")), ("a line end", ("machine", "name", "x\n[controller]\nhome = M3")),
    ("a section in a pen's name", ("pen x]\n[y", "tip", "1 mm")), ("a return", ("machine", "name", "x\ry")), ("a zero byte", ("machine", "name", "x\0y"))])
def profile_key(d, change):
    status, said = d.post("set-keys", changes=[dict(zip(("section", "key", "value"), change))])
    assert status in (400, 409), (status, said)


READING = {"sheet": 1, "ask": "X1", "i": 0, "text": "5"}


@each("a reading that no sheet has is refused", [(json.dumps(v)[:60], v) for v in (
    {"ask": "Z9"}, {"ask": ""}, {"ask": "X1' OR 1=1 --"}, {"ask": "X" * 5000}, {"ask": 1}, {"ask": None}, {"i": -1}, {"i": 1}, {"i": 2**40}, {"i": "0"},
    {"sheet": 0}, {"sheet": 2}, {"sheet": -1}, {"sheet": 1.5}, {"sheet": 2**70}, {"text": "<script>"}, {"text": "9" * 400}, {"text": "1e999"}, {"text": "nan"}, {"text": ["5"]},
    {"text": "5\0"}, {"text": "6 at 600"}, {"text": "between 1 and"})])
def reading(d, change):
    before = d.get("/measure")
    refused(d.ask("POST", "/keep-reading", json.dumps({**READING, **change}).encode()), 400, 409)
    assert d.get("/measure") == before


@case
def readings_are_kept_while_the_machine_draws_and_corrections_are_not_written(d):
    profile = EXAMPLES / "workshop.ini"
    before = profile.read_bytes()
    assert d.post("keep-reading", **READING)[0] == 200
    digest = d.get("/measure")["sheet"]["result"]["digest"]
    for name, values in (("write-corrections", {"sheet": 1, "digest": digest}), ("undo-corrections", {"sheet": 1})):
        status, said = d.post(name, **values)
        assert status == 409 and "is busy" in said["error"], (status, said)
    assert profile.read_bytes() == before


@each("corrections that nobody has seen are not written", [(json.dumps(v)[:40], v) for v in (
    {"digest": ""}, {"digest": "0" * 64}, {"digest": "0" * 5000}, {"digest": None}, {})])
def unseen(d, values):
    before = (EXAMPLES / "workshop.ini").read_bytes()
    refused(d.ask("POST", "/write-corrections", json.dumps({"sheet": 1, **values}).encode()), 400, 409)
    assert (EXAMPLES / "workshop.ini").read_bytes() == before


@each("there is no picture of what is not asked", [(q[:30], q) for q in ("", "?ask=", "?ask=Z9", "?ask=../X1", "?ask=" + "X" * 5000, "?ask=%00", "?ask=%ff", "?sheet=1")])
def comb(d, query):
    refused(d.ask("GET", "/comb" + query), 400, 404, 409)


@each("sheets that are none are not compared", [(q[:30], q) for q in (
    "", "?first=1", "?first=1&second=x", "?first=0&second=1", "?first=-1&second=1", "?first=1&second=99999999999999999999", "?first=7&second=8", "?first=1&first=2", "?first=%00&second=1")])
def compare(d, query):
    for path in ("/compare", "/compare.png"):
        refused(d.ask("GET", path + query), 400, 409)


PNG = b"\x89PNG\r\n\x1a\n" + b"\0" * 64


@each("what is no scan of the last sheet is not kept", [
    ("a sheet that is read by eye", ("?sheet=1&name=a.png", PNG)), ("no sheet", ("?name=a.png", PNG)), ("another sheet", ("?sheet=9&name=a.png", PNG)),
    ("no name", ("?sheet=1", PNG)), ("a path as its name", ("?sheet=1&name=../../etc/a.png", PNG)), ("another kind", ("?sheet=1&name=a.svg", b"<svg/>")),
    ("empty", ("?sheet=1&name=a.png", b"")), ("a huge number", ("?sheet=999999999999999&name=a.png", PNG))])
def scan(d, value):
    query, body = value
    before = tree(d)
    refused(d.ask("POST", "/scan" + query, body, headers={"Content-Type": "application/octet-stream"}), 400, 409)
    assert tree(d) == before


@case
def a_scan_is_bound_like_other_files(d):
    refused(d.ask("POST", "/scan?sheet=1&name=a.png", PNG, cookie=None, headers={"Content-Type": "application/octet-stream"}), 403)
    refused(d.ask("POST", "/scan?sheet=1&name=a.png", PNG), 415)


@each("a tip of no pen of this machine is not new", [(str(v)[:20], v) for v in ("", "violet", "../black", "<script>", "x" * 5000, None, 1, ["black"])])
def new_tip(d, pen):
    before = d.get("/log")["notes"]
    refused(d.ask("POST", "/new-tip", json.dumps({"pen": pen}).encode()), 400, 409)
    assert d.get("/log")["notes"] == before


@case
def sheets_and_readings_are_told_to_the_cookie_alone(d):
    for path in ("/measure", "/comb?ask=X1", "/sheets", "/compare?first=1&second=1", "/compare.png?first=1&second=1"):
        refused(d.ask("GET", path, cookie=None), 403)
    refused(d.ask("POST", "/keep-reading", json.dumps(READING).encode(), cookie=None), 403)
    refused(d.ask("POST", "/write-corrections", b"{}", headers={"Origin": "http://evil.example"}), 403)


# Stale requests --------------------------------------------------------------------------------------


@each("a request made in another state moves nothing", [(a, (a, v)) for a, v in (
    ("jog", {"kind": "home"}), ("jog", {"kind": "to", "x": 10, "y": 10}), ("request", {"request": "go-on"}), ("request", {"request": "park"}),
    ("start", {"revision": 0, "despite": True}), ("learn", {"may_move": True}), ("resume", {"run": 0, "back_strokes": 0, "from_place": False}), ("touch-corner", {"which": "left"}))])
def stale(d, what):
    name, values = what
    before = snapshot(d)["session"]
    for serial in (before["serial"] - 1, before["serial"] + 1, 1):
        if serial == before["serial"]:
            continue
        status, said = d.post(name, serial=max(0, serial), **values)
        assert status in (400, 409), (status, said)
    after = snapshot(d)["session"]
    assert after["serial"] == before["serial"] and after["state"] == before["state"]


@case
def a_drawing_that_is_drawn_is_not_replaced(d):
    for status, said in (d.drop("x.svg", b"<svg/>"), d.post("clear"), d.post("set-options", values={"margin": 3}), d.post("mend"), d.post("again")):
        assert status == 409, (status, said)


# Script in what is shown -------------------------------------------------------------------------------


@case
def every_answer_forbids_foreign_script_frames_and_guessing(d):
    for path in ("/", "/js/main.js", "/log", "/nothing"):
        _, h, _ = d.ask("GET", path)
        policy = h["content-security-policy"]
        assert "default-src 'self'" in policy and "unsafe" not in policy and "frame-ancestors 'none'" in policy
        assert h["x-content-type-options"] == "nosniff" and h["referrer-policy"] == "no-referrer" and h["cache-control"] == "no-store"
        assert h["cross-origin-resource-policy"] == "same-origin" and "access-control-allow-origin" not in h


@case
def the_page_makes_no_markup_from_text(d):
    for name in ("main", "dom", "bed", "card", "strip", "stroke", "desk", "bed-paint", "compare", "scans", "plot", "ink", "ink-worker", "format", "states", "time", "station-drawing", "station-machine", "station-log", "station-measure", "reading"):
        _, _, body = d.ask("GET", f"/js/{name}.js")
        for word in (b"innerHTML", b"outerHTML", b"insertAdjacentHTML", b"document.write", b"eval(", b"new Function", b"srcdoc"):
            assert word not in body, (name, word)
    _, _, body = d.ask("GET", "/")
    assert b"http://" not in body and b"https://" not in body and b"<script>" not in body and b"style=" not in body


@case
def an_error_that_repeats_what_was_asked_is_json(d):
    status, h, body = d.ask("POST", "/open", b'{"path":"<script>alert(1)</script>"}')
    assert status == 409 and h["content-type"].startswith("application/json")
    json.loads(body)


# Floods ------------------------------------------------------------------------------------------------


HEAD = "POST /{path} HTTP/1.1\r\nHost: {d.host}\r\nOrigin: http://{d.host}\r\nCookie: {d.cookie}\r\nContent-Type: application/{type}\r\n"


@case
def a_body_that_says_it_is_too_large_is_refused_before_it_comes(d):
    for path, kind, n in (("jog", "json", 1 << 20), ("file?name=x.svg", "octet-stream", 1 << 40)):
        with socket.create_connection(("127.0.0.1", d.port), timeout=30) as s:  # in vain if it waits for the body
            s.sendall((HEAD.format(path=path, d=d, type=kind) + f"Content-Length: {n}\r\n\r\n").encode())
            try:
                said = s.recv(65536)
            except ConnectionError:
                said = b""
        assert b" 413 " in said[:20] or said == b"", said[:80]


@case
def an_endless_body_without_a_length_is_cut_off(d):
    with socket.create_connection(("127.0.0.1", d.port), timeout=5) as s:
        s.sendall((HEAD.format(path="jog", d=d, type="json") + "Transfer-Encoding: chunked\r\n\r\n").encode())
        chunk = b"4000\r\n" + b"x" * 0x4000 + b"\r\n"
        sent = 0
        try:
            while sent < 64 << 20:
                s.sendall(chunk)
                sent += len(chunk)
        except OSError:
            pass
        assert sent < 16 << 20, sent


@case
def an_endless_header_is_cut_off(d):
    with socket.create_connection(("127.0.0.1", d.port), timeout=5) as s:
        sent = 0
        try:
            s.sendall(b"GET / HTTP/1.1\r\n")
            while sent < 32 << 20:
                s.sendall(b"X-A: " + b"a" * 8000 + b"\r\n")
                sent += 8000
        except OSError:
            pass
        assert sent < 8 << 20, sent


@each("what is no HTTP is refused", [(repr(t[:20]), t) for t in (
    b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + bytes(64), b"\r\n\r\n\r\n", b"GET\r\n\r\n", b"GET / HTTP/9.9\r\n\r\n", b"A" * 70000,
    b"GET / HTTP/1.1\r\nHost: x\r\n folded\r\n\r\n", b"GET http://evil.example/ HTTP/1.1\r\nHost: evil.example\r\n\r\n",
    b"POST /jog HTTP/1.1\r\nContent-Length: 5\r\nTransfer-Encoding: chunked\r\n\r\n0\r\n\r\n", b"GET / HTTP/1.1\r\nContent-Length: -1\r\n\r\n")])
def no_http(d, text):
    with socket.create_connection(("127.0.0.1", d.port), timeout=0.4) as s:
        try:
            s.sendall(text)
            said = s.recv(4096)
        except OSError:
            said = b""
        assert not said or b" 4" in said[:14] or b" 5" in said[:14], said[:80]


@case
def a_thousand_connections_leave_room_for_the_page(d):
    open_ones = []
    try:
        for _ in range(1000):
            s = socket.socket()
            s.settimeout(2)
            s.connect(("127.0.0.1", d.port))
            open_ones.append(s)
    except OSError:
        pass
    finally:
        time.sleep(0.3)
        held = sum(1 for s in open_ones if not hung_up(s))
        for s in open_ones:
            s.close()
    assert held <= 120, held
    time.sleep(0.2)
    assert d.ask("GET", "/log")[0] == 200


def hung_up(s):
    s.setblocking(False)
    try:
        return s.recv(1) == b""
    except BlockingIOError:
        return False
    except OSError:
        return True


@case
def a_flood_of_requests_is_slowed_and_ends(d):
    codes = set()
    body = b"{}"
    head = (HEAD.format(path="nonsense", d=d, type="json") + f"Content-Length: {len(body)}\r\n\r\n").encode()
    limit = time.monotonic() + 6
    while 429 not in codes and time.monotonic() < limit:
        batch = []
        for _ in range(60):
            s = socket.create_connection(("127.0.0.1", d.port), timeout=5)
            s.sendall(head + body)
            batch.append(s)
        for s in batch:
            try:
                codes.add(int(s.recv(4096).split()[1]))
            except (OSError, IndexError, ValueError):
                pass
            s.close()
    assert 429 in codes, codes
    time.sleep(0.6)
    assert d.ask("GET", "/log")[0] == 200


# ----------------------------------------------------------------------------------------------------------


def tree(d):
    return {str(p.relative_to(d.root)) for p in d.root.rglob("*")}


def prepare(d):
    """Things to reach for, inside the start folder and outside; a run that waits for a pen."""
    (d.root / "secret.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    (d.folder / "inside.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    (d.folder / "sub").mkdir()
    (d.folder / "hard").mkdir()
    (d.folder / "link.svg").symlink_to(d.root / "secret.svg")
    (d.folder / "linked").symlink_to(d.root)
    (d.folder / "loop.svg").symlink_to("loop.svg")
    os.mkfifo(d.folder / "pipe.svg")
    status, said = d.post("make-test-sheet", kind="slack")
    assert status == 200, said
    page = d.page()
    status, said = d.drop("label.svg", (EXAMPLES / "packet-label.svg").read_bytes())
    assert status == 200, said
    page.wait(lambda s: s["run"]["phase"] == "ready", 60, "a plan")
    status, said = d.post("start", revision=page.parts["drawing"]["revision"], serial=page.parts["session"]["serial"], despite=False)
    assert status == 200, said
    page.wait(lambda s: s["session"]["state"] == "pen-change", 60, "a pen change")
    page.close()


def finish(d):
    """The run goes on where it waited, to its end."""
    page = d.page()
    page.wait(lambda s: s["session"]["state"] == "pen-change", 5, "the pen change still")
    while page.parts["run"]["phase"] == "active":
        if page.parts["session"]["state"] == "pen-change":
            serial = page.parts["session"]["serial"]
            status, said = d.post("request", request="go-on", serial=serial)
            assert status == 200, said
            page.wait(lambda s: s["session"]["serial"] != serial)
        page.wait(lambda s: s["session"]["state"] == "pen-change" or s["run"]["phase"] == "ended", 60, "the end")
    assert page.parts["run"]["ended"] == "done", page.parts["run"]
    page.close()


def main():
    print(f"1..{len(cases) + 2}", flush=True)
    failed = 0
    d = Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), "--rig-file", str(EXAMPLES / "rig.ini"))
    prepare(d)
    for number, (name, function) in enumerate(cases, 1):
        failed += not attempt(number, name.replace("\n", "\\n").replace("#", "hash"), function, d)
        time.sleep(0.02)
    failed += not attempt(len(cases) + 1, "the run is unharmed", finish, d)
    code = d.close()
    def ended():
        assert code == 0 and not d.errors, (code, d.errors)
    failed += not attempt(len(cases) + 2, "the desk ends well", ended)
    sys.exit(failed > 0)


main()
