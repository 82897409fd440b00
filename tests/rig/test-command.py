#!/usr/bin/env python3
"""drawtrue rig, as its user runs it: port, link, ink, log, signals, messages and exit codes."""
import json
import os
import pathlib
import select
import signal
import subprocess
import sys
import tempfile
import tty

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

DRAWTRUE = sys.argv[1]


def hear(fd, wanted):
    """Lines up to the first that begins with `wanted`."""
    text = b""
    while not any(line.startswith(wanted) for line in text.split(b"\n")[:-1]):
        if not select.select([fd], [], [], 20)[0]:
            break
        text += os.read(fd, 4096)
    return text


def start(folder, *options):
    link = os.path.join(folder, "port")
    rig = subprocess.Popen([DRAWTRUE, "rig", "--link", link, "--json", *options],
                           stdout=subprocess.PIPE, text=True)
    told = json.loads(rig.stdout.readline())
    return rig, told["port"]


def talk(port, lines):
    fd = os.open(port, os.O_RDWR | os.O_NOCTTY)
    tty.setraw(fd)
    heard = hear(fd, b"drawtrue controller")
    for line in lines:
        os.write(fd, line + b"\n")
        heard += hear(fd, (b"taken", b"refused"))
    return fd, heard


JOB = [b"G28", b"(pen red)", b"G0 X20 Y20", b"M3 S40", b"G4 P0.2", b"G1 X60 F600", b"M5", b"G4 P0.1",
       b"G0 X0 Y0", b"M2"]

with tempfile.TemporaryDirectory() as folder:
    # fontconfig keeps what it found for the life of the process.
    with open(os.path.join(folder, "leaks"), "w", encoding="utf-8") as file:
        file.write("leak:libfontconfig\n")
    os.environ["LSAN_OPTIONS"] = f"suppressions={file.name}:print_suppressions=0"
    out = os.path.join(folder, "ink")
    log = os.path.join(folder, "log.txt")
    rig, port = start(folder, "--out", out, "--once", "--log", log)
    check("the port is told", port == os.path.join(folder, "port"), port)
    fd, heard = talk(port, JOB)
    check("every line is taken", heard.count(b"taken") == len(JOB), heard)
    os.close(fd)
    figures = json.loads(rig.stdout.read())
    check("it ends when the sender hangs up", rig.wait(20) == 0)
    check("figures are printed", figures["lines_taken"] == len(JOB) and figures["pen_up_at_end"], figures)
    ink = json.load(open(os.path.join(out, "ink.json")))
    strokes = ink["strokes"]
    check("the ink is written", len(strokes) == 1 and strokes[0]["pen"] == "red", ink["figures"])
    check("the pictures are written", all(os.path.getsize(os.path.join(out, f)) > 500
                                          for f in ("ink.svg", "ink.png")))
    check("the link is gone", not os.path.lexists(port))
    rows = open(log).read().splitlines()
    check("the log has each line", len(rows) == len(JOB) and "G1 X60 F600  ->  taken 6" in rows[5], rows)
    still = [row for row in rows if "G4 P0" in row or "(pen red)" in row]
    check("the log shows what did not move", all("     0      0 steps" in row for row in still), still)

    for number in (signal.SIGTERM, signal.SIGINT):
        rig, port = start(folder, "--out", out)
        fd, heard = talk(port, JOB[:6])
        rig.send_signal(number)
        rig.stdout.read()
        check(f"signal {int(number)} ends it", rig.wait(20) == 0)
        check("and the ink is written", len(json.load(open(os.path.join(out, "ink.json")))["strokes"]) == 1)
        os.close(fd)

    bad = os.path.join(folder, "bad.ini")
    with open(bad, "w", encoding="utf-8") as file:
        file.write("[truth]\nscale_x = 9\n")
    for options, code, message in (
            ([bad], 1, f"{bad}:2: scale_x: 9 is not from 0.5 to 2"),
            (["/no/such.ini"], 1, "/no/such.ini"),
            ([bad, bad], 2, "one rig file"),
            (["--no-such-option"], 2, "--no-such-option"),
            (["--link", "/no/such/folder/port"], 3, "/no/such/folder/port"),
            (["--log", "/no/such/folder/log"], 3, "/no/such/folder/log")):
        done = subprocess.run([DRAWTRUE, "rig", *options], capture_output=True, text=True, timeout=20)
        check(f"{options[0]} is refused", done.returncode == code and message in done.stderr
              and done.stderr.count("\n") == 1, (done.returncode, done.stderr))

    template = subprocess.run([DRAWTRUE, "rig", "--template"], capture_output=True, text=True, timeout=20)
    with open(bad, "w", encoding="utf-8") as file:
        file.write(template.stdout)
    rig, port = start(folder, bad)
    rig.send_signal(signal.SIGTERM)
    check("the template is a rig file", template.returncode == 0 and rig.wait(20) == 0)

end_checks()
