"""The second polarisation: a second line in every partial, taken only where it explains the take."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from breakangle.listening.pitch.combine import CENTS
from breakangle.listening.pitch.equations import Prior, Problem, Shape, State, problem_of
from breakangle.listening.pitch.joint import polish, solve, swapped
from breakangle.listening.pitch.partials import Bands

FloatArray = NDArray[np.float64]
ComplexArray = NDArray[np.complex128]

# Where nothing else is said below: calibrated by listening_honesty, on its spoiled takes.
DISTANCES_CENTS = np.array([0.25, 0.5, 0.9, 1.5, 2.3])
LEAST_LEFT_OVER = 4.0  # calibrated by listening_shop
# Share of what one line leaves over, and of the noise, which is itself only judged beside the partials: the second
# calibrated by listening_shop.
MOST_UNEXPLAINED, NOISE_UNSURE = 0.01, 0.6
MOST_STARTS = 4
# Of the lines' distance, for lines alike: held to fretted notes against harmonics of coupled strings.
LIKENESS_SHARE = 0.4
# Of an even chance between two bounds, as a share of their distance. Derived: 1/sqrt(12).
BETWEEN_LINES = float(1 / np.sqrt(12))


def with_second_line(bands: Bands, hum: ComplexArray, one: State, prior: Prior) -> State:
    """A two-line fit where it explains what one line leaves over, else the one-line fit.

    Real strings beat in ways that two lines near one common distance do not explain; there a second line would
    only add freedom, so it is taken only when what is left over is well above the noise and nearly all of it
    goes away.
    """
    left_over = _power(one.residual) / bands.noise**2
    if np.median(np.sort(left_over)[-len(left_over) // 2 :]) < LEAST_LEFT_OVER:
        return one
    noise = np.maximum(bands.noise, 0.002 * np.abs(one.amplitude[:, 0]))
    problem = problem_of(bands, hum, bands.noise, prior)
    most = MOST_UNEXPLAINED * float(np.sum(left_over - 1)) + NOISE_UNSURE * len(left_over)

    def unexplained(state: State) -> float:
        return float(np.sum(_power(state.residual) / bands.noise**2 - 1))

    starts = _starts(bands, hum, one.shape, noise)
    two = own_line_first(problem, solve(problem, starts[0]))
    if (
        unexplained(two) >= most
    ):  # two lines alike: some partials begin with them changed over, and stay there
        others = [solve(problem, start) for start in starts[1:]]
        best = min([two, *others], key=lambda state: state.cost)
        two = own_line_first(problem, solve(problem, polish(problem, best).shape))
    return two if unexplained(two) < most else one


def _power(values: ComplexArray) -> FloatArray:
    """Mean square of each partial; shape (partials,)."""
    return np.asarray(np.einsum("nt,nt->n", values, values.conj()).real / values.shape[1])


@dataclass(frozen=True)
class Lines:
    """The two lines of a take's partials against each other; all 0 with one line.

    Attributes:
        apart_cents: distance of the second line, positive either way.
        likeness_ratio: weaker over stronger line, 0 to 1.
        swapped_ratio: share of the partials in which the second line is the stronger one.
        spread_nepers: how much the lines' ratio differs from partial to partial.
    """

    apart_cents: float = 0.0
    likeness_ratio: float = 0.0
    swapped_ratio: float = 0.0
    spread_nepers: float = 0.0

    @property
    def doubt_cents(self) -> float:
        """Standard uncertainty because another pluck, let go another way, may sound anywhere between the lines."""
        voted = np.sqrt(self.swapped_ratio * (1 - self.swapped_ratio))
        share = LIKENESS_SHARE * self.likeness_ratio + 2 * BETWEEN_LINES * voted
        return self.apart_cents * float(min(share, BETWEEN_LINES))


def lines_of(bands: Bands, shape: Shape, amplitude: ComplexArray) -> Lines:
    """How the two lines compare.

    Args:
        bands: the partials.
        shape: the fit's unknowns.
        amplitude: complex amplitudes at the pluck, shape (partials, lines or more).
    """
    if shape.detuning == 0.0:
        return Lines()
    ratio, weight = _log_ratio(bands, shape, amplitude)
    middle = float(weight @ ratio)
    return Lines(
        CENTS * abs(shape.detuning),
        float(weight @ np.exp(-np.abs(ratio))),
        float(weight @ (ratio > 0)),
        float(np.sqrt(weight @ (ratio - middle) ** 2)),
    )


def centre_of(shape: Shape, lines: Lines) -> float:
    """Where between its lines a string's pitch lies, as ln of the pitch over the first line's, as the partials vote.

    Where they agree that is the stronger line; where they do not, the answer must not hang on which of two nearly
    alike lines a pluck happened to favour: fretted note and harmonic are plucked apart, and compared.
    """
    return float(np.log1p(shape.detuning) * lines.swapped_ratio) if shape.detuning else 0.0


def _log_ratio(bands: Bands, shape: Shape, amplitude: ComplexArray) -> tuple[FloatArray, FloatArray]:
    """Nepers by which the second line is stronger, and weights that add up to 1; shape (partials,) each.

    A partial whose lines have not come apart within the take (low ones) says little of either.
    """
    size = np.maximum(np.abs(amplitude[:, :2]), bands.noise[:, None])
    ratio = np.minimum(np.maximum(np.log(size[:, 1] / size[:, 0]), -4.0), 4.0)
    length_s = bands.time_s[-1] - bands.time_s[0]
    turns = abs(shape.detuning) * bands.carrier_hz * length_s
    weight = np.sqrt(_power(bands.values)) * np.minimum(turns, 1.0) ** 2
    return np.asarray(ratio), np.asarray(weight / weight.sum())


def own_line_first(problem: Problem, state: State) -> State:
    """The state with the stronger line first, solved again where the lines had to change places."""
    if state.shape.detuning == 0.0:
        return state
    ratio, weight = _log_ratio(problem.bands, state.shape, state.amplitude)
    return solve(problem, swapped(state)) if float(weight @ ratio) > 0 else state


def _starts(bands: Bands, hum: ComplexArray, one: Shape, noise: FloatArray) -> tuple[Shape, ...]:
    """The best distances to begin from, best first, tried side by side with the glide held as it is.

    With glide and distance held, partials share nothing: all trials are one fit of as many times more
    partials. Every second frame is enough to choose by.
    """
    sizes = np.concatenate([-DISTANCES_CENTS, DISTANCES_CENTS])
    count, partials = len(sizes), len(bands.order)
    half = bands.every_second()
    side_by_side = replace(
        half,
        order=np.tile(half.order, count),
        carrier_hz=np.tile(half.carrier_hz, count),
        values=np.tile(half.values, (count, 1)),
        noise=np.tile(half.noise, count),
    )
    decay = np.tile(one.decay, count)
    shape = replace(
        one,
        log_pitch=np.tile(one.log_pitch, count),
        decay=decay,
        second_decay=decay,
        uneven=np.repeat(sizes - 1, partials),
        detuning=1 / CENTS,
    )
    prior = Prior(free=False, distance_free=False)
    problem = problem_of(side_by_side, np.tile(hum[:, :, ::2], (count, 1, 1)), np.tile(noise, count), prior)
    tried = solve(problem, shape, steps=2)
    order = np.argsort(tried.costs.reshape(count, partials).sum(axis=1))[:MOST_STARTS]

    def shape_of(at: int) -> Shape:
        chosen = slice(at * partials, (at + 1) * partials)
        return replace(
            one,
            log_pitch=tried.shape.log_pitch[chosen],
            decay=tried.shape.decay[chosen],
            second_decay=tried.shape.second_decay[chosen],
            detuning=float(sizes[at]) / CENTS,
        )

    return tuple(shape_of(int(at)) for at in order)
