#!/usr/bin/env python3
"""The desk without a browser: files of every kind, the profile, learning, corners, several sheets, pages
that fall behind, and a run that a terminal draws. Speaks TAP. Usage: test-desk.py DRAWTRUE EXAMPLES"""
import json
import pathlib
import subprocess
import sys
import time

sys.path.insert(0, str(pathlib.Path(__file__).parent))
from desk import Desk, Page
sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases

PROGRAM, EXAMPLES = (str(pathlib.Path(p).resolve()) for p in sys.argv[1:3])
EXAMPLES = pathlib.Path(EXAMPLES)
LABEL = (EXAMPLES / "packet-label.svg").read_bytes()
def workshop(*more):
    return Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), "--rig-file", str(EXAMPLES / "rig.ini"), *more)


def planned(d, page, name="label.svg", data=LABEL):
    status, said = d.drop(name, data)
    assert status == 200, said
    return page.wait(lambda s: s["drawing"]["name"] == name and (s["drawing"]["state"] == "failed" or s["run"]["phase"] == "ready"), 90, "a plan")


def draw(d, page):
    s = page.parts
    status, said = d.post("start", revision=s["drawing"]["revision"], serial=s["session"]["serial"], despite=False)
    assert status == 200, said
    while True:
        page.wait(lambda s: s["session"]["state"] == "pen-change" or s["run"]["phase"] == "ended", 90, "a pen change or the end")
        if page.parts["run"]["phase"] == "ended":
            return page.parts["run"]
        serial = page.parts["session"]["serial"]
        assert d.post("request", request="go-on", serial=serial)[0] == 200
        page.wait(lambda s: s["session"]["serial"] != serial)


def closed(d):
    code = d.close()
    assert code == 0 and not d.errors, (code, d.errors)


@case
def a_drawing_is_planned_and_drawn_and_its_ink_counted():
    d = workshop()
    page = d.page()
    planned(d, page)
    status, headers, ink = d.ask("GET", "/ink")
    strokes = page.parts["drawing"]["strokes"]
    assert status == 200 and ink[:4] == b"INK1" and int.from_bytes(ink[4:8], "little") == strokes
    status, headers, picture = d.ask("GET", "/art.png")
    assert status == 200 and picture[:8] == b"\x89PNG\r\n\x1a\n"
    run = draw(d, page)
    assert run["ended"] == "done" and run["stroke"] == strokes, run
    log = d.get("/log")["runs"]
    assert len(log) == 1 and log[0]["state"] == "done" and log[0]["drawn"] == strokes
    closed(d)


@case
def a_program_from_elsewhere_is_refused_with_its_reason_and_fixed():
    d = workshop()
    page = d.page()
    s = planned(d, page, "foreign.nc", b"G21\nG90\nG0 X40 Y40\nG1 Z-1 F300\nG1 X80 Y40 F600\nG1 X80 Y80\nG0 Z5\nM30\n")
    assert s["drawing"]["state"] == "failed" and "foreign.nc:4" in s["drawing"]["problem"], s["drawing"]["problem"]
    assert d.post("mend")[0] == 200
    page.wait(lambda s: s["run"]["phase"] == "ready", 20, "the fixed program")
    assert page.parts["drawing"]["strokes"] == 1
    closed(d)


@case
def what_cannot_be_read_says_why_by_its_own_name():
    d = workshop()
    page = d.page()
    for name, data in (("broken.svg", b"<svg><rect"), ("photo.png", b"\x89PNG\r\n\x1a\n" + bytes(20)), ("page.pdf", b"%PDF-1.4\nnothing")):
        s = planned(d, page, name, data)
        assert s["drawing"]["state"] == "failed" and s["drawing"]["problem"], s["drawing"]
        assert "/" not in s["drawing"]["problem"] and name in s["drawing"]["problem"], s["drawing"]["problem"]
    closed(d)


@case
def options_are_those_of_the_one_table_and_a_wrong_value_changes_nothing():
    d = workshop()
    page = d.page()
    names = {o["name"] for o in d.get("/options")["options"]}
    assert {"paper", "margin", "hatch", "sheets"} <= names
    planned(d, page)
    assert d.post("set-options", values={"margin": 15, "hatch": "rings"})[0] == 200
    page.wait(lambda s: s["drawing"]["options"].get("hatch") == "rings" and s["run"]["phase"] == "ready", 60)
    status, said = d.post("set-options", values={"margin": -1, "hatch": "lines"})
    assert status == 400 and "margin" in said["error"], said
    assert page.parts["drawing"]["options"] == {"margin": 15.0, "hatch": "rings"}, page.parts["drawing"]["options"]
    assert d.post("set-options", values={"margin": None, "hatch": None})[0] == 200
    page.wait(lambda s: s["drawing"]["options"] == {}, 10)
    closed(d)


@case
def changes_that_come_faster_than_plans_end_in_the_last_one():
    d = workshop()
    page = d.page()
    planned(d, page)
    for i in range(60):
        assert d.post("set-options", values={"margin": 5 + i % 7})[0] == 200
        time.sleep((0, 0.005, 0.03, 0.09, 0.2, 0.35)[i % 6])
    assert d.post("set-options", values={"margin": 9})[0] == 200
    page.wait(lambda s: s["drawing"]["options"].get("margin") == 9 and s["drawing"]["state"] in ("ready", "failed") and s["run"]["phase"] == "ready", 60, "the last plan")
    assert d.ask("GET", "/program")[0] == 200
    left = [p.name for p in (d.root / "work").iterdir() if p.suffix == ".nc"]
    assert len(left) == 1, left
    closed(d)


@case
def large_art_goes_over_several_sheets_of_which_one_is_chosen():
    d = workshop()
    page = d.page()
    planned(d, page)
    assert d.post("set-options", values={"sheets": "2x2"})[0] == 200
    page.wait(lambda s: s["drawing"]["sheets"] > 1 and s["run"]["phase"] == "ready", 90, "the sheets")
    first = d.ask("GET", "/program")[2]
    revision = page.parts["drawing"]["revision"]
    assert d.post("choose-sheet", sheet=1)[0] == 200
    page.wait(lambda s: s["drawing"]["revision"] > revision and s["run"]["phase"] == "ready", 90, "the other sheet")
    assert d.ask("GET", "/program")[2] != first
    assert d.post("choose-sheet", sheet=99)[0] == 400
    closed(d)


@case
def a_profile_of_ones_own_is_made_changed_and_learnt_into():
    d = Desk(PROGRAM)
    page = d.page()
    page.update()
    status, said = d.post("set-keys", changes=[{"section": "motion", "key": "speed_x", "value": "10 mm/s"}])
    assert status == 409 and "built-in" in said["error"], said
    assert d.post("new-profile", name="mine")[0] == 200
    page.wait(lambda s: (s["machine"]["path"] or "").endswith("/mine.ini"), 10, "the new profile")
    assert d.post("new-profile", name="mine")[0] == 409
    sections = {s["name"]: s["keys"] for s in d.get("/keys")["sections"]}
    assert any(k["name"] == "speed_x" and k["value"] == "15 mm/s" and k["range"] for k in sections["motion"])
    assert d.post("set-keys", changes=[{"section": "pen violet", "key": "colour", "value": "#7a3b8f"}])[0] == 200
    page.wait(lambda s: [p["name"] for p in s["machine"]["pens"]][-1] == "violet", 10, "the new pen")
    status, said = d.post("set-keys", changes=[{"section": "motion", "key": "speed_x", "value": "fast"}])
    assert status == 409 and "mine.ini:" in said["error"], said
    page.wait(lambda s: s["session"]["state"] == "closed", 10)
    assert d.post("learn", may_move=True, serial=page.parts["session"]["serial"])[0] == 200
    page.wait(lambda s: s["learn"]["text"] is not None, 120, "what it learns")
    assert "mine.ini" in page.parts["learn"]["text"] and len(page.parts["learn"]["found"]) > 3, page.parts["learn"]
    closed(d)


@case
def a_test_sheet_is_made_numbered_and_ready_to_be_drawn():
    d = workshop()
    page = d.page()
    page.update()
    assert d.post("make-test-sheet", kind="nonsense")[0] == 400
    for number in (1, 2):
        status, said = d.post("make-test-sheet", kind="all")
        assert status == 200, said
        page.wait(lambda s: s["drawing"]["name"] == f"sheet-{number}.nc" and s["drawing"]["state"] in ("ready", "failed"), 30, "the sheet")
        assert page.parts["drawing"]["state"] == "ready", page.parts["drawing"]["problem"]
        assert page.parts["drawing"]["strokes"] > 20
        if number == 1:
            assert draw(d, page)["ended"] == "done"
    closed(d)


def scans_of(d, program, more=""):
    """What a scanner sees of the sheet that this program draws on the virtual machine: as it lies, and turned."""
    job = d.root / "sheet.nc"
    job.write_bytes(program)
    for turn in (0, 1):
        rig, port, scan = d.root / f"scan{turn}.rig", d.root / f"port{turn}", d.root / f"scan{turn}.png"
        port.unlink(missing_ok=True)
        rig.write_text((EXAMPLES / "rig.ini").read_text() + f"\n[scan]\nsheet_x = 20\nsheet_y = 20\nturn = {turn}\n{more}")
        machine = subprocess.Popen([PROGRAM, "rig", str(rig), "--link", str(port), "--scan", str(scan), "--once"], stdout=subprocess.DEVNULL)
        while not port.is_symlink():
            assert machine.poll() is None
            time.sleep(0.02)
        done = subprocess.run([PROGRAM, "run", str(job), "--port", str(port), "--machine", str(EXAMPLES / "workshop.ini"), "--pens-ready", "--journal", str(d.root / "other.db")],
                              capture_output=True, timeout=120)
        assert done.returncode == 0 and machine.wait(timeout=60) == 0, done.stderr
        yield scan.read_bytes()


def give_scan(d, sheet, name, data, card=False):
    status, _, said = d.ask("POST", f"/scan?sheet={sheet}&name={name}{'&card=1' if card else ''}", data, headers={"Content-Type": "application/octet-stream"}, timeout=30)
    assert status == 200, said
    limit = time.monotonic() + 60
    while (found := d.get("/measure")["sheet"])["scanning"]:
        assert time.monotonic() < limit
        time.sleep(0.05)
    return found


def figure(sheet, word, axis=None):
    return next(f for f in sheet["result"]["figures"] if f["word"] == word and f["axis"] == axis)


@case
def scans_and_lengths_by_rule_show_the_machine_and_two_sheets_are_compared():
    d = workshop()
    page = d.page()
    page.update()
    assert d.post("make-test-sheet", kind="scan")[0] == 200
    page.wait(lambda s: s["drawing"]["state"] == "ready", 30, "the sheet")
    plain, turned = scans_of(d, d.ask("GET", "/program")[2])
    s = give_scan(d, 1, "other.png", (d.root / "scan0.png").read_bytes()[:200])
    assert s["scan_problem"].startswith("other.png") and "/" not in s["scan_problem"] and not s["scans"], s["scan_problem"]
    s = give_scan(d, 1, "plain.png", plain)
    assert s["scan_problem"] is None and s["result"]["causes"], s["scan_problem"]
    assert figure(s, "square")["found"]["value"] is None  # one scan cannot tell it from the scanner's own
    s = give_scan(d, 1, "turned.png", turned)
    assert {scan["turn"] for scan in s["scans"]} == {0, 3} or {scan["turn"] for scan in s["scans"]} == {0, 1}, s["scans"]
    assert abs(float(figure(s, "square")["found"]["value"])) > 0.1  # the machine of the examples is out of square
    assert figure(s, "scale", "X")["found"]["value"] is None
    assert d.ask("POST", "/scan?sheet=1&name=third.png", plain, headers={"Content-Type": "application/octet-stream"})[0] == 409
    gauge = next(a["name"] for a in s["asks"] if a["kind"] == "rule" and a["name"].startswith("LX"))
    for i in range(3):
        assert d.post("keep-reading", sheet=1, ask=gauge, i=i, text="187.1")[0] == 200
    while d.get("/measure")["sheet"]["scanning"]:
        time.sleep(0.05)
    assert float(figure(d.get("/measure")["sheet"], "scale", "X")["found"]["value"]) > 1.005
    assert d.post("make-test-sheet", kind="scan")[0] == 200
    s = give_scan(d, 2, "plain.png", plain)
    assert "sheet 1" in s["scan_problem"] and not s["scans"], s
    page.wait(lambda s: s["drawing"]["name"] == "sheet-2.nc" and s["drawing"]["state"] == "ready", 30, "the second sheet")
    for name, data in zip(("plain.png", "turned.png"), scans_of(d, d.ask("GET", "/program")[2])):
        s = give_scan(d, 2, name, data)
        assert s["scan_problem"] is None, s["scan_problem"]
    verdicts = {(f["word"], f["axis"]): f["verdict"] for f in d.get("/compare?first=1&second=2")["figures"]}
    assert verdicts[("square", None)] == "same" and verdicts[("scale", "X")] == "unknown", verdicts
    assert d.ask("GET", "/compare.png?first=1&second=2")[2][:8] == b"\x89PNG\r\n\x1a\n"
    sheets = d.get("/sheets")["sheets"]
    assert [s["number"] for s in sheets] == [1, 2] and all(s["read"] and s["ink_mm"] > 0 for s in sheets), sheets
    assert d.post("forget-scans", sheet=2)[0] == 200
    assert not d.get("/measure")["sheet"]["scans"] and "result" not in d.get("/measure")["sheet"]
    assert len(list((d.root / "work").glob("scan-*"))) == 2
    closed(d)


@case
def a_card_beside_the_sheet_gives_lengths_without_a_rule():
    d = workshop()
    assert d.post("make-test-sheet", kind="scan")[0] == 200
    program = d.ask("GET", "/program")[2]
    plain = next(scans_of(d, program))
    s = give_scan(d, 1, "no-card.png", plain, card=True)
    assert "no card" in s["scan_problem"] and not s["scans"], s["scan_problem"]  # it was promised, so nothing is guessed
    s = give_scan(d, 1, "plain.png", plain)
    assert figure(s, "scale", "X")["found"]["value"] is None and not s["scans"][0]["card"]
    assert d.post("forget-scans", sheet=1)[0] == 200
    s = give_scan(d, 1, "card.png", next(scans_of(d, program, "card = 0.5\ncard_x = 75\ncard_y = 50\n")), card=True)
    assert s["scan_problem"] is None and s["scans"][0]["card"], s
    assert figure(s, "scale", "X")["found"]["value"] is not None, s["result"]["figures"]


@case
def scans_are_still_there_when_the_desk_is_started_again():
    d = workshop()
    d.page().update()
    assert d.post("make-test-sheet", kind="scan")[0] == 200
    plain = next(scans_of(d, d.ask("GET", "/program")[2]))
    before = give_scan(d, 1, "plain.png", plain)
    d.kill()
    d.process.stdout.close()
    d.process.stderr.close()
    d.start()
    after = d.get("/measure")["sheet"]
    assert after["result"]["figures"] == before["result"]["figures"] and len(after["scans"]) == 1, after["scans"]
    assert before["scans"][0]["name"] == "plain.png" and after["scans"][0]["name"] == "scan 1", after["scans"]
    closed(d)


@case
def ink_is_counted_against_a_new_tip():
    d = workshop()
    page = d.page()
    page.update()
    assert d.post("new-tip", pen="green")[0] == 200
    notes = d.get("/log")["notes"]
    assert [(n["kind"], n["text"]) for n in notes] == [("new tip", "green")], notes
    closed(d)


@case
def a_fresh_virtual_machine_draws_the_rest_of_a_run_with_the_right_pens():
    d = Desk(PROGRAM, "--machine", str(EXAMPLES / "workshop.ini"), "--rig-file", str(EXAMPLES / "rig.ini"), "--ink", "ink")
    page = d.page()
    planned(d, page)
    s = page.parts
    assert d.post("start", revision=s["drawing"]["revision"], serial=s["session"]["serial"], despite=False)[0] == 200
    page.wait(lambda s: s["session"]["state"] == "pen-change" and s["session"]["pen_name"] == "terracotta", 60, "the second pen")
    d.kill()
    d.process.stdout.close()
    d.process.stderr.close()
    d.start()
    page = d.page()
    page.wait(lambda s: "unfinished" in s["log"], 10)
    assert d.post("resume", run=page.parts["log"]["unfinished"]["run"], back_strokes=2, from_place=False, serial=page.parts["session"]["serial"])[0] == 200
    page.wait(lambda s: s["run"]["phase"] == "ready" and s["run"]["resumes"] > 0, 30)
    assert draw(d, page)["ended"] == "done"
    folder = d.folder / "ink"
    code = None
    d.process.send_signal(15)
    code = d.process.wait(timeout=30)
    pens = [s["pen"] for s in json.loads((folder / "ink.json").read_text())["strokes"]]
    changes = [pens[0]] + [b for a, b in zip(pens, pens[1:]) if a != b]
    assert code == 0 and changes == ["green", "terracotta", "black"], (code, changes)
    closed(d)


@case
def two_touched_corners_lay_the_drawing_on_the_sheet():
    d = workshop()
    page = d.page()
    planned(d, page)
    plain = d.ask("GET", "/program")[2]
    w = page.parts["drawing"]["paper"][2] - page.parts["drawing"]["paper"][0]

    def jog(**values):
        assert d.post("jog", serial=page.parts["session"]["serial"], **values)[0] == 200
        serial = page.parts["session"]["serial"]
        page.wait(lambda s: s["session"]["serial"] > serial and s["session"]["state"] == "ready", 60, "the motion")

    jog(kind="home")
    for which, x, y in (("left", 30, 30), ("right", 30 + w * 0.9998, 30 + w * 0.02)):
        jog(kind="to", x=x / 1.004, y=y / 0.996)
        status, said = d.post("touch-corner", which="top", serial=page.parts["session"]["serial"])
        assert status == 400 and "'which' must be left or right" in said["error"], (status, said)
        status, said = d.post("touch-corner", which=which, serial=page.parts["session"]["serial"])
        assert status == 200, said
    page.wait(lambda s: s["drawing"]["left"] and s["drawing"]["right"] and (s["run"]["phase"] == "ready" or s["drawing"]["state"] == "failed"), 60, "the laid drawing")
    assert page.parts["drawing"]["state"] != "failed", page.parts["drawing"]["problem"]
    assert d.ask("GET", "/program")[2] != plain
    assert d.post("forget-corners")[0] == 200
    page.wait(lambda s: s["drawing"]["left"] is None and s["run"]["phase"] == "ready", 60)
    assert d.ask("GET", "/program")[2] == plain
    closed(d)


@case
def a_page_that_fell_behind_gets_the_latest_state_and_no_more():
    d = workshop()
    page, slow = d.page(), Page(d, acknowledges=False)
    planned(d, page)
    time.sleep(0.3)
    told = 0
    while slow.update(0.2):
        told += 1
    assert told <= 6, told
    slow.acknowledges = True
    slow.send(str(slow.parts["n"]))
    slow.wait(lambda s: s["drawing"]["state"] == "ready" and s["run"]["phase"] == "ready", 3, "the latest state")
    assert slow.parts["drawing"] == page.parts["drawing"]
    closed(d)


@case
def a_connection_that_stood_still_during_a_run_agrees_afterwards():
    d = workshop()
    page, paused = d.page(), d.page()
    planned(d, page)
    run = draw(d, page)
    assert run["ended"] == "done"
    paused.wait(lambda s: s["run"]["phase"] == "ended", 5, "the end")
    assert paused.parts["run"] == page.parts["run"]
    closed(d)


@case
def a_run_of_the_command_line_is_seen_and_resumed_here():
    d = workshop()
    page = d.page()
    planned(d, page)
    job = d.root / "job.nc"
    job.write_bytes(d.ask("GET", "/program")[2])
    port = page.parts["machine"]["port"]
    run = subprocess.Popen([PROGRAM, "run", str(job), "--port", port, "--machine", str(EXAMPLES / "workshop.ini"), "--pens-ready", "--json",
                            "--journal", str(d.root / "journal.db")], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)
    for line in run.stdout:
        if json.loads(line)["stroke"] > 3:
            break
    run.kill()
    run.wait()
    run.stdout.close()
    page.wait(lambda s: "unfinished" in s["log"] and s["log"]["unfinished"]["state"] in ("cut off", "running"), 10, "what is unfinished")
    limit = time.monotonic() + 10
    while True:
        status, said = d.post("resume", run=page.parts["log"]["unfinished"]["run"], back_strokes=0, from_place=False, serial=page.parts["session"]["serial"])
        if status == 200 or time.monotonic() > limit:
            break
        time.sleep(0.1)
    assert status == 200, said
    page.wait(lambda s: s["run"]["phase"] == "ready" and s["run"]["resumes"] > 0, 10)
    assert draw(d, page)["ended"] == "done"
    closed(d)


run_cases()
