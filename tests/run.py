"""`python3 tests/run.py` installs what the tests need and runs them all."""

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT))

from ui.launch import minimum_python

minimum_python.insist()

import os
import platform
import shutil
import subprocess
from typing import TYPE_CHECKING

from tests.support import postgres_server
from ui.launch import console, provision
from ui.launch import system_packages

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

# Exit codes of pytest.
FAILED, NOTHING_FOUND = 1, 5
NAMES = (
    "chromium",
    "chromium-browser",
    "google-chrome",
    "google-chrome-stable",
    "chrome",
    "microsoft-edge",
    "microsoft-edge-stable",
    "msedge",
)
MAC_PROGRAMS = (
    "Chromium.app/Contents/MacOS/Chromium",
    "Google Chrome.app/Contents/MacOS/Google Chrome",
    "Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
)
WINDOWS_PROGRAMS = (
    "Chromium/Application/chrome.exe",
    "Google/Chrome/Application/chrome.exe",
    "Microsoft/Edge/Application/msedge.exe",
)
PLAYWRIGHT_PATH = """
from playwright.sync_api import sync_playwright
with sync_playwright() as playwright:
    print(playwright.chromium.executable_path)
"""


def usual_places(system: str, environment: "Mapping[str, str]", home: Path):
    """List where browsers lie that are not on the PATH."""
    if system == "darwin":
        tops = [Path("/Applications"), home / "Applications"]
        return [top / program for top in tops for program in MAC_PROGRAMS]
    if system == "win32":
        names = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")
        tops = [Path(environment[name]) for name in names if environment.get(name)]
        return [top / program for top in tops for program in WINDOWS_PROGRAMS]
    return []


def installed_browser() -> str | None:
    """Find Chromium, Chrome or Edge; STRUCKFACE_BROWSER goes first."""
    chosen = os.environ.get("STRUCKFACE_BROWSER")
    if chosen and Path(chosen).is_file():
        return chosen
    on_path = next(filter(None, map(shutil.which, NAMES)), None)
    places = usual_places(sys.platform, os.environ, Path.home())
    return on_path or next((str(place) for place in places if place.is_file()), None)


def playwright_browser(python: Path) -> str | None:
    """Find the browser Playwright has fetched earlier."""
    answer = subprocess.run(
        [str(python), "-c", PLAYWRIGHT_PATH],
        capture_output=True,
        stdin=subprocess.DEVNULL,
        text=True,
        env=console.clean_environment(),
        check=False,
    )
    path = answer.stdout.strip()
    return path if path and Path(path).is_file() else None


def fetch_browser(python: Path) -> str | None:
    """Install Chromium: by apt for root on Debian, else by Playwright."""
    if system_packages.is_root() and _is_debian():
        trouble = system_packages.apt_install("chromium")
        if not trouble:
            return installed_browser()
        console.say(f"apt could not install it ({trouble}); asking Playwright.")
    console.say("Fetching Chromium by Playwright")
    command = [str(python), "-m", "playwright", "install", "chromium"]
    if system_packages.is_root() and sys.platform == "linux":
        command.insert(-1, "--with-deps")
    console.run_visibly(command)
    return playwright_browser(python)


def _is_debian() -> bool:
    # Ubuntu's own package is only a pointer to a snap, which servers cannot run.
    try:
        return platform.freedesktop_os_release().get("ID") == "debian"
    except OSError:
        return False


def run_stages(
    pytest: "Sequence[str]", argv: "Sequence[str]", environment: "Mapping[str, str]"
) -> int:
    """Run what needs no browser, then the walks in a browser, less crowded.

    A walk that failed is run once more by itself, and the output says so: what fails
    then is broken, what passes then waited longer for a busy machine than it may. Who
    asks for marked tests (-m) gets these alone, in one stage.
    """

    def run(*options: str) -> int:
        command = [*pytest, *options, *argv]
        return subprocess.run(
            command, cwd=ROOT, env=environment, check=False
        ).returncode

    if "-m" in argv:
        return run(*_workers(3))
    # One worker more than two cores, since some wait for a disk or a server.
    first = run(*_workers(3), "-m", "not browser")
    second = run(*_workers(2), "-m", "browser")
    if second == FAILED:
        console.say("Walks failed: once more, by themselves")
        second = run("-m", "browser", "--last-failed")
    codes = {first, second}
    if codes == {NOTHING_FOUND}:
        return NOTHING_FOUND
    return max(codes - {NOTHING_FOUND})


def _workers(count: int) -> list[str]:
    return ["-n", str(count), "--dist", "loadfile", "--no-loadscope-reorder"]


def main(argv: "Sequence[str]") -> int:
    """Provide the environment and a browser, then hand over to pytest."""
    console.tolerate_narrow_consoles()
    try:
        python = provision.provide(ROOT, ROOT / "tests" / "requirements.txt")
        browser = (
            installed_browser() or playwright_browser(python) or fetch_browser(python)
        )
        if browser is None:
            sys.stderr.write(
                "No Chromium, Chrome or Edge was found or could be fetched: install "
                "one, or name its path in STRUCKFACE_BROWSER.\n"
            )
            return 2
        console.say(f"Testing with {browser}")
        environment = console.clean_environment() | {"STRUCKFACE_BROWSER": browser}
        with postgres_server.running() as socket:
            if socket is None:
                console.say("PostgreSQL is not installed here: its tests are skipped")
            else:
                environment |= {postgres_server.VARIABLE: socket}
            return run_stages([str(python), "-m", "pytest"], argv, environment)
    except provision.ProvisionError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    except KeyboardInterrupt:
        return 130


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
