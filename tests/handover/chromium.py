"""A headless browser spoken to through two pipes: commands in, answers and events out, as JSON ended by a zero byte.

The words are those of the browser's own published protocol (Chrome DevTools Protocol, stable 1.3).
"""

from __future__ import annotations

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Any

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")
PATIENCE = 60.0
"""[s] For one answer, on a slow machine."""


def find() -> str | None:
    """The browser's program, None where there is none."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


class Browser:
    """One browser with one page; every message of the page is kept in `events`."""

    def __init__(self, program: str) -> None:
        self._folder = tempfile.TemporaryDirectory(prefix="browser-")
        here_in, self._out = os.pipe()
        self._in, here_out = os.pipe()
        flags = ["--headless", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run",
                 "--disable-extensions", "--disable-background-networking", "--remote-debugging-pipe",
                 f"--user-data-dir={self._folder.name}", "about:blank"]  # fmt: skip

        def as_three_and_four() -> None:
            """The browser reads commands from file 3 and writes answers to file 4."""
            first, second = os.dup(here_in), os.dup(here_out)
            os.dup2(first, 3)
            os.dup2(second, 4)

        self._process = subprocess.Popen(
            [program, *flags], preexec_fn=as_three_and_four, close_fds=False, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL, start_new_session=True,
        )  # fmt: skip
        os.close(here_in)
        os.close(here_out)
        self._rest, self._number, self._session = b"", 0, ""
        self.events: list[dict[str, Any]] = []
        target = next(one for one in self.ask("Target.getTargets")["targetInfos"] if one["type"] == "page")
        self._session = self.ask("Target.attachToTarget", targetId=target["targetId"], flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{domain}.enable")

    def ask(self, method: str, **parameters: Any) -> dict[str, Any]:
        """The answer to one command."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self._out, data) :]
        until = time.monotonic() + PATIENCE
        while True:
            found = self._message(until)
            if found.get("id") == self._number:
                if "error" in found:
                    raise RuntimeError(f"{method}: {found['error']}")
                result: dict[str, Any] = found["result"]
                return result
            self.events.append(found)

    def _message(self, until: float) -> dict[str, Any]:
        while b"\0" not in self._rest:
            if not select.select([self._in], [], [], max(until - time.monotonic(), 0.0))[0]:
                raise TimeoutError("the browser does not answer")
            part = os.read(self._in, 1 << 16)
            if not part:
                raise EOFError("the browser is gone")
            self._rest += part
        one, self._rest = self._rest.split(b"\0", 1)
        found: dict[str, Any] = json.loads(one)
        return found

    def open(self, page: Path, width: int = 1280, height: int = 900) -> None:
        """Load a page from a file and wait for it."""
        self.events.clear()
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.ask("Page.navigate", url=page.resolve().as_uri())
        until = time.monotonic() + PATIENCE
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self._message(until))

    def value(self, expression: str) -> Any:
        """What an expression gives in the page."""
        found = self.ask("Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in found:
            raise RuntimeError(str(found["exceptionDetails"]))
        return found["result"].get("value")

    def press(self, key: str) -> None:
        """Press and let go of a key such as Tab or ArrowRight."""
        code = {"Tab": 9, "ArrowRight": 39, "ArrowLeft": 37, "Enter": 13}[key]
        for kind in ("rawKeyDown", "keyUp"):
            self.ask("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code)

    def point(self, x: float, y: float) -> None:
        """Move the pointer."""
        self.ask("Input.dispatchMouseEvent", type="mouseMoved", x=x, y=y)

    def pdf(self, width: float, height: float) -> bytes:
        """The page printed on paper of a size [in]."""
        found = self.ask(
            "Page.printToPDF", paperWidth=width, paperHeight=height, printBackground=True, preferCSSPageSize=False,
            marginTop=0, marginBottom=0, marginLeft=0, marginRight=0,
        )  # fmt: skip
        return base64.b64decode(found["data"])

    def picture(self, **clip: float) -> bytes:
        """What is seen, as PNG."""
        more: dict[str, Any] = {"clip": clip | {"scale": 1}} if clip else {}
        return base64.b64decode(self.ask("Page.captureScreenshot", captureBeyondViewport=True, **more)["data"])

    def __enter__(self) -> Browser:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._process.terminate()
        try:
            self._process.wait(10.0)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        os.close(self._in)
        os.close(self._out)
        self._folder.cleanup()
