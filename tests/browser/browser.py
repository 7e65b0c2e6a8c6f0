"""A browser without a window that is asked over a pipe, and its pictures compared by itself; the standard library only.

The messages are those of the Chrome DevTools Protocol, one JSON text a message, each ended by a zero byte
(https://chromedevtools.github.io/devtools-protocol/).

Limits: Chromium and what is built on it. One page at a time.
"""

import base64
import fcntl
import json
import os
import pathlib
import select
import shutil
import signal
import subprocess
import tempfile
import time

NAMES = ["chromium", "chromium-browser"]
FLAGS = [
    "--headless=new",
    "--remote-debugging-pipe",
    "--no-first-run",
    "--no-default-browser-check",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--force-color-profile=srgb",
    "--hide-scrollbars",
    # Graphics by the processor, whatever card there is.
    "--use-angle=swiftshader",
    "--enable-unsafe-swiftshader",
]
WAIT_S = 60  # for an answer

# The pixels of a picture, in the page.
PIXELS = """async data => {
    const picture = await createImageBitmap(new Blob([Uint8Array.from(atob(data), letter => letter.charCodeAt(0))], { type: 'image/png' }));
    const pen = new OffscreenCanvas(picture.width, picture.height).getContext('2d');
    pen.drawImage(picture, 0, 0);
    return pen.getImageData(0, 0, picture.width, picture.height).data;
}"""
CHANGED = (
    """(async (one, other, by) => {
    const pixels = %s, [a, b] = [await pixels(one), await pixels(other)];
    if (a.length !== b.length) return 1;
    let changed = 0;
    for (let at = 0; at < a.length; at += 4) {
        changed += Math.max(Math.abs(a[at] - b[at]), Math.abs(a[at + 1] - b[at + 1]), Math.abs(a[at + 2] - b[at + 2])) > by;
    }
    return (4 * changed) / a.length;
})"""
    % PIXELS
)
COLORS = (
    """(async one => {
    const pixels = %s, a = await pixels(one), colors = new Set();
    for (let at = 0; at < a.length; at += 4) colors.add(a[at] * 65536 + a[at + 1] * 256 + a[at + 2]);
    return colors.size;
})"""
    % PIXELS
)


class Lost(Exception):
    """The browser did not answer."""


class Browser:
    """A browser with a page, with a home of its own."""

    def __init__(self, program, more=()):
        self.home = tempfile.mkdtemp(prefix="room-view.")
        # Numbers from 10 on, so that none of them is one of the two that the browser looks for.
        (out, self.to), (self.come, into) = [tuple(fcntl.fcntl(end, fcntl.F_DUPFD, 10) for end in os.pipe()) for _ in range(2)]
        flags = [*FLAGS, *more, f"--user-data-dir={self.home}"]
        if os.geteuid() == 0:
            flags.append("--no-sandbox")  # which root may not have
        self.log = open(pathlib.Path(self.home) / "log", "wb")
        call = ["bash", "-c", f'exec "$@" 3<&{out} 4>&{into}', "bash", program, *flags, "about:blank"]
        home = {**os.environ, "HOME": self.home}
        self.process = subprocess.Popen(call, pass_fds=(out, into), stderr=self.log, stdout=self.log, env=home, start_new_session=True)
        os.close(out)
        os.close(into)
        self.rest, self.number, self.session, self.events = b"", 0, None, []
        pages = [one for one in self.ask("Target.getTargets")["targetInfos"] if one["type"] == "page"]
        self.session = self.ask("Target.attachToTarget", targetId=pages[0]["targetId"], flatten=True)["sessionId"]
        for part in ("Page", "Runtime", "Log", "Network"):
            self.ask(f"{part}.enable")

    def close(self):
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        self.log.close()
        shutil.rmtree(self.home, ignore_errors=True)

    def receive(self, until):
        while b"\0" not in self.rest:
            if not select.select([self.come], [], [], max(0.0, until - time.monotonic()))[0]:
                raise Lost("no answer in time")
            got = os.read(self.come, 1 << 20)
            if not got:
                raise Lost("the browser has ended: " + (pathlib.Path(self.home) / "log").read_text(errors="replace")[-2000:])
            self.rest += got
        text, self.rest = self.rest.split(b"\0", 1)
        return json.loads(text)

    def ask(self, what, **how):
        """Asks for something and waits for the answer; what happens meanwhile is kept in `events`."""
        self.number += 1
        message = {"id": self.number, "method": what, "params": how}
        if self.session:
            message["sessionId"] = self.session
        data = json.dumps(message).encode() + b"\0"
        while data:
            data = data[os.write(self.to, data) :]
        until = time.monotonic() + WAIT_S
        while True:
            got = self.receive(until)
            if got.get("id") == self.number:
                if "error" in got:
                    raise Lost(f"{what}: {got['error']['message']}")
                return got["result"]
            self.events.append(got)

    def run(self, script):
        """The value of an expression in the page, waited for."""
        got = self.ask("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in got:
            raise Lost(f"{script}: {got['exceptionDetails']}")
        return got["result"].get("value")

    def open(self, page, width, height, phone=False, script=True):
        """Opens a file in a window of this size and waits until all of it has run."""
        self.events.clear()
        self.ask("Emulation.setScriptExecutionDisabled", value=not script)
        self.ask("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=2 if phone else 1, mobile=phone)
        self.ask("Emulation.setTouchEmulationEnabled", enabled=phone)
        self.ask("Page.navigate", url=pathlib.Path(page).resolve().as_uri())
        until = time.monotonic() + WAIT_S
        while not any(event.get("method") == "Page.loadEventFired" for event in self.events):
            self.events.append(self.receive(until))
        if script:
            self.settle()

    def settle(self):
        """Waits until what was asked for is on the screen."""
        self.run("new Promise(done => requestAnimationFrame(() => requestAnimationFrame(() => setTimeout(done, 30))))")

    def errors(self):
        """What the page complained of since it was opened, and what it asked a network for."""
        found = []
        for event in self.events:
            how = event.get("params", {})
            if event.get("method") == "Runtime.exceptionThrown":
                details = how["exceptionDetails"]
                found.append(details.get("exception", {}).get("description") or details["text"])
            elif event.get("method") == "Runtime.consoleAPICalled" and how["type"] in ("error", "warning", "assert"):
                found.append(" ".join(str(one.get("value", one.get("description"))) for one in how["args"]))
            elif event.get("method") == "Log.entryAdded" and how["entry"]["level"] == "error":
                found.append(how["entry"]["text"])
            elif event.get("method") == "Network.requestWillBeSent" and how["request"]["url"].split(":")[0] not in ("file", "data", "blob"):
                found.append(f"asks for {how['request']['url']}")
        return found

    def picture(self, clip=None):
        """The screen, or a box of it (left, top, width, height in the page), as PNG."""
        how = {"format": "png"}
        if clip:
            how["clip"] = {**dict(zip(("x", "y", "width", "height"), clip)), "scale": 1}
            how["captureBeyondViewport"] = False
        return base64.b64decode(self.ask("Page.captureScreenshot", **how)["data"])

    def changed(self, one, other, by=20):
        """The share of the pixels in which a channel of two pictures differs by more than `by` of 255; 1 for two sizes."""
        texts = [base64.b64encode(picture).decode() for picture in (one, other)]
        return self.run(f"{CHANGED}({json.dumps(texts[0])}, {json.dumps(texts[1])}, {by})")

    def colors(self, one):
        """How many different colors a picture has."""
        return self.run(f"{COLORS}({json.dumps(base64.b64encode(one).decode())})")

    def mouse(self, kind, x, y, **more):
        self.ask("Input.dispatchMouseEvent", type=kind, x=x, y=y, **more)

    def click(self, x, y):
        for kind in ("mousePressed", "mouseReleased"):
            self.mouse(kind, x, y, button="left", clickCount=1, buttons=int(kind == "mousePressed"))

    def drag(self, x, y, to_x, to_y):
        self.mouse("mousePressed", x, y, button="left", buttons=1, clickCount=1)
        for part in range(1, 9):
            self.mouse("mouseMoved", x + (to_x - x) * part / 8, y + (to_y - y) * part / 8, button="left", buttons=1)
        self.mouse("mouseReleased", to_x, to_y, button="left", clickCount=1)
        self.settle()

    def fingers(self, *steps):
        """Fingers laid down at the points of the first step, moved through the others, and lifted."""
        for number, points in enumerate(steps):
            where = [{"x": x, "y": y, "id": finger} for finger, (x, y) in enumerate(points)]
            self.ask("Input.dispatchTouchEvent", type="touchMove" if number else "touchStart", touchPoints=where)
        self.ask("Input.dispatchTouchEvent", type="touchEnd", touchPoints=[])
        self.settle()

    def key(self, key, text=""):
        for kind in ("keyDown", "keyUp"):
            self.ask("Input.dispatchKeyEvent", type=kind, key=key, code=key, **({"text": text} if text and kind == "keyDown" else {}))
        self.settle()


def find_browser():
    """The browser's program, or nothing."""
    return next(filter(None, map(shutil.which, NAMES)), None)
