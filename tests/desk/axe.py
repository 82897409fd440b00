"""axe-core, which judges a page by WCAG 2.2, where it can be had: kept in a folder of the build, fetched
there by npm. None where there is neither."""
import json
import pathlib
import shutil
import subprocess

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def source(folder):
    path = pathlib.Path(folder) / "node_modules/axe-core/axe.min.js"
    if not path.exists() and shutil.which("npm"):
        path.parents[2].mkdir(parents=True, exist_ok=True)
        subprocess.run(["npm", "install", "--no-audit", "--no-fund", "--prefix", str(folder), "axe-core@4"],
                       capture_output=True, timeout=60, check=False)
    return path.read_text() if path.exists() else None


def violations(browser, script):
    """What it finds on the page as it stands: rule, how many, and the first element."""
    browser.run(f"window.axe ? 1 : ({json.dumps(script)}, 0)")
    if not browser.run("Boolean(window.axe)"):
        browser.call("Runtime.evaluate", expression=script)
    found = browser.run("axe.run(document, {runOnly: " + json.dumps(TAGS) + "}).then(r => r.violations.map(v => "
                        "[v.id, v.nodes.length, v.nodes[0].html.slice(0, 200), v.nodes[0].failureSummary.slice(0, 300)]))")
    return found
