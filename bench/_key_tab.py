"""A tab driven by the browser's own protocol, so that twenty presses go out at once and pages come from memory.

A page that was answered once is answered again from memory while nothing was stored: the answer to a GET can change
only with the records. A key that leads to another page has that page fetched from the server once, and stays here, so
that each of its presses falls on the place it was meant for. What is sent to be stored (any method but GET) always goes
to the server, and so does all that follows from it.
"""

import asyncio
import base64
import http.client
import itertools
import json
import shutil
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from websockets.asyncio.client import ClientConnection, connect

CODES = {"PageDown": 34, "PageUp": 33, "ArrowDown": 40, "ArrowUp": 38, "ArrowLeft": 37, "ArrowRight": 39,
         "Home": 36, "End": 35, "Tab": 9, "Space": 32, "Enter": 13, "Escape": 27}  # fmt: skip
TEXTS = {"Space": " ", "Enter": "\r"}
PATTERNS = [{"urlPattern": "*", "resourceType": kind} for kind in ("Document", "XHR", "Fetch", "Ping")]
UNPASSED = ("content-encoding", "content-length", "transfer-encoding", "connection", "set-cookie")
LONGEST_S = 30.0


def strokes(key: str, times: int, held: bool) -> list[dict[str, Any]]:
    """Return the events of a key that is pressed so often, or held down for as many repeats."""
    letter = key not in CODES
    one: dict[str, Any] = {
        "key": " " if key == "Space" else key,
        "code": f"Key{key.upper()}" if letter else key,
        "windowsVirtualKeyCode": ord(key.upper()) if letter else CODES[key],
    }
    text = key if letter else TEXTS.get(key)
    down = one | ({"type": "keyDown", "text": text} if text else {"type": "rawKeyDown"})
    up = one | {"type": "keyUp"}
    if held:
        return [*(down | {"autoRepeat": index > 0} for index in range(times)), up]
    return [down, up] * times


@dataclass
class Answer:
    """What the server answered to a GET."""

    status: int
    headers: list[dict[str, str]]
    body: bytes


STAY = Answer(204, [], b"")  # no content: a browser stays where it is


@dataclass
class Tab:
    """One tab: `sent` are the requests that may store, `remembered` the answers to the rest."""

    host: str
    wire: ClientConnection
    session: str = ""
    numbers: "itertools.count[int]" = field(default_factory=lambda: itertools.count(1))
    waited: dict[int, "asyncio.Future[dict[str, Any]]"] = field(default_factory=dict)
    remembered: dict[tuple[str, str], Answer] = field(default_factory=dict)
    sent: list[str] = field(default_factory=list)
    on_its_way: int = 0
    loading: bool = False
    staying: bool = True  # what keys ask for does not lead away; False: the page of a try is being loaded
    loads: int = 0
    tasks: "set[asyncio.Task[None]]" = field(default_factory=set)

    async def ask(self, method: str, **words: Any) -> dict[str, Any]:
        """Send one command and return its result; a command that fails because its page left gives nothing."""
        return await asyncio.wait_for(self.command(method, words), LONGEST_S)

    def command(self, method: str, words: dict[str, Any]) -> "asyncio.Future[dict[str, Any]]":
        """Put one command on the wire; its result comes by the future."""
        number = next(self.numbers)
        answer: asyncio.Future[dict[str, Any]] = asyncio.get_running_loop().create_future()
        self.waited[number] = answer
        message = {"id": number, "method": method, "params": words}
        if self.session:
            message["sessionId"] = self.session
        task = asyncio.ensure_future(self.wire.send(json.dumps(message)))
        self.tasks.add(task)  # type: ignore[arg-type]
        task.add_done_callback(self.tasks.discard)  # type: ignore[arg-type]
        return answer

    async def listen(self) -> None:
        """Take in what the browser says until it is closed."""
        async for text in self.wire:
            told = json.loads(text)
            if "id" in told:
                answer = self.waited.pop(told["id"])
                if not answer.done():
                    answer.set_result(told.get("result") or {"failed": told.get("error")})
            else:
                self._event(told["method"], told["params"])

    def _event(self, name: str, told: dict[str, Any]) -> None:
        if name == "Fetch.requestPaused":
            self.on_its_way += 1
            task = asyncio.ensure_future(self._answered(told))
            self.tasks.add(task)
            task.add_done_callback(self.tasks.discard)
        elif name == "Page.frameStartedLoading":
            self.loading = True
        elif name == "Page.frameStoppedLoading":
            self.loading, self.loads = False, self.loads + 1
        elif name == "Page.javascriptDialogOpening":
            self.command("Page.handleJavaScriptDialog", {"accept": True})

    async def _answered(self, told: dict[str, Any]) -> None:
        request, paused = told["request"], {"requestId": told["requestId"]}
        try:
            if request["method"] != "GET" or self.sent:
                if request["method"] != "GET":
                    self.sent.append(f"{request['method']} {urlsplit(request['url']).path}")
                await self.ask("Fetch.continueRequest", **paused)
                return
            answer = await self._remembered(request)
            if told["resourceType"] == "Document" and self.staying:
                answer = STAY
            body = base64.b64encode(answer.body).decode()
            await self.ask("Fetch.fulfillRequest", **paused, responseCode=answer.status,
                           responseHeaders=answer.headers, body=body)  # fmt: skip
        finally:
            self.on_its_way -= 1

    async def _remembered(self, request: dict[str, Any]) -> Answer:
        part = request["headers"].get("HX-Request", request["headers"].get("hx-request", ""))
        key = (request["url"], part)
        if key not in self.remembered:
            self.remembered[key] = await asyncio.to_thread(self._fetched, request)
        return self.remembered[key]

    def _fetched(self, request: dict[str, Any]) -> Answer:
        """Return the server's answer; a file to store elsewhere is asked for once, and leaves the page where it is."""
        address = urlsplit(request["url"])
        line = http.client.HTTPConnection(self.host, timeout=120)
        path = f"{address.path}?{address.query}" if address.query else address.path
        line.request("GET", path, headers={**request["headers"], "accept-encoding": "identity"})
        answer = line.getresponse()
        body = answer.read()
        line.close()
        told = [(name.lower(), value) for name, value in answer.getheaders()]
        if any(name == "content-disposition" and value.startswith("attachment") for name, value in told):
            return STAY
        headers = [{"name": name, "value": value} for name, value in told if name not in UNPASSED]
        return Answer(answer.status, headers, body)

    async def load(self, address: str) -> None:
        """Load a page and wait until it is there whole."""
        before, self.staying = self.loads, False
        await self.ask("Page.navigate", url=address)
        for _ in range(int(LONGEST_S / 0.005)):
            if self.loads > before and not self.loading:
                self.staying = True
                return
            await asyncio.sleep(0.005)
        raise TimeoutError(address)

    async def still(self) -> None:
        """Wait until nothing is on its way and nothing loads."""
        for _ in range(int(LONGEST_S / 0.005)):
            await self.run("0")
            if not self.on_its_way and not self.loading:
                return
            await asyncio.sleep(0.005)
        raise TimeoutError("the page is not still")

    async def run(self, script: str) -> Any:
        """Return what a script in the page gives; None where the page leaves meanwhile."""
        told = await self.ask("Runtime.evaluate", expression=script, returnByValue=True)
        return told.get("result", {}).get("value")

    async def press(self, key: str, times: int, held: bool) -> None:
        """Press a key so often, or hold it, and wait until nothing comes of it any more."""
        sent = [self.command("Input.dispatchKeyEvent", one) for one in strokes(key, times, held)]
        await asyncio.wait(sent, timeout=LONGEST_S)
        await self.still()

    async def forget(self) -> None:
        """Forget what was sent, and what this browser keeps of how pages are shown."""
        self.sent.clear()
        await self.ask("Network.clearBrowserCookies")


@dataclass
class Driven:
    """A browser of its own with one tab."""

    chromium: Path
    host: str

    async def __aenter__(self) -> Tab:
        """Start the browser and return its tab."""
        self.folder = Path(tempfile.mkdtemp(prefix="breakangle-tab-"))
        words = ["--headless=new", "--no-sandbox", "--remote-debugging-port=0", "--window-size=1440,900",
                 f"--user-data-dir={self.folder}", "--lang=en-GB", "about:blank"]  # fmt: skip
        self.process = subprocess.Popen(
            [str(self.chromium), *words], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL
        )
        port = self.folder / "DevToolsActivePort"
        while not port.exists() or len(port.read_text().splitlines()) < 2:
            await asyncio.sleep(0.05)
        number, path = port.read_text().splitlines()[:2]
        wire = await connect(f"ws://127.0.0.1:{number}{path}", max_size=None, compression=None)
        self.tab = Tab(self.host, wire)
        self.listening = asyncio.ensure_future(self.tab.listen())
        made = await self.tab.ask("Target.createTarget", url="about:blank")
        attached = await self.tab.ask("Target.attachToTarget", targetId=made["targetId"], flatten=True)
        self.tab.session = attached["sessionId"]
        for name in ("Page.enable", "Runtime.enable", "Network.enable"):
            await self.tab.ask(name)
        await self.tab.ask("Emulation.setFocusEmulationEnabled", enabled=True)
        await self.tab.ask("Network.setBypassServiceWorker", bypass=True)
        await self.tab.ask("Page.setInterceptFileChooserDialog", enabled=True)
        await self.tab.ask("Fetch.enable", patterns=PATTERNS)
        return self.tab

    async def __aexit__(self, *given: object) -> None:
        """End the browser."""
        self.listening.cancel()
        await self.tab.wire.close()
        self.process.terminate()
        self.process.wait()
        shutil.rmtree(self.folder, ignore_errors=True)
