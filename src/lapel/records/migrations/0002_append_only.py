"""
Deliveries and refused entries, and the triggers under which the log only grows.

There is no way back: taking the triggers away would leave a log that anybody can change.
"""

from typing import Any

import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models

from lapel.records.append_only import guard_statements

KEYS = {
    "records_logentry": (("receipt",), ("survey_id", "entry_id")),
    "records_refusedentry": (("id",), ("survey_id", "content_hash")),
    "records_delivery": (("id",),),
}


def guard(apps: Any, schema_editor: Any) -> None:
    for table, keys in KEYS.items():
        for statement in guard_statements(schema_editor.connection.vendor, table, keys):
            schema_editor.execute(statement, params=None)


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0001_records"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Delivery",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("device", models.CharField(blank=True, max_length=120)),
                ("received_at", models.DateTimeField()),
                ("sent_at", models.DateTimeField(blank=True, null=True)),
                ("first_receipt", models.BigIntegerField(blank=True, null=True)),
                ("entries", models.PositiveIntegerField()),
                ("first_refused", models.BigIntegerField(blank=True, null=True)),
                ("refused", models.PositiveIntegerField(default=0)),
                ("digests", models.JSONField()),
                ("previous_hash", models.CharField(blank=True, max_length=64)),
                ("hash", models.CharField(max_length=64)),
                (
                    "received_by",
                    models.ForeignKey(
                        blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="deliveries", to="records.survey"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "deliveries",
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="RefusedEntry",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("entry_id", models.CharField(max_length=120)),
                ("device", models.CharField(blank=True, max_length=120)),
                ("sequence", models.PositiveBigIntegerField(default=0)),
                ("hash", models.CharField(blank=True, max_length=64)),
                ("problems", models.JSONField()),
                ("content", models.TextField()),
                ("content_hash", models.CharField(max_length=64)),
                ("received_at", models.DateTimeField()),
                (
                    "kept",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="refused",
                        to="records.logentry",
                    ),
                ),
                (
                    "received_by",
                    models.ForeignKey(
                        blank=True, null=True, on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL
                    ),
                ),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="refused_entries", to="records.survey"
                    ),
                ),
            ],
            options={
                "verbose_name_plural": "refused entries",
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="RefusalSettlement",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("settled_at", models.DateTimeField(auto_now_add=True)),
                ("reason", models.TextField()),
                (
                    "settled_by",
                    models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, to=settings.AUTH_USER_MODEL),
                ),
                (
                    "refused",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="settlement",
                        to="records.refusedentry",
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="HistoricalRefusalSettlement",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("settled_at", models.DateTimeField(blank=True, editable=False)),
                ("reason", models.TextField()),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
                ("history_change_reason", models.CharField(max_length=100, null=True)),
                (
                    "history_type",
                    models.CharField(choices=[("+", "Created"), ("~", "Changed"), ("-", "Deleted")], max_length=1),
                ),
                (
                    "history_user",
                    models.ForeignKey(
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "settled_by",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "refused",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.refusedentry",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical refusal settlement",
                "verbose_name_plural": "historical refusal settlements",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.AddIndex(
            model_name="refusedentry",
            index=models.Index(fields=["device", "sequence"], name="refused_by_device"),
        ),
        migrations.AddConstraint(
            model_name="refusedentry",
            constraint=models.UniqueConstraint(fields=("survey", "content_hash"), name="refused_once"),
        ),
        migrations.RunPython(guard),
    ]
