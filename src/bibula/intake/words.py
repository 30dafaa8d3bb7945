"""Column names in English, German, French, Italian and Spanish, and what they stand for."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from typing import Literal

from bibula.intake.units import CLOCK_UNITS, split_header, unit_of

Role = Literal["time", "date", "mass", "temperature", "humidity", "flux", "status"]

_EXACT: dict[Role, frozenset[str]] = {
    "time": frozenset(
        "time times timestamp datetime elapsed clock duration zeit zeitpunkt zeitstempel uhrzeit dauer messzeit "
        "laufzeit temps heure duree horodatage tempo ora durata orario tiempo hora duracion".split()
    ),
    "date": frozenset("date datum jour data giorno fecha day tag".split()),
    "mass": frozenset("mass wt weight weighing masse gewicht poids pesee massa peso pesata masa pesada".split()),
    "temperature": frozenset("temperature temp temperatur temperatura tair".split()),
    "humidity": frozenset("humidity rh rf hr ur humidite umidita humedad feuchte feuchtigkeit".split()),
    "flux": frozenset("flux flow fluss flusso flujo stromdichte verdunstungsrate".split()),
    "status": frozenset("status stability stable stabil stabilitat stabilite stabilita estabilidad flag".split()),
}
_PARTS: dict[Role, tuple[str, ...]] = {
    "mass": ("masse", "gewicht", "weight"),
    "temperature": ("temperatur",),
    "humidity": ("feucht", "humid", "umidit", "humedad"),
    "time": ("zeitstempel", "timestamp"),
}
_NOT: dict[Role, frozenset[str]] = {
    "temperature": frozenset("dew taupunkt taupunkttemperatur rosee rugiada rocio dewpoint wet feuchtkugel".split()),
    "humidity": frozenset("absolute absolut abs absolue assoluta absoluta dew taupunkt".split()),
}
_ELAPSED = frozenset("elapsed duration dauer laufzeit duree durata duracion since seit depuis ecoule trascorso".split())
_DAYTIME = frozenset("clock uhrzeit heure ora orario hora".split())


def plain(name: str) -> str:
    """Lower case, no accents, every run of other signs one space: for comparing names."""
    flat = unicodedata.normalize("NFKD", name.replace("ß", "ss")).encode("ascii", "ignore").decode("ascii")
    return re.sub(r"[^a-z0-9]+", " ", flat.lower()).strip()


@lru_cache(maxsize=4096)
def roles_of(name: str) -> frozenset[Role]:
    """All roles a column name can stand for; empty where it says nothing.

    A name with words of both date and time ("date and time") is a time.
    """
    base, unit = split_header(name)
    words = frozenset(plain(base).split())
    found: set[Role] = set()
    for role, exact in _EXACT.items():
        parts = _PARTS.get(role, ())
        if words & exact or any(part in word for part in parts for word in words):
            found.add(role)
    found = {role for role in found if not words & _NOT.get(role, frozenset())}
    if not unit and "°" in base and unit_of(base, "temperature"):
        found.add("temperature")
    if words == {"t"}:
        found |= _letter_t(unit)
    if words == {"m"} and unit_of(unit, "mass"):
        found.add("mass")
    if {"date", "time"} <= found:
        found.discard("date")
    return frozenset(found)


def _letter_t(unit: str) -> set[Role]:
    if unit_of(unit, "time") or unit.lower() in CLOCK_UNITS:
        return {"time"}
    return {"temperature"} if unit_of(unit, "temperature") else set()


def says_elapsed(name: str) -> bool:
    """The name itself says that the column counts from a start ("elapsed time", "Dauer")."""
    return bool(frozenset(plain(name).split()) & _ELAPSED)


def says_time_of_day(name: str) -> bool:
    """The name itself says that the column is the time of day ("Uhrzeit", "clock")."""
    words = frozenset(plain(split_header(name)[0]).split())
    return bool(words & _DAYTIME) or {"time", "day"} <= words
