import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('builds', '0005_log_steps'),
        ('valvetrain', '0005_counted_drawer'),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name='Trial',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('name', models.CharField(max_length=80, verbose_name='name')),
                ('note', models.TextField(blank=True, verbose_name='note')),
                ('kept_at', models.DateTimeField(auto_now_add=True)),
                ('changes', models.JSONField(default=dict, verbose_name='what it changes')),
                ('stood', models.JSONField(blank=True, default=dict, verbose_name='what the records said')),
                ('build', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='trials', to='builds.build')),
                ('kept_by', models.ForeignKey(on_delete=django.db.models.deletion.PROTECT, related_name='+', to=settings.AUTH_USER_MODEL)),
            ],
            options={
                'ordering': ['-pk'],
            },
        ),
        migrations.AddConstraint(
            model_name='trial',
            constraint=models.UniqueConstraint(fields=('build', 'name'), name='trial_name_once_on_a_job'),
        ),
    ]
