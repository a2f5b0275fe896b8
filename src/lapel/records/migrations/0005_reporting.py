"""What people add to the figures: texts, recommendations, comments, signatures, who was told. Signatures only grow."""

from typing import Any

import django.db.models.deletion
import simple_history.models
from django.conf import settings
from django.db import migrations, models

from lapel.records.append_only import guard_statements


def guard(apps: Any, schema_editor: Any) -> None:
    for statement in guard_statements(schema_editor.connection.vendor, "records_signature", (("id",),)):
        schema_editor.execute(statement, params=None)


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0004_dated_records"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="HistoricalRecommendation",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("rung", models.CharField(max_length=20)),
                ("action", models.TextField()),
                ("reason", models.TextField(blank=True)),
                ("owner", models.CharField(blank=True, max_length=200)),
                ("by", models.DateField(blank=True, null=True)),
                ("done_on", models.DateField(blank=True, null=True)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
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
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.survey",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical recommendation",
                "verbose_name_plural": "historical recommendations",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalReportTerms",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("contact", models.CharField(blank=True, max_length=200)),
                ("calendar", models.CharField(blank=True, max_length=20)),
                ("free_days", models.JSONField(blank=True, default=list)),
                ("completed_on", models.DateField(blank=True, null=True)),
                ("use_earlier", models.BooleanField(default=False)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
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
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.survey",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical report terms",
                "verbose_name_plural": "historical report termss",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalReportText",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("part", models.CharField(max_length=40)),
                ("text", models.TextField(blank=True)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
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
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.survey",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical report text",
                "verbose_name_plural": "historical report texts",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalReviewComment",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("about", models.CharField(max_length=300)),
                ("words", models.TextField()),
                ("person", models.CharField(max_length=150)),
                ("at", models.DateTimeField()),
                ("answer", models.TextField(blank=True)),
                ("answered_by", models.CharField(blank=True, max_length=150)),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
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
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.survey",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical review comment",
                "verbose_name_plural": "historical review comments",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="HistoricalTelling",
            fields=[
                ("id", models.BigIntegerField(auto_created=True, blank=True, db_index=True, verbose_name="ID")),
                ("history_change_reason", models.TextField(null=True)),
                ("how", models.CharField(max_length=20)),
                ("on", models.DateField()),
                ("person", models.CharField(max_length=150)),
                ("proof", models.TextField(blank=True)),
                ("input_sha256", models.CharField(blank=True, max_length=64)),
                ("history_id", models.AutoField(primary_key=True, serialize=False)),
                ("history_date", models.DateTimeField(db_index=True)),
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
                    "survey",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.survey",
                    ),
                ),
                (
                    "worker",
                    models.ForeignKey(
                        blank=True,
                        db_constraint=False,
                        null=True,
                        on_delete=django.db.models.deletion.DO_NOTHING,
                        related_name="+",
                        to="records.worker",
                    ),
                ),
            ],
            options={
                "verbose_name": "historical telling",
                "verbose_name_plural": "historical tellings",
                "ordering": ("-history_date", "-history_id"),
                "get_latest_by": ("history_date", "history_id"),
            },
            bases=(simple_history.models.HistoricalChanges, models.Model),
        ),
        migrations.CreateModel(
            name="Recommendation",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("rung", models.CharField(max_length=20)),
                ("action", models.TextField()),
                ("reason", models.TextField(blank=True)),
                ("owner", models.CharField(blank=True, max_length=200)),
                ("by", models.DateField(blank=True, null=True)),
                ("done_on", models.DateField(blank=True, null=True)),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="recommendations", to="records.survey"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="ReportTerms",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("contact", models.CharField(blank=True, max_length=200)),
                ("calendar", models.CharField(blank=True, max_length=20)),
                ("free_days", models.JSONField(blank=True, default=list)),
                ("completed_on", models.DateField(blank=True, null=True)),
                ("use_earlier", models.BooleanField(default=False)),
                (
                    "survey",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE, related_name="report_terms", to="records.survey"
                    ),
                ),
            ],
            options={
                "abstract": False,
            },
        ),
        migrations.CreateModel(
            name="ReviewComment",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("about", models.CharField(max_length=300)),
                ("words", models.TextField()),
                ("person", models.CharField(max_length=150)),
                ("at", models.DateTimeField()),
                ("answer", models.TextField(blank=True)),
                ("answered_by", models.CharField(blank=True, max_length=150)),
                ("answered_at", models.DateTimeField(blank=True, null=True)),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="review_comments", to="records.survey"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="Signature",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("role", models.CharField(max_length=20)),
                ("person", models.CharField(max_length=150)),
                ("name", models.CharField(blank=True, max_length=300)),
                ("statement", models.TextField()),
                ("signed_at", models.DateTimeField()),
                ("kernel_version", models.CharField(max_length=40)),
                ("input_sha256", models.CharField(max_length=64)),
                ("sha256", models.CharField(max_length=64)),
                ("snapshot", models.BinaryField()),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="signatures", to="records.survey"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="Telling",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("how", models.CharField(max_length=20)),
                ("on", models.DateField()),
                ("person", models.CharField(max_length=150)),
                ("proof", models.TextField(blank=True)),
                ("input_sha256", models.CharField(blank=True, max_length=64)),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="tellings", to="records.survey"
                    ),
                ),
                (
                    "worker",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.PROTECT, related_name="tellings", to="records.worker"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
            },
        ),
        migrations.CreateModel(
            name="ReportText",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("part", models.CharField(max_length=40)),
                ("text", models.TextField(blank=True)),
                (
                    "survey",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE, related_name="report_texts", to="records.survey"
                    ),
                ),
            ],
            options={
                "ordering": ("id",),
                "constraints": [models.UniqueConstraint(fields=("survey", "part"), name="report_text_in_survey")],
            },
        ),
        migrations.RunPython(guard),
    ]
