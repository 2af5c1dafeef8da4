"""Who works here, who sells to us and buys from us, what an hour costs, and what the studio has settled."""

import unicodedata
from datetime import date
from typing import Any, ClassVar, Self

from django.conf import settings
from django.contrib.auth.models import AbstractUser, UserManager
from django.db import models
from django.db.models import Q

from studio.fields.whole import WholeField, whole_checks
from studio.people.names import FOLDED_LENGTH, fold

NAME_LENGTH = 200
EMAIL_LENGTH = 254
PHONE_LENGTH = 50
ADDRESS_LENGTH = 500
NOTE_LENGTH = 2000


class Role(models.TextChoices):
    OWNER = "owner", "owner"
    MAKER = "maker", "maker"
    BOOKKEEPER = "bookkeeper", "bookkeeper"
    VISITOR = "visitor", "visitor"


class UserQuerySet(models.QuerySet["User"]):
    def working(self) -> Self:
        """Those who can sign in."""
        return self.filter(is_active=True)

    def owners(self) -> Self:
        """Owners who can sign in: there is always one."""
        return self.filter(is_active=True, role=Role.OWNER)


class Users(UserManager.from_queryset(UserQuerySet)):  # type: ignore[misc]
    def get_by_natural_key(self, username: str | None) -> "User":
        # A phone's keyboard starts a sign-in name with a capital.
        return self.get(username=self.model.normalize_username(username or ""))

    def create_superuser(
        self, username: str, email: str | None = None, password: str | None = None, **extra: Any
    ) -> "User":
        extra.setdefault("role", Role.OWNER)
        return super().create_superuser(username, email, password, **extra)


class User(AbstractUser):
    """A person who signs in. `username` is the sign-in name, kept without capitals."""

    first_name = None  # type: ignore[assignment]
    last_name = None  # type: ignore[assignment]
    display_name = models.CharField("name", max_length=NAME_LENGTH)
    role = models.CharField(max_length=12, choices=Role, default=Role.VISITOR)

    objects: ClassVar[Users] = Users()
    REQUIRED_FIELDS: ClassVar[list[str]] = ["display_name"]

    class Meta(AbstractUser.Meta):
        abstract = False
        ordering = ["display_name", "pk"]
        constraints = [models.CheckConstraint(condition=Q(role__in=Role.values), name="user_role_known")]

    def __str__(self) -> str:
        return self.display_name or self.username

    @classmethod
    def normalize_username(cls, username: str) -> str:
        return unicodedata.normalize("NFKC", username).casefold() if isinstance(username, str) else username

    def get_full_name(self) -> str:
        return str(self)

    def get_short_name(self) -> str:
        return str(self)

    def may(self, right: str) -> bool:
        """Return whether this person's role carries `right` (a key of `people.roles.RIGHTS`)."""
        from studio.people.roles import allowed

        return allowed(self, right)


class ContactQuerySet(models.QuerySet):
    def known(self) -> Self:
        """Those not erased."""
        return self.filter(erased_at=None)

    def matching(self, text: str) -> Self:
        """Those whose name contains each word of `text`, whatever the capitals and accents."""
        found = self
        for word in fold(text).split():
            found = found.filter(name_search__contains=word)
        return found


class Contact(models.Model):
    """Somebody outside the studio. Erasing blanks every field; the row stays for what points at it."""

    name = models.CharField(max_length=NAME_LENGTH)
    name_search = models.CharField(max_length=FOLDED_LENGTH, editable=False, db_index=True)
    email = models.CharField(max_length=EMAIL_LENGTH, blank=True)
    phone = models.CharField(max_length=PHONE_LENGTH, blank=True)
    address = models.CharField(max_length=ADDRESS_LENGTH, blank=True)
    country = models.CharField(max_length=2, blank=True)
    note = models.CharField(max_length=NOTE_LENGTH, blank=True)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    added_at = models.DateTimeField()
    erased_at = models.DateTimeField(null=True, blank=True)

    objects = ContactQuerySet.as_manager()
    PERSONAL = ("name", "name_search", "email", "phone", "address", "country", "note")

    class Meta:
        abstract = True
        ordering = ["name_search", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=(Q(erased_at=None) & ~Q(name=""))
                | Q(
                    erased_at__isnull=False,
                    name="",
                    name_search="",
                    email="",
                    phone="",
                    address="",
                    country="",
                    note="",
                ),
                name="%(class)s_named_or_erased",
            )
        ]

    def __str__(self) -> str:
        return self.name or f"{self._meta.verbose_name} {self.pk} (erased)"

    def save(self, *args: Any, **kwargs: Any) -> None:
        self.name_search = fold(self.name)
        if kwargs.get("update_fields") is not None and "name" in kwargs["update_fields"]:
            kwargs["update_fields"] = {*kwargs["update_fields"], "name_search"}
        super().save(*args, **kwargs)


class Supplier(Contact):
    class Meta(Contact.Meta):
        verbose_name = "supplier"


class Client(Contact):
    class Meta(Contact.Meta):
        verbose_name = "client"


class WageRateQuerySet(models.QuerySet["WageRate"]):
    def holding_on(self, on: date) -> Self:
        """Rates begun by `on`, the one that holds first."""
        return self.filter(from_on__lte=on).order_by("-from_on", "-revision")


class WageRate(models.Model):
    """An hour of a person from a day on. A correction for that day is a new row; the last one holds."""

    person = models.ForeignKey(User, models.PROTECT, related_name="wage_rates")
    from_on = models.DateField()
    revision = models.PositiveSmallIntegerField()
    rate_micro = WholeField()
    paid = models.BooleanField()
    set_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    objects = WageRateQuerySet.as_manager()

    class Meta:
        ordering = ["person", "from_on", "revision"]
        constraints = [
            models.UniqueConstraint(fields=["person", "from_on", "revision"], name="wage_one_row_per_revision"),
            *whole_checks("wage", "rate_micro", at_least=0),
        ]

    def __str__(self) -> str:
        return f"{self.person} from {self.from_on}"


class DatedSetting(models.Model):
    """An answer to one of the studio's questions from a day on (`people.settings.REGISTRY`).

    Rows are only added. A correction for the same day is a new row with the next revision, and the last one
    holds, so the page can show what was believed before. `value` is the answer's canonical text, never what
    was typed.
    """

    key = models.CharField(max_length=40)
    from_on = models.DateField()
    revision = models.PositiveSmallIntegerField()
    value = models.TextField(max_length=4000)
    set_by = models.ForeignKey(User, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()

    class Meta:
        ordering = ["key", "from_on", "revision"]
        constraints = [
            models.UniqueConstraint(fields=["key", "from_on", "revision"], name="setting_one_row_per_revision")
        ]

    def __str__(self) -> str:
        return f"{self.key} from {self.from_on}"
