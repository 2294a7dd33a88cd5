"""The table of who may open what. Every address of the site has its row here or in `rights_of_plans`."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django_scopes import scope

from consulting.invitations import token
from consulting.models import Invitation, Membership
from consulting.outbox import put
from consulting.policy import Right
from sites.models import Observation
from tests.conftest import Cast
from tests.factories import make_client, make_farm, make_field, make_walk, make_walk_photo, make_wind
from tests.ground_factories import make_exclusion

EVERYONE, SIGNED_IN = "everyone", "signed in"
ACTORS = ("anonymous", "crew", "planner", "owner", "stranger")


@dataclass
class World:
    """The cast and one record of each kind that the owner's practice has."""

    cast: Cast
    more: dict[str, Any] = field(default_factory=dict)
    """Records that other tables of rights add for themselves."""

    def __post_init__(self) -> None:
        practice = self.cast.practice
        self.client = make_client(practice)
        self.farm = make_farm(self.client)
        self.field = make_field(self.farm)
        self.exclusion = make_exclusion(self.field)
        self.wind = make_wind(self.farm)
        self.walk = make_walk(self.field)
        self.walk_photo = make_walk_photo(self.walk)
        self.letter = put(
            practice=practice, once="a word", to="ada@example.org", subject="A letter", text="Dear Ada"
        )
        with scope(practice=practice):
            self.observation = Observation.objects.create(
                practice=practice, farm=self.farm, moment="first_freeze", on=date(2026, 10, 9)
            )
            self.member = Membership.objects.get(user=self.cast.crew)
            self.invitation = Invitation.objects.create(
                practice=practice, email="new@example.org", role="crew", invited_by=self.cast.owner
            )


def no_args(world: World) -> list[Any]:
    return []


@dataclass(frozen=True)
class Row:
    """Who may: EVERYONE, SIGNED_IN or a Right of the practice. `args` are those after the practice's slug."""

    who: str | Right
    methods: tuple[str, ...] = ("GET",)
    args: Callable[[World], list[Any]] = no_args
    missing: bool = False
    """True where even someone allowed gets 404 in this world, such as a logo that was never given."""
    data: dict[str, Any] = field(default_factory=dict)
    """What a POST sends."""
    also: frozenset[int] = frozenset()
    """Statuses that let someone in, beside 200, 302 and 422."""


FORM = ("GET", "POST")
POST = ("POST",)

ROWS: dict[str, Row] = {
    "home": Row(EVERYONE),
    "health": Row(EVERYONE),
    "ready": Row(EVERYONE),
    "practice_new": Row(SIGNED_IN, FORM),
    "invitation_accept": Row(SIGNED_IN, FORM, lambda w: [token(w.invitation)], also=frozenset({410})),
    # allauth
    "account_login": Row(EVERYONE, FORM),
    "account_logout": Row(EVERYONE, FORM),
    "account_inactive": Row(EVERYONE),
    "account_signup": Row(EVERYONE, FORM),
    "account_reauthenticate": Row(SIGNED_IN, FORM),
    "account_email": Row(SIGNED_IN, FORM),
    "account_email_verification_sent": Row(EVERYONE, FORM),
    "account_change_password": Row(SIGNED_IN, FORM),
    "account_set_password": Row(SIGNED_IN, FORM),
    "account_reset_password": Row(EVERYONE, FORM),
    "account_confirm_login_code": Row(EVERYONE, FORM),
    "account_reset_password_from_key_done": Row(EVERYONE),
    "account_reset_password_from_key": Row(EVERYONE, FORM, lambda w: ["1", "no-such-key"]),
    "account_reset_password_done": Row(EVERYONE),
    "mfa_index": Row(SIGNED_IN),
    "mfa_authenticate": Row(EVERYONE, FORM),
    "mfa_reauthenticate": Row(SIGNED_IN, FORM),
    "mfa_activate_totp": Row(SIGNED_IN, FORM),
    "mfa_deactivate_totp": Row(SIGNED_IN, FORM, missing=True),
    "mfa_view_recovery_codes": Row(SIGNED_IN, missing=True),
    "mfa_generate_recovery_codes": Row(SIGNED_IN, FORM),
    "mfa_download_recovery_codes": Row(SIGNED_IN, missing=True),
    "mfa_list_webauthn": Row(SIGNED_IN),
    "mfa_add_webauthn": Row(SIGNED_IN, FORM),
    "mfa_reauthenticate_webauthn": Row(SIGNED_IN, FORM),
    "mfa_remove_webauthn": Row(SIGNED_IN, FORM, lambda w: [1]),
    "mfa_edit_webauthn": Row(SIGNED_IN, FORM, lambda w: [1]),
    "mfa_login_webauthn": Row(EVERYONE, FORM),
    # the practice
    "practice_details": Row(Right.RUN_PRACTICE, FORM),
    "practice_logo": Row(Right.SEE_WORK, missing=True),
    "practice_logo_remove": Row(Right.RUN_PRACTICE, POST),
    "practice_terms": Row(Right.RUN_PRACTICE, FORM),
    "practice_slopes": Row(Right.RUN_PRACTICE, FORM),
    "practice_letters": Row(Right.RUN_PRACTICE, FORM),
    "left": Row(Right.SEE_WORK, FORM),
    "letters": Row(Right.OFFER),
    "letter": Row(Right.OFFER, args=lambda w: [w.letter.pk]),
    "letter_again": Row(Right.OFFER, POST, lambda w: [w.letter.pk]),
    "letter_take_back": Row(Right.OFFER, POST, lambda w: [w.letter.pk]),
    "people": Row(Right.RUN_PRACTICE),
    "invite": Row(Right.RUN_PRACTICE, POST),
    "member_role": Row(Right.RUN_PRACTICE, POST, lambda w: [w.member.pk]),
    "member_remove": Row(Right.RUN_PRACTICE, POST, lambda w: [w.member.pk]),
    "invitation_withdraw": Row(Right.RUN_PRACTICE, POST, lambda w: [w.invitation.pk]),
    # clients, farms, fields
    "clients": Row(Right.SEE_WORK),
    "client_new": Row(Right.EDIT_RECORDS, FORM),
    "client": Row(Right.SEE_WORK, args=lambda w: [w.client.pk]),
    "client_edit": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.client.pk]),
    "client_remove": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.client.pk]),
    "farm_new": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.client.pk]),
    "farm": Row(Right.SEE_WORK, args=lambda w: [w.farm.pk]),
    "farm_edit": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.farm.pk]),
    "farm_remove": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.farm.pk]),
    "farm_observe": Row(Right.EDIT_RECORDS, POST, lambda w: [w.farm.pk]),
    "observation_remove": Row(Right.EDIT_RECORDS, POST, lambda w: [w.observation.pk]),
    "farm_wind": Row(Right.EDIT_RECORDS, POST, lambda w: [w.farm.pk]),
    "wind_remove": Row(Right.EDIT_RECORDS, POST, lambda w: [w.wind.pk]),
    "farm_climate": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.farm.pk]),
    "farm_take_climate": Row(Right.EDIT_RECORDS, POST, lambda w: [w.farm.pk]),
    "field_new": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.farm.pk]),
    "field": Row(Right.SEE_WORK, args=lambda w: [w.field.pk]),
    "exclusion_new": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.field.pk]),
    "exclusion_edit": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.exclusion.pk]),
    "exclusion_remove": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.exclusion.pk]),
    "field_slope": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.field.pk]),
    "field_slope_steep": Row(Right.EDIT_RECORDS, POST, lambda w: [w.field.pk]),
    "field_slope_take": Row(Right.EDIT_RECORDS, POST, lambda w: [w.field.pk]),
    "field_edit": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.field.pk]),
    "field_remove": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.field.pk]),
    "walk_new": Row(Right.RECORD_WORK, FORM, lambda w: [w.field.pk]),
    "walk": Row(Right.SEE_WORK, args=lambda w: [w.walk.pk]),
    "walk_correct": Row(Right.RECORD_WORK, FORM, lambda w: [w.walk.pk]),
    "walk_photos": Row(Right.RECORD_WORK, POST, lambda w: [w.walk.pk]),
    "walk_photo": Row(Right.SEE_WORK, args=lambda w: [w.walk_photo.pk]),
    "walk_photo_caption": Row(Right.RECORD_WORK, FORM, lambda w: [w.walk_photo.pk]),
    "walk_photo_remove": Row(Right.RECORD_WORK, POST, lambda w: [w.walk_photo.pk]),
    "walk_facts": Row(Right.EDIT_RECORDS, FORM, lambda w: [w.walk.pk]),
}
