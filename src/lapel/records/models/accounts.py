"""What the server keeps about accounts: sessions, changes of how somebody signs in, and how often they do what."""

from __future__ import annotations

from django.conf import settings
from django.contrib.sessions.base_session import AbstractBaseSession
from django.db import models


class SignedIn(AbstractBaseSession):
    """A session: whose, since when, with which browser, and when it was last used; deleting it ends it."""

    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.CASCADE, null=True, blank=True, related_name="sessions"
    )
    since = models.DateTimeField(null=True, blank=True)
    seen_at = models.DateTimeField(null=True, blank=True)
    browser = models.CharField(max_length=300, blank=True)

    class Meta(AbstractBaseSession.Meta):
        """As Django's own."""


class AccountChange(models.Model):
    """
    A change of how somebody signs in or what they may do, and who made it; it is only added to.

    `noticed_at` is when the person said that they had read it; a change at the account's making needs no notice.
    """

    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="account_changes")
    at = models.DateTimeField()
    what = models.CharField(max_length=80)
    about = models.CharField(max_length=300, blank=True)
    by = models.CharField(max_length=150, blank=True)
    noticed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        """Oldest first."""

        ordering = ("id",)

    def __str__(self) -> str:
        return f"{self.what}: {self.user}"


class ActCount(models.Model):
    """How often an account, or an address nobody signed in at, did a kind of thing in one hour."""

    who = models.CharField(max_length=200)
    kind = models.CharField(max_length=40)
    hour = models.DateTimeField()
    times = models.PositiveIntegerField(default=0)

    class Meta:
        """One row an hour."""

        constraints = (models.UniqueConstraint(fields=["who", "kind", "hour"], name="act_count_once"),)

    def __str__(self) -> str:
        return f"{self.who}, {self.kind}: {self.times}"
