"""Who signs in, who is named in a household's ledger, and who may see a part of it."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models

from thawline.records.ledger.models import Household


class User(AbstractUser):
    """Someone who signs in, with a password or a passkey."""


class Service(models.Model):
    """A childcare service to which a household hands milk: a window on its ledger, not the ledger.

    `rule` is the id of the childcare rule that counts there; `place` the name of its refrigerator in the ledger;
    `closes` a clock time such as 17:30; `calls` whom staff call, as they read it.
    """

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="services")
    name = models.CharField(max_length=80)
    rule = models.CharField(max_length=200, blank=True)
    place = models.CharField(max_length=200)
    closes = models.CharField(max_length=5, blank=True)
    calls = models.CharField(max_length=200, blank=True)
    left = models.BooleanField(default=False)

    class Meta:
        """Names are unique within a household."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["household", "name"], name="service_name_once")]
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return self.name


class Member(models.Model):
    """Someone of a household, or with a window on it: named in its events, with or without a sign-in of their own."""

    class Role(models.TextChoices):
        """What a member may do."""

        OWNER = "owner"
        PARENT = "parent"
        CARER = "carer"
        CHILDCARE = "childcare"

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="members")
    name = models.CharField(max_length=80)
    user = models.ForeignKey(User, null=True, blank=True, on_delete=models.CASCADE, related_name="members")
    role = models.CharField(max_length=12, choices=Role, default=Role.PARENT)
    service = models.ForeignKey(Service, null=True, blank=True, on_delete=models.CASCADE, related_name="members")
    left = models.BooleanField(default=False)

    class Meta:
        """Names are unique within a household; someone who signs in stands there once."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["household", "name"], name="member_name_once"),
            models.UniqueConstraint(
                fields=["household", "user"], condition=models.Q(user__isnull=False), name="member_user_once"
            ),
        ]
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return self.name


class Invitation(models.Model):
    """A way in for one person, once, until it expires; only the digest of its secret is kept. Times in microseconds."""

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="invitations")
    name = models.CharField(max_length=80)
    role = models.CharField(max_length=12, choices=Member.Role)
    service = models.ForeignKey(Service, null=True, blank=True, on_delete=models.CASCADE)
    digest = models.CharField(max_length=64, unique=True)
    by = models.CharField(max_length=80)
    made_at = models.BigIntegerField()
    expires_at = models.BigIntegerField()
    used_at = models.BigIntegerField(null=True)
    withdrawn = models.BooleanField(default=False)

    class Meta:
        """The latest last."""

        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"for {self.name}"


class CalendarLink(models.Model):
    """A secret address under which one member's calendar is read; only its digest is kept. Times in microseconds."""

    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="calendar_links")
    digest = models.CharField(max_length=64, unique=True)
    about = models.JSONField(default=list)
    made_at = models.BigIntegerField()
    read_at = models.BigIntegerField(null=True)

    class Meta:
        """The latest last."""

        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return f"of {self.member}"


class CalendarEntry(models.Model):
    """How often an entry of a household's calendar has changed, and when last; `digest` of what it said, "" if gone.

    Calendars ask for it: RFC 5545, 3.8.7.4 (sequence number) and 3.8.7.2 (date-time stamp). Times in microseconds.
    """

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="calendar_entries")
    key = models.CharField(max_length=300)
    digest = models.CharField(max_length=64, blank=True)
    sequence = models.PositiveIntegerField(default=0)
    at = models.BigIntegerField()

    class Meta:
        """Once in a household."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["household", "key"], name="calendar_entry_once")]

    def __str__(self) -> str:
        return self.key


class Reminding(models.Model):
    """Where one member wants to be reminded, of what, and when not; nothing is sent until `on`."""

    member = models.OneToOneField(Member, on_delete=models.CASCADE, related_name="reminding")
    address = models.CharField(max_length=500)
    about = models.JSONField(default=list)
    on = models.BooleanField(default=False)
    quiet_from = models.CharField(max_length=5, blank=True)
    quiet_until = models.CharField(max_length=5, blank=True)

    def __str__(self) -> str:
        return f"of {self.member}"


class Reminded(models.Model):
    """What was sent already, so that it is sent once."""

    reminding = models.ForeignKey(Reminding, on_delete=models.CASCADE, related_name="sent")
    key = models.CharField(max_length=300)
    at = models.BigIntegerField()

    class Meta:
        """Once each."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["reminding", "key"], name="reminded_once")]

    def __str__(self) -> str:
        return self.key
