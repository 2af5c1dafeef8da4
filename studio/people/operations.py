"""Every change to who works here and who we deal with. Rights are checked here as well as at the screens."""

from datetime import date, datetime
from typing import Any, TypeVar

from django.db import IntegrityError, transaction
from django.db.models import Max

from studio.fields.errors import Refused
from studio.people import settings as answers
from studio.people.contacts import (
    Erased,
    add_client,
    add_supplier,
    change_client,
    change_supplier,
    erase_client,
    erase_supplier,
)
from studio.people.models import NAME_LENGTH, DatedSetting, Role, User, WageRate
from studio.people.passwords import check_password_words
from studio.people.questions import REGISTRY
from studio.people.roles import allowed, require
from studio.people.text import tidy

__all__ = [
    "AlreadySetUp",
    "ChangedMeanwhile",
    "Erased",
    "LastOwner",
    "add_client",
    "add_supplier",
    "add_user",
    "change_client",
    "change_role",
    "change_supplier",
    "deactivate",
    "erase_client",
    "erase_supplier",
    "reactivate",
    "rename_user",
    "set_password",
    "set_setting",
    "set_up_studio",
    "set_wage",
]

LOWEST_YEAR, YEARS_AHEAD = 1990, 2
MOST_WAGE_MICRO = 100_000 * 10**6
Row = TypeVar("Row", WageRate, DatedSetting)


class LastOwner(Refused):
    """The change would leave a studio that nobody may run."""


class AlreadySetUp(Refused):
    """There is somebody here already; the first questions are asked once."""


class ChangedMeanwhile(Refused):
    """Somebody else answered the same question in the same moment."""


def set_up_studio(
    *,
    studio_name: str,
    currency: str,
    length_unit: str,
    temperature_unit: str,
    pressure_unit: str,
    username: str,
    display_name: str,
    password: str,
    at: datetime,
    time_zone: str = "UTC",
    number_format: str = "1,234.56",
) -> User:
    """Will answer an empty studio's four questions (name, money, units, person) and return the first owner.

    Raises `AlreadySetUp` where anybody exists, Refused beside the field that is wrong; then nothing is
    stored.
    """
    first = {
        "studio_name": studio_name,
        "currency": currency,
        "length_unit": length_unit,
        "temperature_unit": temperature_unit,
        "pressure_unit": pressure_unit,
        "time_zone": time_zone,
        "number_format": number_format,
    }
    person = _new_person(username, display_name, Role.OWNER, password, "", studio_name, at)
    with transaction.atomic():
        if User.objects.exists():
            raise AlreadySetUp("This studio has its first person already. Sign in instead.", code="already_set_up")
        owner = _kept(person)
        for key in ("time_zone", *[key for key in first if key != "time_zone"]):
            set_setting(key=key, value=first[key], by=owner, at=at)
    return owner


def add_user(
    *, username: str, display_name: str, role: str, password: str, by: User, at: datetime, email: str = ""
) -> User:
    """Will add a person who can sign in. Raises Refused beside the field that is wrong."""
    require(by, "people")
    studio_name = answers.known("studio_name") or ""
    return _kept(_new_person(username, display_name, role, password, email, studio_name, at))


def change_role(*, user: User, role: str, by: User) -> User:
    """Will give a person another role. Raises `LastOwner` when no owner would be left."""
    require(by, "people")
    if role not in Role.values:
        raise Refused("Choose one of: " + ", ".join(Role.values) + ".", field="role")
    with transaction.atomic():
        locked = _locked(user)
        if role != Role.OWNER:
            _keep_an_owner(locked)
        locked.role = role
        locked.save(update_fields=["role"])
    return locked


def rename_user(*, user: User, display_name: str, by: User) -> User:
    """Will change the name a person goes by here; people may change their own."""
    if by.pk != user.pk:
        require(by, "people")
    with transaction.atomic():
        locked = _locked(user)
        locked.display_name = _words(display_name, "display_name", "Write the name this person goes by.")
        locked.save(update_fields=["display_name"])
    return locked


def deactivate(*, user: User, by: User) -> User:
    """Will end a person's sign-in at once; their history stays. Raises `LastOwner` if nobody could run it."""
    require(by, "people")
    with transaction.atomic():
        locked = _locked(user)
        _keep_an_owner(locked)
        locked.is_active = False
        locked.save(update_fields=["is_active"])
    return locked


def reactivate(*, user: User, by: User) -> User:
    """Will let a person sign in again."""
    require(by, "people")
    with transaction.atomic():
        locked = _locked(user)
        locked.is_active = True
        locked.save(update_fields=["is_active"])
    return locked


def set_password(*, user: User, password: str, by: User, current: str | None = None) -> User:
    """Will give a person a new password, which ends their other sign-ins.

    Somebody else's takes the right "people"; one's own takes the current password.
    """
    if by.pk == user.pk:
        if current is None or not user.check_password(current):
            raise Refused("That isn't your password of today. Type it once more.", field="current")
    else:
        require(by, "people")
    check_password_words(password, user.username, answers.known("studio_name") or "")
    user.set_password(password)
    with transaction.atomic():
        User.objects.filter(pk=user.pk).update(password=user.password)
    return user


def set_wage(*, person: User, rate_micro: int, paid: bool, from_on: date, by: User, at: datetime) -> WageRate:
    """Will say what an hour of a person costs from a day on: paid out, or one's own time as reckoned.

    `rate_micro` is millionths of the studio's money per hour. A second figure for the same day is a new row
    that holds in place of the first; figures already in the books stay as they are.
    """
    require(by, "people")
    if type(rate_micro) is not int or not 0 <= rate_micro <= MOST_WAGE_MICRO:
        raise Refused("Give an hourly amount between nothing and 100,000.", field="rate")
    _sane_day(from_on, at)
    with transaction.atomic():
        rows = WageRate.objects.filter(person=person, from_on=from_on)
        revision = (rows.aggregate(last=Max("revision"))["last"] or 0) + 1
        return _added(
            WageRate(
                person=person,
                from_on=from_on,
                revision=revision,
                rate_micro=rate_micro,
                paid=paid,
                set_by=by,
                recorded_at=at,
            )
        )


def set_setting(*, key: str, value: Any, by: User, at: datetime, from_on: date | None = None) -> DatedSetting:
    """Will record an answer to one of the studio's questions (`people.questions`) and return its row.

    `value` is typed and in stored units, as `people.settings.value` returns it (`people.settings.read`
    makes it from what was typed). A dated answer holds from `from_on`, or from the day of `at`. The same
    answer again adds no row. A first answer takes the right "answer", a change "settings". Raises Refused
    beside the field that is wrong, and whatever a registered guard raises.
    """
    question = REGISTRY[key]
    answered = DatedSetting.objects.filter(key=key).exists()
    if answered or not allowed(by, "answer"):
        require(by, "settings")
    try:
        canonical = question.kind.clean(value)
    except ValueError as error:
        raise Refused(str(error), field=key) from error
    if from_on is not None and not question.dated:
        raise Refused("This answer holds for all days; it can't begin on one.", field="from_on")
    with transaction.atomic():
        answers.forget()
        day = from_on if from_on is not None else answers.local_date(at)
        _sane_day(day, at)
        text = question.kind.to_text(canonical)
        held = _row_that_holds(key, day, question.dated)
        if held is not None and held.value == text:
            return held
        for check in answers.guards.get(key, ()):
            check(canonical)
        last = DatedSetting.objects.filter(key=key, from_on=day).aggregate(last=Max("revision"))["last"] or 0
        row = DatedSetting(key=key, from_on=day, revision=last + 1, value=text, set_by=by, recorded_at=at)
        return _added(row)


def _row_that_holds(key: str, day: date, dated: bool) -> DatedSetting | None:
    rows = DatedSetting.objects.filter(key=key)
    if not dated:
        return rows.order_by("-pk").first()
    return rows.filter(from_on__lte=day).order_by("-from_on", "-revision").first()


def _added(row: Row) -> Row:
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError as error:
        raise ChangedMeanwhile(
            "Somebody else changed this in the same moment. Look at what it says now before you go on.",
            code="changed_meanwhile",
        ) from error
    return row


def _sane_day(day: date, at: datetime) -> None:
    if not LOWEST_YEAR <= day.year <= at.year + YEARS_AHEAD:
        raise Refused(
            f"{day.isoformat()} can't be meant. Give a day from {LOWEST_YEAR} to {at.year + YEARS_AHEAD}.",
            field="from_on",
        )


def _locked(user: User) -> User:
    """Lock all owners and this user, in key order, so that two owners can't step down in the same moment."""
    list(User.objects.owners().select_for_update().order_by("pk"))
    return User.objects.select_for_update().get(pk=user.pk)


def _keep_an_owner(user: User) -> None:
    if user.role == Role.OWNER and not User.objects.owners().exclude(pk=user.pk).exists():
        raise LastOwner(
            f"{user} is the only owner. Make somebody else an owner first.",
            code="last_owner",
        )


def _new_person(
    username: str, display_name: str, role: str, password: str, email: str, studio_name: str, at: datetime
) -> User:
    name = User.normalize_username(_words(username, "username", "Write a name to sign in with."))
    if len(name) > 150 or not all(char.isalnum() or char in "@.+-_" for char in name):
        raise Refused(
            "A sign-in name has letters, digits and @ . + - _, no spaces, and at most 150 of them.",
            field="username",
        )
    if role not in Role.values:
        raise Refused("Choose one of: " + ", ".join(Role.values) + ".", field="role")
    shown = _words(display_name, "display_name", "Write the name this person goes by.")
    check_password_words(password, name, studio_name)
    user = User(username=name, display_name=shown, role=role, email=email, date_joined=at)
    user.set_password(password)  # slow on purpose, so never inside a transaction
    return user


def _kept(user: User) -> User:
    try:
        with transaction.atomic():
            user.save(force_insert=True)
    except IntegrityError as error:
        raise Refused(
            f"Somebody signs in as {user.username} already. Choose another sign-in name.", field="username"
        ) from error
    return user


def _words(text: str, field: str, missing: str) -> str:
    try:
        kept = tidy(text, most=NAME_LENGTH)
    except ValueError as error:
        raise Refused(str(error), field=field) from error
    if not kept:
        raise Refused(missing, field=field)
    return kept
