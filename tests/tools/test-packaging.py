#!/usr/bin/env python3
"""What debian/ and the changelog say agrees with the one list of packages and the one version; an
installation can be taken away whole. Speaks TAP. Usage: test-packaging.py SOURCE-ROOT BUILD-ROOT VERSION."""
import os
import pathlib
import re
import subprocess
import sys
import tempfile

from described import output

sys.path.insert(0, str(pathlib.Path(__file__).parents[1] / "support"))
from tap import case, run_cases

ROOT, BUILD, VERSION = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]), sys.argv[3]
# Every Debian build has these: the package build-essential (Debian Policy Manual, 4.2).
BUILD_ESSENTIAL = {"gcc", "libc6-dev"}


def group(name):
    return set(re.findall(rf"^{name} (\S+)$", (ROOT / "packages.debian").read_text(), re.M))


def field(name):
    """The packages of a field of debian/control, without versions and substitutions."""
    text = (ROOT / "debian/control").read_text()
    body = re.search(rf"^{name}:(.*(?:\n .*)*)", text, re.M)[1]
    words = [w.strip().split(" ")[0] for w in body.split(",")]
    return {w for w in words if w and not w.startswith("$")}


@case
def the_package_is_built_with_the_listed_packages():
    assert field("Build-Depends") - {"debhelper-compat"} == group("build") - BUILD_ESSENTIAL


@case
def the_package_asks_for_what_the_program_reads_and_calls():
    assert field("Depends") | field("Recommends") == group("run")
    assert not (group("run") | field("Depends")) & (group("test") | group("bench"))


@case
def the_version_is_the_same_in_both_changelogs():
    assert re.search(r"^## (\S+)", (ROOT / "CHANGELOG.md").read_text(), re.M)[1] == VERSION
    assert re.match(r"drawtrue \((\S+)\)", (ROOT / "debian/changelog").read_text())[1] == VERSION


@case
def the_guide_and_the_examples_refer_to_nothing_that_is_not_installed():
    for page in (ROOT / "docs").glob("*.md"):
        for target in re.findall(r"\]\(([^)#]+)", page.read_text()):
            if "://" not in target:
                assert (ROOT / "docs" / target).is_file() and target != "demo.png", (page.name, target)


@case
def an_installation_has_its_parts_and_is_taken_away_whole():
    log = BUILD / "meson-logs/install-log.txt"
    before = log.read_bytes() if log.exists() else None
    with tempfile.TemporaryDirectory() as folder:
        to = pathlib.Path(folder, "root")
        to.mkdir()
        env = {**os.environ, "DESTDIR": str(to)}
        subprocess.run(["meson", "install", "--no-rebuild", "--quiet", "-C", BUILD], env=env, check=True,
                       capture_output=True, timeout=60)
        try:
            files = {p.name: p for p in to.rglob("*") if p.is_file()}
            for name in ("drawtrue", "drawtrue-plan.1", "drawtrue-profile.5", "_drawtrue", "drawtrue.fish",
                         "drawtrue.svg", "guide.md", "garden-bed.svg", "workshop.ini"):
                assert name in files, (name, sorted(files))
            assert list(to.rglob("bash-completion/completions/drawtrue"))
            program = next(to.rglob("bin/drawtrue"))
            assert output(program, "--version") == f"drawtrue {VERSION}\n"
            entry = files.get("drawtrue.desktop")
            assert (entry is not None) == ("desk" in output(program, "--help"))
            pathlib.Path(folder, "kept").touch()
            subprocess.run(["ninja", "-C", BUILD, "uninstall"], check=True, capture_output=True, timeout=60)
            assert not list(to.rglob("*")), sorted(to.rglob("*"))
        finally:
            if before is not None:
                log.write_bytes(before)


run_cases()
