"""What every form holds besides its fields. These tags are known in every template without `load`."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django import template
from django.template.base import Parser, Token
from django.template.context import Context
from django.template.defaulttags import CsrfTokenNode
from django.utils.html import format_html
from django.utils.safestring import SafeString

from consulting.once import WORD, new_word
from consulting.opened import OPENED, stamp

register = template.Library()


class HeldNode(CsrfTokenNode):
    """Django's token against forged forms, and the word by which a form that is sent twice is known."""

    def render(self, context: Context) -> SafeString:
        token: Any = super().render(context)
        if not token:
            return token
        membership = getattr(context.get("request"), "membership", None)
        word = new_word(membership.user_id if membership else None)
        return format_html('{}<input type="hidden" name="{}" value="{}">', token, WORD, word)


@register.tag
def csrf_token(parser: Parser, token: Token) -> HeldNode:
    return HeldNode()


@register.simple_tag
def opened(*rows: Any) -> SafeString:
    """The versions of records, or lists of them, that a form without fields acts on, for `unmoved`."""
    every = [row for some in rows for row in (some if isinstance(some, Iterable) else [some])]
    return format_html('<input type="hidden" name="{}" value="{}">', OPENED, stamp(every))
