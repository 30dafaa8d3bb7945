"""Outside files become checked tables; every doubt is asked or refused, never guessed."""

from bibula.intake.columns import Wanted, read_columns
from bibula.intake.room_log import read_room_log
from bibula.intake.series import RoomLog, WeighingSeries
from bibula.intake.text import Source
from bibula.intake.weighings import read_weighing_columns, read_weighing_groups, read_weighings

__all__ = [
    "RoomLog",
    "Source",
    "Wanted",
    "WeighingSeries",
    "read_columns",
    "read_room_log",
    "read_weighing_columns",
    "read_weighing_groups",
    "read_weighings",
]
