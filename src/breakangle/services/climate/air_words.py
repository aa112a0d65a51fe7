"""What a change of air does to an instrument, in sentences."""

from collections.abc import Sequence

from breakangle.model.service import Service
from breakangle.model.words.speech import mark, tr
from breakangle.planning.state.uncertain_value import Known
from breakangle.reference.families import family_of
from breakangle.reference.woods import usual_boards

SPEED_WORDS = mark(
    "Wood takes days to weeks to follow the air, lacquered wood longest: this is where it is heading."
)


def _width_sentence(width: Known) -> str:
    narrower = mark("The board becomes {width:.2f} mm ± {uncertainty:.2f} narrower at its last fret")
    wider = mark("The board becomes {width:.2f} mm ± {uncertainty:.2f} wider at its last fret")
    becomes = tr(
        narrower if width.value < 0 else wider, width=abs(width.value), uncertainty=2 * width.uncertainty
    )
    return becomes + (tr("; fret ends stand out.") if width.value < -0.1 else ".")


def air_sentences(
    service: Service,
    settled: Sequence[float],
    width: Known,
    relief: tuple[Known, int],
    warmth_cents: Sequence[Known],
) -> tuple[str, ...]:
    """Return what the change does, in sentences.

    Args:
        service: the instrument.
        settled: moisture of its wood before and after, in percent.
        width: by how much its board grows at the last fret, in mm.
        relief: how far relief moves, in mm, and how many pairs of visits tell so.
        warmth_cents: what warmth does to each open string.
    """
    change = settled[1] - settled[0]
    drier = mark("Wood in this air settles at {settled:.1f} % of moisture, {change:.1f} % drier than before.")
    damper = mark(
        "Wood in this air settles at {settled:.1f} % of moisture, {change:.1f} % damper than before."
    )
    said = [tr(drier if change < 0 else damper, settled=settled[1], change=abs(change))]
    if abs(change) >= 0.1:
        said.append(_width_sentence(width))
    said += _relief_sentences(*relief, family_of(service.instrument).tolerances.relief_mm)
    quick = [one.value for one in warmth_cents if abs(one.value) > one.uncertainty]
    low, high = min(quick, default=0.0), max(quick, default=0.0)
    if max(abs(low), abs(high)) >= 0.05:
        said.append(
            tr(
                "Within the hour the open strings move by {low:+.1f} to {high:+.1f} cents from the "
                "warmth alone.",
                low=low,
                high=high,
            )
        )
    return tuple(said)


def _relief_sentences(relief: Known, pairs: int, tolerance_mm: float) -> Sequence[str]:
    wide = 2.0 * relief.uncertainty
    if relief.uncertainty == 0.0:
        return ()
    if pairs == 0:
        return (
            tr(
                "Relief may move by as much as {wide:.2f} mm, either way: no visits tell how this neck goes.",
                wide=wide,
            ),
        )
    said = [
        tr(
            "Relief moves by {relief:+.2f} mm ± {wide:.2f}, as this neck has done before.",
            relief=relief.value,
            wide=wide,
        )
    ]
    if abs(relief.value) > tolerance_mm:
        said.append(
            tr(
                "That is more than its tolerance of {tolerance_mm:.2f} mm: read it before it is played.",
                tolerance_mm=tolerance_mm,
            )
        )
    elif abs(relief.value) + wide > tolerance_mm:
        said.append(
            tr(
                "It may leave its tolerance of {tolerance_mm:.2f} mm: a quick reading tells.",
                tolerance_mm=tolerance_mm,
            )
        )
    return said


def not_known_sentences(pairs: int, key: str | None, quarter_sawn: bool | None) -> tuple[str, ...]:
    """Return in sentences what of the change is not known; `pairs` of visits tell how this neck goes."""
    said = [tr(SPEED_WORDS)]
    if pairs == 0:
        said.append(
            tr("How this neck bends with the air: there are no two visits with relief and humidity yet.")
        )
    elif pairs == 1:
        said.append(
            tr("Only one pair of visits speaks for this neck: its direction is likely, its size is not.")
        )
    if key is None:
        usual = [str(of.words) for of in usual_boards()]
        said.append(
            tr(
                "The board's wood is not named: between {usual} and {usual_2}.",
                usual=", ".join(usual[:-1]),
                usual_2=usual[-1],
            )
        )
    if quarter_sawn is None:
        said.append(tr("How the board was cut is not told: between quarter-sawn and flat-sawn."))
    said.append(tr("What the lacquer, the glue and the rod do between wood and air is not known."))
    return tuple(said)
