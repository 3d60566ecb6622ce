"""Chromium without a window and without a network, driven over its debugging pipe."""

import base64
import json
import os
import select
import shutil
import subprocess
import tempfile
from pathlib import Path

CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
_FLAGS = (
    "--headless=new",
    "--no-sandbox",  # the sandbox refuses to run for root, as continuous integration is
    "--remote-debugging-pipe",
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
    "--disable-dev-shm-usage",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--proxy-server=127.0.0.1:9",  # nobody listens there: whatever asks for the network fails
)

SILENT_S = 120.0  # a frame in software takes a second at most, on a machine of two busy cores some ten


class Browser:
    """One tab. `requests` are the addresses it asked for, `faults` what went wrong in it."""

    def __init__(self):
        assert CHROMIUM is not None
        self._folder = tempfile.TemporaryDirectory(ignore_cleanup_errors=True)
        to_read, self._write = os.pipe()
        self._read, to_write = os.pipe()
        # The pipe's ends are file descriptors 3 and 4 of the browser.
        wiring = f'exec "$0" "$@" 3<&{to_read} 4>&{to_write}'
        command = [CHROMIUM, *_FLAGS, f"--user-data-dir={self._folder.name}", "about:blank"]
        self._process = subprocess.Popen(
            ["/bin/bash", "-c", wiring, *command],
            pass_fds=(to_read, to_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self._received = b""
        self._number = 0
        self._session = None
        self.requests = []
        self.faults = []
        targets = self.send("Target.getTargets")["targetInfos"]
        tab = next(target["targetId"] for target in targets if target["type"] == "page")
        self._session = self.send("Target.attachToTarget", targetId=tab, flatten=True)["sessionId"]
        for domain in ("Page", "Network", "Runtime", "Log"):
            self.send(f"{domain}.enable")

    def close(self):
        """End the browser and wait for it."""
        os.close(self._write)
        try:
            self._process.wait(20)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait()
        os.close(self._read)
        self._folder.cleanup()

    def send(self, method, **params):
        """Result of one command; events met on the way are noted."""
        self._number += 1
        message = {"id": self._number, "method": method, "params": params}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._write, json.dumps(message).encode() + b"\0")
        while True:
            answer = self._next()
            if answer.get("id") == self._number:
                assert "error" not in answer, answer["error"]
                return answer["result"]

    def _next(self):
        while b"\0" not in self._received:
            assert select.select([self._read], [], [], SILENT_S)[0], "the browser does not answer"
            chunk = os.read(self._read, 1 << 20)
            assert chunk, "the browser has ended"
            self._received += chunk
        first, _, self._received = self._received.partition(b"\0")
        message = json.loads(first)
        self._note(message.get("method"), message.get("params", {}))
        return message

    def _note(self, method, params):
        if method == "Network.requestWillBeSent":
            self.requests.append(params["request"]["url"])
        elif method == "Runtime.exceptionThrown":
            self.faults.append(params["exceptionDetails"]["exception"].get("description", "?"))
        elif method == "Log.entryAdded" and params["entry"]["level"] == "error":
            self.faults.append(params["entry"]["text"])

    def open(self, path, size=(1400, 900), *, finger=False):
        """Load a file into a window of a size, and wait until it has been drawn."""
        width, height = size
        self.send(
            "Emulation.setDeviceMetricsOverride",
            width=width, height=height, deviceScaleFactor=2 if finger else 1, mobile=finger,
        )  # fmt: skip
        self.send("Emulation.setTouchEmulationEnabled", enabled=finger)
        self.requests.clear()
        self.faults.clear()
        self.send("Page.navigate", url=Path(path).absolute().as_uri())
        self.run("document.readyState === 'complete' || new Promise(r => window.addEventListener('load', r))")
        self.settle()

    def settle(self):
        """Wait for two frames: what was asked for has been drawn then."""
        self.run("new Promise(r => requestAnimationFrame(() => requestAnimationFrame(() => r(1))))")

    def run(self, expression):
        """Value of an expression in the page; a promise is waited for."""
        done = self.send(
            "Runtime.evaluate", expression=expression, returnByValue=True, awaitPromise=True, timeout=60000
        )
        assert "exceptionDetails" not in done, done["exceptionDetails"]
        return done["result"].get("value")

    def mouse(self, kind, x, y, **more):
        """A real mouse event: mouseMoved, mousePressed, mouseReleased, mouseWheel."""
        self.send("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)
        self.settle()

    def drag(self, start, end):
        """Press the left button, go from start to end, let go."""
        self.mouse("mousePressed", *start, button="left", buttons=1, clickCount=1)
        for share in (0.3, 0.6, 1.0):
            at = [a + share * (b - a) for a, b in zip(start, end, strict=True)]
            self.mouse("mouseMoved", *at, button="left", buttons=1)
        self.mouse("mouseReleased", *end, button="left", clickCount=1)

    def tap(self, x, y):
        """Touch with one finger and let go."""
        self.send("Input.dispatchTouchEvent", type="touchStart", touchPoints=[{"x": x, "y": y}])
        self.send("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
        self.settle()

    def picture(self, path=None, *, whole=False):
        """PNG of the window, or of the whole page."""
        done = self.send("Page.captureScreenshot", format="png", captureBeyondViewport=whole)
        png = base64.b64decode(done["data"])
        if path:
            Path(path).write_bytes(png)
        return png
