"""Several odd but allowed values at once, on instruments of every kind: an answer or a sentence, no crash."""

import json
import random
from typing import Any

import pytest

from breakangle.cli.main import main
from breakangle.reference.families import families
from breakangle.services.service_files.example import example_text
from breakangle.services.service_files.service import schema_text
from service_files import changed, full_service, places

SEEDS = range(60)


def ranges(part: Any, key: str, found: dict[str, list[tuple[float, float]]]) -> None:
    """Gather every range of the schema by the key it stands under."""
    if isinstance(part, dict):
        if "minimum" in part:
            found.setdefault(key, []).append((part["minimum"], part["maximum"]))
        for name, inner in part.items():
            ranges(inner, key if name in ("anyOf", "prefixItems", "items", "oneOf") else name, found)
    elif isinstance(part, list):
        for inner in part:
            ranges(inner, key, found)


RANGES: dict[str, list[tuple[float, float]]] = {}
ranges(json.loads(schema_text()), "", RANGES)


def mixture(seed: int) -> dict[str, Any]:
    """Return a file with up to six of its numbers replaced by others within their ranges."""
    chance = random.Random(seed)
    kind = chance.choice([None, *families()])
    data = full_service() if chance.random() < 0.4 else json.loads(example_text(kind))
    data["readings"] = chance.sample(data["readings"], chance.randint(0, len(data["readings"])))
    data["instrument"]["bridge"]["kind"] = chance.choice(["individual", "two-post", "one-piece", "floating"])
    numbers = [
        (way, value) for _, way, value in places(data) if type(value) in (int, float) and way[-1] != "string"
    ]
    for way, value in chance.sample(numbers, chance.randint(1, 6)):
        low, high = chance.choice(RANGES[next(one for one in reversed(way) if isinstance(one, str))])
        other = chance.choice([low, high, chance.uniform(low, high), value * chance.uniform(0.3, 3.0)])
        data = changed(data, way, int(other) if isinstance(value, int) else other)
    return data


@pytest.mark.parametrize("seed", SEEDS)
def test_a_mixture_of_odd_values_is_answered_or_refused_in_a_sentence(seed, capsys, tmp_path):
    file = tmp_path / "service.json"
    file.write_text(json.dumps(mixture(seed)))
    code = main(["plan", str(file), "--json"])
    out, err = capsys.readouterr()
    assert code in (0, 1, 2)
    if code == 2:
        assert out == ""
        assert err.count("\n") == 1
    else:
        assert err == ""
        assert json.loads(out)["format"] == "breakangle/plan/2"


def test_the_mixtures_are_both_answered_and_refused(capsys, tmp_path):
    """So that neither half of the test above is empty."""
    codes = set()
    for seed in SEEDS:
        file = tmp_path / "service.json"
        file.write_text(json.dumps(mixture(seed)))
        codes.add(main(["check", str(file)]))
    capsys.readouterr()
    assert codes == {0, 2}
