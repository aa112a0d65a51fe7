"""One live stream: blocks of sound from a browser in, events out; the work is done off the server's own thread."""

import asyncio
import json
from collections.abc import Callable, Sequence
from typing import Annotated, Literal

import numpy as np
from numpy.typing import NDArray
from pydantic import AwareDatetime, BaseModel, ConfigDict, Field, ValidationError
from starlette.concurrency import run_in_threadpool
from starlette.websockets import WebSocket, WebSocketDisconnect

from breakangle.listening.capture.decode import HIGHEST_RATE_HZ, LOWEST_RATE_HZ
from breakangle.model.errors import BreakangleError
from breakangle.services.listening.live import LiveListening
from breakangle.services.listening.watched_form import FormTold, FormWatch
from breakangle.services.listening.watched_settling import SettleWatch
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop
from breakangle.storage.schema.stamp import NOBODY_NAMED, Stamp
from breakangle.web.dependencies import now
from breakangle.web.pages.listening.form_words import form_asks, form_told
from breakangle.web.pages.listening.listen_words import Said, Speaker

HELLO_WAIT_S, BLOCK_WAIT_S, SILENT_S = 10.0, 30.0, 600.0
MOST_BLOCK_BYTES = 2**18
MOST_STREAMS = 6
BUSY, UNFIT, AWAY = 1013, 1003, 1000
_OPEN: set[int] = set()

Hz = Annotated[float, Field(ge=10.0, le=6000.0, allow_inf_nan=False)]
Rate = Annotated[float, Field(ge=LOWEST_RATE_HZ, le=HIGHEST_RATE_HZ, allow_inf_nan=False)]


class Hello(BaseModel):
    """What a page says first: the real rate of its samples, what is to be done, and where it was before."""

    model_config = ConfigDict(strict=True, extra="forbid")
    rate_hz: Rate
    job: Literal["notes", "settle", "slide", "strum", "taps", "check", "hard"] = "notes"
    order: Annotated[str, Field(max_length=20)] = "strings"
    since: AwareDatetime | None = None
    string: Annotated[int, Field(ge=1, le=18)] = 1
    fret: Annotated[int, Field(ge=0, le=36)] = 0
    heard_hz: Annotated[list[Hz], Field(max_length=40)] = []


class Command(BaseModel):
    """What a person asks for while listening."""

    model_config = ConfigDict(strict=True, extra="forbid")
    do: Literal["next", "before", "keep", "take-back", "anew", "stop"]


class Stream:
    """One socket with what it listens for."""

    def __init__(self, socket: WebSocket, shop: Shop, visit: Visit) -> None:
        """Keep the socket and the visit; nothing is heard yet."""
        self.socket, self.shop, self.visit = socket, shop, visit
        self.speaker = Speaker(socket)
        self.quiet_count = 0

    async def run(self) -> None:
        """Listen until the page leaves, nothing was played for long, or something does not fit."""
        if len(_OPEN) >= MOST_STREAMS:
            await self._end(self.speaker.say("too_many"), BUSY)
            return
        _OPEN.add(id(self))
        try:
            hello = Hello.model_validate_json(
                await asyncio.wait_for(self.socket.receive_text(), HELLO_WAIT_S)
            )
            await self._begin(hello)
            await self._listen(hello)
        except TimeoutError:
            await self._end(self.speaker.say("no_blocks"), AWAY)
        except (ValidationError, KeyError):
            await self._end(self.speaker.say("unfit"), UNFIT)
        except BreakangleError as error:
            await self._end(str(error), UNFIT)
        except (WebSocketDisconnect, RuntimeError):
            return  # the page has gone: what was good is stored
        finally:
            _OPEN.discard(id(self))

    async def _begin(self, hello: Hello) -> None:
        self.hello = hello
        self.live: LiveListening | None = None
        self.watch: SettleWatch | None = None
        self.form: FormWatch | None = None
        job = hello.job
        if job != "notes" and job != "settle":
            form = await run_in_threadpool(
                FormWatch, self.shop, self.visit.id, hello.rate_hz, job, hello.string, hello.fret
            )
            self.form = form
            await self._send([form_asks(form)])
            return
        if hello.job == "settle":
            self.watch = await run_in_threadpool(self._watched, hello.string, hello.heard_hz)
            await self._send([self.speaker.settling(self.watch)])
            return
        self.live = await run_in_threadpool(
            LiveListening, self.shop, self.visit.id, hello.rate_hz, hello.order, hello.since
        )
        await self._send([self.speaker.asks(self.live.asked, self.live)])

    async def _listen(self, hello: Hello) -> None:
        while True:
            message = await asyncio.wait_for(self.socket.receive(), BLOCK_WAIT_S)
            if message["type"] == "websocket.disconnect":
                return
            if message.get("text") is not None:
                command = Command.model_validate_json(message["text"])
                await self._send(await self._done(command))
                if command.do == "stop":
                    await self.socket.close(AWAY)
                    return
                continue
            block = block_of(message.get("bytes") or b"")
            if block is None:
                await self._end(self.speaker.say("unfit"), UNFIT)
                return
            said = await run_in_threadpool(self._heard, block)
            await self._send(said)
            self.quiet_count = 0 if said else self.quiet_count + len(block)
            if self.quiet_count > SILENT_S * hello.rate_hz:
                await self._end(self.speaker.say("silent"), AWAY)
                return

    def _watched(self, string: int, heard_hz: Sequence[float] = ()) -> SettleWatch:
        return SettleWatch(self.shop, self.visit.id, self.hello.rate_hz, string, heard_hz)

    def _following(self, watch: SettleWatch) -> list[Said]:
        """Go on to the next string when one has settled, and return what there is to say of it; none after the last."""
        if watch.string == 1:
            return []
        self.watch = self._watched(watch.string - 1)
        asked = self.speaker.settling(self.watch)
        return [asked | {"say": f"{self.speaker.settling(watch)['words']} {asked['words']}"}]

    def _stamp(self) -> Stamp:
        return Stamp(self.speaker.visitor.who or NOBODY_NAMED, now())

    def _heard(self, block: NDArray[np.float64]) -> list[Said]:
        """Return what there is to say after a block; what cannot be stored is said, and listening goes on."""
        if self.form is not None:
            return self._of_form(self.form, lambda form: form.push(block, self._stamp()))
        if self.watch is not None:
            watch = self.watch
            said = [self.speaker.settles(one, watch) for one in watch.push(block)]
            return [*said, *self._following(watch)] if watch.settling.settled else said
        live = self.live
        assert live is not None
        try:
            return [self.speaker.told(one, live) for one in live.push(block, self._stamp())]
        except BreakangleError as error:
            return [{"event": "trouble", "words": str(error)}]

    def _of_form(self, form: FormWatch, ask: Callable[[FormWatch], list[FormTold]]) -> list[Said]:
        """Return what a form told, and what is to be played next."""
        try:
            told = ask(form)
        except BreakangleError as error:
            return [{"event": "trouble", "words": str(error)}]
        said = [form_told(self.socket, one) for one in told]
        return [*said, form_asks(form)] if said else []

    async def _done(self, command: Command) -> list[Said]:
        try:
            return await run_in_threadpool(self._obeyed, command)
        except BreakangleError as error:
            return [{"event": "trouble", "words": str(error)}]

    def _obeyed(self, command: Command) -> list[Said]:
        if self.form is not None:
            return self._of_form(self.form, lambda form: form.finish(self._stamp()))
        live, speaker = self.live, self.speaker
        if live is None:
            return []
        if command.do in ("next", "before"):
            return [speaker.asks(live.step(1 if command.do == "next" else -1), live)]
        if command.do == "keep":
            return [speaker.told(one, live) for one in live.keep(self._stamp())]
        if command.do == "take-back":
            asked = live.take_back(self._stamp())
            back: Said = {"event": "taken-back", "words": speaker.say("taken_back")}
            return [back, speaker.asks(asked, live)]
        if command.do == "anew":
            since = now()
            self.live = LiveListening(self.shop, self.visit.id, self.hello.rate_hz, self.hello.order, since)
            return [
                {"event": "anew", "since": since.isoformat()},
                speaker.asks(self.live.asked, self.live),
            ]
        return [speaker.told(one, live) for one in live.finish(self._stamp())]

    async def _send(self, said: list[Said]) -> None:
        for one in said:
            await self.socket.send_text(json.dumps(one, ensure_ascii=False))

    async def _end(self, words: str, code: int) -> None:
        try:
            await self._send([{"event": "closed", "words": words, "again": code == BUSY}])
            await self.socket.close(code)
        except (WebSocketDisconnect, RuntimeError):
            return  # it has gone already


def block_of(content: bytes) -> NDArray[np.float64] | None:
    """Return samples that came as 32-bit little-endian floats; None for what is no sound."""
    if not 0 < len(content) <= MOST_BLOCK_BYTES or len(content) % 4:
        return None
    samples = np.frombuffer(content, dtype="<f4").astype(float)
    if not np.isfinite(samples).all() or float(np.abs(samples).max()) > 1e4:
        return None
    return samples
