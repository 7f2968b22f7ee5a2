"""The shop and its people: who they are, whom they belong to, what was done and which jobs ran."""

from __future__ import annotations

from typing import Any, ClassVar
from zoneinfo import available_timezones

from django.conf import settings
from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.contrib.auth.models import PermissionsMixin
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

ZONES = available_timezones()


def validate_zone(value: str) -> None:
    if value not in ZONES:
        raise ValidationError(
            f"“{value}” is not a time zone name. Write it like “Etc/GMT+6” or “Europe/Zurich”.",
        )


class UserManager(BaseUserManager["User"]):
    @classmethod
    def normalize_email(cls, email: str | None) -> str:
        """Lower case throughout: the sign-in looks addresses up in lower case."""
        return super().normalize_email(email).lower()

    def create_user(self, email: str, password: str | None = None, **extra: Any) -> User:
        if not email:
            raise ValueError("A user needs an e-mail address.")
        user = self.model(email=self.normalize_email(email), **extra)
        user.set_password(password)
        user.save(using=self._db)
        return user

    def create_superuser(self, email: str, password: str | None = None, **extra: Any) -> User:
        return self.create_user(email, password, is_staff=True, is_superuser=True, **extra)

    def get_by_natural_key(self, username: str | None) -> User:
        return self.get(email__iexact=username)


class User(AbstractBaseUser, PermissionsMixin):
    """Somebody who can sign in. What a user may see hangs on the person behind it, see `shop.access`."""

    # unique for Django's own checks; the constraint below is the rule (without regard to case)
    email = models.EmailField(unique=True)
    is_staff = models.BooleanField("may open the admin", default=False)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(default=timezone.now)

    objects: ClassVar[UserManager] = UserManager()

    EMAIL_FIELD = "email"
    USERNAME_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = []

    class Meta:
        constraints = [models.UniqueConstraint(Lower("email"), name="user_email_unique_any_case")]

    def __str__(self) -> str:
        return self.email

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.email = User.objects.normalize_email(self.email)
        super().save(*args, **kwargs)

    def get_full_name(self) -> str:
        person = getattr(self, "person", None)
        return person.name if person else self.email

    def get_short_name(self) -> str:
        return self.get_full_name()


class Place(models.Model):
    """An airfield."""

    name = models.CharField(max_length=80, unique=True)
    elevation_ft = models.FloatField()
    zone = models.CharField(max_length=64, validators=[validate_zone])

    class Meta:
        ordering = ["name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(elevation_ft__gte=-1500, elevation_ft__lte=14500), name="place_elevation_in_range"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Shop(models.Model):
    """The one shop that runs this server."""

    name = models.CharField(max_length=120)
    place = models.ForeignKey(Place, on_delete=models.PROTECT, related_name="+")
    phone = models.CharField(max_length=40, blank=True)
    mail = models.EmailField(blank=True, help_text="where answers to its mails go; empty = nowhere")
    only = models.BooleanField(default=True, editable=False, unique=True)

    class Meta:
        constraints = [models.CheckConstraint(condition=Q(only=True), name="shop_only_one")]

    def __str__(self) -> str:
        return self.name


class Units(models.TextChoices):
    US = "us", "US (qt, degF, inHg, gal/h)"
    SI = "si", "SI (L, degC, hPa, L/h)"
    MIXED = "mixed", "mixed (L, degC, inHg, gal/h)"


class Person(models.Model):
    """Somebody the shop deals with. May have no e-mail and no user."""

    user = models.OneToOneField(User, null=True, blank=True, on_delete=models.SET_NULL, related_name="person")
    name = models.CharField(max_length=80)
    email = models.EmailField(blank=True, help_text="where messages go; empty = use the phone")
    bounced_email = models.EmailField(blank=True, help_text="the address from which a mail came back")
    phone = models.CharField(max_length=40, blank=True)
    language = models.CharField(max_length=8, choices=settings.LANGUAGES, default="en")
    zone = models.CharField(max_length=64, default="UTC", validators=[validate_zone])
    units = models.CharField(max_length=5, choices=Units.choices, default=Units.US)
    quiet_from = models.TimeField(default="21:00", help_text="no messages from this local time on, Stops excepted")
    quiet_until = models.TimeField(default="07:00")
    toured_at = models.DateTimeField(null=True, blank=True, help_text="when the tour was read or left")

    class Meta:
        ordering = ["name", "id"]
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name

    @property
    def mail_address(self) -> str:
        """Where mail reaches this person; "" without an address, or while mail to it comes back."""
        return "" if self.email.casefold() == self.bounced_email.casefold() else self.email


class Period(models.Model):
    """Something that holds from one moment until another, or still holds."""

    since = models.DateTimeField(default=timezone.now)
    until = models.DateTimeField(null=True, blank=True)

    class Meta:
        abstract = True

    @staticmethod
    def ends_after_it_starts(name: str) -> models.CheckConstraint:
        return models.CheckConstraint(condition=Q(until__isnull=True) | Q(until__gt=F("since")), name=name)


class Role(models.TextChoices):
    MANAGER = "manager", "shop manager"
    BUILD_TECHNICIAN = "build_technician", "build technician"
    LINE_TECHNICIAN = "line_technician", "line technician"
    SIGNATORY = "signatory", "inspector / signatory"
    BREAK_IN_PILOT = "break_in_pilot", "break-in pilot / instructor"


class ShopRole(Period):
    """A role held in or for the shop. The break-in pilot sees only aircraft assigned to him."""

    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="shop_roles")
    role = models.CharField(max_length=20, choices=Role.choices)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["person", "role"], condition=Q(until__isnull=True), name="shop_role_once"),
            Period.ends_after_it_starts("shop_role_period"),
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_role_display()}"


class Customer(models.Model):
    """An owner, club, school or firm whose engines the shop builds."""

    name = models.CharField(max_length=120, unique=True)
    phone = models.CharField(max_length=40, blank=True)
    people: models.ManyToManyField[Person, CustomerMember] = models.ManyToManyField(
        Person, through="CustomerMember", related_name="customers"
    )

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class MemberRole(models.TextChoices):
    OWNER = "owner", "owner"
    CLUB_MEMBER = "club_member", "club member"


class CustomerMember(Period):
    """A person who flies or owns for a customer, for a period."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="members")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="memberships")
    role = models.CharField(max_length=12, choices=MemberRole.choices)
    first_contact = models.BooleanField(default=False, help_text="the person whom the shop calls")

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["customer", "person"], condition=Q(until__isnull=True), name="customer_member_once"
            ),
            Period.ends_after_it_starts("customer_member_period"),
        ]

    def __str__(self) -> str:
        return f"{self.person} ({self.customer})"


class TokenScope(models.TextChoices):
    READ = "read", _("read")
    WRITE = "write", _("read and write")
    CALENDAR = "calendar", _("be read as a calendar")


class ApiToken(models.Model):
    """A person's own key to the programming interface. Only its SHA-256 is kept."""

    user = models.ForeignKey(User, on_delete=models.CASCADE, related_name="api_tokens")
    name = models.CharField(max_length=60)
    sha256 = models.CharField(max_length=64, unique=True, editable=False)
    scope = models.CharField(max_length=8, choices=TokenScope.choices, default=TokenScope.READ)
    created_at = models.DateTimeField(default=timezone.now)
    expires_at = models.DateTimeField(null=True, blank=True)
    revoked_at = models.DateTimeField(null=True, blank=True)
    last_used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-created_at"]

    def __str__(self) -> str:
        return f"{self.name} ({self.user})"


class AuditEvent(models.Model):
    """Who did what, when: one row for each act of a service."""

    at = models.DateTimeField()
    actor = models.ForeignKey(Person, null=True, on_delete=models.PROTECT, related_name="+")
    act = models.CharField(max_length=40)
    subject = models.CharField(max_length=40, help_text="model of the row that was changed")
    subject_id = models.CharField(max_length=40)
    detail = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["-at", "-id"]
        indexes = [models.Index(fields=["subject", "subject_id"], name="audit_subject")]

    def __str__(self) -> str:
        return f"{self.at:%Y-%m-%d %H:%M} {self.act} {self.subject} {self.subject_id}"


class JobState(models.TextChoices):
    RUNNING = "running", "running"
    FINISHED = "finished", "finished"
    FAILED = "failed", "finished with failures"


class JobRun(models.Model):
    """One run of a periodic job. (name, occurrence) is unique: two schedulers do no harm."""

    name = models.CharField(max_length=40)
    occurrence = models.CharField(max_length=40, help_text="the moment or day this run stands for")
    state = models.CharField(max_length=8, choices=JobState.choices, default=JobState.RUNNING)
    started_at = models.DateTimeField()
    finished_at = models.DateTimeField(null=True, blank=True)
    expected = models.PositiveIntegerField(default=0)
    done = models.PositiveIntegerField(default=0)
    failed = models.PositiveIntegerField(default=0)
    error = models.TextField(blank=True)

    class Meta:
        ordering = ["-started_at", "-id"]
        constraints = [models.UniqueConstraint(fields=["name", "occurrence"], name="job_run_once")]
        indexes = [models.Index(fields=["name", "-started_at"], name="job_run_newest")]

    def __str__(self) -> str:
        return f"{self.name} {self.occurrence}: {self.get_state_display()}"
