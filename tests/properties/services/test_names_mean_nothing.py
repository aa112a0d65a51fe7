"""A family, make, wrap or post does what its row says whatever it is called: nothing is guessed, no caution is lost.

Every row gets a twin of the same facts under a made-up key (`quokka-3`, `titanium-wound-1`). Whatever is asked of an
instrument with made-up names is answered to the letter as of the real one, but for the names.
"""

import json
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from breakangle.cli.render.pages.buzz import lines
from breakangle.documents.labels.label import courses_words
from breakangle.documents.renderers.page_text import page_text
from breakangle.documents.sheets.hand_back import cautions
from breakangle.documents.sheets.hand_back_figures import string_words
from breakangle.model.service import Room, Service
from breakangle.model.service_file import service_text
from breakangle.planning.kinds.registry import adjustment_kinds
from breakangle.planning.state.effects.warmth import warmth
from breakangle.planning.state.string_constants import string_constants
from breakangle.procedures.facts import usual_facts
from breakangle.procedures.shelf import own_procedures
from breakangle.procedures.text import procedure_text
from breakangle.reference.strings import makes
from breakangle.services.climate.air import climate
from breakangle.services.documents.labels import label_of
from breakangle.services.documents.sheets import SHEETS, sheet_pages
from breakangle.services.documents.templates import draw_template, templates
from breakangle.services.listening.takes import open_strings
from breakangle.services.plans.plan_page import plan_sheet
from breakangle.services.plans.solved_visits import solved_visit
from breakangle.services.procedures.runs import known_facts
from breakangle.services.service_files.buzz import buzz
from breakangle.services.service_files.compare import told as told_step
from breakangle.services.service_files.lowest import lowest_setup
from breakangle.services.service_files.pictures import clearance_map, elevation_of, intonation_map
from breakangle.services.service_files.plan_json import plan_text
from breakangle.services.service_files.predict import predict_service
from breakangle.services.service_files.service import estimate_service, plan_service, service_from
from breakangle.services.strings.sizes import find_gauges
from breakangle.services.strings.string_set import strings
from breakangle.services.strings.winding import wind_set
from breakangle.services.swap.comparison import swap
from breakangle.services.visits.service_files import bring_in, visit_text
from breakangle.services.workshop.opening import shop_at
from breakangle.web.texts import words
from contact_setups import service_data
from danger_reading import made
from renamed_tables import as_named, plain, renamed_tables
from shop_fixtures.people import ADA

KINDS = ("banjo-five", "nylon-acoustic-guitar", "bass-four", "steel-acoustic-guitar", "electric-guitar")


@pytest.fixture(scope="module")
def names(tmp_path_factory) -> Iterator[dict[str, str]]:
    with renamed_tables(tmp_path_factory.mktemp("tables")) as found:
        yield found


def written(kind: str, names: dict[str, str] | None = None) -> bytes:
    """Return a service file of a family, its bridge sunk by half a millimetre; with made-up names where given."""
    data = service_data(kind=kind, low_mm=1.6, high_mm=1.2, relief_mm=0.4)
    data["readings"] = [one for one in data["readings"] if one["quantity"] == "gap"]
    data["room"] = {"temperature_c": 20.0, "humidity_percent": 45.0}
    text = json.dumps(data)
    for real, other in (names or {}).items():
        text = text.replace(f'"{real}"', f'"{other}"')
    return text.encode()


def _all_adjustments(service: Service) -> list[Any]:
    return [list(made(kind, service.instrument)) for kind in adjustment_kinds().values()]


def _procedures(service: Service) -> list[str]:
    return [procedure_text(one, usual_facts(service.instrument)) for one in own_procedures().values()]


def _drawn(service: Service) -> list[Any]:
    needs_outline = {"neck-depth"}
    kinds = [one for one in templates() if one.name not in needs_outline]
    assert len(kinds) >= 4
    return [plain(draw_template(service, one.name)) for one in kinds]


def _restrung(service: Service) -> Any:
    thinner = [
        one.model_copy(update={"diameter_mm": round(0.95 * one.diameter_mm, 3), "core_mm": None})
        for one in service.instrument.strings
    ]
    return swap(service, thinner)


def _other_strings(service: Service) -> Any:
    """Return what is said of another make on the instrument: what an instrument built for nylon is told of steel."""
    wire = next(key for key in reversed(makes()) if words(f"makes.{key}") == "plain steel")
    hard = [one.model_copy(update={"make": wire, "wrap": None, "core_mm": None, "diameter_mm": 0.3})
            for one in service.instrument.strings]  # fmt: skip
    return swap(service, hard).cautions


def _steps(service: Service) -> list[Any]:
    return [plain(told_step(step, service)) for step in plan_service(service).steps]


SLOW = ("buzz", "lowest", "quiet plan", "swap", "other strings")
ASKED: dict[str, Callable[[Service], Any]] = {
    "file": lambda service: json.loads(service_text(service)),
    "estimate": lambda service: plain(estimate_service(service).belief),
    "plan": lambda service: json.loads(plan_text(plan_service(service))),
    "quiet plan": lambda service: json.loads(plan_text(plan_service(service, "light", (), "heavy"))),
    "steps": _steps,
    "prediction": predict_service,
    "buzz": lambda service: lines(buzz(service, ("medium",))),
    "lowest": lambda service: lowest_setup(service, "medium").lowest.limits,
    "strings": strings,
    "constants": lambda service: [
        string_constants(make=one.make, diameter_mm=one.diameter_mm, open_length_mm=600.0, pitch_hz=110.0,
                         core_mm=one.core_mm, wrap=one.wrap) for one in service.instrument.strings
    ],
    "gauges": find_gauges,
    "swap": _restrung,
    "other strings": _other_strings,
    "winding": wind_set,
    "warmth": lambda service: warmth(estimate_service(service).board),
    "climate": lambda service: climate(service, Room(temperature_c=28.0, humidity_percent=70.0)),
    "pictures": lambda service: [elevation_of(service), intonation_map(service), clearance_map(service)],
    "templates": _drawn,
    "listening": lambda service: open_strings(service.instrument, 440.0),
    "facts": lambda service: usual_facts(service.instrument),
    "procedures": _procedures,
    "adjustments": _all_adjustments,
    "owner's cautions": lambda service: cautions(service.instrument),
    "sheet words": lambda service: [*map(string_words, service.instrument.strings), courses_words(service.instrument)],
    "screen words": lambda service: [words(f"kinds.{service.instrument.kind}"),
                                     *(words(f"makes.{one.make}") for one in service.instrument.strings)],
}  # fmt: skip


@pytest.mark.parametrize("asked", ASKED)
def test_made_up_names_are_answered_as_the_real_ones(names, asked):
    longest = 0
    for kind in KINDS[:2] if asked in SLOW else KINDS:
        real = service_from(written(kind), "real")
        other = service_from(written(kind, names), "made up")
        assert other.instrument.kind == names[kind] != kind
        assert not {one.make for one in other.instrument.strings} & {
            one.make for one in real.instrument.strings
        }
        answers = [json.dumps(plain(ASKED[asked](one)), ensure_ascii=False) for one in (real, other)]
        assert as_named(answers[1], names) == answers[0]
        longest = max(longest, len(answers[0]))
    assert longest > 40  # it said something


@pytest.mark.parametrize("kind", ("nylon-acoustic-guitar", "banjo-five"))
def test_a_visit_of_made_up_names_has_the_same_sheets(names, kind, tmp_path):
    """Owner's sheet, bench sheet, label, plan page and procedures of an instrument brought into a shop."""
    answers = []
    for place, content in (("real", written(kind)), ("other", written(kind, names))):
        shop = shop_at(tmp_path / place, None)
        visit = bring_in(shop, content, "a file", ADA).visit
        sheets = [page_text(next(sheet_pages(shop, visit, sheet, "", False))) for sheet in SHEETS]
        found = [
            *sheets,
            plain(label_of(shop, visit).settings),
            known_facts(shop, visit.id),
            visit_text(shop, visit.id),
        ]
        found.append(plain(plan_sheet(solved_visit(shop, visit.id)).steps))
        answers.append(json.dumps(found, ensure_ascii=False))
        shop.close()
    assert as_named(answers[1], names) == answers[0]
    assert "eye protection" in answers[0]


def test_a_planted_guess_is_noticed(names, monkeypatch):
    """The same walk, over code that guesses by name: what a basic guess loses is missed."""
    from breakangle.documents.sheets import hand_back
    from breakangle.reference.strings import StringMake

    monkeypatch.setattr(
        StringMake, "has_wire", property(lambda own: "steel" in own.key or "nylon" in own.key)
    )
    real, other = (service_from(written("banjo-five", one), "a file") for one in (None, names))
    assert hand_back.cautions(real.instrument) != hand_back.cautions(other.instrument)
