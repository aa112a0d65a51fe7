"""A visit worked out before and after its work, and what may be said of it: what every sheet speaks from."""

from dataclasses import dataclass
from functools import cached_property

from breakangle.documents.sheets.standing import as_it_came
from breakangle.model.plan import Plan
from breakangle.model.reading import Adjustment
from breakangle.model.service import Service
from breakangle.planning.estimate.estimate import Estimate
from breakangle.planning.verdict.judgement import Judgement, judge
from breakangle.services.plans.solved_visits import expecting, solved_visit
from breakangle.storage.records.records import Visit
from breakangle.storage.records.store import Shop


@dataclass(frozen=True)
class Standings:
    """A visit worked out: its service, its states before and after the work, and what a plan still says.

    `judgement` is what may be said of it as it stands, `declined` what the owner wished left undone.
    """

    service: Service
    first: Service
    before: Estimate
    after: Estimate
    plan: Plan
    judgement: Judgement
    declined: tuple[Adjustment, ...] = ()

    @cached_property
    def came(self) -> Judgement:
        """Return what may be said of it as it came."""
        return self.judgement if self.first == self.service else judge(self.first, self.before)


def standings(shop: Shop, visit: Visit) -> Standings:
    """Return the visit worked out, before and after, from all that the shop knows of this neck.

    Raises:
        ReadAgainError: readings that no instrument fits.
    """
    found = solved_visit(shop, visit.id)
    first = as_it_came(found.service)
    before = found.estimate
    if first != found.service:
        before = expecting(shop, visit.id, found.service).after(first)
    return Standings(found.service, first, before, found.estimate, found.plan, found.judgement, found.without)
