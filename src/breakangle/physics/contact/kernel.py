"""The compiled form of the contact steps: found beside this file where it was built, else numpy does it."""

import ctypes
from functools import cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from breakangle.physics.contact.collide import Prepared, Strikes
from breakangle.physics.contact.modes import Array, Notes

# Chosen: how the computation goes, nothing of an instrument.
ALIGNED = 8
"""Doubles in a cache line."""
# Where nothing else is said below: chosen: how the computation goes, nothing of an instrument.
BLOCK, HALF = 8, 4
NEAR_LOOK, WIDE_LOOK = 4, 32
"""Steps between two looks at a string that is near no crown, with all its modes or only with the low ones."""
LOW_MODES = 96
"""Chosen. Modes that are enough to see a string that is far from every crown."""
MOST_CROWNS = 48  # chosen, as in kernel.c
LIBRARY = Path(__file__).with_name("strike.so")
"""The compiled kernel; the build hook writes it where there is a compiler."""


class _Note(ctypes.Structure):
    """Mirror of `note` in kernel.c, field by field."""

    _fields_ = (
        [
            (name, ctypes.c_int64)
            for name in ("chunks", "used", "wide_used", "crowns", "live", "start", "steps")
        ]
        + [(name, ctypes.c_void_p) for name in ("turn", "turn_near", "turn_wide", "bend", "shape")]
        + [(name, ctypes.c_void_p) for name in ("kick", "gap", "row")]
        + [("spring", ctypes.c_double)]
        + [
            (name, ctypes.c_void_p)
            for name in ("place", "speed", "depth", "work", "impulse", "first", "touched")
        ]
        + [(name, ctypes.c_void_p) for name in ("most_force", "least_force", "residual")]
    )


@cache
def library() -> ctypes.CDLL | None:
    """The compiled kernel, or None where it was never built or does not load on this machine.

    Source: loading; no physics.
    """
    try:
        found = ctypes.CDLL(str(LIBRARY))
    except OSError:
        return None
    form = found.breakangle_strike_form
    form.restype = ctypes.c_int64
    if form() != 1000 * ctypes.sizeof(_Note) + 10 * BLOCK + HALF + NEAR_LOOK + WIDE_LOOK:
        return None
    found.breakangle_lanes.restype = ctypes.c_int64
    found.breakangle_strike.argtypes = [ctypes.POINTER(_Note), ctypes.c_int64]
    found.breakangle_strike.restype = None
    found.breakangle_swing.argtypes = [ctypes.POINTER(_Note), ctypes.c_int64, ctypes.c_void_p]
    found.breakangle_swing.restype = None
    return found


@cache
def lanes() -> int:
    """How many modes the kernel works on at once on this processor.

    Source: the processor's; no physics.
    """
    found = library()
    return 2 if found is None else int(found.breakangle_lanes())


def padded(values: Array, chunks: int) -> Array:
    """A copy with its last axis filled up with zeros to whole lanes, on a 64-byte boundary.

    Source: laying out numbers; no physics.
    """
    shape = (*values.shape[:-1], chunks * lanes())
    size = int(np.prod(shape))
    room = np.empty(size + ALIGNED)
    start = (-room.ctypes.data // 8) % ALIGNED
    out = room[start : start + size].reshape(shape)
    out[..., : values.shape[-1]] = values
    out[..., values.shape[-1] :] = 0.0
    return out


def swing(turn: NDArray[np.complex128], weight_mm: Array, steps: int) -> Array:
    """Heights (C, steps) of points with modal weights (C, K) on a free string, from its release on.

    `turn` (K,) is each mode's damped rotation over one step.

    Source: the sum of modes under the damped rotation of `collide` [derived].
    """
    crowns, modes = weight_mm.shape
    chunks = -(-modes // lanes())
    powers = np.cumprod(np.repeat(turn[None, :], HALF, axis=0), axis=0)
    at = [padded(np.concatenate([powers.real, powers.imag]), chunks), padded(weight_mm, chunks)]
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
    return np.concatenate([weight_mm.sum(axis=1, keepdims=True), out], axis=1)


class Compiled:
    """Tables of the notes laid out for the kernel."""

    def __init__(self, prepared: Prepared) -> None:
        """Lay out rotations, shapes and kicks once: every strength of a note shares them."""
        self.modes = modes = prepared.omega.shape[1]
        self.chunks = -(-modes // lanes())
        self.used = -(-np.count_nonzero(prepared.kept, axis=1) // lanes())
        self.wide_used = np.minimum(self.used, -(-LOW_MODES // lanes()))
        turns = self._turns(prepared)
        self.turn, self.turn_near, self.turn_wide = (turns[steps] for steps in (1, NEAR_LOOK, WIDE_LOOK))
        self.bend = padded((prepared.omega * prepared.step_ms[:, None]) ** 2 / 8.0, self.chunks)
        self.shape = padded(prepared.shape, self.chunks)
        self.kick = padded(prepared.kick, self.chunks)
        self.spring = prepared.spring

    def _turns(self, prepared: Prepared) -> dict[int, Array]:
        """Rotations over once to HALF times 1, NEAR_LOOK and WIDE_LOOK steps, each power from the one before."""
        c, s = prepared.turn(1)
        found, step, length = {}, c + 1j * s, 1
        while length <= WIDE_LOOK:
            if length in (1, NEAR_LOOK, WIDE_LOOK):
                powers = np.empty((len(step), HALF, self.modes), dtype=np.complex128)
                powers[:, 0] = step
                for m in range(1, HALF):
                    np.multiply(powers[:, m - 1], step, out=powers[:, m])
                found[length] = padded(np.concatenate([powers.real, powers.imag], axis=1), self.chunks)
            step, length = step * step, 2 * length
        return found

    def run(self, notes: Notes, state: Strikes, owner: NDArray[np.intp], start: int, steps: int) -> None:
        """Step every string of `state`; `owner` says which note's tables and gaps each one uses.

        Source: the same steps as `collide.run_plain`, in C.
        """
        place, speed = padded(state.place, self.chunks), padded(state.speed, self.chunks)
        gap = np.ascontiguousarray(notes.gap_mm)
        kernel = library()
        assert kernel is not None

        for job, note in enumerate(owner):
            row = np.flatnonzero(state.live[job])
            if len(row) == 0:
                continue
            depth = np.array([state.was[job, row], state.here[job, row]])
            work = padded(np.zeros((BLOCK, self.modes)), self.chunks)
            at = [
                self.turn[note], self.turn_near[note], self.turn_wide[note], self.bend[note],
                self.shape[note], self.kick[note], gap[note], row,
            ]  # fmt: skip
            out = [
                place[job], speed[job], depth, work, state.impulse[job], state.first[job],
                state.touched[job], state.most_force[job], state.least_force[job:], state.residual[job:],
            ]  # fmt: skip
            sizes = (self.chunks, int(self.used[note]), int(self.wide_used[note]), gap.shape[1], len(row))
            record = _Note(
                *sizes, start, steps, *(a.ctypes.data for a in at), self.spring, *(a.ctypes.data for a in out)
            )
            kernel.breakangle_strike(ctypes.byref(record), lanes())
            state.was[job, row], state.here[job, row] = depth
        state.place, state.speed = place[:, : self.modes].copy(), speed[:, : self.modes].copy()
