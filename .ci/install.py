"""Make an environment in .venv and install heatsim into it, with the versions known to work for this Python.

Usage: python3 .ci/install.py [--extra test] [--extra dev] [--into FOLDER] [--editable]
Needs nothing but Python 3.11 or newer.
"""

import argparse
import subprocess
import sys
import venv
from pathlib import Path

HERE = Path(__file__).resolve().parent


def main() -> int:
    """Install; returns pip's exit code."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--extra", action="append", default=[], help="an extra of pyproject.toml; may be repeated")
    parser.add_argument("--into", default=".venv", help="folder of the environment")
    parser.add_argument("--editable", action="store_true", help="for contributors: run the checkout itself")
    given = parser.parse_args()
    if sys.version_info < (3, 11):  # noqa: UP036  the point is to say so
        print(f"heatsim needs Python 3.11 or newer, this is {sys.version.split()[0]}", file=sys.stderr)
        return 2
    folder = Path(given.into).resolve()
    python = folder / ("Scripts/python.exe" if sys.platform == "win32" else "bin/python")
    if not python.exists():
        venv.create(folder, with_pip=True)
    command = [str(python), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    pins = HERE / f"constraints-{sys.version_info[0]}.{sys.version_info[1]}.txt"
    if pins.exists():
        command += ["--constraint", str(pins)]
    else:
        print(f"no tested versions for Python {sys.version_info[0]}.{sys.version_info[1]}: taking the newest ones")
    if given.editable:
        command.append("--editable")
    extras = f"[{','.join(given.extra)}]" if given.extra else ""
    return subprocess.call([*command, f"{HERE.parent}{extras}"])


if __name__ == "__main__":
    sys.exit(main())
