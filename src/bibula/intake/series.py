"""What intake hands on: weighings over time and a room's climate over time."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from bibula.intake.numbers import BoolArray, FloatArray
from bibula.intake.options import OptionValue


@dataclass(frozen=True, eq=False)
class WeighingSeries:
    """Weighings of one thing, as read from one file. Arrays cannot be written to.

    Attributes:
        name: the sample (header key or group), else the file's name without its ending.
        time_s: (n,) seconds, never decreasing. As written for elapsed times (the first may be above 0);
            since the first reading for time stamps and times of day.
        mass_kg: (n,) 0 to 100 kg where not excluded; tare subtracted only if the options say so.
        excluded: (n,) readings to leave out: marked unsteady by the balance, or cut short at the file's end.
        notes: remarks a reader must see.
        metadata: header keys of the file.
        start: ISO time stamp of the first reading, or of the header key "start", or None.
        source, sha256: file name and SHA-256 of its bytes.
        options: arguments that read the same again.
        numbers: further numeric columns (n,), as written, NaN where blank.
        texts: further columns of text.
    """

    name: str
    time_s: FloatArray
    mass_kg: FloatArray
    excluded: BoolArray
    notes: tuple[str, ...]
    metadata: dict[str, str]
    start: str | None
    source: str
    sha256: str
    options: dict[str, OptionValue]
    numbers: dict[str, FloatArray] = field(default_factory=dict)
    texts: dict[str, tuple[str, ...]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for array in (self.time_s, self.mass_kg, self.excluded):
            array.flags.writeable = False

    @property
    def used(self) -> tuple[FloatArray, FloatArray]:
        """Times and masses without the excluded readings."""
        return self.time_s[~self.excluded], self.mass_kg[~self.excluded]


@dataclass(frozen=True, eq=False)
class RoomLog:
    """Temperature and humidity of a room over time.

    Attributes:
        name: file name without its ending.
        time_s: (n,) seconds, never decreasing, as in `WeighingSeries`.
        temperature_c: (n,) degC, -40 to 100.
        humidity: (n,) relative humidity as a fraction, 0 to 1.
        start: ISO time stamp of the first row, or None.
        notes, metadata, source, sha256, options: as in `WeighingSeries`.
    """

    name: str
    time_s: FloatArray
    temperature_c: FloatArray
    humidity: FloatArray
    start: str | None
    notes: tuple[str, ...]
    metadata: dict[str, str]
    source: str
    sha256: str
    options: dict[str, OptionValue]

    def __post_init__(self) -> None:
        for array in (self.time_s, self.temperature_c, self.humidity):
            array.flags.writeable = False

    def mean_over(self, begin_s: float, end_s: float) -> tuple[float, float]:
        """Time-weighted means (degC, fraction) between two times of the log, linear between rows.

        Raises:
            ValueError: the span is empty or reaches outside the log.
        """
        if not self.time_s[0] <= begin_s < end_s <= self.time_s[-1]:
            raise ValueError("the span must lie inside the log")
        inside = self.time_s[(self.time_s > begin_s) & (self.time_s < end_s)]
        times = np.concatenate([[begin_s], inside, [end_s]])
        means = [
            float(np.trapezoid(np.interp(times, self.time_s, values), times) / (end_s - begin_s))
            for values in (self.temperature_c, self.humidity)
        ]
        return means[0], means[1]
