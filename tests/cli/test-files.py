#!/usr/bin/env python3
"""No command writes over what it reads or over a file that it did not write. Speaks TAP.
Usage: test-files.py DRAWTRUE SOURCE-ROOT

Every option that names an output is tried with every kind of file that is somebody's, by its own name,
by a link and by a second name of the same file; the bytes must stay."""
import hashlib
import os
import pathlib
import re
import sqlite3
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

PROGRAM = os.path.abspath(sys.argv[1])
SOURCE = pathlib.Path(sys.argv[2]).resolve()
LIMIT = 60  # seconds; only a hang takes so long
SVG = ('<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">'
       '<path d="M2 2H12V8" fill="none" stroke="#1c1c1c"/></svg>\n')
FOREIGN = "(made elsewhere)\nG21 G90\nG28\nG0 X10 Y10\nM3 S40\nG1 X20 F600\nM5\nM2\n"

PNG = (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\0\0\0\0\x3a\x7e\x9b\x55"
       b"\0\0\0\x0aIDATx\x9cc\xf8\x0f\0\x01\x01\x01\0\x1b\xb6\xee\x56\0\0\0\0IEND\xaeB`\x82")
os.environ["ASAN_OPTIONS"] = os.environ.get("ASAN_OPTIONS", "") + ":detect_leaks=0"


def environment_of(folder):
    """Without the settings and the journal of whoever runs the test."""
    environment = {k: v for k, v in os.environ.items() if not k.startswith("DRAWTRUE")}
    for name in ("HOME", "XDG_DATA_HOME", "XDG_STATE_HOME"):
        environment[name] = str(folder / "home")
    return environment


def run(folder, *arguments, limit=LIMIT, **more):
    environment = {**environment_of(folder), **more.pop("env", {})}
    return subprocess.run([PROGRAM, *map(str, arguments)], cwd=folder, env=environment,
                          stdin=subprocess.DEVNULL, capture_output=True, timeout=limit, **more)


def victims(folder):
    """Files of somebody's, with what they hold."""
    (folder / "art.svg").write_text(SVG)
    (folder / "other.svg").write_text(SVG)
    (folder / "my.ini").write_text(run(folder, "machine", "--template").stdout.decode())
    (folder / "foreign.nc").write_text(FOREIGN)
    (folder / "notes.txt").write_text("seed list\n")
    (folder / "data.json").write_text('{"unit": "mm", "seeds": []}\n')
    (folder / "photo.png").write_bytes(PNG)
    (folder / "rig.ini").write_text("[truth]\nstart_x = 3\n")
    if not (folder / "journal.db").exists():
        db = sqlite3.connect(folder / "journal.db")
        db.execute("CREATE TABLE seeds (name TEXT)")
        db.commit()
        db.close()
    return ["art.svg", "other.svg", "my.ini", "foreign.nc", "notes.txt", "data.json", "photo.png",
            "rig.ini", "journal.db"]


def digests(folder, names):
    return {n: hashlib.sha256((folder / n).read_bytes()).hexdigest() for n in names}


def ways(folder, name):
    """The file by its own name, by a symbolic link, and by a second name of the same file."""
    ending = pathlib.Path(name).suffix
    link, second = folder / ("link" + ending), folder / ("second" + ending)
    for path, make in ((link, os.symlink), (second, os.link)):
        if os.path.lexists(path):
            path.unlink()
        make(folder / name, path)
    return name, link.name, second.name


def outputs(job):
    """Each option by which a command is told where to write."""
    quick = ("-m", "my.ini", "--effort", "0")
    return {
        "plan -o": lambda v: ("plan", "art.svg", *quick, "-o", v),
        "proof -o": lambda v: ("proof", "art.svg", *quick, "-o", v),
        "proof of a program -o": lambda v: ("proof", job, "-m", "my.ini", "-o", v),
        "mend -o": lambda v: ("mend", "foreign.nc", "-m", "my.ini", "-o", v),
        "inspect --picture": lambda v: ("inspect", "foreign.nc", "-m", "my.ini", "--picture", v),
        "learn --output": lambda v: ("learn", "--port", "none", "-m", "my.ini", "--output", v),
        "rig --link": lambda v: ("rig", "rig.ini", "--once", "--link", v),
        "rig --log": lambda v: ("rig", "rig.ini", "--once", "--log", v),
        "rig --scan": lambda v: ("rig", "rig.ini", "--once", "--scan", v),
        "run --journal": lambda v: ("run", job, "--port", "none", "-m", "my.ini", "--journal", v),
        "log --journal": lambda v: ("log", "--journal", v),
    }


def every_option_spares_every_file(folder):
    names = victims(folder)
    run(folder, "plan", "art.svg", "-m", "my.ini", "-o", "job.nc", "--effort", "0")
    before = digests(folder, names)
    modes = {n: os.stat(folder / n).st_mode for n in names}
    for label, command in outputs("job.nc").items():
        wrong = []
        for name in names:
            for way in ways(folder, name):
                if label == "learn --output" and name == "my.ini" and way == name:
                    continue  # in place is what it is for
                try:
                    done = run(folder, *command(way), limit=15)
                    code = done.returncode
                except subprocess.TimeoutExpired:
                    code = "went on"
                if code == 0 or code == "went on" or code < 0:
                    wrong.append((way, name, code))
                if not (folder / name).is_file() or not os.path.lexists(folder / way):
                    wrong.append((way, name, "is gone"))
                    return check(f"{label} spares what others wrote", False, wrong)
        check(f"{label} refuses what others wrote", not wrong, wrong)
        check(f"{label} leaves every byte", digests(folder, names) == before
              and {n: os.stat(folder / n).st_mode for n in names} == modes,
              [n for n in names if digests(folder, names)[n] != before[n]])
    left = [n for n in os.listdir(folder) if re.search(r"\.[A-Za-z0-9]{6}$|\.new$|\.\d+$", n)]
    check("no temporary file is left", not left, left)


def what_it_wrote_is_replaced(folder):
    victims(folder)
    quick = ("-m", "my.ini", "--effort", "0")
    (folder / "z.nc").write_text("G21 G90\nG28\nG0 Z5\nG0 X10 Y10\nG1 Z-1 F300\nG1 X60 Y10 F600\n"
                                 "G0 Z5\nG0 X0 Y0\nM2\n")
    for again in (
            ("plan", "art.svg", *quick, "-o", "own.nc"), ("proof", "art.svg", *quick, "-o", "own.png"),
            ("proof", "art.svg", *quick, "-o", "own.svg"), ("proof", "art.svg", *quick, "-o", "own.pdf"),
            ("inspect", "own.nc", "-m", "my.ini", "-p", "seen.png"),
            ("mend", "z.nc", "-m", "my.ini", "-o", "mended.nc")):
        codes = [run(folder, *again).returncode for _ in range(2)]
        check(f"{again[0]} replaces its own {again[-1]}", codes == [0, 0], codes)
    for kind in ("svg", "png", "pdf"):
        (folder / f"empty.{kind}").write_bytes(b"")
        check(f"an empty {kind} is filled",
              run(folder, "proof", "art.svg", *quick, "-o", f"empty.{kind}").returncode == 0)
    done = run(folder, "proof", "art.svg", *quick, "-o", "other.svg", "--force")
    check("--force replaces", done.returncode == 0 and (folder / "other.svg").read_text() != SVG)
    done = run(folder, "plan", "art.svg", *quick, "-o", "art.svg", "--force")
    check("not even --force writes over what is read",
          done.returncode == 2 and (folder / "art.svg").read_text() == SVG, done.stderr)
    os.environ["DRAWTRUE_MACHINE"] = "my.ini"
    before = (folder / "my.ini").read_bytes()
    done = run(folder, "plan", "art.svg", "-o", "my.ini", "--force",
               env={"DRAWTRUE_MACHINE": "my.ini"})
    check("nor the profile that the environment names",
          done.returncode == 2 and (folder / "my.ini").read_bytes() == before, done.stderr)


def sheets_and_ink(folder):
    names = victims(folder)
    (folder / "art.svg").write_text(SVG.replace("M2 2H12V8", "M2 2H38V28"))
    (folder / "job-2.nc").write_text(FOREIGN)
    done = run(folder, "plan", "art.svg", "-m", "my.ini", "-o", "job.nc", "--sheets", "2x1",
               "--paper", "25x31", "--margin", "0", "--effort", "0")
    check("one sheet of several is refused before any is written",
          done.returncode == 1 and (folder / "job-2.nc").read_text() == FOREIGN
          and not (folder / "job-1.nc").exists(), done.stderr)
    (folder / "out").mkdir()
    (folder / "out" / "ink.json").write_text("{}\n")
    done = run(folder, "rig", "--once", "--out", "out", limit=15)
    check("ink.json of others is refused", done.returncode == 1
          and (folder / "out" / "ink.json").read_text() == "{}\n", done.stderr)
    return names


def pictures_of_a_doubt_spare_what_others_wrote(folder):
    """Their names are made from the output's, so nobody has asked for them."""
    (folder / "doubt.nc").write_text("G21\nG90\nG28\nG0X10Y10\nM3S100\nG1X50F600\nM3S180\nG1Y50\nM3S100\n"
                                     "G1X10\nM3S180\nG1Y10\nM5\nM2\n")
    (folder / "mended-reading-1.png").write_bytes(PNG)
    done = run(folder, "mend", "doubt.nc", "-o", "mended.nc")
    check("a doubt is no success", done.returncode == 1 and not (folder / "mended.nc").exists(), done)
    check("its pictures spare what others wrote",
          (folder / "mended-reading-1.png").read_bytes() == PNG, done)
    check("and the others are drawn", (folder / "mended-reading-2.png").exists(), done)


def journal_is_private(folder):
    os.umask(0o022)
    run(folder, "run", "none.nc", "--port", "none", "--journal", "own.db")
    victims(folder)
    run(folder, "plan", "art.svg", "-m", "my.ini", "-o", "job.nc", "--effort", "0")
    run(folder, "run", "job.nc", "-m", "my.ini", "--port", "none", "--journal", "own.db")
    if not (folder / "own.db").exists():
        run(folder, "log", "--journal", "own.db")
    made = [n for n in os.listdir(folder) if n.startswith("own.db")]
    rights = {n: os.stat(folder / n).st_mode & 0o777 for n in made}
    check("a journal is its owner's alone", made and all(r == 0o600 for r in rights.values()), rights)


def pipes_devices_and_folders(folder):
    victims(folder)
    os.mkfifo(folder / "pipe")
    for path in ("pipe", "/dev/zero", "/dev/tty0", "."):
        for command in (("plan", path, "-o", "x.nc"), ("proof", path, "-o", "x.png"),
                        ("inspect", path), ("inspect", path, "--explain"), ("mend", path, "-o", "x.nc"),
                        ("machine", "-m", path), ("rig", path), ("log", "--journal", path),
                        ("run", path, "--port", "none"), ("run", "foreign.nc", "--port", path),
                        ("learn", "--port", path, "-m", "my.ini"), ("jog", "--port", path, "home")):
            try:
                done = run(folder, *command, limit=20)
                good, said = done.returncode in (1, 3), done.stderr
            except subprocess.TimeoutExpired:
                good, said = False, "hangs"
            check(f"{command[0]} refuses {path} at once as {'port' if '--port' in command else 'file'}",
                  good, (command, said))


def output_that_is_full(folder):
    victims(folder)
    run(folder, "plan", "art.svg", "-m", "my.ini", "-o", "job.nc", "--effort", "0")
    for command in (("machine", "--template"), ("machine",), ("machine", "--json"), ("--help",),
                    ("--version",), ("help", "plan"), ("rig", "--template"), ("inspect", "job.nc"),
                    ("inspect", "job.nc", "--explain"), ("log",), ("log", "--json"),
                    ("plan", "art.svg", "-o", "x.nc", "--effort", "0"),
                    ("proof", "art.svg", "-o", "x.png", "--effort", "0"),
                    ("mend", "job.nc", "-o", "y.nc")):
        with open("/dev/full", "wb") as full:
            done = subprocess.run([PROGRAM, *command], cwd=folder, env=environment_of(folder), stdout=full,
                                  stderr=subprocess.PIPE, timeout=LIMIT)
        check(f"{' '.join(command)} tells that its output is lost",
              done.returncode == 3 and b"No space left" in done.stderr, (done.returncode, done.stderr))
    for path in ("/dev/full", "/proc/version"):
        done = run(folder, "plan", "art.svg", "-o", path, "--effort", "0", "--force")
        check(f"a program for {path} is a failure", done.returncode in (1, 3), done)


def commands_print_by_one_door(_folder):
    """What goes to the terminal past src/cli/print.c would be raw."""
    past = []
    for path in (SOURCE / "src").rglob("*.c"):
        if path.name == "print.c":
            continue
        for number, line in enumerate(path.read_text().splitlines(), 1):
            if re.search(r"\b(?:puts|printf|vprintf|g_print|g_printerr|g_warning|perror)\(|"
                         r"\bf(?:puts|write|putc)\(.*\b(?:stdout|stderr)\)|\bfprintf\((?:stdout|stderr)\b", line):
                past.append(f"{path.relative_to(SOURCE)}:{number}: {line.strip()}")
    check("nothing is printed past print.c", not past, "\n".join(past))


for case in (every_option_spares_every_file, what_it_wrote_is_replaced, sheets_and_ink,
             pictures_of_a_doubt_spare_what_others_wrote, journal_is_private, pipes_devices_and_folders, output_that_is_full,
             commands_print_by_one_door):
    with tempfile.TemporaryDirectory(prefix="drawtrue-") as scratch:
        case(pathlib.Path(scratch))
end_checks()
