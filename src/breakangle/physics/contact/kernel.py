"""The compiled form of the contact steps: found beside this file where it was built, else numpy does it."""

import ctypes
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.collide import Prepared, Strikes
from breakangle.physics.contact.modes import Array, Notes

ALIGNED = 8
"""Doubles in a cache line."""
BLOCK, HALF = 8, 4
MOST_CROWNS = 48
LIBRARY = Path(__file__).with_name("strike.so")
"""The compiled kernel; the build hook writes it where there is a compiler."""


class _Note(ctypes.Structure):
    """Mirror of `note` in kernel.c, field by field."""

    _fields_ = (
        [(name, ctypes.c_int64) for name in ("chunks", "used", "crowns", "live", "start", "steps")]
        + [
            (name, ctypes.c_void_p)
            for name in ("turn", "shape", "kick_place", "kick_speed", "answer", "gap", "row")
        ]
        + [("spring", ctypes.c_double)]
        + [
            (name, ctypes.c_void_p)
            for name in ("place", "speed", "depth", "work", "impulse", "first", "touched")
        ]
        + [(name, ctypes.c_void_p) for name in ("most_force", "least_force", "residual")]
    )


@cache
def library() -> ctypes.CDLL | None:
    """The compiled kernel, or None where it was never built or does not load on this machine."""
    try:
        found = ctypes.CDLL(str(LIBRARY))
    except OSError:
        return None
    form = found.breakangle_strike_form
    form.restype = ctypes.c_int64
    if form() != 1000 * ctypes.sizeof(_Note) + 10 * BLOCK + HALF:
        return None
    found.breakangle_lanes.restype = ctypes.c_int64
    found.breakangle_strike.argtypes = [ctypes.POINTER(_Note), ctypes.c_int64]
    found.breakangle_strike.restype = None
    found.breakangle_swing.argtypes = [ctypes.POINTER(_Note), ctypes.c_int64, ctypes.c_void_p]
    found.breakangle_swing.restype = None
    return found


@cache
def lanes() -> int:
    """How many modes the kernel works on at once on this processor."""
    found = library()
    return 2 if found is None else int(found.breakangle_lanes())


def padded(values: Array, chunks: int) -> Array:
    """A copy with its last axis filled up with zeros to whole lanes, on a 64-byte boundary."""
    out = aligned(np.zeros((*values.shape[:-1], chunks * lanes())))
    out[..., : values.shape[-1]] = values
    return out


def aligned(values: Array) -> Array:
    """A copy on a 64-byte boundary: one cache line for each group of lanes."""
    room = np.empty(values.size + ALIGNED)
    start = (-room.ctypes.data // 8) % ALIGNED
    out = room[start : start + values.size].reshape(values.shape)
    out[...] = values
    return out


def swing(turn: NDArray[np.complex128], weight: Array, steps: int) -> Array:
    """Heights (C, steps) of points with modal weights (C, K) on a free string, from its release on.

    `turn` (K,) is each mode's damped rotation over one step.
    """
    crowns, modes = weight.shape
    chunks = -(-modes // lanes())
    powers = np.cumprod(np.repeat(turn[None, :], HALF, axis=0), axis=0)
    flat = padded(np.concatenate([powers.real, powers.imag]), chunks)
    at = [aligned(flat.reshape(2 * HALF, chunks, lanes()).swapaxes(0, 1)), padded(weight, chunks)]
    state = [padded(np.ones((1, modes)), chunks), padded(np.zeros((1, modes)), chunks)]
    work, row, out = (
        padded(np.zeros((BLOCK, modes)), chunks),
        np.arange(crowns),
        np.empty((crowns, steps - 1)),
    )
    record = _Note(chunks=chunks, used=chunks, crowns=crowns, live=crowns, steps=steps - 1)
    for name, array in zip(
        ("turn", "shape", "row", "place", "speed", "work"), [*at, row, *state, work], strict=True
    ):
        setattr(record, name, array.ctypes.data)
    kernel = library()
    assert kernel is not None
    kernel.breakangle_swing(ctypes.byref(record), lanes(), ctypes.c_void_p(out.ctypes.data))
    return np.concatenate([weight.sum(axis=1, keepdims=True), out], axis=1)


class Compiled:
    """Tables of the notes laid out for the kernel; runs strings in two or more threads."""

    def __init__(self, prepared: Prepared) -> None:
        """Lay out rotations, shapes and kicks once: every strength of a note shares them."""
        modes = prepared.omega.shape[1]
        self.chunks = -(-modes // lanes())
        self.used = -(-np.count_nonzero(prepared.kept, axis=1) // lanes())
        c, s = prepared.turn(1)
        once = c + 1j * s
        powers = np.cumprod(np.repeat(once[:, None, :], HALF, axis=1), axis=1)
        turn = padded(np.concatenate([powers.real, powers.imag], axis=1), self.chunks)
        self.turn = aligned(turn.reshape(len(turn), 2 * HALF, self.chunks, lanes()).swapaxes(1, 2))
        self.shape = padded(prepared.shape, self.chunks)
        self.kick_place = padded(s * prepared.kick, self.chunks)
        self.kick_speed = padded(c * prepared.kick, self.chunks)
        self.answer = np.ascontiguousarray(prepared.answer)
        self.spring = prepared.spring
        self.modes = modes

    def run(
        self, notes: Notes, state: Strikes, owner: NDArray[np.intp], start: int, steps: int, threads: int
    ) -> None:
        """Step every string of `state`; `owner` says which note's tables and gaps each one uses."""
        place, speed = padded(state.place, self.chunks), padded(state.speed, self.chunks)
        gap = np.ascontiguousarray(notes.gap_mm)
        kernel = library()
        assert kernel is not None

        def one(job: int) -> None:
            note = int(owner[job])
            row = np.flatnonzero(state.live[job])
            if len(row) == 0:
                return
            depth = np.array([state.was[job, row], state.here[job, row]])
            work = padded(np.zeros((BLOCK, self.modes)), self.chunks)
            at = [
                self.turn[note], self.shape[note], self.kick_place[note], self.kick_speed[note],
                self.answer[note], gap[note], row,
            ]  # fmt: skip
            out = [
                place[job], speed[job], depth, work, state.impulse[job], state.first[job],
                state.touched[job], state.most_force[job], state.least_force[job:], state.residual[job:],
            ]  # fmt: skip
            record = _Note(
                self.chunks, int(self.used[note]), gap.shape[1], len(row), start, steps,
                *(a.ctypes.data for a in at), self.spring, *(a.ctypes.data for a in out),
            )  # fmt: skip
            kernel.breakangle_strike(ctypes.byref(record), lanes())
            state.was[job, row], state.here[job, row] = depth

        if threads > 1:
            with ThreadPoolExecutor(threads) as pool:
                list(pool.map(one, range(len(owner))))
        else:
            for job in range(len(owner)):
                one(job)
        state.place, state.speed = place[:, : self.modes].copy(), speed[:, : self.modes].copy()
