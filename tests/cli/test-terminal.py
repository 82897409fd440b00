#!/usr/bin/env python3
"""What reaches a terminal, and what its loss does. Speaks TAP. Usage: test-terminal.py DRAWTRUE

Bytes of the C0 and C1 sets (ECMA-48, 5.2 to 5.4) are sent by every way: names of files, machines and
pens, comments, and what a board says. Nothing may reach the terminal that it would obey, but for what
the program itself sends: line ends, carriage return and EL (ECMA-48, 8.3.41). A hang-up (POSIX.1-2017,
11.1.10) and a closed pipe must not leave the pen down."""
import concurrent.futures
import json
import os
import pathlib
import pty
import re
import select
import signal
import subprocess
import sys
import tempfile
import termios
import threading
import time

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks
from terminal import LIMIT, Terminal, settings

PROGRAM = os.path.abspath(sys.argv[1])
os.environ["ASAN_OPTIONS"] = os.environ.get("ASAN_OPTIONS", "") + ":detect_leaks=0"
os.environ["LC_ALL"] = "C.UTF-8"
RAW = (bytes(range(1, 0x20)) + b"\x7f" + b"".join(chr(c).encode() for c in range(0x80, 0xA0))
       + bytes(range(0x80, 0x100)) + "\u202e\u2066\u2028".encode())
IN_A_LINE = bytes(b for b in RAW if b not in b"\n\r\0")
OBEYED = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200b-\u200f\u2028-\u202e\u2060-\u206f]")


def shown(folder, *arguments, columns=80):
    t = Terminal(folder, PROGRAM, *arguments, columns=columns)
    t.end(LIMIT)
    return t.text


def is_harmless(text):
    """Valid UTF-8 without controls but those of our own."""
    try:
        plain = text.replace(b"\r\x1b[K", b"").replace(b"\r\n", b"\n").decode()
    except UnicodeDecodeError as error:
        return str(error)
    found = OBEYED.search(plain)
    return "" if found is None else plain[max(0, found.start() - 40):found.end() + 40]


def write_program(path, strokes, comment=b"", reach=40):
    text = b"(drawtrue 0 for plotter, profile x)\nG21\nG90\nM5\nG4P0.2\nG28\n"
    for i in range(strokes):
        text += (b"(stroke %d pen black%s)\nG0X%dY20\nM3S40\nG4P0.25\nG1X%dY%dF600\nX%dY20\nM5\nG4P0.15\n"
                 % (i + 1, comment, 10 + i % 40, 10 + i % 40, 20 + reach, 12 + i % 40))
    path.write_bytes(text + b"G0X0Y0\nM2\n")


def every_byte_by_every_way(folder):
    name = bytes(b for b in IN_A_LINE if b != ord("/"))[:180]
    for i, part in enumerate((name[:90], name[90:])):
        file = os.path.join(os.fsencode(folder), part)
        for command in ((b"plan", part + b".svg", b"-o", b"x.nc"), (b"inspect", part),
                        (b"proof", part, b"-o", part + b".png"), (b"mend", part, b"-o", b"y.nc"),
                        (b"machine", b"-m", part), (b"rig", part), (part,), (b"plan", b"--" + part),
                        (b"run", part, b"--port", part), (b"log", b"--journal", part + b"/x"),
                        (b"jog", b"--port", part, b"home"), (b"jog", b"--port", b"x", part),
                        (b"rig", b"--link", part + b"/x"), (b"help", part)):
            said = shown(folder, *command)
            check(f"{command[0][:8]!r} shows the name of a file, part {i}", said and not is_harmless(said),
                  (is_harmless(said), said))
        write_program(pathlib.Path(os.fsdecode(file)), 2)
        for command in ((b"inspect", part), (b"proof", part, b"-o", b"p.png"),
                        (b"mend", part, b"-o", b"y%d.nc" % i), (b"inspect", part, b"--explain")):
            said = shown(folder, *command)
            check(f"{command[0]!r} of a program so named, part {i}", said and not is_harmless(said),
                  (is_harmless(said), said))
    comment = IN_A_LINE.replace(b"(", b"").replace(b")", b"")
    for i in range(0, len(comment), 40):
        path = folder / "odd.nc"
        path.write_bytes(b"G21 G90\nG28\n(" + comment[i:i + 40] + b")\nG1 X10 Y9 F600 (MSG,"
                         + comment[i:i + 40] + b")\nQ" + comment[i:i + 40] + b"\nM2\n")
        for command in (("inspect",), ("inspect", "--explain"), ("mend", "-o", "z.nc"),
                        ("proof", "-o", "q.png"), ("run", "--port", "none")):
            said = shown(folder, command[0], "odd.nc", *command[1:])
            check(f"{' '.join(command)} of comments with bytes from {i}", said and not is_harmless(said),
                  (is_harmless(said), said))
    for i in range(0, len(IN_A_LINE), 30):
        part = IN_A_LINE[i:i + 30].replace(b"[", b"").replace(b"]", b"")
        (folder / "odd.ini").write_bytes(b"[machine]\nname = a" + part + b"b\n[pen red" + part + b"]\ntip = 0.4 mm\n"
                                         b"[controller]\npen_up = M5" + part + b"\n")
        said = shown(folder, "machine", "-m", "odd.ini")
        check(f"a profile with bytes from {i}", said and not is_harmless(said), (is_harmless(said), said))


def names_with_any_letters(folder):
    (folder / "art.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" '
                                    'viewBox="0 0 40 30"><path d="M2 2H12V8" fill="none" stroke="#1c1c1c"/></svg>')
    for name, pen in (("Küchentisch", "grün"), ("日本語", "黒"), ("атлас; (два)", "чёрный"), ("a" * 70, "b")):
        (folder / "k.ini").write_text(f"[machine]\nname = {name}\n[pen {pen}]\ncolour = #1c1c1c\ntip = 0.4 mm\n")
        env = settings(folder)
        done = subprocess.run([PROGRAM, "plan", "art.svg", "-m", "k.ini", "-o", "k.nc", "--effort", "0"], cwd=folder,
                              env=env, capture_output=True, timeout=LIMIT)
        program = (folder / "k.nc").read_bytes()
        check(f"the program of {name[:12]} is ASCII", done.returncode == 0 and max(program) < 0x80, done)
        rig = Rig(folder)
        done = subprocess.run([PROGRAM, "run", "k.nc", "-m", "k.ini", "--port", rig.port, "--pens-ready", "--json"],
                              cwd=folder, env=env, capture_output=True, timeout=LIMIT, stdin=subprocess.DEVNULL)
        rig.figures()
        pens = {json.loads(line)["pen"] for line in done.stdout.splitlines()}
        check("its own machine draws it, with its pen", done.returncode == 0 and pen in pens, (done, pens))
        (folder / "k.ini").write_text("[machine]\nname = another\n")
        done = subprocess.run([PROGRAM, "run", "k.nc", "-m", "k.ini", "--port", "none"], cwd=folder, env=env,
                              capture_output=True, timeout=LIMIT, stdin=subprocess.DEVNULL)
        check("another does not", done.returncode == 1 and b"made for the machine" in done.stderr, done)


def no_word_is_broken(folder):
    write_program(folder / "job.nc", 3)
    (folder / "bad.nc").write_text("G21 G90\nG28\nG1 X9999 Y10 F600\nM7\nG1 X10 Y10 Z-1\n")
    commands = [("--help",), ("machine",), ("inspect", "bad.nc"), ("inspect", "job.nc"), ("log",),
                ("nosuch",), ("run", "job.nc"), ("inspect", "job.nc", "--explain")]
    commands += [("help", c) for c in ("plan", "proof", "inspect", "mend", "learn", "run", "resume", "jog", "log", "sheet", "true",
                                       "machine", "rig")]
    for command in commands:
        whole = shown(folder, *command, columns=1000).decode()
        for columns in (60, 80):
            text = shown(folder, *command, columns=columns).decode()
            long = [line for line in text.split("\n") if len(line) > columns and " " in line.strip()]
            check(f"{' '.join(command)} at {columns} columns", text.split() == whole.split() and not long,
                  (long, text))
    for asked in (("plan", "-h"), ("plan", "--help"), ("help", "plan")):
        done = subprocess.run([PROGRAM, *asked], capture_output=True, text=True, timeout=LIMIT)
        check(f"{' '.join(asked)} helps", done.returncode == 0 and done.stdout.startswith("usage: drawtrue plan "))
    for asked in ("-h", "--help", "help"):
        done = subprocess.run([PROGRAM, asked], capture_output=True, text=True, timeout=LIMIT)
        check(f"{asked} lists the commands", done.returncode == 0 and "\n  plan " in done.stdout)


class Rig:
    def __init__(self, folder, *options):
        near = folder / "near.ini"
        near.write_text("[truth]\nstart_x = 3\nstart_y = 3\n")
        self.out, self.port = str(folder / "ink"), str(folder / "port")
        self.process = subprocess.Popen([PROGRAM, "rig", str(near), "--link", self.port, "--json", "--once",
                                         "--out", self.out, *options], stdout=subprocess.PIPE, text=True)
        self.process.stdout.readline()

    def figures(self):
        try:
            text, _ = self.process.communicate(timeout=40)
        except subprocess.TimeoutExpired:
            self.process.terminate()
            text, _ = self.process.communicate(timeout=30)
        return json.loads(text)


def a_terminal_is_closed(folder):
    write_program(folder / "job.nc", 6, reach=6)
    run = ("run", "job.nc", "--other-machine", "--pens-ready", "--journal", "j.db")
    rig = Rig(folder, "--real-time")
    t = Terminal(folder, PROGRAM, *run, "--port", rig.port)
    check("it draws", t.hear(rb"[1-9]\d* mm of ink"), t.text)
    t.close()
    code, figures = t.wait(120), rig.figures()
    check("a run goes on without its terminal, and ends with the pen up", code == 0 and figures["pen_up_at_end"],
          (code, figures))
    log = subprocess.run([PROGRAM, "log", "--journal", "j.db", "--json"], cwd=folder, capture_output=True, timeout=LIMIT)
    check("and is done in the journal", json.loads(log.stdout)["runs"][-1]["state"] == "done", log.stdout)
    done = subprocess.run([PROGRAM, "resume", "--journal", "j.db", "--port", "none"], cwd=folder, capture_output=True,
                          timeout=LIMIT, stdin=subprocess.DEVNULL)
    check("nothing is left to resume", done.returncode == 1 and b"finished" in done.stderr, done)
    done = subprocess.run([PROGRAM, "resume", "--run", "1", "--journal", "j.db", "--port", "none"], cwd=folder,
                          capture_output=True, timeout=LIMIT, stdin=subprocess.DEVNULL)
    check("nor by its number", done.returncode == 1 and b"is finished" in done.stderr, done)

    rig = Rig(folder, "--real-time")
    process = subprocess.Popen([PROGRAM, *run, "--json", "--port", rig.port], cwd=folder, env=settings(folder),
                               stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
    for line in process.stdout:
        event = json.loads(line)
        if event["state"] == "drawing" and event.get("pen_down"):
            break
    process.stdout.close()
    time.sleep(1)
    process.send_signal(signal.SIGTERM)
    code, figures = process.wait(LIMIT), rig.figures()
    check("a closed pipe and SIGTERM leave the pen up", code in (0, 1) and figures["pen_up_at_end"], (code, figures))

    rig = Rig(folder, "--real-time")
    t = Terminal(folder, PROGRAM, "jog", "--port", rig.port)
    check("jogging homes", t.hear(rb"X 0.00 Y 0.00 mm, step 10 mm, pen up"), t.text)
    os.write(t.master, b" ")
    check("the pen comes down", t.hear(rb"pen down"), t.text)
    t.close()
    code, figures = t.wait(), rig.figures()
    check("jogging ends with its terminal, not done, the pen up", code == 1 and figures["pen_up_at_end"],
          (code, figures))

    (folder / "p.ini").write_text(subprocess.run([PROGRAM, "machine", "--template"], capture_output=True, text=True,
                                                 timeout=LIMIT).stdout)
    before = (folder / "p.ini").read_bytes()
    for number in (signal.SIGHUP, signal.SIGTERM):
        rig = Rig(folder, "--real-time")
        process = subprocess.Popen([PROGRAM, "learn", "--may-move", "--port", rig.port, "-m", "p.ini"], cwd=folder,
                                   stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        process.stdout.readline()
        time.sleep(1)
        process.send_signal(signal.SIGTSTP)
        process.send_signal(number)
        try:
            process.communicate(timeout=LIMIT)
        except subprocess.TimeoutExpired:
            process.kill()
        figures = rig.figures()
        check(f"learning ended by {number.name} leaves the pen up and the profile as it was",
              process.returncode == 1 and figures["pen_up_at_end"] and (folder / "p.ini").read_bytes() == before,
              (process.returncode, figures))


def what_a_board_says(folder, *command):
    """A board that greets, refuses and answers with every byte there is."""
    (folder / "p.ini").write_text("[machine]\nname = plotter\n[controller]\nreply_timeout = 1 s\n")
    write_program(folder / "job.nc", 2)
    master, slave = pty.openpty()
    mode = termios.tcgetattr(slave)
    mode[0] = mode[1] = mode[3] = 0
    termios.tcsetattr(slave, termios.TCSANOW, mode)
    port, stop = os.ttyname(slave), threading.Event()

    def board():
        n = 0
        while not stop.is_set():
            if select.select([master], [], [], 0.1)[0]:
                try:
                    os.read(master, 4096)
                except OSError:
                    return
                part = IN_A_LINE[(n * 20) % len(IN_A_LINE):][:20]
                n += 1
                os.write(master, b"refused" + part + b"\n" + part + b"\n")

    thread = threading.Thread(target=board)
    thread.start()
    t = Terminal(folder, PROGRAM, *command, "--port", port, "-m", "p.ini")
    t.hear(seconds=12)
    if t.process.poll() is None:
        t.process.terminate()
        t.hear(seconds=5)
    if t.process.poll() is None:
        t.process.kill()
    t.wait(10)
    check(f"{' '.join(command)} shows what a board says", t.text and not is_harmless(t.text),
          (is_harmless(t.text), t.text))
    t.close()
    stop.set()
    thread.join(5)
    os.close(master)
    os.close(slave)


def play(case, *arguments):
    with tempfile.TemporaryDirectory(prefix="drawtrue-") as scratch:
        case(pathlib.Path(scratch), *arguments)


run_it = ("run", "job.nc", "--pens-ready", "--other-machine")
cases = [(every_byte_by_every_way,), (names_with_any_letters,), (no_word_is_broken,), (a_terminal_is_closed,),
         (what_a_board_says, *run_it), (what_a_board_says, *run_it, "--json"), (what_a_board_says, "jog", "home"),
         (what_a_board_says, "learn", "--still")]
with concurrent.futures.ThreadPoolExecutor(len(cases)) as pool:  # most of the time is waiting
    for done in [pool.submit(play, *case) for case in cases]:
        done.result()
end_checks()
