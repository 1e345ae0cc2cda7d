"""A headless browser for tests, spoken to over two pipes: no port, no package.

The browser gets a folder of its own and no network of its own: whatever a page
asks for is on record.
"""

from __future__ import annotations

import base64
import json
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

CHROMIUM = next((path for name in ("chromium", "chromium-browser") if (path := shutil.which(name))), None)
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
PATIENCE_S = 60.0


class Page:
    """One open page, with everything it said and asked for."""

    def __init__(self, to: int, back: int) -> None:
        self._to, self._back = to, back
        self._rest = b""
        self._number = 0
        self._session: str | None = None
        self.complaints: list[str] = []
        self.requests: list[str] = []
        self._events: list[dict[str, Any]] = []
        target = self.do("Target.createTarget", url="about:blank")["targetId"]
        self._session = self.do("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.do(f"{domain}.enable")

    def do(self, method: str, **parameters: Any) -> dict[str, Any]:
        """Send one command and return its result."""
        self._number += 1
        message: dict[str, Any] = {"id": self._number, "method": method, "params": parameters}
        if self._session is not None:
            message["sessionId"] = self._session
        os.write(self._to, json.dumps(message).encode() + b"\0")
        end = time.monotonic() + PATIENCE_S
        while time.monotonic() < end:
            answer = self._next()
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise RuntimeError(f"{method}: {answer['error']}")
                result: dict[str, Any] = answer["result"]
                return result
        raise TimeoutError(method)

    def _next(self) -> dict[str, Any]:
        while b"\0" not in self._rest:
            more = os.read(self._back, 1 << 16)
            if not more:
                raise RuntimeError("the browser has gone")
            self._rest += more
        one, _, self._rest = self._rest.partition(b"\0")
        message: dict[str, Any] = json.loads(one)
        self._note(message)
        return message

    def _note(self, message: dict[str, Any]) -> None:
        method, about = message.get("method"), message.get("params", {})
        if method == "Network.requestWillBeSent":
            self.requests.append(about["request"]["url"])
        elif method == "Runtime.exceptionThrown":
            self.complaints.append(str(about["exceptionDetails"]))
        elif method == "Runtime.consoleAPICalled":
            self.complaints.append(str(about["args"]))
        elif method == "Log.entryAdded":
            self.complaints.append(about["entry"]["text"])
        elif method:
            self._events.append(message)

    def open(self, path: Path, width: int = 1280, height: int = 900, dark: bool = False) -> None:
        """Open a file in a window of some size and colour scheme, and wait until it is there."""
        self.do(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=False,
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.do("Emulation.setEmulatedMedia", features=[scheme])
        self._events.clear()
        self.do("Page.navigate", url=path.as_uri())
        end = time.monotonic() + PATIENCE_S
        while not any(event["method"] == "Page.loadEventFired" for event in self._events):
            if time.monotonic() > end:
                raise TimeoutError(path.name)
            self._next()

    def ask(self, script: str) -> Any:
        """Return what a script comes to in the page."""
        answer = self.do("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in answer:
            raise RuntimeError(str(answer["exceptionDetails"]))
        return answer["result"].get("value")

    def press(self, key: str, code: int, text: str = "") -> None:
        """Press and release a key."""
        common = {"key": key, "code": key, "windowsVirtualKeyCode": code}
        self.do("Input.dispatchKeyEvent", type="keyDown", **common, **({"text": text} if text else {}))
        self.do("Input.dispatchKeyEvent", type="keyUp", **common)

    def write(self, text: str) -> None:
        """Type a text into whatever has the focus."""
        self.do("Input.insertText", text=text)

    def picture(self, whole: bool = True) -> bytes:
        """Return the page as PNG."""
        return base64.b64decode(
            self.do("Page.captureScreenshot", format="png", captureBeyondViewport=whole)["data"]
        )

    def printed(self, width_mm: float, height_mm: float) -> bytes:
        """Return the page as it prints, as PDF."""
        size = {"paperWidth": width_mm / 25.4, "paperHeight": height_mm / 25.4}
        answer = self.do("Page.printToPDF", preferCSSPageSize=False, printBackground=False, **size)
        return base64.b64decode(answer["data"])


@contextmanager
def browser() -> Iterator[Page]:
    """Start a browser, give its page, and end it."""
    if CHROMIUM is None:
        raise RuntimeError("no chromium on this machine")
    ours_read, its_write = os.pipe()
    its_read, ours_write = os.pipe()
    folder = tempfile.mkdtemp(prefix="browser.")
    words = [CHROMIUM, *FLAGS, f"--user-data-dir={folder}", "about:blank"]
    # the protocol is on 3 and 4, whatever numbers the pipes have here
    shell = f'exec "$@" 3<&{its_read} 4>&{its_write}'
    process = subprocess.Popen(
        ["bash", "-c", shell, "browser", *words],
        pass_fds=(its_read, its_write),
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "HOME": folder},
    )
    os.close(its_read)
    os.close(its_write)
    try:
        yield Page(ours_write, ours_read)
    finally:
        process.terminate()
        process.wait(20)
        os.close(ours_write)
        os.close(ours_read)
        shutil.rmtree(folder, ignore_errors=True)
