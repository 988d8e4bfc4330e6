"""What is stored of a household: its events as written, and an index of which event touches which milk."""

from __future__ import annotations

import uuid
from typing import ClassVar

from django.db import models


class Household(models.Model):
    """One family's ledger; `revision` counts its events, so that a cached verdict knows whether it still holds."""

    id = models.UUIDField(primary_key=True, default=uuid.uuid4, editable=False)
    name = models.CharField(max_length=80)
    revision = models.BigIntegerField(default=0)
    # The revision at which the settings, or what is known of the places, last changed.
    settings_revision = models.BigIntegerField(default=0)
    recorded_at = models.BigIntegerField(default=0)
    preferences = models.JSONField(default=dict)

    def __str__(self) -> str:
        return self.name


class Event(models.Model):
    """One event, to the byte as it was written. Never changed, never deleted but with its whole household."""

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="events")
    event_id = models.CharField(max_length=200)
    revision = models.BigIntegerField()
    kind = models.CharField(max_length=16)
    at = models.BigIntegerField()
    recorded_at = models.BigIntegerField()
    person = models.CharField(max_length=80, blank=True)
    # Null where it voids nothing: then the index below serves any look-up by target.
    voids = models.CharField(max_length=200, null=True)
    line = models.TextField()

    class Meta:
        """An id, and a revision, counts once in a household."""

        constraints: ClassVar = [
            models.UniqueConstraint(fields=["household", "event_id"], name="event_once"),
            models.UniqueConstraint(fields=["household", "revision"], name="revision_once"),
        ]
        indexes: ClassVar = [
            models.Index(fields=["household", "at", "id"], name="event_by_time"),
            models.Index(fields=["household", "voids"], condition=models.Q(voids__isnull=False), name="event_voids"),
        ]

    def __str__(self) -> str:
        return f"{self.kind} {self.event_id}"


class Kin(models.Model):
    """Containers between which milk was poured: they can only be understood together.

    `open` where one of them still holds milk; `wake_at` where an event of theirs lies ahead.
    """

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="kins")
    revision = models.BigIntegerField(default=0)
    open = models.BooleanField(default=True)
    refused = models.IntegerField(default=0)
    wake_at = models.BigIntegerField(null=True)

    class Meta:
        """Those with milk left are few among many."""

        indexes: ClassVar = [
            models.Index(fields=["household"], condition=models.Q(open=True), name="kin_open"),
            models.Index(fields=["household"], condition=models.Q(wake_at__isnull=False), name="kin_ahead"),
            models.Index(fields=["household"], condition=models.Q(refused__gt=0), name="kin_refused"),
        ]

    def __str__(self) -> str:
        return f"kin {self.pk}"


class Name(models.Model):
    """A container's name, and the kin that it belongs to."""

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="names")
    name = models.CharField(max_length=200)
    kin = models.ForeignKey(Kin, on_delete=models.CASCADE, related_name="names")

    class Meta:
        """A name means one filling."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["household", "name"], name="name_once")]

    def __str__(self) -> str:
        return self.name


class Touch(models.Model):
    """That an event says something of a container (`=name`), or of a group of its own (`settings`, `places` …)."""

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="touches")
    key = models.CharField(max_length=201)
    event = models.ForeignKey(Event, on_delete=models.CASCADE, related_name="touches")

    class Meta:
        """Once for each event."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["household", "key", "event"], name="touch_once")]

    def __str__(self) -> str:
        return f"{self.event_id} {self.key}"


class Erasure(models.Model):
    """While this row stands, and only then, the events of its household may be deleted."""

    household = models.OneToOneField(Household, primary_key=True, on_delete=models.CASCADE)

    def __str__(self) -> str:
        return str(self.pk)


class Pulse(models.Model):
    """When the server was last known to run; `ordered` where somebody stopped it. One row for the whole server."""

    alive_at = models.BigIntegerField()
    ordered = models.BooleanField(default=False)

    def __str__(self) -> str:
        return str(self.alive_at)


class Silence(models.Model):
    """A stretch in which the server did not run though nobody had stopped it: perhaps the power was out."""

    start = models.BigIntegerField()
    end = models.BigIntegerField(db_index=True)

    def __str__(self) -> str:
        return f"{self.start} to {self.end}"


class SilenceAnswer(models.Model):
    """What a household said of a silence: whether the power was out, so that it is asked once."""

    household = models.ForeignKey(Household, on_delete=models.CASCADE, related_name="silence_answers")
    silence = models.ForeignKey(Silence, on_delete=models.CASCADE, related_name="answers")
    out = models.BooleanField()

    class Meta:
        """One answer of each household."""

        constraints: ClassVar = [models.UniqueConstraint(fields=["household", "silence"], name="silence_answered_once")]

    def __str__(self) -> str:
        return f"{self.silence_id}: {self.out}"
