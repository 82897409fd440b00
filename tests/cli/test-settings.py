#!/usr/bin/env python3
"""machine --board and --send, as their user runs them, on the virtual machine."""
import json
import os
import pathlib
import subprocess
import sys
import tempfile

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import check, end_checks

DRAWTRUE = sys.argv[1]


def run(*args):
    return subprocess.run([DRAWTRUE, "machine", *args], capture_output=True, text=True, timeout=60)


def results(done):
    return {s["name"]: s["result"] for s in json.loads(done.stdout)["settings"]}


def settings(folder):
    profile, link = os.path.join(folder, "my.ini"), os.path.join(folder, "port")
    with open(profile, "w", encoding="utf-8") as file:
        file.write("[motion]\nsteps_per_mm_x = 99.8125 /mm\nsteps_per_mm_y = 100 /mm\nspeed_x = 14 mm/s\n")
    rig = subprocess.Popen([DRAWTRUE, "rig", "--link", link, "--json"], stdout=subprocess.PIPE, text=True)
    rig.stdout.readline()
    try:
        found = run("-m", profile, "--board", link, "--json")
        differ = sorted(n for n, r in results(found).items() if r == "differs")
        check("what differs is told, with exit code 1",
              found.returncode == 1 and differ == ["speed_x", "steps_per_mm_x"], found)
        sent = run("-m", profile, "--send", link, "--json")
        check("send writes what differs and nothing else",
              sent.returncode == 0 and
              sorted(n for n, r in results(sent).items() if r == "written") == differ, sent)
        again = run("-m", profile, "--board", link, "--json")
        check("a board that was reset still has them",
              again.returncode == 0 and set(results(again).values()) == {"the same"}, again)
        with open(profile, "w", encoding="utf-8") as file:
            file.write("[motion]\ntravel_x = 5000 mm\nsteps_per_mm_x = 3000 /mm\n")
        refused = run("-m", profile, "--send", link)
        check("what the board refuses is said in its words",
              refused.returncode == 1 and "travel has too many steps" in refused.stderr, refused)
    finally:
        rig.terminate()
        rig.wait(20)
    gone = run("-m", profile, "--send", os.path.join(folder, "nowhere"))
    check("a port that is not there", gone.returncode == 1 and "no such port" in gone.stderr, gone)


PROGRAM = "G21G90\nM5\nG4P0.1\nG28\nG0X15Y15\nM3 S40\nG4P0.15\nG1X20Y15F600\nM5\nG4P0.1\nG0X0Y0\nM2\n"


def draw(folder, profile, link):
    """The texts of what was found, and the run's exit code."""
    program = os.path.join(folder, "job.nc")
    with open(program, "w", encoding="utf-8") as file:
        file.write(PROGRAM)
    env = {**os.environ, "HOME": folder, "XDG_STATE_HOME": os.path.join(folder, "state")}
    done = subprocess.run([DRAWTRUE, "run", program, "-m", profile, "--port", link, "--json", "--pens-ready",
                           "--other-machine"], capture_output=True, text=True, timeout=120, env=env,
                          stdin=subprocess.DEVNULL)
    events = [json.loads(line) for line in done.stdout.splitlines()]
    return [e.get("text", "") for e in events if e["event"] == "found"], done


def warns(folder):
    """A run says what the board is set to otherwise than the profile, and draws all the same."""
    profile, link = os.path.join(folder, "ours.ini"), os.path.join(folder, "port")
    rig = subprocess.Popen([DRAWTRUE, "rig", "--link", link, "--json"], stdout=subprocess.PIPE, text=True)
    rig.stdout.readline()
    steps = "steps_per_mm_x = 100 /mm\nsteps_per_mm_y = 100 /mm\n"
    cases = [("[motion]\n" + steps + "[controller]\nsettings = yes\n", []),
             ("[motion]\nspeed_x = 14 mm/s\n" + steps + "[controller]\nsettings = yes\n",
              ["speed_x is 15 and not 14"]),
             ("[motion]\n" + steps + "[controller]\nsettings = yes\n[board]\npen_up_pulse = 1.1 ms\n"
              "switch_opens_y = yes\n", ["pen_up_pulse is 1000 and not 1100", "switch_opens_y is 0 and not 1"]),
             ("[motion]\nspeed_x = 14 mm/s\n" + steps, [])]
    try:
        for text, parts in cases:
            with open(profile, "w", encoding="utf-8") as file:
                file.write(text)
            found, done = draw(folder, profile, link)
            good = done.returncode == 0 and len(found) == bool(parts) and all(p in found[0] for p in parts)
            check(f"a run warns of {parts or 'nothing'}", good, (text, found, done))
        sent = run("-m", profile, "--board", link, "--json")
        check("the board's other settings are compared too",
              {"pen_up_pulse", "pen_pulse_per_s", "switch_opens_x", "motor_reversed_y", "home_speed"} <=
              set(results(sent)), sent)
        # One difference is enough to end with 1, wherever in the list it stands.
        for section, key, value in (("motion", "speed_x", "14 mm/s"), ("board", "home_speed", "7 mm/s"),
                                    ("board", "motor_reversed_y", "yes")):
            with open(profile, "w", encoding="utf-8") as file:
                file.write("[motion]\n" + steps + (f"[{section}]\n" if section != "motion" else "") +
                           f"{key} = {value}\n")
            compared = run("-m", profile, "--board", link, "--json")
            differ = [name for name, result in results(compared).items() if result == "differs"]
            check(f"where {key} alone differs the exit code is 1",
                  compared.returncode == 1 and differ == [key], compared)
        with open(profile, "w", encoding="utf-8") as file:
            file.write("[motion]\n" + steps)
        same = run("-m", profile, "--board", link, "--json")
        check("and 0 where nothing does", same.returncode == 0 and set(results(same).values()) == {"the same"}, same)
    finally:
        rig.terminate()
        rig.wait(20)


with tempfile.TemporaryDirectory() as where:
    settings(where)
    warns(where)
end_checks()
