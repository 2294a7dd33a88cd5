"""Map tiles: the address of a service, and whether this site lets browsers ask its host."""

from __future__ import annotations

import re

from django.conf import settings
from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

TILE_ADDRESS = re.compile(
    r"https://[a-z0-9]([a-z0-9-]*[a-z0-9])?(\.[a-z0-9]([a-z0-9-]*[a-z0-9])?)+(:\d{1,5})?/[A-Za-z0-9._~/{}?=&%-]*"
)


def host_of(address: str) -> str:
    """`https://host:port` of an address; empty for none."""
    return "/".join(address.split("/")[:3]) if address else ""


def may_be_asked(host: str) -> bool:
    """Whether the site's own policy lets a practice name this host; without one it lets any."""
    return not settings.TILE_HOSTS or host.removeprefix("https://") in settings.TILE_HOSTS


def allowed_address(address: str) -> str:
    """The address, or nothing where the policy is stricter than it was when the address was entered."""
    return address if may_be_asked(host_of(address)) else ""


def check_tile_address(address: str) -> None:
    """Of one host over HTTPS, with {z}, {x} and {y} once each and nothing that a policy could misread."""
    rest = address
    for part in ("{z}", "{x}", "{y}"):
        if address.count(part) != 1:
            said = _("A tile address holds {part} once, such as {example}.")
            raise ValidationError(said.format(part=part, example="https://…/{z}/{x}/{y}.png"))
        rest = rest.replace(part, "")
    if "{" in rest or "}" in rest:
        raise ValidationError(_("Only {z}, {x} and {y} may stand in braces. Give one server by its name."))
    if not TILE_ADDRESS.fullmatch(address):
        raise ValidationError(
            _("A tile address begins with https:// and a host name in small letters, without spaces.")
        )
    if not may_be_asked(host_of(address)):
        said = _(
            "This site fetches maps from {hosts} only. Name a service there, or ask whoever runs the site."
        )
        raise ValidationError(said.format(hosts=_(" or ").join(settings.TILE_HOSTS)))
