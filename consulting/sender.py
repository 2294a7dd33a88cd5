"""Who sent a request, as far as it says: the address and the program."""

from __future__ import annotations

from dataclasses import dataclass

from allauth.account.adapter import get_adapter
from django.core.exceptions import ImproperlyConfigured, PermissionDenied
from django.http import HttpRequest

LONGEST = 400


@dataclass(frozen=True, slots=True)
class Sender:
    address: str | None
    """IP address; None where the server was not told one."""
    user_agent: str = ""


def sender_of(request: HttpRequest) -> Sender:
    """What a proxy says of the address counts only where BEHIND_PROXY is set, as it does for log-ins."""
    try:
        address = get_adapter().get_client_ip(request)
    except (PermissionDenied, ImproperlyConfigured):
        address = None
    program = "".join(sign for sign in request.headers.get("User-Agent", "") if sign.isprintable())
    return Sender(address, program[:LONGEST])
