"""Who signs in, and who is named in a household's ledger."""

from __future__ import annotations

from typing import ClassVar

from django.contrib.auth.models import AbstractUser
from django.db import models

from thawline.records.ledger.models import Household


class User(AbstractUser):
    """Someone who signs in with a password."""


class Member(models.Model):
    """Someone of a household: named in its events, with or without a sign-in of their own."""

    class Role(models.TextChoices):
        """What a member may do."""

        OWNER = "owner"
        PARENT = "parent"

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="members")
    name = models.CharField(max_length=80)
    user = models.OneToOneField(User, null=True, blank=True, on_delete=models.CASCADE, related_name="member")
    role = models.CharField(max_length=12, choices=Role, default=Role.PARENT)
    left = models.BooleanField(default=False)

    class Meta:
        """Names are unique within a household."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["household", "name"], name="member_name_once")]
        ordering: ClassVar = ["id"]

    def __str__(self) -> str:
        return self.name
