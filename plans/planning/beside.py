"""What stands beside a plan in its proposal: fields as walked, options, what would move the price."""

from __future__ import annotations

from dataclasses import dataclass

from pydantic import TypeAdapter, ValidationError

from plans.planning.options import Option
from plans.planning.price_moves import Move
from plans.planning.walked import Walk
from plans.planning.wire import BadInput, problems


@dataclass(frozen=True, slots=True, kw_only=True)
class FieldWalk:
    """The latest walk-over of a field."""

    field: str
    walk: Walk


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    walks: tuple[FieldWalk, ...] = ()
    options: tuple[Option, ...] = ()
    moves: tuple[Move, ...] = ()


NOTHING = Beside()
_adapter = TypeAdapter(Beside)


def beside_json(beside: Beside) -> str:
    """As it is kept with a proposal; `read_beside` gives the same back."""
    return _adapter.dump_json(beside).decode()


def read_beside(text: str) -> Beside:
    """What was kept; nothing for a proposal from before anything was. Raises BadInput."""
    try:
        return _adapter.validate_json(text) if text else NOTHING
    except ValidationError as error:
        raise BadInput(problems(error)) from None
