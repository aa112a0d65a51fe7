"""What a service function answers, as JSON: frozen dataclasses and models become objects, whole states are left out."""

import json
from dataclasses import fields, is_dataclass
from typing import Any

from pydantic import BaseModel

from breakangle.model.plan import Plan
from breakangle.services.service_files.plan_json import plan_object

DECIMALS = 6


def json_text(answer: Any, without: tuple[str, ...] = ()) -> str:
    """Return `answer` as JSON text; fields named in `without` are left out wherever they stand."""
    return json.dumps(_plain(answer, without), indent=2, ensure_ascii=False)


def _plain(value: Any, without: tuple[str, ...]) -> Any:
    if isinstance(value, Plan):
        return plan_object(value)
    if isinstance(value, BaseModel):
        return json.loads(value.model_dump_json(exclude_none=True, exclude_unset=True))
    if is_dataclass(value) and not isinstance(value, type):
        names = (field.name for field in fields(value) if field.name not in without)
        return {name: _plain(getattr(value, name), without) for name in names}
    if isinstance(value, dict):
        return {str(key): _plain(one, without) for key, one in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(one, without) for one in value]
    return round(value, DECIMALS) if isinstance(value, float) else value
