"""How every neck answers to work, where some was done between readings: one row each."""

from collections.abc import Mapping
from typing import Any

from breakangle.fleet.items import SERVICES, Item
from breakangle.model.words.speech import mark

WORDS = mark("what each neck taught of rod, screws and load")
ENDINGS = SERVICES
COLUMNS = (
    ("kind", "string", mark("the family of instruments")),
    (
        "mean",
        "list<double>",
        mark("how it answers: what a turn adds to three bending shapes (mm), screws, bend per newton"),
    ),
    ("covariance", "list<double>", mark("its covariance, row by row")),
    ("family_mean", "list<double>", mark("what was believed of the family before")),
    ("family_covariance", "list<double>", mark("its covariance, row by row")),
)


def rows(item: Item, settings: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Return the neck's row; none where no adjustment has readings before and after it.

    Raises:
        BreakangleError: what the estimate of one service raises.
    """
    from breakangle.planning.estimate.learning import responses_of, teaches
    from breakangle.planning.kinds.prior import learned_places, prior_of
    from breakangle.planning.state.layout import Layout
    from breakangle.services.service_files.service import estimate_service, service_from

    del settings
    service = service_from(item.content, item.name)
    if not teaches(service):
        return []
    now = estimate_service(service)
    found, board = responses_of(now), now.board
    family, places = prior_of(board), learned_places(Layout(board.string_count, board.fret_count))
    return [
        {
            "kind": service.instrument.kind,
            "mean": found.mean.tolist(),
            "covariance": found.covariance.ravel().tolist(),
            "family_mean": family.mean[places].tolist(),
            "family_covariance": family.covariance[places][:, places].ravel().tolist(),
        }
    ]
