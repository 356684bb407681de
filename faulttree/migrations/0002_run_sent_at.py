from django.db import migrations, models
from django.db.models import F


def fill_sent_at(apps, schema_editor):
    """A run's message was last sent when it was queued."""
    apps.get_model("faulttree", "Run").objects.filter(sent_at=None).update(sent_at=F("queued_at"))


class Migration(migrations.Migration):
    dependencies = [("faulttree", "0001_trees_and_runs")]

    operations = [
        migrations.AddField("run", "sent_at", models.DateTimeField(null=True)),
        migrations.RunPython(fill_sent_at, migrations.RunPython.noop),
    ]
