"""How people sign up and log in, on top of allauth."""

from __future__ import annotations

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter
from django import forms
from django.http import HttpRequest

from consulting.models import User


class NameOnSignup(forms.Form):
    """What signing up asks beside e-mail and password."""

    name = forms.CharField(label="Your name", max_length=200)

    def signup(self, request: HttpRequest, user: User) -> None:
        user.name = self.cleaned_data["name"]
        user.save(update_fields=["name"])


class AccountAdapter(DefaultAccountAdapter):
    def get_user_search_fields(self) -> list[str]:
        return ["email", "name"]

    def populate_username(self, request: HttpRequest, user: Any) -> None:
        """People have no user name here."""
