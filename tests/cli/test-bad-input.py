#!/usr/bin/env python3
"""Bad input, end to end: each case runs the built program and wants one clear message, the right exit
code, and nothing half written. Speaks TAP. Usage: test-bad-input.py DRAWTRUE"""
import os
import pathlib
import pty
import re
import select
import subprocess
import sys
import threading
import tty

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases, scratch_folder

PROGRAM = os.path.abspath(sys.argv[1])
ASK_STATE = b"\x05"
HANGS_AFTER = 60  # seconds; far beyond anything that these cases need, so only a hang ends here
INPUT, USAGE, IO = 1, 2, 3
GOOD_ART = ('<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="60mm" '
            'viewBox="0 0 100 60"><path d="M10 10H90V50" fill="none" stroke="#000"/></svg>')
def text_of(stream):
    return stream.decode("utf-8", "replace")


def run(folder, *arguments):
    environment = {k: v for k, v in os.environ.items() if k != "DRAWTRUE_MACHINE"}
    environment["HOME"] = environment["XDG_DATA_HOME"] = environment["XDG_STATE_HOME"] = str(folder / "home")
    return subprocess.run([PROGRAM, *map(str, arguments)], cwd=folder, env=environment,
                          stdin=subprocess.DEVNULL, capture_output=True, timeout=HANGS_AFTER)


def listing(folder):
    """Every file with its bytes; what the program keeps under its home is not the user's work."""
    return {p.relative_to(folder): p.read_bytes() for p in sorted(folder.rglob("*"))
            if p.is_file() and "home" not in p.relative_to(folder).parts}


def want(condition, message):
    if not condition:
        raise AssertionError(message)


def refused(folder, code, pattern, *arguments, cautioned=False):
    """Runs, and wants the exit code, one message on standard error that matches, and no file changed.
    Only the caution of a machine's first run may stand before the message."""
    before = listing(folder)
    done = run(folder, *arguments)
    err, out = text_of(done.stderr), text_of(done.stdout)
    lines = err.splitlines()
    if cautioned and lines and not lines[0].startswith("drawtrue: "):
        want("Keep fingers" in lines[0], f"not the caution: {lines[0]}")
        lines = [line for line in lines if line.startswith("drawtrue: ")]
    want(done.returncode == code, f"exit code {done.returncode}, not {code}; it said: {err}{out}")
    want(len(lines) == 1, f"{len(lines)} lines on standard error, not one: {err}")
    want(lines[0].startswith("drawtrue: "), f"does not say who speaks: {lines[0]}")
    want(re.search(pattern, lines[0]), f"'{lines[0]}' does not match '{pattern}'")
    want(listing(folder) == before, "files were made or changed: " +
         ", ".join(str(p) for p in set(listing(folder)) ^ set(before)))


def plan_refused(folder, name, content, pattern, *options):
    (folder / name).write_bytes(content)
    refused(folder, INPUT, pattern, "plan", name, "-o", "job.nc", *options)
    # and an earlier program survives the failed attempt
    (folder / "job.nc").write_text("(drawtrue earlier)")
    refused(folder, INPUT, pattern, "plan", name, "-o", "job.nc", *options)


@case
def an_empty_drawing_is_refused(folder):
    plan_refused(folder, "empty.svg", b"", r"empty\.svg")


@case
def a_picture_of_pixels_is_refused(folder):
    plan_refused(folder, "photo.svg", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(range(256)), r"photo\.svg")


@case
def plain_text_is_refused_with_its_line(folder):
    plan_refused(folder, "notes.svg", b"sow the beans\nin May\n", r"notes\.svg:1:")


@case
def another_xml_document_is_refused(folder):
    plan_refused(folder, "page.svg", b"<?xml version='1.0'?>\n<html><body/></html>\n", r"page\.svg:2:.*svg")


@case
def xml_that_is_cut_off_is_refused_with_its_line(folder):
    cut = b"<svg xmlns='http://www.w3.org/2000/svg'>\n<g>\n<path d='M0 0L10"
    plan_refused(folder, "cut.svg", cut, r"cut\.svg:3:")


@case
def a_drawing_without_ink_is_refused(folder):
    plan_refused(folder, "blank.svg", b"<svg xmlns='http://www.w3.org/2000/svg' width='9' height='9'/>",
                 r"blank\.svg")


@case
def a_missing_drawing_is_refused(folder):
    refused(folder, INPUT, r"nowhere\.svg", "plan", "nowhere.svg", "-o", "job.nc")


@case
def a_folder_is_no_drawing(folder):
    (folder / "art.svg").mkdir()
    refused(folder, INPUT, r"art\.svg", "plan", "art.svg", "-o", "job.nc")


@case
def art_larger_than_the_bed_is_refused_with_the_numbers(folder):
    art = GOOD_ART.replace('width="100mm" height="60mm"', 'width="2000mm" height="1200mm"')
    plan_refused(folder, "barn.svg", art.encode(), r"\d+.* mm", "--true-size")


@case
def paper_that_does_not_exist_is_refused(folder):
    (folder / "art.svg").write_text(GOOD_ART)
    before = listing(folder)
    done = run(folder, "plan", "art.svg", "-o", "job.nc", "--paper", "Q7")
    want(done.returncode in (INPUT, USAGE), f"exit code {done.returncode}")
    want("Q7" in text_of(done.stderr), text_of(done.stderr))
    want(len(text_of(done.stderr).splitlines()) == 1, text_of(done.stderr))
    want(listing(folder) == before, "files were made or changed")


def profile_refused(folder, content, pattern):
    (folder / "art.svg").write_text(GOOD_ART)
    (folder / "shed.ini").write_text(content)
    refused(folder, INPUT, pattern, "plan", "art.svg", "-o", "job.nc", "--machine", "shed.ini")


@case
def a_profile_that_says_nothing_is_refused_by_every_command(folder):
    (folder / "art.svg").write_text(GOOD_ART)
    (folder / "job.nc").write_text("G21 G90\nM2\n")
    for content in "", "# travel_x = 300 mm\n\n", "[machine]\n":
        (folder / "shed.ini").write_text(content)
        for command in (("plan", "art.svg", "-o", "out.nc"), ("proof", "art.svg", "-o", "out.png"), ("machine",),
                        ("sheet", "-o", "out.nc"), ("inspect", "job.nc"), ("mend", "job.nc", "-o", "out.nc"),
                        ("learn", "--port", "/dev/null", "--still"), ("true", "X1=3"), ("desk",)):
            refused(folder, INPUT, r"shed\.ini: .*nothing.*no key.*--template", *command, "--machine", "shed.ini")


@case
def a_negative_speed_is_refused_with_its_line(folder):
    profile_refused(folder, "[machine]\nname = shed\n\n[motion]\nspeed_x = -5 mm/s\n",
                    r"shed\.ini:5:.*speed_x|shed\.ini:5:.*-5")


@case
def a_misspelt_key_is_refused_with_the_nearest_one(folder):
    profile_refused(folder, "[motion]\nsped_x = 5 mm/s\n", r"shed\.ini:2:.*speed_x")


@case
def a_wrong_unit_is_refused_with_its_line(folder):
    profile_refused(folder, "[motion]\ntravel_x = 300 kg\n", r"shed\.ini:2:")


@case
def a_profile_that_is_no_profile_is_refused_with_its_line(folder):
    profile_refused(folder, "this is not a profile\n", r"shed\.ini:1:")


@case
def a_missing_profile_is_refused(folder):
    (folder / "art.svg").write_text(GOOD_ART)
    refused(folder, INPUT, r"gone\.ini", "plan", "art.svg", "-o", "job.nc", "--machine", "gone.ini")


@case
def a_folder_that_does_not_exist_cannot_be_written(folder):
    (folder / "art.svg").write_text(GOOD_ART)
    refused(folder, IO, r"none/job\.nc", "plan", "art.svg", "-o", "none/job.nc")


@case
def an_unknown_command_is_wrong_usage(folder):
    refused(folder, USAGE, r"plam.*plan", "plam", "x.svg")


@case
def an_unknown_option_is_wrong_usage(folder):
    refused(folder, USAGE, r"--sideways", "plan", "x.svg", "--sideways")


@case
def a_missing_argument_is_wrong_usage(folder):
    refused(folder, USAGE, r"plan", "plan")


@case
def an_output_without_a_name_is_wrong_usage(folder):
    (folder / "art.svg").write_text(GOOD_ART)
    refused(folder, USAGE, r"needs a name", "plan", "art.svg", "-o", "")


@case
def names_that_begin_with_a_dash_follow_two_dashes(folder):
    (folder / "-art.svg").write_text(GOOD_ART)
    for names in (("--", "-art.svg"), ("--effort=0", "--", "-art.svg")):
        done = run(folder, "plan", "-o", "job.nc", *names)
        want(done.returncode == 0, text_of(done.stderr))
    refused(folder, USAGE, r"-art\.svg", "plan", "-art.svg", "-o", "job.nc")
    refused(folder, USAGE, r"one drawing", "plan", "-o", "job.nc", "--", "-art.svg", "-art.svg")


@case
def a_switch_takes_no_value(folder):
    (folder / "art.svg").write_text(GOOD_ART)
    (folder / "job.nc").write_text("(a list of seeds)")
    for switch in "--force", "--solid", "--no-hide", "--json":
        refused(folder, USAGE, rf"{switch} takes no value", "plan", "art.svg", "-o", "job.nc", switch + "=no")


# The machine's side -----------------------------------------------------------------------------


def planned_job(folder, timeout="1 s"):
    """A program and a profile whose controller may keep silent for a second."""
    (folder / "art.svg").write_text(GOOD_ART)
    (folder / "shed.ini").write_text(f"[controller]\nreply_timeout = {timeout}\n")
    done = run(folder, "plan", "art.svg", "-o", "job.nc", "--machine", "shed.ini")
    want(done.returncode == 0, text_of(done.stderr))


class Controller:
    """One end of a pseudo-terminal; `answer` gets each line and its number and gives the reply, or None. With a greeting
    it also tells its state when asked."""

    def __init__(self, answer, greeting=b""):
        self.states, self.dies_at = bool(greeting), None
        self.master, slave = pty.openpty()
        tty.setraw(slave)
        self.slave, self.port = slave, os.ttyname(slave)
        self.answer, self.greeting, self.lines, self.taken = answer, greeting, [], 0
        self.stop = threading.Event()
        self.thread = threading.Thread(target=self.serve, daemon=True)
        self.thread.start()

    def serve(self):
        if self.greeting:
            os.write(self.master, self.greeting)
        held = b""
        while not self.stop.is_set():
            if not select.select([self.master], [], [], 0.05)[0]:
                continue
            held += os.read(self.master, 4096)
            dead = self.dies_at is not None and self.taken + 1 >= self.dies_at
            if ASK_STATE in held and self.states and not dead:
                os.write(self.master, b"state still x 0.000 y 0.000 pen up line %d switch --\n" %
                         self.taken)
            held = re.sub(b"[\x05\x11\x13\x18]", b"", held)
            while b"\n" in held:
                line, held = held.split(b"\n", 1)
                self.lines.append(line)
                named = re.match(rb"N(\d+)", line)
                reply = self.answer(line, int(named[1]) if named else len(self.lines))
                if reply is not None:
                    if reply.startswith(b"taken"):
                        self.taken = int(reply.split()[1])
                    os.write(self.master, reply)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.stop.set()
        self.thread.join()
        os.close(self.master)
        os.close(self.slave)


def run_refused(folder, controller, code, pattern):
    with controller:
        refused(folder, code, pattern, "run", "job.nc", "--port", controller.port, "--machine",
                "shed.ini", "--pens-ready", cautioned=True)


@case
def a_port_that_does_not_exist_is_refused(folder):
    planned_job(folder)
    refused(folder, INPUT, r"nowhere/port", "run", "job.nc", "--port", "nowhere/port", "--machine",
            "shed.ini", cautioned=True)


@case
def a_file_is_no_port(folder):
    planned_job(folder)
    refused(folder, INPUT, r"art\.svg", "run", "job.nc", "--port", "art.svg", "--machine", "shed.ini",
            cautioned=True)


@case
def a_missing_program_is_refused(folder):
    planned_job(folder)
    with Controller(lambda line, n: None) as silent:
        refused(folder, INPUT, r"gone\.nc", "run", "gone.nc", "--port", silent.port, "--machine",
                "shed.ini", cautioned=True)


@case
def a_silent_controller_is_given_up_after_the_timeout(folder):
    planned_job(folder)
    run_refused(folder, Controller(lambda line, n: None), INPUT, r".")


@case
def a_controller_that_falls_silent_while_drawing_is_given_up(folder):
    planned_job(folder)
    dead = Controller(lambda line, n: b"taken %d\n" % n if n < 9 else None, b"drawtrue controller 1 ready\n")
    dead.dies_at = 9  # after homing, which alone may take minutes
    run_refused(folder, dead, INPUT, r"has not answered|dropped its lines")


@case
def a_refused_line_stops_the_run_and_is_named(folder):
    planned_job(folder)
    answer = lambda line, n: b"refused %d word unknown\n" % n
    run_refused(folder, Controller(answer, b"drawtrue controller 1 ready\n"), INPUT, r"refuses .*unknown")


@case
def a_controller_that_talks_nonsense_is_given_up(folder):
    planned_job(folder)
    answer = lambda line, n: b"\xff\x00\x80 what?\n"
    run_refused(folder, Controller(answer), INPUT, r".")


run_cases(scratch_folder)
