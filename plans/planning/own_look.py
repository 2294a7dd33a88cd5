"""How a practice looks and what it says in print, as it is kept with a job."""

from __future__ import annotations

from dataclasses import dataclass
from dataclasses import field as preset
from typing import Annotated

from pydantic import Field

from plans.planning.drawn import STRICT

Colour = Annotated[str, Field(pattern="^#[0-9a-f]{6}$")]
Lines = Annotated[str, Field(max_length=1000)]


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnLook:
    """Colours, letterhead and own words; as they stand here they are the house's."""

    __pydantic_config__ = STRICT
    main: Colour = "#22513b"
    accent: Colour = "#80591a"
    beside: Lines = ""
    """Lines beside the name at the head of a letter, in place of address, telephone, e-mail and license."""
    below: Lines = ""
    """Lines below the name."""
    foot: Annotated[str, Field(max_length=200)] = ""
    """At the foot of each page, in place of the name."""
    words: dict[str, Annotated[str, Field(max_length=20_000)]] = preset(default_factory=dict)
    """Own paragraphs by place, as `planning.own_words` names places."""
