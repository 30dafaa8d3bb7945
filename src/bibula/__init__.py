"""Bibula: drying wet works on paper against absorbent materials, forecast and recorded.

For a notebook:

    import bibula
    plan = bibula.read_plan("plan.toml")
    forecast = bibula.make_forecast(plan, bibula.starting_cards())
    print(bibula.summary(forecast))

Everything is imported when it is first used, so `import bibula` costs nothing.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from bibula.cards.files import read_card, write_card
    from bibula.cards.library import starting_cards
    from bibula.evidence.cardfit import fit_card
    from bibula.forecast.forecast import make_forecast
    from bibula.forecast.propose import propose
    from bibula.forecast.update import update_forecast
    from bibula.intake import read_room_log, read_weighings
    from bibula.plan.files import read_plan, write_plan
    from bibula.quantities.errors import BibulaError
    from bibula.report.summary import summary
    from bibula.report.write import write_sheet

__version__ = "0.1.0"

_PLACES = {
    "BibulaError": "bibula.quantities.errors",
    "fit_card": "bibula.evidence.cardfit",
    "make_forecast": "bibula.forecast.forecast",
    "propose": "bibula.forecast.propose",
    "read_card": "bibula.cards.files",
    "read_plan": "bibula.plan.files",
    "read_room_log": "bibula.intake",
    "read_weighings": "bibula.intake",
    "starting_cards": "bibula.cards.library",
    "summary": "bibula.report.summary",
    "update_forecast": "bibula.forecast.update",
    "write_card": "bibula.cards.files",
    "write_plan": "bibula.plan.files",
    "write_sheet": "bibula.report.write",
}

__all__ = [
    "BibulaError",
    "fit_card",
    "make_forecast",
    "propose",
    "read_card",
    "read_plan",
    "read_room_log",
    "read_weighings",
    "starting_cards",
    "summary",
    "update_forecast",
    "write_card",
    "write_plan",
    "write_sheet",
]


def __getattr__(name: str) -> Any:
    """Import a public name when it is first asked for."""
    if name not in _PLACES:
        raise AttributeError(f"bibula has no '{name}'")
    return getattr(importlib.import_module(_PLACES[name]), name)


def __dir__() -> list[str]:
    """The public names."""
    return [*__all__, "__version__"]
