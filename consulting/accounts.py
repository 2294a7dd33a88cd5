"""How people sign up and log in, on top of allauth."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django import forms
from django.http import HttpRequest
from django.utils.translation import gettext_lazy

from consulting.models import User


class NameOnSignup(forms.Form):
    """What signing up asks beside e-mail and password."""

    name = forms.CharField(label=gettext_lazy("Your name"), max_length=200)

    def signup(self, request: HttpRequest, user: User) -> None:
        user.name = self.cleaned_data["name"]
        user.save(update_fields=["name"])


class AccountAdapter(DefaultAccountAdapter):
    def get_user_search_fields(self) -> list[str]:
        return ["email", "name"]

    def is_safe_url(self, url: str) -> bool:
        """An address that is none at all is not safe either."""
        try:
            return bool(super().is_safe_url(url))
        except ValueError:
            return False

    def send_mail(self, template_prefix: str, email: str, context: dict[str, Any]) -> None:
        """Mail speaks for Coverstead, not for the host name it was asked from."""
        site = {"name": "Coverstead", "domain": "Coverstead"}
        super().send_mail(template_prefix, email, {**context, "current_site": site})

    def populate_username(self, request: HttpRequest, user: Any) -> None:
        """People have no user name here."""
