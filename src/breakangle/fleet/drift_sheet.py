"""A line's control charts as a sheet: one for each quantity, what drifted and which dimension of the design moved."""

from collections.abc import Mapping, Sequence

from breakangle.documents.renderers.page import Block, Heading, Letterhead, Page, Paragraph, Picture, Points
from breakangle.drawings.charts.control import Control, control_chart
from breakangle.drawings.look import PAPER
from breakangle.fleet.charts import DECISION, LIMIT
from breakangle.fleet.drift import LEAST, Drift
from breakangle.model.measure import INCH_MM
from breakangle.model.words.speech import mark, tr
from breakangle.services.design.moved_dimension import Explained, Moved

LIKELY = 0.9  # chance that the causes told sum up to
RESTS_ON = (
    mark(
        "Single values against three standard deviations: Shewhart 1931. Sums for a shift of "
        "one deviation, allowance 0.5, decision 5: Page 1954. Each value is taken from those "
        "before it: Hawkins 1987."
    ),
)


def drift_words(one: Drift, cause: Explained | None = None) -> tuple[str, ...]:
    """Return what a quantity's chart says, in sentences; what moves it only where no cause is known for all of them."""
    found = [
        tr(
            "{figure}: {items_count} instruments, {centre:+.3g} {unit} from what is wanted, "
            "standard deviation {deviation:.2g} {unit}, {sum} outside three of them",
            figure=one.figure,
            items_count=len(one.items),
            centre=one.centre,
            deviation=one.deviation,
            unit=one.unit,
            sum=int(one.outside.sum()),
        )
    ]
    if one.alarm:
        found.append(
            tr(
                "drifted: seen at {alarm}, most likely since {since}, by {step:+.3g} {unit}",
                alarm=one.alarm,
                since=one.since,
                step=one.step,
                unit=one.unit,
            )
        )
        if cause is None:
            found.append(tr("what moves it: {dimension}", dimension=one.dimension))
    return tuple(found)


def few_words(counts: Mapping[str, int]) -> tuple[str, ...]:
    """Return which quantities are left out because too few instruments have them, in sentences."""
    return tuple(
        tr(
            "{figure}: {items_count} instruments; a chart says nothing before {least}",
            figure=figure,
            items_count=count,
            least=LEAST,
        )
        for figure, count in counts.items()
    )


def cause_words(cause: Explained | None, units: str = "mm") -> tuple[str, ...]:
    """Return which dimensions of the design most likely moved, as many as have nine chances in ten together.

    Their amounts are in mm, or in inches where `units` is `in`.
    """
    if cause is None:
        return ()
    found = [] if cause.explains else [tr("no single dimension explains all of it; nearest:")]
    told = 0.0
    for one in cause.moved:
        found.append(_moved(one, units))
        told += one.chance
        if told >= LIKELY or not cause.explains:
            break
    return tuple(found)


def _moved(one: Moved, units: str) -> str:
    per, decimals, unit = 1.0, 2, "°" if one.dimension.endswith("degrees") else " mm"
    if unit == " mm" and units == "in":
        per, decimals, unit = INCH_MM, 4, " in"
    amount, reach = one.amount.value / per, 1.96 * one.amount.uncertainty / per
    by = f"{amount:+.{decimals}f} ± {reach:.{decimals}f}{unit}".replace("-", "−")
    return tr(
        "{words}: has moved by {by}, {chance:.0f} % likely; move it back by that",
        words=one.words,
        by=by,
        chance=100 * one.chance,
    )


def drift_page(drifts: Sequence[Drift], cause: Explained | None, title: str, units: str = "mm") -> Page:
    """Return the charts of all quantities, as `shown_in` has them, as plain data for any renderer."""
    blocks: list[Block] = []
    if moved := cause_words(cause, units):
        blocks += [Heading(tr("What of the design has moved")), Points(moved)]
    for one in drifts:
        drawing = control_chart(_control(one), PAPER)
        blocks += [Heading(one.figure.capitalize()), Picture(drawing.svg, drawing.description)]
        blocks += [Paragraph(line) for line in drift_words(one, cause)[1:]]
    blocks += [Heading(tr("It rests on")), Points(RESTS_ON)]
    return Page(tr("Control charts"), title, Letterhead(""), (), tuple(blocks))


def _control(one: Drift) -> Control:
    place = {name: n for n, name in enumerate(one.items)}
    return Control(
        one.figure.capitalize(), one.unit, one.items, one.off.tolist(), one.centre, LIMIT * one.deviation,
        one.outside.tolist(), one.above.tolist(), one.below.tolist(), DECISION, place.get(one.alarm),
        place.get(one.since) if one.alarm else None,
    )  # fmt: skip
