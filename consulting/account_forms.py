"""The forms by which people sign in and mind their account, in the house style; 422 where one is refused."""

from __future__ import annotations

from collections.abc import Callable

from allauth.account import forms as account
from allauth.mfa.base import forms as second
from allauth.mfa.totp import forms as codes
from allauth.mfa.webauthn import forms as keys
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponseBase
from django.template.response import TemplateResponse

from consulting.formkit import HouseForm


class Login(HouseForm, account.LoginForm):
    pass


class SignUp(HouseForm, account.SignupForm):
    pass


class AddEmail(HouseForm, account.AddEmailForm):
    pass


class ChangePassword(HouseForm, account.ChangePasswordForm):
    pass


class SetPassword(HouseForm, account.SetPasswordForm):
    pass


class ResetPassword(HouseForm, account.ResetPasswordForm):
    pass


class ResetPasswordByKey(HouseForm, account.ResetPasswordKeyForm):
    pass


class Reauthenticate(HouseForm, account.ReauthenticateForm):
    pass


class ConfirmLoginCode(HouseForm, account.ConfirmLoginCodeForm):
    pass


class ConfirmEmailCode(HouseForm, account.ConfirmEmailVerificationCodeForm):
    pass


class ChangeEmail(HouseForm, account.ChangeEmailForm):
    pass


class SecondStep(HouseForm, second.AuthenticateForm):
    pass


class SecondStepAgain(HouseForm, second.ReauthenticateForm):
    pass


class ActivateCodes(HouseForm, codes.ActivateTOTPForm):
    pass


class AddKey(HouseForm, keys.AddWebAuthnForm):
    pass


class NameKey(HouseForm, keys.EditWebAuthnForm):
    pass


class SecondStepByKey(HouseForm, keys.AuthenticateWebAuthnForm):
    pass


class LoginByKey(HouseForm, keys.LoginWebAuthnForm):
    pass


class ReauthenticateByKey(HouseForm, keys.ReauthenticateWebAuthnForm):
    pass


class RefusedForms:
    """Middleware: a page of allauth that shows a form again says so by its status, as ours do."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)

    def process_template_response(self, request: HttpRequest, response: TemplateResponse) -> TemplateResponse:
        told = response.context_data or {}
        # A link that has run out shows its form, too, and says so in words of its own.
        wrong = not told.get("token_fail") and any(
            isinstance(one, BaseForm) and one.errors for one in told.values()
        )
        if wrong and response.status_code == 200:
            response.status_code = 422
        return response
