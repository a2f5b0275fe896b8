"""What a method wants of side-by-side duplicates."""

from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("records", "0008_documents"),
    ]

    operations = [
        migrations.AddField(
            model_name=model,
            name=name,
            field=field,
        )
        for model in ("historicalmethod", "method")
        for name, field in (
            ("duplicates_min", models.PositiveIntegerField(blank=True, null=True)),
            ("duplicates_share", models.FloatField(blank=True, null=True)),
        )
    ]
