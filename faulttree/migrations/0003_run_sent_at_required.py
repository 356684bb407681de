from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("faulttree", "0002_run_sent_at")]

    operations = [
        migrations.AlterField("run", "sent_at", models.DateTimeField()),
        migrations.RemoveIndex("run", "run_state_queued"),
        migrations.AddIndex("run", models.Index(fields=("state", "sent_at"), name="run_state_sent")),
    ]
