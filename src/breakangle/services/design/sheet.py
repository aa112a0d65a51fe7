"""A design as a sheet, as a drawing at true size, and as a service file that its first visit inherits."""

from breakangle.documents.renderers.page import Facts, Heading, Letterhead, Page, Paragraph, Points, Table
from breakangle.model.service import Service
from breakangle.model.words.speech import tr
from breakangle.services.design.budget import BUILDS, Budget
from breakangle.services.documents.templates import template_file
from breakangle.services.making.kinds import mm

DRAWN = ("pdf", "svg", "dxf")
LEAST_SHARE = 0.005  # less of the budget is not worth a line; common practice, no source


def _lead(budget: Budget) -> str:
    build = budget.build
    return tr(
        "Neck angle {angle_degrees:.2f}° with a saddle {saddle} over a bridge of {bridge} gives {action} over the "
        "12th fret, open, mean of the strings. It hangs most on the {most}.",
        angle_degrees=float(build.angle_degrees),
        saddle=mm(float(build.saddle_mm)),
        bridge=mm(float(build.bridge_mm)),
        action=mm(budget.action_mm),
        most=budget.shares[0].words,
    )


def design_page(service: Service, budget: Budget) -> Page:
    """Return the design as plain data, for any renderer."""
    instrument = service.instrument
    facts = (
        (tr("scale"), tr("{scale_mm:g} mm, {frets} frets, joint at {joint_fret}", scale_mm=instrument.scale_mm,
                         frets=instrument.frets, joint_fret=instrument.joint_fret)),
        (tr("strings, 1 first"), ", ".join(f"{one.note} {mm(one.diameter_mm)}" for one in instrument.in_order())),
        (tr("break angle"), f"{budget.break_degrees:.0f}°"),
        (tr("saddles must reach"), tr("{mm} up and down for 19 builds in 20", mm=mm(budget.adjusters_mm))),
        (tr("action as built, 19 in 20"), tr("± {linear} ({drawn} over {builds} builds drawn)",
            linear=mm(1.96 * budget.linear_mm), drawn=mm(1.96 * budget.drawn_mm), builds=BUILDS)),
    )  # fmt: skip
    rows = tuple(
        (
            one.words, _nominal(one.name, one.nominal), _nominal(one.name, one.spread),
            mm(one.action_spread_mm), f"{100.0 * one.share:.0f} %",
        )
        for one in budget.shares
        if one.share >= LEAST_SHARE
    )  # fmt: skip
    head = (
        tr("dimension"),
        tr("nominal"),
        tr("built within ±"),
        tr("moves the action by"),
        tr("of the budget"),
    )
    notes = (
        tr(
            "Built within: one standard deviation, common practice of a careful bench; give your own where you "
            "know them."
        ),
        tr(
            "What saddle, nut and rod can take up is left to them; what stands above them in the table must be right."
        ),
    )
    blocks = (
        Paragraph(_lead(budget), "lead"), Facts(facts), Heading(tr("Tolerance budget of the action")),
        Table(tr("What it hangs on"), head, rows), Points(notes),
    )  # fmt: skip
    return Page(tr("Design"), instrument.name, Letterhead(""), (), blocks)


def design_drawing(service: Service, budget: Budget, form: str, on: str = "a4") -> bytes:
    """Return the build from the side at true size: `pdf`, `svg` or `dxf`.

    Raises:
        CorrectInputError: no such form or paper.
        InstallError: the typesetter is not installed.
    """
    build = budget.build
    options = {
        "angle": f"{max(float(build.angle_degrees), 0.0):.4f}", "bridge": f"{float(build.bridge_mm):.4f}",
        "saddle": f"{float(build.saddle_mm):.4f}", "board": f"{float(build.board_mm):.4f}",
        "crown": f"{float(build.crown_mm):.4f}", "floor": f"{float(build.floor_mm):.4f}",
    }  # fmt: skip
    return template_file(service, "build-side", form, on, options)


def _nominal(name: str, value: float) -> str:
    return f"{value:.2f}°" if name.endswith("degrees") else mm(value)
