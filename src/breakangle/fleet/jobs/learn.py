"""What every instrument teaches of others: its neck's answers, its saddles, crowns and season; one row for each."""

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

if TYPE_CHECKING:
    from breakangle.planning.estimate.lessons import Lesson

WORDS = mark("what each instrument taught of necks, saddles, crowns and seasons")
ENDINGS = SERVICES
COLUMNS = (
    ("kind", "string", mark("the family of instruments")),
    (
        "subject",
        "string",
        mark(
            "neck (what a turn adds to three bending shapes in mm, screws, bend per newton), "
            "saddles (height, tilt and setback as it came, mm), crowns (logarithm of their "
            "spread over the usual), season (relief as found and as left, mm)"
        ),
    ),
    ("mean", "list<double>", mark("what the instrument told of it")),
    ("covariance", "list<double>", mark("its covariance, row by row")),
    (
        "family_mean",
        "list<double>",
        mark("what was believed of the family before; of a season, mm per percent of humidity"),
    ),
    ("family_covariance", "list<double>", mark("its covariance, row by row")),
    ("humidity_percent", "double", mark("the room's, where the subject is season")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return a row for each subject that the readings tell of; none of an instrument whose kind a shop made.

    Raises:
        BreakangleError: what the estimate of one service raises.
    """
    from breakangle.planning.estimate.learning import teaches
    from breakangle.planning.estimate.lessons import as_it_came, crowns_taught, neck_taught, saddles_taught
    from breakangle.services.service_files.service import estimate_service, service_from

    del settings
    service = service_from(item.content, item.name)
    if service.instrument.kind_table is not None:
        return []  # two shops' kinds of one name are two families
    first = as_it_came(service)
    came = estimate_service(first)
    lessons = {"saddles": saddles_taught(came), "crowns": crowns_taught(service, came.board)}
    if teaches(service):
        lessons["neck"] = neck_taught(estimate_service(service))
    kind = service.instrument.kind
    found = [_row(kind, subject, lesson) for subject, lesson in lessons.items() if lesson is not None]
    return [*found, *_season(service, came)]


def _row(kind: str, subject: str, lesson: "Lesson") -> dict[str, Any]:
    return {
        "kind": kind,
        "subject": subject,
        "mean": lesson.told.mean.tolist(),
        "covariance": lesson.told.covariance.ravel().tolist(),
        "family_mean": lesson.family.mean.tolist(),
        "family_covariance": lesson.family.covariance.ravel().tolist(),
        "humidity_percent": None,
    }


def _season(service: Any, came: Any) -> list[dict[str, Any]]:
    """Return the row of a visit whose air and relief are known: several of one instrument tell its season."""
    from breakangle.planning.estimate.lessons import reliefs_of
    from breakangle.planning.state.effects.season import season_prior

    air = service.room.humidity_percent if service.room is not None else None
    if air is None:
        return []
    found, left = reliefs_of(service, came)
    if found is None and left is None:
        return []
    prior = season_prior(service.instrument).relief
    return [
        {
            "kind": service.instrument.kind,
            "subject": "season",
            "mean": [None if one is None else one.value for one in (found, left)],
            "covariance": [None if one is None else one.uncertainty**2 for one in (found, left)],
            "family_mean": [prior.value],
            "family_covariance": [prior.uncertainty**2],
            "humidity_percent": air,
        }
    ]
