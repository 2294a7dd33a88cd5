"""The business: people, practices, clients and what things cost the practice."""

from __future__ import annotations

import re
import zoneinfo
from decimal import Decimal
from functools import cache
from typing import Any

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.core.exceptions import ValidationError
from django.core.validators import RegexValidator
from django.db import models
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from consulting.changes import Change as Change
from consulting.columns import ABOVE_ZERO, PERCENT, at_least, between, money
from consulting.followed import Editable, Followed, FollowedQuerySet
from consulting.letters import Enclosure as Enclosure
from consulting.letters import Letter as Letter
from consulting.letters import LetterFields
from consulting.machines import Machine as Machine
from consulting.machines import MachinePhoto as MachinePhoto
from consulting.machines import MachineSpan as MachineSpan
from consulting.manner import MannerFields, ReaderFields
from consulting.once import Sending as Sending
from consulting.policy import ROLE_CHOICES
from consulting.terms import TermsFields as TermsFields
from consulting.terms import check_stages as check_stages
from consulting.terms import default_stages as default_stages
from consulting.tiles import check_tile_address as check_tile_address

RESERVED_SLUGS = frozenset(
    "accounts account admin api assets calendar client health help home invitation invitations login logout "
    "media new phone practice practices ready signup static status support www".split()
)


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, **extra: Any) -> User:
        user = self.model(email=email.strip().lower(), **extra)
        user.set_password(password)
        user.full_clean()
        user.save(using=self._db)
        return user

    def get_by_natural_key(self, email: str | None) -> User:
        return self.get(email=(email or "").strip().lower())


class User(AbstractBaseUser):
    """A person who logs in, by e-mail address (kept in lower case)."""

    email = models.EmailField(_("e-mail address"), unique=True)
    name = models.CharField(_("your name"), max_length=200, blank=True)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(default=timezone.now, editable=False)

    objects = UserManager()
    USERNAME_FIELD = EMAIL_FIELD = "email"

    class Meta:
        constraints = [models.UniqueConstraint(Lower("email"), name="user_email_any_case")]

    def __str__(self) -> str:
        return self.name or self.email


def check_slug(slug: str) -> None:
    if slug in RESERVED_SLUGS:
        raise ValidationError(
            _("“{slug}” is kept for pages of the site. Choose another web address.").format(slug=slug)
        )


@cache
def time_zone_names() -> frozenset[str]:
    """All that the machine knows. Asked once: the answer is a walk over its files, and stays the same."""
    return frozenset(zoneinfo.available_timezones())


def check_time_zone(name: str) -> None:
    if name not in time_zone_names():
        raise ValidationError(_("“{name}” is not a time zone. Choose one from the list.").format(name=name))


MOST_CONTACTS = 8
"""As many as a crew sheet has room for."""


def check_contacts(text: str) -> None:
    if len([line for line in text.splitlines() if line.strip()]) > MOST_CONTACTS:
        raise ValidationError(_("Keep the emergency contacts to {most} lines.").format(most=MOST_CONTACTS))


class Practice(LetterFields, MannerFields, TermsFields, Followed):
    """The business that quotes and works. It owns every record below it."""

    name = models.CharField(max_length=200)
    slug = models.SlugField(
        _("web address"),
        max_length=60,
        unique=True,
        validators=[
            check_slug,
            RegexValidator(r"^[a-z0-9-]+$", _("Use small letters, digits and hyphens only.")),
        ],
    )
    address = models.TextField(_("postal address"), max_length=1000, blank=True)
    phone = models.CharField(max_length=200, blank=True)
    email = models.EmailField(_("e-mail address"), max_length=200, blank=True)
    applicator_licence = models.CharField(_("applicator license"), max_length=200, blank=True)
    emergency_contacts = models.TextField(max_length=1000, blank=True, validators=[check_contacts])
    """One a line, `who: number`."""
    time_zone = models.CharField(max_length=60, default="America/Chicago", validators=[check_time_zone])
    tile_address = models.CharField(
        _("address of map tiles"), max_length=500, blank=True, validators=[check_tile_address]
    )
    """Empty for a plain ground; its host is the only other one that a drawing page may ask for pictures."""
    tile_attribution = models.CharField(_("whose map it is"), max_length=300, blank=True)
    hauling_usd_per_mile = money(verbose_name=_("hauling"), default=Decimal("0.00"))
    hauling_unchecked = models.BooleanField(default=True)
    slope_tillage_pct = models.FloatField(_("tillage is looked at above"), default=8, validators=PERCENT)
    slope_machines_pct = models.FloatField(_("machines are looked at above"), default=15, validators=PERCENT)
    slope_across_pct = models.FloatField(_("nothing goes across above"), default=27, validators=PERCENT)
    """The defaults are planning bands in common use; there are no legal limits."""
    created_at = models.DateTimeField(default=timezone.now, editable=False)

    objects = models.Manager.from_queryset(FollowedQuerySet)()

    not_followed = frozenset({"created_at"})

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    @property
    def slope_limits_pct(self) -> tuple[float, float, float]:
        return self.slope_tillage_pct, self.slope_machines_pct, self.slope_across_pct

    def clean(self) -> None:
        super().clean()
        limits = self.slope_limits_pct
        if None not in limits and list(limits) != sorted(limits):
            raise ValidationError(
                {
                    "slope_across_pct": _(
                        "The three limits must rise: tillage first, then machines, then across."
                    )
                }
            )


class Logo(Editable):
    """The practice's logo as we re-encoded it; apart from Practice so that it is read only when drawn."""

    practice = models.OneToOneField(Practice, on_delete=models.CASCADE, primary_key=True, related_name="logo")
    png = models.BinaryField()
    width_px = models.PositiveIntegerField()
    height_px = models.PositiveIntegerField()

    part_of = "practice"
    not_followed = frozenset({"width_px", "height_px"})

    def __str__(self) -> str:
        return f"{self.width_px} × {self.height_px} pixels"


class Membership(ReaderFields, Editable):
    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="memberships", editable=False)
    role = models.CharField(max_length=10, choices=ROLE_CHOICES)
    since = models.DateTimeField(default=timezone.now, editable=False)

    not_followed = frozenset({"user", "since"})

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["practice", "user"], name="one_membership_per_person")]

    def __str__(self) -> str:
        return f"{self.user}, {self.role}"

    @property
    def called(self) -> str:
        return str(self.user)


class Invitation(Editable):
    """An open invitation; it is deleted when taken up or withdrawn."""

    email = models.EmailField(_("e-mail address"))
    role = models.CharField(max_length=10, choices=ROLE_CHOICES)
    invited_by = models.ForeignKey(User, on_delete=models.CASCADE, related_name="+", editable=False)
    sent_at = models.DateTimeField(default=timezone.now, editable=False)

    forgotten = True
    not_followed = frozenset({"invited_by", "sent_at"})

    class Meta:
        ordering = ["email"]
        constraints = [
            models.UniqueConstraint(
                fields=["practice", "email"],
                name="one_invitation_per_address",
                violation_error_code="email",
                violation_error_message=_("This address has been invited already."),
            )
        ]

    def __str__(self) -> str:
        return self.email


class Client(ReaderFields, Editable):
    """A landowner, or who speaks for one."""

    name = models.CharField(max_length=200)
    address = models.TextField(_("postal address"), max_length=1000, blank=True)
    phone = models.CharField(max_length=200, blank=True)
    email = models.EmailField(_("e-mail address"), max_length=200, blank=True)
    notes = models.TextField(max_length=20_000, blank=True)

    forgotten = True
    without_values = frozenset({"address", "phone", "email", "notes"})

    class Meta:
        ordering = ["name", "pk"]
        indexes = [models.Index(fields=["practice", "name"])]

    def __str__(self) -> str:
        return self.name


class PriceRow(Editable):
    """A row of the price list. `unchecked` until someone of the practice has confirmed it."""

    unchecked = models.BooleanField(default=False)
    source = models.CharField(_("where this came from"), max_length=300, blank=True)

    class Meta:
        abstract = True


class SeedPrice(PriceRow):
    """A lot of seed. Several lots of one species may be listed."""

    BASIS = [
        ("PLS", _("per lb of pure live seed (PLS)")),
        ("bulk", _("per lb of bulk seed")),
    ]

    species = models.CharField(max_length=200)
    price_usd_per_lb = money(verbose_name=_("price"))
    basis = models.CharField(_("price is"), max_length=4, choices=BASIS)
    purity_pct = models.FloatField(_("purity"), validators=between(0.000001, 100))
    germination_pct = models.FloatField(_("germination"), validators=PERCENT)
    dormant_pct = models.FloatField(_("dormant or hard seed"), default=0, validators=PERCENT)
    tested_on = models.DateField(_("tested on"), null=True, blank=True)
    lot = models.CharField(max_length=200, blank=True)
    supplier = models.CharField(max_length=200, blank=True)
    seeds_per_lb = models.FloatField(_("seeds in a pound"), null=True, blank=True, validators=ABOVE_ZERO)

    class Meta:
        ordering = ["species", "-tested_on", "pk"]
        indexes = [models.Index(fields=["practice", "species"])]

    def __str__(self) -> str:
        return (
            _("{species}, lot {lot}").format(species=self.species, lot=self.lot) if self.lot else self.species
        )

    def clean(self) -> None:
        super().clean()
        if self.germination_pct is None or self.dormant_pct is None:
            return
        if not 0 < self.germination_pct + self.dormant_pct <= 100:
            raise ValidationError(
                {
                    "germination_pct": _(
                        "Germination and dormant seed together must be over 0 and at most "
                        "100 %. A tetrazolium result goes into germination alone."
                    )
                }
            )


class Product(PriceRow):
    """A herbicide as its label and invoice describe it, by active ingredient."""

    FORM = [
        ("liquid", _("Liquid, measured in fluid ounces")),
        ("dry", _("Dry, weighed in ounces")),
    ]

    active_ingredient = models.CharField(max_length=200)
    form = models.CharField(max_length=6, choices=FORM)
    lb_active_per_gal = models.FloatField(
        _("active in a gallon"), null=True, blank=True, validators=ABOVE_ZERO
    )
    active_pct = models.FloatField(
        _("active by weight"), null=True, blank=True, validators=between(0.000001, 100)
    )
    container_size = models.FloatField(_("container holds"), validators=ABOVE_ZERO)
    price_usd_per_container = money(verbose_name=_("price of a container"))
    label_rate_low_oz_per_acre = models.FloatField(_("lowest label rate"), default=0, validators=at_least(0))
    label_rate_high_oz_per_acre = models.FloatField(_("highest label rate"), validators=ABOVE_ZERO)
    label_season_max_oz_per_acre = models.FloatField(_("label maximum in a year"), validators=ABOVE_ZERO)
    registration_number = models.CharField(max_length=200, blank=True)
    restricted_use = models.BooleanField(_("restricted-use product"), default=False)
    aquatic_label = models.BooleanField(_("labelled for use at water"), default=False)

    class Meta:
        ordering = ["active_ingredient", "pk"]

    def __str__(self) -> str:
        return self.active_ingredient

    def clean(self) -> None:
        super().clean()
        errors = {}
        if self.form == "liquid" and self.lb_active_per_gal is None:
            errors["lb_active_per_gal"] = _(
                "A liquid needs its pounds of active ingredient in a gallon, from the label."
            )
        if self.form == "dry" and self.active_pct is None:
            errors["active_pct"] = _(
                "A dry product needs its share of active ingredient by weight, from the label."
            )
        low, high = self.label_rate_low_oz_per_acre, self.label_rate_high_oz_per_acre
        if low is not None and high is not None and low > high:
            errors["label_rate_low_oz_per_acre"] = _(
                "The lowest label rate is above the highest. Check both."
            )
        if errors:
            raise ValidationError(errors)


class AdjuvantPrice(PriceRow):
    KINDS = [
        ("ammonium sulfate", _("Ammonium sulfate")),
        ("non-ionic surfactant", _("Non-ionic surfactant")),
        ("methylated seed oil", _("Methylated seed oil")),
        ("crop oil concentrate", _("Crop oil concentrate")),
    ]

    kind = models.CharField(max_length=30, choices=KINDS)
    container_size = models.FloatField(_("container holds"), validators=ABOVE_ZERO)
    price_usd_per_container = money(verbose_name=_("price of a container"))

    class Meta:
        ordering = ["kind", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["practice", "kind"],
                name="one_price_per_adjuvant",
                violation_error_code="kind",
                violation_error_message=_("This adjuvant is on the list already. Change that row instead."),
            )
        ]

    def __str__(self) -> str:
        return self.kind


class PlantPrice(PriceRow):
    """A tree or shrub as a nursery sells it."""

    species = models.CharField(max_length=200)
    stock = models.CharField(max_length=200, default="bare-root seedling")
    price_usd_each = money(verbose_name=_("price of one"))
    supplier = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["species", "pk"]

    def __str__(self) -> str:
        return f"{self.species}, {self.stock}"


GRADE = re.compile(r"\d{1,2}(\.\d+)?-\d{1,2}(\.\d+)?-\d{1,2}(\.\d+)?")


class SupplyPrice(PriceRow):
    """What a planting or a plot takes besides plants and seed."""

    KINDS = [
        ("tube", _("Tube with stake, each")),
        ("fence", _("Fence, built, by the foot")),
        ("fertilizer", _("Fertilizer, by the container")),
        ("lime", _("Lime, delivered, by the ton")),
    ]

    kind = models.CharField(max_length=12, choices=KINDS)
    grade = models.CharField(max_length=20, blank=True)
    container_lb = models.FloatField(_("container holds"), null=True, blank=True, validators=ABOVE_ZERO)
    ecce_pct = models.FloatField(
        _("effectiveness of the lime"), null=True, blank=True, validators=between(0.000001, 100)
    )
    price_usd = money(verbose_name=_("price"))

    class Meta:
        ordering = ["kind", "grade", "pk"]

    def __str__(self) -> str:
        return f"{self.kind} {self.grade}".strip()

    def clean(self) -> None:
        super().clean()
        errors = {}
        if self.kind == "fertilizer" and not GRADE.fullmatch(self.grade):
            errors["grade"] = _("A fertilizer needs its grade as on the bag, such as 18-46-0.")
        if self.kind == "fertilizer" and self.container_lb is None:
            errors["container_lb"] = _("A fertilizer needs the pounds that its price is for, such as 50.")
        if self.kind == "lime" and self.ecce_pct is None:
            errors["ecce_pct"] = _("A lime needs its effectiveness, from the supplier, such as 90.")
        if errors:
            raise ValidationError(errors)


class WorkRate(PriceRow):
    """What an acre, an hour, a trip or a plant of one kind of work costs the practice."""

    BASIS = [
        ("acre", _("per acre")),
        ("hour", _("per hour")),
        ("trip", _("per trip")),
        ("plant", _("per plant")),
    ]

    operation = models.CharField(max_length=200)
    basis = models.CharField(_("rate is"), max_length=5, choices=BASIS)
    rate_usd = money(verbose_name=_("rate"))
    minimum_usd = money(verbose_name=_("least charge for a visit"), default=Decimal("0.00"))
    width_ft = models.FloatField(_("working width"), null=True, blank=True, validators=ABOVE_ZERO)
    speed_mph = models.FloatField(_("speed"), null=True, blank=True, validators=ABOVE_ZERO)
    efficiency_pct = models.FloatField(
        _("field efficiency"), null=True, blank=True, validators=between(0.000001, 100)
    )
    acres_per_hour = models.FloatField(
        _("pace as measured"), null=True, blank=True, validators=between(0.001, 1000)
    )
    allowance_pct = models.FloatField(_("used beyond the plan"), default=0, validators=PERCENT)

    class Meta:
        ordering = ["operation", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["practice", "operation"],
                name="one_rate_per_operation",
                violation_error_code="operation",
                violation_error_message=_("This work is on the list already. Change that row instead."),
            )
        ]

    def __str__(self) -> str:
        return self.operation
