"""The numbers of a forecast as JSON: what is attached to the PDF, for those who want to compute further."""

from __future__ import annotations

import json
import math
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np

from bibula.forecast.result import Forecast


def forecast_json(forecast: Forecast) -> str:
    """Every field of the forecast under its own name, SI; what is not a number becomes null."""
    return json.dumps(_plain(forecast), ensure_ascii=False, indent=1, sort_keys=True)


def _plain(value: Any) -> Any:
    if is_dataclass(value) and not isinstance(value, type):
        return {f.name: _plain(getattr(value, f.name)) for f in fields(value)}
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, list | tuple):
        return [_plain(v) for v in value]
    if isinstance(value, float | np.floating):
        return float(value) if math.isfinite(value) else None
    if isinstance(value, np.integer):
        return int(value)
    return value
