#!/usr/bin/env python3
"""Fills, tones, pens, letters and sheets as a user asks for them, end to end. Speaks TAP.
Usage: test-ink.py DRAWTRUE"""
import json
import os
import pathlib
import subprocess
import sys

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases, scratch_folder

PROGRAM = os.path.abspath(sys.argv[1])
HANGS_AFTER = 120  # seconds; only a hang takes so long
HEAD = '<svg xmlns="http://www.w3.org/2000/svg" width="100mm" height="80mm" viewBox="0 0 100 80">'
SQUARE = '<rect x="20" y="20" width="40" height="30"/>'
PENS = """[pen fine]
colour = #000000
tip = 0.4 mm
[pen leaf]
colour = #2e7d32
tip = 0.4 mm
classes = plant
groups = bed-2
"""
def want(condition, message):
    if not condition:
        raise AssertionError(message)


def run(folder, *arguments):
    environment = {k: v for k, v in os.environ.items() if k != "DRAWTRUE_MACHINE"}
    quiet = folder / "leaks-of-libraries"  # fontconfig keeps its caches to the end
    quiet.write_text("leak:libfontconfig\nleak:libpango\n")
    environment["LSAN_OPTIONS"] = f"suppressions={quiet}:print_suppressions=0"
    environment["HOME"] = environment["XDG_DATA_HOME"] = environment["XDG_STATE_HOME"] = str(folder)
    return subprocess.run([PROGRAM, *map(str, arguments)], cwd=folder, env=environment, text=True,
                          stdin=subprocess.DEVNULL, capture_output=True, timeout=HANGS_AFTER)


def plan(folder, body, *arguments, pens=PENS):
    """The JSON report of a plan; true size, so that lengths are those of the drawing."""
    (folder / "art.svg").write_text(HEAD + body + "</svg>")
    (folder / "my.ini").write_text(pens)
    done = run(folder, "plan", "art.svg", "-o", "job.nc", "-m", "my.ini", "--json", "--effort", "0",
               "--true-size", *arguments)
    want(done.returncode == 0, f"exit {done.returncode}: {done.stderr}")
    return json.loads(done.stdout)


def refused(folder, body, code, text, *arguments, pens=PENS):
    (folder / "art.svg").write_text(HEAD + body + "</svg>")
    (folder / "my.ini").write_text(pens)
    done = run(folder, "plan", "art.svg", "-o", "job.nc", "-m", "my.ini", *arguments)
    want(done.returncode == code, f"exit {done.returncode}, not {code}: {done.stderr}")
    want(text in done.stderr, f"'{text}' is not in: {done.stderr}")
    want(not (folder / "job.nc").exists(), "a program was left behind")


def ink(report, pen=None):
    return sum(p["ink_mm"] for p in report["pens"] if pen in (None, p["name"]))


def about(got, wanted, share, what):
    want(abs(got - wanted) <= share * wanted, f"{what}: {got:.1f}, not about {wanted:.1f}")


@case
def a_hairline_that_lies_free_takes_a_lighter_pen(folder):
    pens = "[pen fine]\ncolour = #1c1c1c\n[pen grey]\ncolour = #8a8d8f\n[pen brown]\ncolour = #7a4a2b\n"
    line = '<path d="M10 70H90" stroke="#000" fill="none" stroke-width="{}"/>'
    thin = plan(folder, line.format(0.1), pens=pens)
    about(ink(thin, "grey"), 80, 0.01, "free")
    want([c["pen"] for c in thin["colours"]] == ["grey"], f"{thin['colours']}")
    about(ink(plan(folder, line.format(0.4), pens=pens), "fine"), 80, 0.01, "as wide as the pen")
    by_hand = plan(folder, line.format(0.1), "--colour", "#000000=fine", pens=pens)
    about(ink(by_hand, "fine"), 80, 0.01, "by hand")
    field = '<rect x="10" y="70.1" width="80" height="5" fill="#000"/>'
    want(ink(plan(folder, field + line.format(0.1), pens=pens), "grey") == 0, "beside a field")
    want(ink(plan(folder, line.format(0.1), "--solid", pens=pens), "grey") == 0, "solid")


@case
def pens_say_their_dot_gain_and_overprints(folder):
    grey = '<rect x="20" y="20" width="40" height="30" fill="#9a9a9a"/>'
    plain = ink(plan(folder, grey, pens="[pen fine]\n"))
    soft = ink(plan(folder, grey, pens="[pen fine]\ndot_gain = 2\n"))
    want(0.4 * plain < soft < 0.9 * plain, f"{soft} with dot gain, {plain} without")
    (folder / "job.nc").unlink()
    refused(folder, grey, 1, "my.ini:2: dot_gain", pens="[pen fine]\ndot_gain = 0.5\n")
    refused(folder, grey, 1, "my.ini:2: over: there is no pen 'red'",
            pens="[pen fine]\nover = red #802020\n")


@case
def what_is_too_faint_is_told(folder):
    faint = '<g opacity="0.0015"><rect x="20" y="20" width="40" height="30"/></g>' * 400
    told = plan(folder, '<path d="M5 5h9" stroke="#000"/>' + faint)
    want(any("400 translucent paints" in n for n in told["notes"]), f"notes {told['notes']}")
    (folder / "job.nc").unlink()
    refused(folder, faint, 1, "400 translucent paints")
    half = '<rect width="40" height="30" opacity=".3"/><path d="M5 60h9" stroke="#fefefe"/>'
    refused(folder, half, 1, "1 translucent paint", "--solid")
    refused(folder, half, 1, "left to the paper: #fefefe", "--solid")


@case
def a_time_limit_is_kept_or_refused(folder):
    full = plan(folder, SQUARE)
    whole = full["time_s"] + full["change_s"]
    roomy = plan(folder, SQUARE, "--minutes", "500")
    want(roomy["time_s"] == full["time_s"] and roomy["budget"]["spread"] == 1, f"{roomy['budget']}")
    for share in (0.8, 0.5):
        told = plan(folder, SQUARE, "--minutes", f"{share * whole / 60:.4f}")
        took = told["time_s"] + told["change_s"]
        want(0.8 * share * whole < took <= share * whole + 0.01, f"{took} of {share * whole}")
        want(told["budget"]["spread"] > 1 and abs(told["budget"]["full_s"] - whole) < 0.01,
             f"{told['budget']}")
    (folder / "job.nc").unlink()
    refused(folder, SQUARE, 1, "it cannot be drawn in", "--minutes", "0.1")
    refused(folder, SQUARE, 2, "--minutes is for one sheet", "--minutes", "9", "--sheets", "2x2")
    refused(folder, SQUARE, 2, "--minutes takes 0.1 to", "--minutes", "0")


@case
def the_size_and_what_to_think_twice_about(folder):
    told = plan(folder, SQUARE)
    want(told["scale"] == 1 and abs(told["width_mm"] - 40) < 1e-6 and
         abs(told["height_mm"] - 30) < 1e-6, f"size {told}")
    want(told["notes"] == [], f"notes {told['notes']}")
    told = plan(folder, '<rect x="20" y="20" width="40" height="30" fill="#ff00ff"/>', "--pens", "leaf")
    want(any("caution: 1 colour has no good match" in n and "#ff00ff" in n for n in told["notes"]),
         f"notes {told['notes']}")
    small = '<svg xmlns="http://www.w3.org/2000/svg" width="4mm" height="3mm"><rect width="9" height="9"/></svg>'
    (folder / "small.svg").write_text(small)
    done = run(folder, "plan", "small.svg", "-o", "small.nc", "-m", "my.ini", "--effort", "0")
    want("caution: enlarged" in done.stdout and "by 3.0 mm" in done.stdout, done.stdout)


@case
def every_kind_of_fill_takes_its_ink(folder):
    area, edge = 39.6 * 29.6, 2 * (39.6 + 29.6)
    for kind in ("lines", "serpentine", "rings"):
        about(ink(plan(folder, SQUARE, "--hatch", kind)), area / 0.4 + edge, 0.04, kind)
    about(ink(plan(folder, SQUARE, "--hatch", "crossed")), 2 * area / 0.4 + edge, 0.04, "crossed")
    wide = plan(folder, SQUARE, "--hatch", "lines", "--pitch", "2", "--angle", "20", "--no-edge")
    about(ink(wide), area / 2, 0.04, "2 mm apart, no edge")
    about(ink(plan(folder, SQUARE, "--outlines")), 2 * (40 + 30), 0.01, "outlines")


@case
def joined_lines_lift_the_pen_less(folder):
    apart = plan(folder, SQUARE, "--hatch", "lines", "--join", "0")["strokes"]
    joined = plan(folder, SQUARE, "--join", "0")["strokes"]
    want(joined * 10 <= apart, f"{joined} lifts joined, {apart} apart")


@case
def a_lighter_paint_takes_less_ink(folder):
    grey = '<rect x="20" y="20" width="40" height="30" fill="#bcbcbc"/>'  # half of white's light
    about(ink(plan(folder, grey, "--tone")), 0.5 * 40 * 30 / 0.4, 0.04, "half")
    about(ink(plan(folder, grey)), 0.5 * 40 * 30 / 0.4, 0.1, "half by default")
    about(ink(plan(folder, grey, "--solid")), 39.6 * 29.6 / 0.4 + 138, 0.04, "dense")


@case
def a_fill_hides_what_lies_beneath(folder):
    body = ('<path d="M10 40H90" stroke="#000" stroke-width=".3"/>'
            '<rect x="30" y="20" width="40" height="40" fill="#fff"/>')
    about(ink(plan(folder, body)), 40, 0.001, "cut at both edges")
    about(ink(plan(folder, body, "--no-hide")), 80, 0.001, "whole")


@case
def double_lines_are_drawn_once(folder):
    line = '<path d="M10 40H90" stroke="#000" stroke-width=".3" fill="none"/>'
    back = '<path d="M90 40.005H10" stroke="#000" stroke-width=".3" fill="none"/>'
    for options in ([], ["--no-hide"]):
        about(ink(plan(folder, 60 * line + back, *options)), 80, 0.001, "drawn once")
    wide = line.replace(".3", "2")
    about(ink(plan(folder, 5 * wide, "--no-hide")), ink(plan(folder, wide)), 0.01, "wide, once")


@case
def parts_narrower_than_the_pen_get_one_line(folder):
    sliver = '<path d="M10 40H90V40.2H10Z" {}/>'
    about(ink(plan(folder, sliver.format(""))), 80, 0.02, "centre line")
    about(ink(plan(folder, sliver.format('fill="#999"'), "--tone")), 80, 0.02, "toned")


@case
def a_class_asks_for_dashes(folder):
    body = '<path class="dashed" d="M10 40H90" stroke="#000" stroke-width=".4"/>'
    about(ink(plan(folder, body)), 80 * 12 / 15, 0.03, "12 d dash, 3 d gap")


@case
def pens_by_colour_class_and_group(folder):
    line = '<path d="M10 40H90" stroke="{}" {} stroke-width=".3"/>'
    report = plan(folder, line.format("#28702c", ""))
    want(report["colours"][0]["pen"] == "leaf" and report["colours"][0]["difference"] < 6, report)
    report = plan(folder, line.format("#000", 'class="plant"'))
    want(report["colours"][0]["pen"] == "leaf" and report["colours"][0]["difference"] > 20, report)
    report = plan(folder, f'<g id="bed-2">{line.format("#000", "")}</g>')
    want(report["colours"][0]["pen"] == "leaf", report)
    done = run(folder, "plan", "art.svg", "-o", "job.nc", "-m", "my.ini")
    want("no pen of the rack is near" in done.stdout, f"no warning: {done.stdout}")


@case
def pens_are_decided_by_hand(folder):
    body = SQUARE.replace("/>", ' fill="#28702c"/>')
    want(ink(plan(folder, body), "leaf") > 0, "the nearest pen")
    want(ink(plan(folder, body, "--pens", "fine"), "leaf") == 0, "not with the only pen")
    want(ink(plan(folder, body, "--swap", "leaf=fine"), "leaf") == 0, "not with the other pen")
    want(ink(plan(folder, SQUARE, "--colour", "#000000=leaf"), "leaf") > 0, "with the one asked for")


@case
def a_wrong_choice_of_pens_is_refused(folder):
    refused(folder, SQUARE, 2, "the rack has no pen 'mauve'", "--pens", "mauve")
    refused(folder, SQUARE, 2, "takes pairs with '='", "--swap", "leaf")
    refused(folder, SQUARE, 2, "takes colours such as", "--colour", "green=leaf")


@case
def letters_of_one_line(folder):
    text = '<text x="10" y="40" font-size="10">Seeds</text>'
    single = plan(folder, text, "--single-line")
    want(0 < ink(single) < ink(plan(folder, text)) / 2, "single lines take less ink")


@case
def large_art_goes_over_several_sheets(folder):
    plan(folder, SQUARE)
    options = ["-m", "my.ini", "--paper", "80x60", "--margin", "2", "--sheets", "2x2"]
    done = run(folder, "plan", "art.svg", "-o", "map.nc", "--json", *options)
    want(done.returncode == 0, done.stderr)
    report = json.loads(done.stdout)
    want(report["columns"] == 2 and report["rows"] == 2, report)
    want(len(report["sheets"]) == 4, report)
    for sheet in report["sheets"]:
        want((folder / sheet["program"]).stat().st_size > 0, sheet)
        want(sheet["ink_mm"] > 24, f"no room for two crosses of 12 mm: {sheet}")
    picture = run(folder, "proof", "art.svg", "-o", "map.png", *options)
    want(picture.returncode == 0 and (folder / "map.png").stat().st_size > 0, picture.stderr)
    whole = run(folder, "plan", "art.svg", "-o", "any.nc", "-m", "my.ini", "--paper", "36x26",
                "--margin", "2", "--sheets", "any", "--overlap", "6")
    want(whole.returncode == 0 and (folder / "any-4.nc").exists(), whole.stderr)


@case
def what_cannot_be_drawn_is_refused(folder):
    line = '<path d="M10 40H90" stroke="#000" stroke-width=".3"/>'
    for pitch in ("-1", "nan", "0.001", "1e9"):
        refused(folder, SQUARE, 2, "--pitch takes", "--pitch", pitch)
    refused(folder, SQUARE, 2, "--hatch takes", "--hatch", "dense")
    for grid in ("0x1", "2x", "x2", "2x2x2", "101x1", "-1x2"):
        refused(folder, SQUARE, 2, "--sheets takes", "--sheets", grid)
    refused(folder, SQUARE, 1, "cannot overlap by 900 mm", "--sheets", "2x2", "--overlap", "900")
    for overlap in ("2", "nan"):
        refused(folder, SQUARE, 2, "--overlap takes", "--sheets", "2x2", "--overlap", overlap)
    refused(folder, '<path d="M10 10H60H10Z"/>', 1, "nothing in it would put ink")
    refused(folder, '<path d="M10 10H1e300V1e300Z"/>', 1, "art.svg:1: <path>")
    refused(folder, line, 1, "tip", pens=PENS.replace("0.4 mm", "0 mm"))


@case
def odd_sizes_have_a_sound_result(folder):
    endless = '<rect x="-1e6" y="-1e6" width="2e6" height="2e6" fill="#000"/>'
    about(ink(plan(folder, endless)), 99.6 * 79.6 / 0.4, 0.05, "the page is filled")
    want(ink(plan(folder, SQUARE, "--pitch", "900", "--no-edge")) > 0, "a pitch wider than the shape")
    plan(folder, SQUARE, pens=PENS.replace("0.4 mm", "50 mm"))
    done = run(folder, "plan", "art.svg", "-o", "job.nc", "-m", "my.ini")
    want("wider than all that it draws" in done.stdout, done.stdout)
    want(ink(plan(folder, SQUARE, pens="[machine]\nname = bare\n")) > 0, "the built-in rack")


run_cases(scratch_folder)
