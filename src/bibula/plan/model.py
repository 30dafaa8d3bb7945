"""One plan: the object, the stacks it dries in stage by stage, the room, the goal.

A plan file is one TOML file. Numbers carry their unit in the key; times and sizes are text with a
unit. The models are frozen, strict and refuse unknown keys. Mass and length are kept as the file
has them where a conservator says them so (g/m2, mm); SI is read from the properties.
"""

from __future__ import annotations

from typing import Literal

from pydantic import AliasChoices, Field, model_validator

from bibula.plan.fields import Hold, RecordedDate, Side, Strict, Text, format_duration, many, refusal
from bibula.plan.goal import Goal, parse_goal
from bibula.plan.objects import (
    Feature,
    Medium,
    ObjectClass,
    ObjectLayer,
    PlanObject,
    SpotTest,
    Start,
    starting_card,
)
from bibula.plan.stages import (
    Above,
    Air,
    Below,
    Boundary,
    ObjectInStack,
    Piece,
    Room,
    StackLayer,
    Stage,
)

__all__ = [
    "Above",
    "Air",
    "Below",
    "Boundary",
    "Feature",
    "Medium",
    "ObjectClass",
    "ObjectInStack",
    "ObjectLayer",
    "Override",
    "Piece",
    "Plan",
    "PlanObject",
    "Room",
    "Side",
    "SpotTest",
    "StackLayer",
    "Stage",
    "Start",
    "Target",
    "starting_card",
]


class Target(Strict):
    """When the treatment is done, in words, and how long the object then stays under its weights."""

    text: Text = "in balance within 1 % of dry mass"
    holding_time_s: Hold = Field(
        default=0.0,
        validation_alias=AliasChoices("holding_time", "holding_time_s"),
        serialization_alias="holding_time",
    )

    @model_validator(mode="after")
    def _understood(self) -> Target:
        try:
            parse_goal(self.text)
        except ValueError as bad:
            raise refusal(
                str(bad), 'write "in balance within 2 % of dry mass", "handleable" or "10 % moisture"', "text"
            ) from None
        return self

    @property
    def goal(self) -> Goal:
        """The same as a kind and a number."""
        return parse_goal(self.text)


class Override(Strict):
    """A stop set aside on purpose: which rule, why, who answers for it, when."""

    rule: Text
    reason: Text
    by: Text
    date: RecordedDate


class Plan(Strict):
    """One plan: object, stages in order, room, goal, overrides, extra cards."""

    title: Text
    invented: bool = False
    notes: str = ""
    units: Literal["metric", "inch"] = "metric"
    cards: tuple[str, ...] = Field(default=(), strict=False)
    object: PlanObject
    room: Room
    target: Target = Target()
    stages: tuple[Stage, ...] = Field(
        strict=False, validation_alias=AliasChoices("stage", "stages"), serialization_alias="stage"
    )
    overrides: tuple[Override, ...] = many("override", "overrides")

    @model_validator(mode="after")
    def _pieces(self) -> Plan:
        if not self.stages:
            raise refusal("the plan has no stage", "add a [[stage]]", "stage")
        seen: dict[str, str] = {}
        for number, stage in enumerate(self.stages):
            here: set[str] = set()
            for index, layer in enumerate(stage.stack):
                if isinstance(layer, Piece) and layer.id:
                    _check_piece(layer, seen, here, f"stage.{number}.stack.{index}.id")
                    here.add(layer.id)
            seen.update({x.id: x.card for x in stage.stack if isinstance(x, Piece) and x.id})
        return self

    @property
    def duration_s(self) -> float:
        """All stages together, s."""
        return float(sum(s.duration_s for s in self.stages))

    @property
    def duration_text(self) -> str:
        """All stages together, in words."""
        return format_duration(self.duration_s)

    def room_of(self, stage: Stage) -> Room:
        """The room during a stage: its own where given, else the plan's."""
        return stage.room or self.room


def _check_piece(layer: Piece, seen: dict[str, str], here: set[str], key: str) -> None:
    if layer.id in here:
        raise refusal(f"piece '{layer.id}' lies twice in one stack", "give each piece its own id", key)
    if layer.reuse and layer.id not in seen:
        raise refusal(
            f"piece '{layer.id}' is reused, but no earlier stage has it", "check the id, or leave out reuse", key
        )
    if not layer.reuse and layer.id in seen:
        raise refusal(
            f"piece '{layer.id}' was used in an earlier stage", "say reuse = true, or give a fresh piece a new id", key
        )
    if layer.reuse and seen[layer.id] != layer.card:
        raise refusal(f"piece '{layer.id}' was '{seen[layer.id]}' before", "give it the same card", key)
