"""Sessions, changes of accounts and counts of acts; what makes codes of the second factor is sealed where it lies."""

from typing import Any

import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models

from lapel.records.sealed import hash_of_code, opened, seal

HASHED = 16
"""Signs of a backup code as it is kept from now on."""


def keep_sealed(apps: Any, schema_editor: Any) -> None:
    if schema_editor.connection.vendor == "sqlite":  # what was readable is written over, not only given up
        with schema_editor.connection.cursor() as cursor:
            cursor.execute("PRAGMA secure_delete = ON")
    devices = apps.get_model("otp_totp", "TOTPDevice").objects
    for number, secret, account in list(devices.values_list("pk", "key", "user_id")):
        devices.filter(pk=number).update(key=seal(secret, account))
    codes = apps.get_model("otp_static", "StaticToken").objects
    for number, code, account in list(codes.values_list("pk", "token", "device__user_id")):
        if len(code) < HASHED:
            codes.filter(pk=number).update(token=hash_of_code(code, account))


def keep_open(apps: Any, schema_editor: Any) -> None:
    """Authenticators go on; backup codes end, as nobody can read them back."""
    devices = apps.get_model("otp_totp", "TOTPDevice").objects
    for number, sealed, account in list(devices.values_list("pk", "key", "user_id")):
        devices.filter(pk=number).update(key=opened(sealed, account))
    apps.get_model("otp_static", "StaticToken").objects.all().delete()


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0009_duplicates_of_a_method"),
        ("otp_totp", "0003_add_timestamps"),
        ("otp_static", "0003_add_timestamps"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="AccountChange",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("at", models.DateTimeField()),
                ("what", models.CharField(max_length=80)),
                ("about", models.CharField(blank=True, max_length=300)),
                ("by", models.CharField(blank=True, max_length=150)),
                ("noticed_at", models.DateTimeField(blank=True, null=True)),
                (
                    "user",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="account_changes",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"ordering": ("id",)},
        ),
        migrations.CreateModel(
            name="ActCount",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("who", models.CharField(max_length=200)),
                ("kind", models.CharField(max_length=40)),
                ("hour", models.DateTimeField()),
                ("times", models.PositiveIntegerField(default=0)),
            ],
            options={
                "constraints": [models.UniqueConstraint(fields=["who", "kind", "hour"], name="act_count_once")],
            },
        ),
        migrations.CreateModel(
            name="SignedIn",
            fields=[
                (
                    "session_key",
                    models.CharField(max_length=40, primary_key=True, serialize=False, verbose_name="session key"),
                ),
                ("session_data", models.TextField(verbose_name="session data")),
                ("expire_date", models.DateTimeField(db_index=True, verbose_name="expire date")),
                ("since", models.DateTimeField(blank=True, null=True)),
                ("seen_at", models.DateTimeField(blank=True, null=True)),
                ("browser", models.CharField(blank=True, max_length=300)),
                (
                    "user",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="sessions",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={"verbose_name": "session", "verbose_name_plural": "sessions", "abstract": False},
        ),
        migrations.RunPython(keep_sealed, keep_open),
    ]
